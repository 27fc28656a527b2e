"""Numbers of seam trims: for the card."""

from collections.abc import Iterator

from scenes.figures.figures import Amount, Kind, sentence
from scenes.kinds.numbers import FieldNote, Numbers
from scenes.kinds.seam_trim.builder import TrimBuilder
from scenes.quantities import counted

__all__ = ["NUMBERS"]


def _field_notes(builder: TrimBuilder) -> Iterator[FieldNote]:
    threads = builder.ordered_threads
    wide = sum(thread.diameter_mm for thread in threads)
    count = counted(len(threads), "thread")
    yield FieldNote(
        "grade" if builder.layer.graded else "threads",
        sentence(
            f"{count}, {{wide}} side by side, out to {{reach}} from the edge.",
            wide=Amount(wide, Kind.CALIPER),
            reach=Amount(max(last for _, last in builder.places.values()), Kind.CALIPER),
        ),
    )


NUMBERS = Numbers(field_notes=_field_notes)
