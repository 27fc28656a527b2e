"""The light that a design is seen in, and from where it is looked at."""

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from scenes.light.lights import LightKind
from scenes.parts.part import Part
from scenes.quantities import Angle, Colour, Length, Ratio

__all__ = ["CameraSpec", "Ground", "Lean", "LightSpec", "View"]


class View(StrEnum):
    """Where the camera stands."""

    WHOLE_WRAP = "whole wrap"
    WHOLE_ROD = "whole rod"
    THREE_QUARTER = "three-quarter"
    CLOSE = "close"
    ALONG_THE_ROD = "along the rod"
    ARMS_LENGTH = "arm's length"

    @classmethod
    def _missing_(cls, value: object) -> "View | None":
        """Read the former word of a view, which older files have."""
        return cls.ALONG_THE_ROD if value == "end-on" else None


class Lean(StrEnum):
    """How the rod lies in a picture."""

    FIT = "fit"
    LEVEL = "level"
    ASLANT = "aslant"
    UPRIGHT = "upright"


class Ground(StrEnum):
    """What lies under the rod and rises behind it."""

    CARD = "card"
    WORKBENCH = "workbench"
    SLATE = "slate"
    LINEN = "linen"


class LightSpec(Part):
    """The light it is seen in."""

    kind: Annotated[LightKind, Field(strict=False)] = LightKind.SOFT_BOXES
    """What the rod is lit by."""
    turn: Annotated[float, Angle(-360, 360, "how far the light is turned round the rod")] = 0.0
    backdrop: Annotated[str, Colour("the colour of the card behind", ("dark", "light"))] = "dark"
    ground: Annotated[Ground, Field(strict=False)] = Ground.CARD
    """What lies under the rod: card of the colour of the backdrop, or a bench top of wood, slate or
    linen, which have colours of their own."""
    exposure: Annotated[float, Ratio(-4, 4, "the exposure in stops, below 0 for darker")] = 0.0
    """As calibrated at 0, where a grey of 18 % reads 18 %; bright metal may want a stop less."""
    hold_highlights: bool = False
    """Lower the exposure further where bright thread would burn out: until 90 % of what is seen of
    each thread but the trims', as the rod turns, is below 95 % of white. Compared designs share the
    lowest."""


class CameraSpec(Part):
    """How it is looked at."""

    view: Annotated[View, Field(strict=False)] = View.WHOLE_WRAP
    turn: Annotated[float, Angle(-360, 360, "how far the rod is turned about its axis")] = 0.0
    walk: Annotated[float, Angle(-180, 180, "how far the camera walks round towards the tip")] = 0.0
    rise: Annotated[float, Angle(-180, 180, "how far the camera rises over the rod")] = 0.0
    zoom: Annotated[float, Ratio(0.2, 12, "how many times larger than the view has it")] = 1.0
    along: Annotated[float, Length(-6000, 6000, "how far towards the tip the camera looks")] = 0.0
    lean: Annotated[Lean, Field(strict=False)] = Lean.FIT
    """How the rod lies in pictures that are saved: fit takes what shows the wrap largest. The page
    shows it level."""
