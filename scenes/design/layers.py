"""The layers of a wrap as a design describes them, in bench order.

A new kind of layer is one folder in `scenes.kinds`, and one import and one line in `KINDS` here.
"""

from collections.abc import Mapping
from functools import reduce
from operator import or_
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import Field

from scenes.kinds.cord_lattice.kind import KIND as CORD_LATTICE
from scenes.kinds.cover.kind import KIND as COVER
from scenes.kinds.crossed.kind import KIND as CROSSED
from scenes.kinds.decal.kind import KIND as DECAL
from scenes.kinds.kind import Kind
from scenes.kinds.marbled_coat.kind import KIND as MARBLED_COAT
from scenes.kinds.mesh_strip.kind import KIND as MESH_STRIP
from scenes.kinds.overlay.kind import KIND as OVERLAY
from scenes.kinds.rings.kind import KIND as RINGS
from scenes.kinds.seam_trim.kind import KIND as SEAM_TRIM
from scenes.kinds.woven.kind import KIND as WOVEN
from scenes.parts.layer import LayerModel

__all__ = ["KINDS", "LAYER_KINDS", "ROLES", "Layer", "kind_of", "layer_path"]

KINDS: tuple[Kind[Any], ...] = (
    MESH_STRIP,
    CORD_LATTICE,
    COVER,
    SEAM_TRIM,
    CROSSED,
    RINGS,
    OVERLAY,
    MARBLED_COAT,
    DECAL,
    WOVEN,
)
"""Every kind of layer, in the order in which they are usually laid."""

if TYPE_CHECKING:
    Layer = LayerModel
else:
    Layer = Annotated[reduce(or_, (kind.model for kind in KINDS)), Field(discriminator="kind")]

LAYER_KINDS: dict[str, type[LayerModel]] = {kind.name: kind.model for kind in KINDS}
"""Model of each kind of layer, by the name of the kind in a file."""

ROLES: tuple[str, ...] = tuple(dict.fromkeys(str(kind.model.role) for kind in KINDS))
"""Every role, in the order in which they are usually laid."""

_BY_MODEL = {kind.model: kind for kind in KINDS}


def kind_of(layer: LayerModel) -> Kind[Any]:
    """Find the kind of a layer.

    Parameters
    ----------
    layer : LayerModel
    """
    return _BY_MODEL[type(layer)]


def layer_path(layers: "tuple[LayerModel, ...] | list[Any]", index: int) -> str:
    """Give the path of a layer: its role, or its own name where several layers have the role.

    Parameters
    ----------
    layers : sequence of LayerModel or of dict
        All layers, as models or as the file's tables.
    index : int
        Position of the layer.

    Returns
    -------
    str
        ``layers.2`` where neither its role nor its name is unique.
    """
    roles = [_role(layer) for layer in layers]
    if roles[index] is not None and roles.count(roles[index]) == 1:
        return str(roles[index])
    names = [_of(layer, "name") for layer in layers]
    if isinstance(names[index], str) and names.count(names[index]) == 1:
        return str(names[index])
    return f"layers.{index}"


def _of(layer: object, key: str) -> object:
    return layer.get(key) if isinstance(layer, Mapping) else getattr(layer, key, None)


def _role(layer: object) -> str | None:
    kind = _of(layer, "kind")
    model = LAYER_KINDS.get(kind) if isinstance(kind, str) else None
    return str(model.role) if model is not None else None
