"""Notes for the customer: the builder's own, or a description made from the design.

Notes that came with a sample are about the sample, and are never shown.
"""

import tomllib
from collections.abc import Iterator
from functools import cache
from itertools import islice

from scenes.design.document import Design
from scenes.design.layers import kind_of, layer_path
from scenes.files import samples
from scenes.parts.layer import LayerModel
from scenes.quantities import Units, length, marker_of

__all__ = ["customer_notes", "layer_words", "own_notes"]

_MOST_VALUES = 3
"""Values named of a layer that no headline describes."""


def customer_notes(design: Design) -> str:
    """Give the notes that a customer reads.

    Parameters
    ----------
    design : Design

    Returns
    -------
    str
        The design's notes, unless there are none or they are those of a sample; then what the wrap
        is made of, in its present figures.
    """
    return own_notes(design) or _described(design)


def own_notes(design: Design) -> str:
    """Give the builder's own notes; empty if there are none or they are those of a sample.

    Parameters
    ----------
    design : Design
    """
    own = design.notes.strip()
    return "" if _joined(own) in _of_samples() else own


def layer_words(design: Design) -> list[str]:
    """Describe each layer in a few words, in bench order.

    Parameters
    ----------
    design : Design
    """
    words = _layers(design, design.units)
    return [f"{text[:1].upper()}{text[1:]}" for text in words]


def _described(design: Design) -> str:
    units = design.units
    place = design.placement
    sentences = [
        f"The wrap is {length(place.length, units)} long, from {length(place.start, units)} to "
        f"{length(place.end, units)} from the butt."
    ]
    sentences += [f"{words}." for words in layer_words(design)]
    coats = design.finish.coats
    finish = {0: "No finish yet", 1: "One coat of clear finish"}
    sentences.append(finish.get(coats, f"{coats} coats of clear finish") + ".")
    return " ".join(sentences)


def _layers(design: Design, units: Units) -> Iterator[str]:
    for index, layer in enumerate(design.layers):
        path = layer_path(design.layers, index)
        yield _headline(layer, path, units) or _summary(layer, units)


def _headline(layer: LayerModel, path: str, units: Units) -> str:
    """The field that stands for the whole layer in a label, in words; empty if it has none."""
    kind = kind_of(layer)
    for name in kind.headline:
        value = getattr(layer, name)
        if value is not None and name in kind.words:
            marker = marker_of(type(layer).model_fields[name])
            return kind.words[name](path, name, value, marker, units)
    return ""


def _summary(layer: LayerModel, units: Units) -> str:
    values = ", ".join(islice(kind_of(layer).summary(layer, units), _MOST_VALUES))
    return f"{layer.kind}: {values}" if values else layer.kind


@cache
def _of_samples() -> frozenset[str]:
    """The notes of all samples, on one line each."""
    texts = (tomllib.loads(samples.text(name)).get("notes", "") for name in samples.names())
    return frozenset(_joined(text) for text in texts)


def _joined(text: str) -> str:
    return " ".join(text.split())
