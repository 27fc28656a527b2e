"""Numbers of covers: for `check`, for the card, for wishes."""

from collections.abc import Iterator

from scenes.figures.figures import Amount, Kind, said
from scenes.kinds.cover.laying import CoverBuilder
from scenes.kinds.numbers import Line, Numbers, Purpose, Smooth, Stepped, Under

__all__ = ["NUMBERS"]


def _lines(laying: CoverBuilder) -> Iterator[Line]:
    first, last = laying.span
    yield (
        "cover",
        said(
            f"{{first}} to {{last}}, {laying.rows} rows",
            first=Amount(first, Kind.CALIPER, bare=True),
            last=Amount(last, Kind.CALIPER),
        ),
    )


def _under(laying: CoverBuilder) -> Iterator[Under]:
    first, last = laying.span
    row = laying.thread.diameter_mm
    yield Under(
        "thread",
        said(
            f"About {(last - first) / row:.0f} rows of {{row}}, from {{first}} to {{last}}.",
            row=Amount(row, Kind.CALIPER),
            first=Amount(first, Kind.CALIPER, bare=True),
            last=Amount(last, Kind.CALIPER),
        ),
    )


NUMBERS = Numbers(
    lines=_lines,
    under=_under,
    smooth=(Smooth("margin", 0.2, 1.0, (Purpose.ASKED,)),),
    stepped=(Stepped("thread", 1.5, (Purpose.THREAD,)),),
)
