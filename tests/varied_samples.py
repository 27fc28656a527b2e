"""The samples that tests of any design go through: few that hold every kind of layer, or all.

Each sample is a design like any other to what is tested there. Tests whose subject is the sample
itself go through `scenes.files.samples.names`.
"""

import os
from collections.abc import Hashable

from scenes.design.document import Design
from scenes.files import samples

__all__ = ["EVERY_SAMPLE", "VARIED"]

EVERY_SAMPLE = "TURNLIGHT_EVERY_SAMPLE"
"""Environment variable: set to 1 to go through all samples."""


def _features(design: Design) -> set[Hashable]:
    """Kinds of layer, what stands on the blank, and units."""
    layers = {("layer", layer.kind) for layer in design.layers}
    fitted = {("fitted", one.kind) for one in design.blank.fitted}
    return {*layers, *fitted, ("units", design.units), ("coats", design.finish.coats > 0)}


def _varied() -> tuple[str, ...]:
    names = samples.names()
    if os.environ.get(EVERY_SAMPLE) == "1":
        return tuple(names)
    features = {name: _features(samples.load(name)) for name in names}
    missing = set().union(*features.values())
    chosen = []
    while missing:
        best = max(names, key=lambda name: len(features[name] & missing))
        chosen.append(best)
        missing -= features[best]
    return tuple(chosen)


VARIED = _varied()
"""In the order of what each adds; every kind of layer is in one of them."""
