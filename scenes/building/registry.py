"""Which class lays which kind of layer."""

from typing import TYPE_CHECKING, Any

from scenes.layers import (
    CordLattice,
    Cover,
    CrossedPattern,
    Decal,
    LayerModel,
    MeshStrip,
    Overlay,
    Rings,
    SeamTrim,
    WovenPanel,
)
from scenes.laying.base import Laying
from scenes.laying.cover import CoverLaying
from scenes.laying.crossed import CrossedLaying
from scenes.laying.decal import DecalLaying
from scenes.laying.overlay import OverlayLaying
from scenes.laying.relief import LatticeLaying, StripLaying
from scenes.laying.rings import RingsLaying
from scenes.laying.seam_trim import TrimLaying
from scenes.laying.woven import WovenLaying

if TYPE_CHECKING:
    from scenes.build import Plan

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
