"""Kinds of wrap to begin with, in words of our own; each is drawn by a sample."""

from dataclasses import dataclass

from scenes.design.threads import thread_names
from scenes.files import samples
from scenes.problems import DesignProblem, nearest, one_of, shown

__all__ = ["WRAP_KINDS", "WrapKind", "wrap_kind"]


@dataclass(frozen=True, slots=True)
class WrapKind:
    """A kind of wrap.

    Parameters
    ----------
    name : str
        A few words.
    description : str
        What is seen, in one line.
    sample : str
        Name of the sample that looks so.
    """

    name: str
    description: str
    sample: str

    @property
    def threads(self) -> tuple[str, ...]:
        """The sample's threads, each once, in the order of the layers."""
        named = thread_names(samples.load(self.sample))
        return tuple(dict.fromkeys(name for path, name in named if not path.startswith("blank.")))


WRAP_KINDS = (
    WrapKind(
        "scales beside a band",
        "Raised scales and a flat band climb the blank side by side, with trims along both seams",
        "half-scale",
    ),
    WrapKind("scales all round", "Raised scales from end to end, no flat between", "full-mesh"),
    WrapKind(
        "two narrow bands",
        "Two narrow strips of scales chase each other, with wide flats between",
        "two-start-band",
    ),
    WrapKind(
        "shaded seams",
        "Scales beside a band, and shades of thread that run into each other at the seams",
        "graded-trim",
    ),
    WrapKind("corded diamonds", "Diamonds raised by cords under the thread", "cord-lattice"),
    WrapKind(
        "open diamonds",
        "Threads led crosswise over a plain wrap: diamonds with the ground between them",
        "open-diamonds",
    ),
    WrapKind(
        "filled arrows",
        "Threads led crosswise, packed on one side until arrows fill the wrap",
        "filled-chevrons",
    ),
    WrapKind(
        "ringed ends", "A plain wrap with rings of other threads at its ends", "ringed-grip-wrap"
    ),
    WrapKind(
        "swelling stripes",
        "Stripes over stripes, between which light and dark come and go slowly",
        "slow-beat",
    ),
    WrapKind(
        "marbled middle",
        "Pigments combed into a coat of finish between bands of thread",
        "marbled-band",
    ),
)
"""All kinds of wrap to begin with."""


def wrap_kind(name: str) -> WrapKind:
    """Find a kind of wrap.

    Parameters
    ----------
    name : str

    Raises
    ------
    DesignProblem
        If there is none of that name.
    """
    found = {kind.name: kind for kind in WRAP_KINDS}
    plain = " ".join(name.casefold().split())
    if plain in found:
        return found[plain]
    close = nearest(plain, found)
    hint = f"did you mean {close}?" if close else f"give {one_of(found)}."
    raise DesignProblem.at("wrap", f"{shown(name)} is not a kind of wrap; {hint}")
