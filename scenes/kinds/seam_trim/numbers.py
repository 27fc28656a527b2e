"""Numbers of seam trims: for the card."""

from collections.abc import Iterator

from scenes.figures.figures import Amount, Kind, said
from scenes.kinds.numbers import Numbers, Under
from scenes.kinds.seam_trim.laying import TrimBuilder

__all__ = ["NUMBERS"]


def _under(laying: TrimBuilder) -> Iterator[Under]:
    threads = laying.laid
    wide = sum(thread.diameter_mm for thread in threads)
    count = "1 thread" if len(threads) == 1 else f"{len(threads)} threads"
    yield Under(
        "grade" if laying.layer.graded else "threads",
        said(
            f"{count}, {{wide}} side by side, out to {{reach}} from the edge.",
            wide=Amount(wide, Kind.CALIPER),
            reach=Amount(laying.layer.offset + wide, Kind.CALIPER),
        ),
    )


NUMBERS = Numbers(under=_under)
