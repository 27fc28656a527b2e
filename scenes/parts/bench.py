"""The builder's own bench in a design: tails, waste, mixing, time and money.

Every default here is invented, to be replaced by the builder's own number; `scenes.bench` marks
each figure that rests on a default.
"""

from typing import Annotated

from scenes.parts.part import Part
from scenes.quantities import Example, Length, Measure, Ratio, Words

__all__ = ["BenchSpec"]

_SHEET = ", from the product's own sheet"
_TAIL = "the length left over at each end"


class BenchSpec(Part):
    """The builder's own bench."""

    roll_width: Annotated[
        float, Length(1, 5000, "the width of the mesh as it comes off the roll")
    ] = 50.0
    """Joint mesh comes about 50 mm wide (common practice, no source)."""
    strip_tail: Annotated[float, Length(0, 1000, f"{_TAIL} of a strip to tape down")] = 30.0
    cord_tail: Annotated[float, Length(0, 1000, f"{_TAIL} of a cord to tape down")] = 50.0
    thread_tail: Annotated[float, Length(0, 3000, f"{_TAIL} of a thread to hold it by")] = 150.0
    waste: Annotated[float, Ratio(0, 1, "the share of thread that is spoilt, 0.05 for 5 %")] = 0.05
    steering_limit: Annotated[
        float, Ratio(0.0001, 0.5, "the stretch at its edge that a strip takes flat, 0.01 for 1 %")
    ] = 0.01
    relief_density: (
        Annotated[
            float, Measure(0.1, 20, "the density of the mesh or cord", "g/cm3"), Example("0.95")
        ]
        | None
    ) = None
    mix_ratio: Annotated[
        float, Ratio(0.05, 20, "the parts of resin, by volume, to one part of hardener")
    ] = 1.0
    cup_loss: Annotated[
        float, Measure(0, 200, "the mixed finish that stays in cup and brush each time", "ml")
    ] = 1.0
    least_mix: Annotated[
        float, Measure(0, 500, "the least that you mix at once, both parts together", "ml")
    ] = 2.0
    syringe_division: Annotated[
        float, Measure(0.001, 10, "the smallest mark on your syringe, 0.1 for 0.1 ml", "ml")
    ] = 0.1
    """Syringes of a few ml are divided so (common practice, no source)."""
    resin_density: Annotated[
        float, Measure(0.5, 3, "the density of the resin" + _SHEET, "g/cm3")
    ] = 1.16
    hardener_density: Annotated[
        float, Measure(0.5, 3, "the density of the hardener" + _SHEET, "g/cm3")
    ] = 1.0
    """Densities of a bisphenol resin and of an amine hardener, from memory."""
    soak: Annotated[
        float,
        Ratio(0, 1, "the share of the air under the cover that the first coat fills, 0.3 for 30 %"),
    ] = 0.3
    lathe_speed: Annotated[
        float, Measure(1, 5000, "the speed at which the cover is wound", "turns a minute")
    ] = 100.0
    hand_time: (
        Annotated[
            float,
            Measure(0, 100_000, "the time of all that is done by hand", "min"),
            Example("240"),
        ]
        | None
    ) = None
    rate: (
        Annotated[float, Ratio(0, 1_000_000, "what an hour of your work costs"), Example("40")]
        | None
    ) = None
    other_materials: (
        Annotated[
            float,
            Ratio(0, 10_000_000, "what mesh, finish, brushes and the like cost"),
            Example("12"),
        ]
        | None
    ) = None
    currency: Annotated[
        str, Words(12, "the name or sign of your money", shortest=0), Example('"EUR"')
    ] = ""

    @property
    def finish_density(self) -> float:
        """Density of the mixed finish, g/cm3: both parts by the ratio, their volumes added up.

        How much the mix shrinks as it cures is left out: a few per cent (from memory).
        """
        return (self.mix_ratio * self.resin_density + self.hardener_density) / (1 + self.mix_ratio)

    def finish_mass(self, volume: float) -> float:
        """Weigh a volume of mixed finish.

        Parameters
        ----------
        volume : float
            mm³.

        Returns
        -------
        float
            g.
        """
        return volume / 1000 * self.finish_density

    def invented(self, field: str) -> bool:
        """Whether a field has its invented default, because the file does not give it.

        Parameters
        ----------
        field : str
            Name of the field.
        """
        return field not in self.model_fields_set
