"""What a renderer needs to know about a surface, whichever renderer it is."""

from dataclasses import dataclass
from math import isfinite
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from materials.colour import parse_hex, srgb_to_linear
from materials.finish import FINISH
from materials.metal import diffuse_internal_reflectance, dye_transmittance, dyed_film_reflectance
from materials.problems import MaterialProblem
from materials.thread import Thread, ThreadKind

__all__ = [
    "Appearance",
    "cord_appearance",
    "foil_appearance",
    "grip_appearance",
    "guide_appearance",
    "ink_appearance",
    "mesh_appearance",
    "pigment_appearance",
    "thread_appearance",
    "wet_reflectance",
]

Array = NDArray[np.float64]

# How much light one layer of dry, undyed nylon scatters back against what it lets through
# (Kubelka-Munk S X): 9 lets a tenth through. Under finish the fibres lie in a medium of nearly
# their own index, and only this share of the scattering stays. Both from memory.
_DRY_SCATTER = 9.0
_SCATTER_KEPT = 0.15

_ROUGH = ("roughness_along", "roughness_across")
_SHARES = (*_ROUGH, "metallic", "sparkle", "translucency")


@dataclass(frozen=True, slots=True)
class Appearance:
    """How a surface looks, in terms that any renderer can follow.

    ================  =======  =======  ========  ================================================
    parameter         type     default  range     what the eye sees
    ================  =======  =======  ========  ================================================
    name              str      -        -         nothing; it labels the surface
    base_colour       3 float  -        0 to 1    linear RGB: a metal's mirror tint (F0), else the
                                                  colour of the body
    metallic          float    0        0 to 1    0 a body colour under a pale shine, 1 a mirror
                                                  with the tint of `base_colour`
    roughness_along   float    0.5      > 0 to 1  length of the highlight along the thread: small
                                                  is a tight glint, 1 is matt
    roughness_across  float    0.5      > 0 to 1  the same across the rows, with the round of each
                                                  row in it: a wide streak
    sparkle           float    0        0 to 1    0 an even sheen, 1 every facet of the film its
                                                  own flash
    wet               bool     False    -         under finish: a clear, glossy outer reflection
    translucency      float    0        0 to 1    share of what lies beneath in the blend with it:
                                                  0 hides it, 1 is clear
    printed           bool     False    -         nothing by itself: it ends at an edge of its own,
                                                  not at the side of a thread
    mirror_colour     3 float  None     0 to 1    where part of it mirrors and the rest does not:
                                                  linear RGB of F0 of the part that does, if not
                                                  `base_colour`
    ================  =======  =======  ========  ================================================

    Roughness is perceptual: a GGX alpha is its square. Where rows of thread are drawn as shapes,
    their round is there already, and `roughness_along` serves both ways. A surface without threads
    has the same roughness both ways. `base_colour` of a wet surface is as seen from under the
    finish: the loss and the shine at the finish's outside are the renderer's to add, by
    `FINISH.ior`.

    Raises
    ------
    MaterialProblem
        If a value is outside its range or not finite.
    """

    name: str
    base_colour: tuple[float, float, float]
    metallic: float = 0.0
    roughness_along: float = 0.5
    roughness_across: float = 0.5
    sparkle: float = 0.0
    wet: bool = False
    translucency: float = 0.0
    printed: bool = False
    mirror_colour: tuple[float, float, float] | None = None

    @property
    def tint(self) -> tuple[float, float, float]:
        """F0 of what mirrors, linear RGB."""
        return self.base_colour if self.mirror_colour is None else self.mirror_colour

    def __post_init__(self) -> None:
        """Refuse values outside the table."""
        for name in ("base_colour", "mirror_colour"):
            colour = getattr(self, name)
            if colour is not None and not all(isfinite(c) and 0 <= c <= 1 for c in colour):
                raise MaterialProblem(
                    f"appearance of '{self.name}': {name} is {colour}, "
                    "but should be three numbers from 0 to 1."
                )
        for name in _SHARES:
            value = getattr(self, name)
            right = "more than 0 and at most 1" if name in _ROUGH else "from 0 to 1"
            if not (0 <= value <= 1) or (name in _ROUGH and value == 0):
                raise MaterialProblem(
                    f"appearance of '{self.name}': {name} is {value}, but should be {right}."
                )

    def over(self, under: "Appearance", share: float) -> "Appearance":
        """Blend with what is seen beside it at the same place.

        Parameters
        ----------
        under : Appearance
            Look of the rest of the place.
        share : float
            Share of the place that this look covers, 0 to 1.
        """
        if share >= 1:
            return self
        numbers = {
            name: share * getattr(self, name) + (1 - share) * getattr(under, name)
            for name in _SHARES
        }
        # One colour has to do for body and mirror. It is the body's, or the metal's tint would
        # show as pale paint along every edge of dark ink.
        body = np.array((share * (1 - self.metallic), (1 - share) * (1 - under.metallic)))
        if body.sum() <= 0:
            body = np.array((share, 1 - share))
        colour = _triple(body / body.sum() @ np.array((self.base_colour, under.base_colour)))
        return Appearance(
            f"{self.name} over {under.name}",
            colour,
            wet=under.wet,
            printed=self.printed or under.printed,
            **numbers,
        )


def wet_reflectance(dry: ArrayLike, ior: float = FINISH.ior) -> Array:
    """Body colour under a clear coat, as seen from within the coat.

    Light scattered by the body meets the coat's outside from within; a share p is thrown back and
    has to try again, and at each try the body takes its part: R' = (1 - p) R / (1 - p R).

    Parameters
    ----------
    dry : array_like, any shape
        Diffuse reflectance in air, 0 to 1, such as linear RGB.
    ior : float
        Index of the coat, more than 1.

    Returns
    -------
    ndarray of float64, same shape
        0 to 1, never above `dry`; black and white stay as they are.

    Notes
    -----
    [Lekner1988] without the first loss 1 - R_l on the way in, which belongs to the coat's own
    reflection. The same internal reflection is the first of the two effects in [Jensen1999].
    """
    r = np.asarray(dry, dtype=np.float64)
    p = diffuse_internal_reflectance(ior)
    return np.asarray((1 - p) * r / (1 - p * r))


def thread_appearance(thread: Thread, finished: bool, preserved: bool = False) -> Appearance:
    """Look of a wound thread, dry or under finish.

    Parameters
    ----------
    thread : Thread
        Thread that is wound.
    finished : bool
        True under finish.
    preserved : bool
        True if plain nylon was sealed with colour preserver before the finish, which then never
        wets its fibres: it looks as it does dry, under gloss. Other threads need none.

    Returns
    -------
    Appearance
        * Metallic: a mirror with the tint of a dyed film over aluminium; narrow along the thread,
          wide across it, and sparkling. Under finish aluminium reflects a little less.
        * NCP nylon: satin. Its pigment scatters inside the fibre, whose own outside throws light
          back already when dry; finish only moves that outside outwards, so the colour stays.
        * Plain nylon: the same satin when dry. Its colour comes from scattering between fibres and
          air, so under finish it darkens (`wet_reflectance`) and lets through what lies beneath:
          1 / (1 + S X), [Kubelka1931] without absorption, S X from memory.

    Notes
    -----
    Roughness and sparkle are from memory.
    """
    swatch = thread.linear_rgb
    if thread.kind is ThreadKind.METALLIC:
        return Appearance(
            thread.name,
            _triple(dyed_film_reflectance(dye_transmittance(swatch), finished)),
            metallic=1.0,
            roughness_along=0.22,
            roughness_across=0.55,
            sparkle=0.6,
            wet=finished,
        )
    # Finish fills the fibres' roughness, and the shine that is left is the finish's own.
    along, across = (0.6, 0.75) if finished else (0.45, 0.7)
    plain = thread.kind is ThreadKind.NYLON
    soaked = plain and finished and not preserved
    scatter = _DRY_SCATTER * (_SCATTER_KEPT if soaked else 1.0)
    return Appearance(
        thread.name,
        _triple(wet_reflectance(swatch) if soaked else swatch),
        roughness_along=along,
        roughness_across=across,
        wet=finished,
        translucency=1 / (1 + scatter) if plain and not preserved else 0.0,
    )


def grip_appearance(material: Literal["cork", "foam"]) -> Appearance:
    """Look of a grip.

    Parameters
    ----------
    material : 'cork' or 'foam'
        What it is made of.

    Returns
    -------
    Appearance
        Warm and matt cork, or near-black and matt foam. Colours and roughness from memory.

    Raises
    ------
    MaterialProblem
        If the material is anything else.
    """
    looks = {"cork": ("#c79b6d", 0.8), "foam": ("#1d1e20", 0.9)}
    if material not in looks:
        raise MaterialProblem(f"grip material is {material!r}, but should be 'cork' or 'foam'.")
    colour, rough = looks[material]
    base = _triple(srgb_to_linear(parse_hex(colour)))
    return Appearance(material, base, roughness_along=rough, roughness_across=rough)


def guide_appearance() -> Appearance:
    """Look of a guide's polished steel frame.

    Returns
    -------
    Appearance
        F0 of iron and its alloys, about 0.57, and roughness, both from memory.
    """
    return Appearance(
        "guide", (0.56, 0.57, 0.58), metallic=1.0, roughness_along=0.15, roughness_across=0.15
    )


def ink_appearance(linear_rgb: tuple[float, float, float], finished: bool) -> Appearance:
    """Look of ink on a film, as flat as the film. Roughness from memory.

    Parameters
    ----------
    linear_rgb : tuple of 3 float
        Colour as printed, linear RGB.
    finished : bool
        True under finish.
    """
    return Appearance(
        "ink", linear_rgb, roughness_along=0.5, roughness_across=0.5, wet=finished, printed=True
    )


def foil_appearance(linear_rgb: tuple[float, float, float], finished: bool) -> Appearance:
    """Look of metal foil, dyed: aluminium as in a metallic thread. Roughness from memory.

    Parameters
    ----------
    linear_rgb : tuple of 3 float
        Colour of the foil seen flat in air, linear RGB.
    finished : bool
        True under finish.
    """
    return Appearance(
        "foil",
        _triple(dyed_film_reflectance(dye_transmittance(np.array(linear_rgb)), finished)),
        metallic=1.0,
        roughness_along=0.3,
        roughness_across=0.3,
        wet=finished,
        printed=True,
    )


def pigment_appearance(
    mixed: tuple[tuple[tuple[float, float, float], float], ...], finished: bool
) -> Appearance:
    """Look of a cured coat of finish with opaque pigments stirred into it.

    Parameters
    ----------
    mixed : tuple of (three floats, float)
        Linear RGB of each pigment at a place, and the share of the place that it has.
    finished : bool
        True under finish, which meets the coat without an outside between them; otherwise it is as
        glossy as a blank.
    """
    rgb = sum(np.multiply(colour, share) for colour, share in mixed)
    rough = 0.6 if finished else 0.28
    return Appearance(
        "pigment",
        _triple(np.clip(rgb, 0, 1)),
        roughness_along=rough,
        roughness_across=rough,
        wet=finished,
        printed=True,
    )


def mesh_appearance() -> Appearance:
    """Look of white, coated glass mesh. Colour and roughness from memory."""
    return Appearance("mesh", (0.72, 0.72, 0.70), roughness_along=0.6, roughness_across=0.6)


def cord_appearance() -> Appearance:
    """Look of undyed, waxed cord. Colour and roughness from memory."""
    return Appearance("cord", (0.68, 0.65, 0.57), roughness_along=0.7, roughness_across=0.7)


def _triple(rgb: Array) -> tuple[float, float, float]:
    r, g, b = rgb.tolist()
    return r, g, b
