"""The clear finish: how it refracts, flows and sets."""

from dataclasses import dataclass, fields
from math import isfinite

from materials.problems import MaterialProblem

__all__ = ["FINISH", "FinishMaterial"]


@dataclass(frozen=True, slots=True)
class FinishMaterial:
    """A clear two-part finish, as far as light and levelling need it.

    Parameters
    ----------
    ior : float
        Refractive index when hard, 1 to 2.5. Higher: a brighter outer reflection. Default 1.53,
        from memory (finishes lie about 1.50 to 1.57).
    viscosity_pa_s : float
        Pa s, freshly mixed. Higher: threads show through longer. Default 1.0, from memory.
    surface_tension_n_m : float
        N/m; what pulls the coat level. Default 0.035, from memory.
    open_time_s : float
        s in which it still flows. Longer: flatter coats. Default 1500, from memory.

    Raises
    ------
    MaterialProblem
        If a value is not finite and more than 0, or `ior` is not within 1 to 2.5.
    """

    ior: float = 1.53
    viscosity_pa_s: float = 1.0
    surface_tension_n_m: float = 0.035
    open_time_s: float = 1500.0

    def __post_init__(self) -> None:
        """Refuse what no finish can be."""
        for field in fields(self):
            value = getattr(self, field.name)
            if not (isfinite(value) and value > 0):
                raise MaterialProblem(
                    f"finish {field.name} is {value}, but should be finite and more than 0."
                )
        if not 1 <= self.ior <= 2.5:
            raise MaterialProblem(f"finish ior is {self.ior}, but should be from 1 to 2.5.")


FINISH = FinishMaterial()
