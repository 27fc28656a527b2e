"""Numbers of covers: for `check`, for the card, for wishes."""

from collections.abc import Iterator

from scenes.figures.figures import Amount, Kind, sentence
from scenes.kinds.cover.builder import CoverBuilder
from scenes.kinds.numbers import ContinuousField, DiscreteField, FieldNote, Line, Numbers, Purpose
from scenes.quantities import counted

__all__ = ["NUMBERS"]


def _lines(builder: CoverBuilder) -> Iterator[Line]:
    first, last = builder.span
    yield (
        "cover",
        sentence(
            f"{{first}} to {{last}}, {_rows(builder)}",
            first=Amount(first, Kind.CALIPER, bare=True),
            last=Amount(last, Kind.CALIPER),
        ),
    )


def _rows(builder: CoverBuilder) -> str:
    """Number of rows; slopes are measured only when the cover is laid."""
    rows = counted(builder.level_rows, "row")
    return f"{rows} and more over slopes" if builder.climbs else rows


def _field_notes(builder: CoverBuilder) -> Iterator[FieldNote]:
    first, last = builder.span
    row = builder.thread.diameter_mm
    yield FieldNote(
        "thread",
        sentence(
            f"About {(last - first) / row:.0f} rows of {{row}}, from {{first}} to {{last}}.",
            row=Amount(row, Kind.CALIPER),
            first=Amount(first, Kind.CALIPER, bare=True),
            last=Amount(last, Kind.CALIPER),
        ),
    )


NUMBERS = Numbers(
    lines=_lines,
    field_notes=_field_notes,
    # Usual: common practice, no source.
    continuous=(ContinuousField("margin", 0.2, 1.0, (Purpose.ASKED,), usual=(0, 30)),),
    discrete=(DiscreteField("thread", 1.5, (Purpose.THREAD,)),),
)
