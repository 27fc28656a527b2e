"""Guides as a design describes them: their feet, and the schemes by which they are bound."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scenes.parts.part import Part, ThreadName, TrimThread
from scenes.problems import nearest, one_of, refusal, shown
from scenes.quantities import Count, Example, Length, Measure, Words

__all__ = [
    "AT_FRAME",
    "AT_OUTER_END",
    "IN_MIDDLE",
    "GuideBinding",
    "GuideFoot",
    "GuideScheme",
    "check_schemes",
]

_RINGS_EXAMPLE = Example('[ { thread = "Heron Silver A", count = 2 } ]')

Rings = Annotated[tuple[TrimThread, ...], Field(strict=False, max_length=60), _RINGS_EXAMPLE]

_MOST_TURNS = 60
"""Most turns of one thread side by side, as a file may give."""

_THREAD_MISSING = (
    "thread is missing; give the name of a thread on the shelf, or a scheme that names one"
)


class GuideScheme(Part):
    """A named way of binding guides, which any of them may refer to."""

    name: Annotated[str, Words(60, "a short name for the scheme"), Example('"running"')]
    thread: ThreadName
    """Wound over the foot."""
    underwrap: ThreadName | None = None
    """Wound on the blank under the foot and its wraps."""
    rings: Rings = ()
    """Inlaid at the outer ends of the foot, from the wrap's end inwards."""
    inset: Annotated[
        float, Length(0, 100, "the distance from the wrap's outer end to the first ring")
    ] = 0.0
    band: Rings = ()
    """Inlaid in the middle of each wrap, from its outer end inwards."""
    trim: Rings = ()
    """Inlaid at the inner end of each wrap, from the frame outwards."""
    for_length: (
        Annotated[
            float,
            Length(2, 150, "the length of the foot, with two ends, for which the scheme is made"),
            Example("40"),
        ]
        | None
    ) = None
    """Turns of rings, band and trim, and the inset, are scaled from it to each guide's foot."""


AT_OUTER_END, IN_MIDDLE, AT_FRAME = (
    name
    for name, field in GuideScheme.model_fields.items()
    if field.annotation == tuple[TrimThread, ...]
)
"""Names of the fields of what is inlaid in each wrap of a foot, by its place there."""


class GuideFoot(Part):
    """The foot of a guide, with its wrap, on the guide line."""

    kind: Literal["guide"]
    at: Annotated[float, Length(0, 6000, "the distance from the butt to the middle of the foot")]
    length: Annotated[float, Length(2, 150, "the length of the foot")]
    scheme: (
        Annotated[str, Words(60, "the name of a scheme for guides"), Example('"running"')] | None
    ) = None
    """How it is bound, but for what the guide gives itself."""
    thread: ThreadName | None = None
    """Wound over the foot; needed where no scheme gives it."""
    underwrap: ThreadName | None = None
    """Wound on the blank under the foot and its wraps."""
    rings: Rings = ()
    """Inlaid in the wrap at both outer ends of the foot, from its end inwards."""
    inset: Annotated[
        float, Length(0, 100, "the distance from the wrap's outer end to the first ring")
    ] = 0.0
    band: Rings = ()
    """Inlaid in the middle of each wrap, from its outer end inwards."""
    trim: Rings = ()
    """Inlaid at the inner end of each wrap, from the frame outwards."""
    feet: Annotated[int, Count(1, 2, "the number of ends of the foot that are bound")] = 2
    """1: the foot points to the tip, and its frame stands at the end nearer the butt."""
    width: Annotated[float, Length(0.3, 20, "the width of the foot"), Example("4.2")] | None = None
    """A usual one for its length if it is not given."""
    height: (
        Annotated[
            float, Length(0.1, 5, "the height of the foot where it is thickest"), Example("0.6")
        ]
        | None
    ) = None
    """A usual one for its length if it is not given."""
    ring: (
        Annotated[float, Length(2, 80, "the outside diameter of the guide's ring"), Example("16")]
        | None
    ) = None
    """A usual one for its length if it is not given."""
    mass: (
        Annotated[
            float,
            Measure(0.01, 200, "what it weighs, if the blank was weighed without it", "g"),
            Example("2.4"),
        ]
        | None
    ) = None

    @property
    def span(self) -> tuple[float, float]:
        """Where it starts and ends, mm from the butt."""
        return self.at - self.length / 2, self.at + self.length / 2

    @model_validator(mode="after")
    def _checked(self) -> Self:
        if self.thread is None and self.scheme is None:
            raise refusal(_THREAD_MISSING)
        return self


@dataclass(frozen=True, slots=True)
class GuideBinding:
    """How one guide is bound: by its scheme, scaled to its foot, and by what it gives itself.

    Parameters
    ----------
    thread : str
    underwrap : str or None
    rings, band, trim : tuple of TrimThread
    inset : float
        mm.
    """

    thread: str
    underwrap: str | None
    rings: tuple[TrimThread, ...]
    inset: float
    band: tuple[TrimThread, ...]
    trim: tuple[TrimThread, ...]

    @classmethod
    def of(cls, foot: GuideFoot, schemes: Sequence[GuideScheme]) -> Self:
        """Work out how a guide is bound.

        Turns of a scheme are scaled by the lengths of the feet's ends, to whole turns and at least
        one. A foot with one end is twice as long as each end of one with two.

        Parameters
        ----------
        foot : GuideFoot
            Checked against the schemes (`check_schemes`).
        schemes : sequence of GuideScheme
        """
        scheme = next((one for one in schemes if one.name == foot.scheme), None)
        if scheme is None:
            assert foot.thread is not None
            return cls(foot.thread, foot.underwrap, foot.rings, foot.inset, foot.band, foot.trim)
        scale = 1.0
        if scheme.for_length is not None:
            scale = (2 / foot.feet) * foot.length / scheme.for_length

        def runs(name: str) -> tuple[TrimThread, ...]:
            if name in foot.model_fields_set:
                return tuple(getattr(foot, name))
            return tuple(_scaled(run, scale) for run in getattr(scheme, name))

        return cls(
            foot.thread or scheme.thread,
            foot.underwrap or scheme.underwrap,
            runs(AT_OUTER_END),
            foot.inset if "inset" in foot.model_fields_set else scale * scheme.inset,
            runs(IN_MIDDLE),
            runs(AT_FRAME),
        )

    @property
    def threads(self) -> tuple[str, ...]:
        """Names of all its threads."""
        runs = (*self.rings, *self.band, *self.trim)
        names = (self.thread, self.underwrap, *(run.thread for run in runs))
        return tuple(name for name in names if name is not None)


def _scaled(run: TrimThread, scale: float) -> TrimThread:
    count = min(max(round(scale * run.count), 1), _MOST_TURNS)
    return run if count == run.count else TrimThread(thread=run.thread, count=count)


def check_schemes(schemes: Sequence[GuideScheme], guides: Sequence[tuple[int, GuideFoot]]) -> None:
    """Check that schemes have names of their own, and guides refer to one of them.

    Parameters
    ----------
    schemes : sequence of GuideScheme
    guides : sequence of (int, GuideFoot)
        With their positions among what is fitted.

    Raises
    ------
    PydanticCustomError
        With the path of the wrong field within the blank, and one sentence.
    """
    names = [scheme.name for scheme in schemes]
    for index, name in enumerate(names):
        if name.casefold() in (other.casefold() for other in names[:index]):
            raise refusal(
                f"{shown(name)} is used twice; give each scheme its own name",
                field=f"guide_schemes.{index}.name",
            )
    for index, guide in guides:
        if guide.scheme is None or guide.scheme in names:
            continue
        if not names:
            right = "this design has no schemes of guides; add one of this name, or leave it out"
        else:
            close = nearest(guide.scheme, names)
            right = (
                f"did you mean {shown(close)}?" if close else f"give {one_of(map(shown, names))}"
            )
        raise refusal(
            f"{shown(guide.scheme)} is not a scheme of this design; {right}",
            field=f"fitted.{index}.scheme",
        )
