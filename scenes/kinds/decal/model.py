"""Decals in the document: letters or a picture, printed on film and laid on the thread."""

import math
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from scenes.kinds.flat.runs import RunDirection, check_support
from scenes.parts.layer import DesignContext, LayerModel
from scenes.parts.part import only_one
from scenes.problems import refusal
from scenes.quantities import Angle, Colour, Example, FileName, Length, Words

__all__ = ["Decal"]


class Decal(LayerModel):
    """Letters or a picture under the finish, flat on the thread."""

    role: ClassVar[str] = "decal"
    carries: ClassVar[bool] = False
    alternatives: ClassVar[tuple[str, ...]] = ("text", "picture")

    kind: Literal["decal"]
    text: Annotated[str, Words(80, "a line of letters")] | None = None
    picture: (
        Annotated[str, FileName(100, "the file name of a PNG picture", endings=(".png",))] | None
    ) = None
    font: (
        Annotated[
            str,
            FileName(100, "the file name of a font", endings=(".ttf", ".otf")),
            Example('"my-letters.ttf"'),
        ]
        | None
    ) = None
    """Default: DejaVu Sans."""
    ink: Annotated[str, Colour("the colour of the letters")] | None = None
    foil: bool = False
    """Whether letters are of metal foil in place of ink."""
    runs: Annotated[RunDirection, Field(strict=False)] = RunDirection.BAND
    """Which way it lies: straight along the blank, or along the flat band beside a strip."""
    height: (
        Annotated[float, Length(0.5, 150, "the height of capital letters, or of the picture")]
        | None
    ) = None
    """Default: as large as there is room for, less the margin."""
    margin: Annotated[
        float, Length(0, 40, "what is kept clear towards scales, trims and the wrap's ends")
    ] = 1.5
    at: (
        Annotated[
            float, Length(0, 6000, "the distance of its middle from the butt"), Example("350")
        ]
        | None
    ) = None
    """Default: mid wrap. On the band it goes to the nearest place on this side of the blank."""
    around: Annotated[
        float, Angle(-360, 360, "where its middle is round the blank, from the guide line")
    ] = math.pi / 2
    turned: bool = False
    """Whether it reads from tip to butt."""

    @classmethod
    def rivals(cls, field: str) -> tuple[str, ...]:
        """Fields that give way to one: those for letters alone to a picture."""
        letters = ("font", "ink", "foil") if field == "picture" else ()
        return (*super().rivals(field), *letters)

    @model_validator(mode="after")
    def _checked(self) -> Self:
        only_one(self)
        if self.picture is not None:
            for field in ("font", "ink"):
                if getattr(self, field) is not None:
                    raise refusal(
                        f"it is for letters, and this decal is a picture; leave {field} out",
                        field=field,
                    )
            if self.foil:
                raise refusal("it is for letters; leave foil out of a picture", field="foil")
        return self

    def check(self, design: DesignContext, path: str) -> None:
        """Check that there is thread under it, and a band if it lies along one."""
        check_support(self, self.runs, self.at, design, path)
