"""Examples of field values, from the samples."""

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import Any

from scenes.design.document import Design
from scenes.files import samples
from scenes.parts.annotations import kinds_of, models_in
from scenes.parts.part import Part
from scenes.quantities import Units

__all__ = ["sample_values"]

Values = dict[tuple[type[Part], str], list[Any]]


@cache
def sample_values() -> Values:
    """Collect the values that the samples in millimetres give.

    Returns
    -------
    dict
        Values as in the file, by model and name of the field in the file.
    """
    found: Values = {}
    for name in samples.names():
        document = tomllib.loads(samples.text(name))
        if document["units"] == Units.MM:
            _collect(Design, document, found)
    return found


def _collect(model: type[Part], table: Mapping[str, Any], found: Values) -> None:
    for name, field in model.model_fields.items():
        key = field.alias or name
        if key not in table:
            continue
        value = table[key]
        found.setdefault((model, key), []).append(value)
        models = list(models_in(field.annotation))
        for entry in value if isinstance(value, list) else [value]:
            if models:
                chosen = [one for one in models if entry.get("kind") in kinds_of([one])]
                _collect((chosen or models)[0], entry, found)
