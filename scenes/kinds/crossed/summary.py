"""Summary of a crossed pattern for the head of its card."""

from collections.abc import Iterator

from scenes.kinds.crossed.model import CrossedPattern
from scenes.parts.summary import field_values
from scenes.quantities import Units

__all__ = ["summary"]


def summary(layer: CrossedPattern, units: Units) -> Iterator[str]:
    """Write the spacing of the crosses as the design gives it, else the pattern and its threads.

    Parameters
    ----------
    layer : CrossedPattern
    units : Units
        Units in which lengths are written.
    """
    given = [name for name in layer.alternatives if name in layer.model_fields_set]
    if given:
        yield from field_values(layer, given, units)
        return
    if layer.pattern is not None:
        yield f"{layer.pattern.kind}s"
    entries = layer.courses or (layer.pattern.threads if layer.pattern is not None else ())
    yield from dict.fromkeys(entry.thread for entry in entries)
