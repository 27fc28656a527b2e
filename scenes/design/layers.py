"""The layers of a wrap as a design describes them, in bench order.

A new kind of layer is one file in `scenes.kinds` and its name in the `Layer` union here; how it is
laid is one file in `scenes.kinds`.
"""

from collections.abc import Mapping
from typing import Annotated, Any, get_args

from pydantic import Field

from scenes.kinds.cord_lattice.model import CordLattice
from scenes.kinds.cover.model import Cover
from scenes.kinds.crossed.model import CrossedPattern
from scenes.kinds.decal.model import Decal
from scenes.kinds.mesh_strip.model import MeshStrip
from scenes.kinds.overlay.model import Overlay
from scenes.kinds.rings.model import Rings
from scenes.kinds.seam_trim.model import SeamTrim
from scenes.kinds.woven.model import WovenPanel
from scenes.parts.layer import LayerModel, Role

__all__ = ["Layer", "layer_path"]

Layer = Annotated[
    MeshStrip
    | CordLattice
    | Cover
    | SeamTrim
    | CrossedPattern
    | Decal
    | WovenPanel
    | Rings
    | Overlay,
    Field(discriminator="kind"),
]
LAYER_KINDS: dict[str, type[LayerModel]] = {
    get_args(model.model_fields["kind"].annotation)[0]: model
    for model in get_args(get_args(Layer)[0])
}
"""Each kind of layer, by the `kind` that a file gives."""


def layer_path(layers: "tuple[LayerModel, ...] | list[Any]", index: int) -> str:
    """Name a layer as a path does: its role, or its own name where the role is taken twice.

    Parameters
    ----------
    layers : sequence of LayerModel or of dict
        All layers, as models or as the file's tables.
    index : int

    Returns
    -------
    str
        ``layers.2`` where a layer has neither a role nor a name to itself.
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


def _role(layer: object) -> Role | None:
    kind = _of(layer, "kind")
    model = LAYER_KINDS.get(kind) if isinstance(kind, str) else None
    return model.role if model is not None else None
