"""What the rings of a wrap bring to the bench."""

from geometry.layers.trim import Edge as Side
from scenes.figures.figures import Amount, Column, Kind, Section, SectionKey, Step, Table, said
from scenes.figures.trust import MARK_MM, SHELF_WIDTH_SHARE
from scenes.kinds.entries import TURNING_SAFETY, Entries, ring_needs, runs
from scenes.kinds.laying import ThreadUse, WrapContext
from scenes.kinds.rings.laying import RingsBuilder

__all__ = ["entries"]


def entries(laying: RingsBuilder, uses: tuple[ThreadUse, ...], wrap: WrapContext) -> Entries:
    """Say what a layer of this kind brings to the bench (`scenes.kinds.kind.Kind.entries`)."""
    order = ", ".join(f"{count} {thread.name}" for thread, count in runs(laying.laid))
    where = "both ends" if len(laying.bands) == 2 else "one end"
    inlaid = laying.layer.inlaid
    work = (
        "In the cover at {where}, from the end inwards: {order}. Wind them along with the cover, "
        "in place of its rows; tie each thread in opposite the guide line and let the next bind "
        "its end down."
        if inlaid
        else "Over the wrap at {where}, from the end inwards: {order}. Tie each thread in opposite "
        "the guide line and let the next bind its end down."
    )
    step = Step(
        "Wind the rings" if laying.path == "rings" else f"Wind {laying.path}",
        said(work, where=where, order=order),
        said(
            "A band is {width} wide, its threads side by side; both ends alike.",
            width=Amount(laying.width, Kind.LENGTH),
        ),
        TURNING_SAFETY,
    )
    return Entries(
        sections=(Section(SectionKey.PATTERN, tables=(_table(laying),)),),
        threads=tuple(ring_needs(laying.laid, uses, len(laying.bands))),
        steps=(step,),
    )


def _table(laying: RingsBuilder) -> Table:
    """Where every run of threads begins and ends, from the butt on."""
    rows = []
    for side, (first, _) in laying.bands.items():
        listed = runs(laying.laid if side is Side.LOWER else laying.laid[::-1])
        at = first
        for thread, count in listed:
            end = at + count * thread.diameter_mm
            rows.append((thread.name, count, at, end, end - at))
            at = end
    return Table(
        f"{laying.path}_rings",
        f"{laying.path}, from the butt on",
        (
            Column("thread", "thread"),
            Column("count", "turns", Kind.COUNT),
            Column("start", "from", Kind.LENGTH, said("distance from the butt"), MARK_MM),
            Column("end", "to", Kind.LENGTH, said("distance from the butt"), MARK_MM),
            Column(
                "width",
                "width",
                Kind.LENGTH,
                said("by the threads' widths on the shelf"),
                share=SHELF_WIDTH_SHARE,
            ),
        ),
        tuple(rows),
    )
