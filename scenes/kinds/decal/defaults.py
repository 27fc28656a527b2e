"""New decals."""

from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings
from scenes.kinds.flat.runs import RunDirection, has_band

__all__ = ["defaults"]

_LONGEST = 24
"""Most letters of a new decal."""


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Yield decals of the title or its first word, along the flat band where there is one.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    title = surroundings.design.title.strip()
    banded = has_band(surroundings.design)
    words = (title[:_LONGEST].strip(), title.split(" ")[0][:_LONGEST], "My rod")
    for text in dict.fromkeys(words):
        for runs in (RunDirection.BAND, RunDirection.BLANK):
            if text and (banded or runs is RunDirection.BLANK):
                yield from surroundings.usual_places(
                    {"text": text, "ink": surroundings.ink, "runs": runs.value}
                )
