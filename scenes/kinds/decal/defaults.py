"""What a new decal is like in a design."""

from collections.abc import Iterator

from scenes.kinds.defaults import NewLayer, Surroundings
from scenes.kinds.flat.runs import RunDirection, has_band

__all__ = ["defaults"]

_LONGEST = 24
"""Letters of a new line."""


def defaults(around: Surroundings) -> Iterator[NewLayer]:
    """Begin with the title, or its first word, along the flat band where there is one."""
    title = around.design.title.strip()
    banded = has_band(around.design)
    words = (title[:_LONGEST].strip(), title.split(" ")[0][:_LONGEST], "My rod")
    for text in dict.fromkeys(words):
        for runs in (RunDirection.BAND, RunDirection.BLANK):
            if text and (banded or runs is RunDirection.BLANK):
                yield from around.anywhere({"text": text, "ink": around.ink, "runs": runs.value})
