"""Which class lays which kind of layer."""

from typing import TYPE_CHECKING, Any

from scenes.kinds.cord_lattice.laying import LatticeLaying
from scenes.kinds.cord_lattice.model import CordLattice
from scenes.kinds.cover.laying import CoverLaying
from scenes.kinds.cover.model import Cover
from scenes.kinds.crossed.laying import CrossedLaying
from scenes.kinds.crossed.model import CrossedPattern
from scenes.kinds.decal.laying import DecalLaying
from scenes.kinds.decal.model import Decal
from scenes.kinds.laying import Laying
from scenes.kinds.mesh_strip.laying import StripLaying
from scenes.kinds.mesh_strip.model import MeshStrip
from scenes.kinds.overlay.laying import OverlayLaying
from scenes.kinds.overlay.model import Overlay
from scenes.kinds.rings.laying import RingsLaying
from scenes.kinds.rings.model import Rings
from scenes.kinds.seam_trim.laying import TrimLaying
from scenes.kinds.seam_trim.model import SeamTrim
from scenes.kinds.woven.laying import WovenLaying
from scenes.kinds.woven.model import WovenPanel
from scenes.parts.layer import LayerModel

if TYPE_CHECKING:
    from scenes.building.build import Plan

__all__ = ["LAYINGS", "laying_for"]

LAYINGS: dict[type[LayerModel], type[Laying[Any]]] = {
    MeshStrip: StripLaying,
    CordLattice: LatticeLaying,
    Cover: CoverLaying,
    SeamTrim: TrimLaying,
    CrossedPattern: CrossedLaying,
    Decal: DecalLaying,
    WovenPanel: WovenLaying,
    Rings: RingsLaying,
    Overlay: OverlayLaying,
}
"""How each kind of layer is laid."""


def laying_for(layer: LayerModel, plan: "Plan", path: str) -> Laying[Any]:
    """Work out how one layer of a design is laid."""
    return LAYINGS[type(layer)](layer, plan, path)
