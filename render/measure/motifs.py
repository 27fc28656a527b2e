"""Pictures and charts of the samples: invented motifs, drawn here and shipped as PNG files.

``python -m render.measure.motifs FOLDER`` draws them again.
"""

import io
import itertools
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

__all__ = ["MOTIFS", "motif_png"]

Image8 = NDArray[np.uint8]
Floats = NDArray[np.float64]

_FINE = 4
"""Factor of supersampling."""

CLEAR = (0, 0, 0, 0)
STEM, LEAF, VEIN, BERRY = "#7a4a22", "#2f7d3b", "#9bc25a", "#d9482f"
WATER, FISH, BACK, EYE = "#1f5f8a", "#e9e3cf", "#c9923a", "#101418"


def _rgb(colour: str) -> tuple[int, int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16), 255


def _grid(columns: int, rows: int) -> tuple[Floats, Floats]:
    """Centres of the pixels of a chart, relative to its centre: x to the right, y up."""
    x = np.arange(columns) - (columns - 1) / 2
    y = (rows - 1) / 2 - np.arange(rows)
    return np.meshgrid(x, y)


def _leaf(x: Floats, y: Floats, length: float, width: float) -> Floats:
    """Implicit function of a pointed leaf from the origin along x, below 1 inside it."""
    along = np.clip(x / length, 0, 1)
    half = width / 2 * np.sin(np.pi * along**0.8) ** 0.9
    inside = (x > 0) & (x < length)
    return np.where(inside, np.abs(y) / np.maximum(half, 1e-6), np.inf)


def vine() -> Image8:
    """Chart of a winding vine with leaves and a berry at each bend; it repeats upwards."""
    columns, rows = 42, 60
    x, y = _grid(columns, rows)
    chart = np.zeros((rows, columns, 4), np.uint8)
    wave = 2 * np.pi / rows

    def bend(at: Floats) -> Floats:
        return np.asarray(7.5 * np.sin(wave * at))

    for turn in (-rows, 0, rows):
        for side in (1, -1):
            # A leaf leaves the stem where it turns back, on the outer side of the bend.
            foot = side * rows / 4 + turn
            away, up = side * (x - bend(np.array(foot))), y - foot + 3
            for lean, length, wide in ((0.62, 13.5, 10.5), (2.62, 15.5, 11.5)):
                on, off = (
                    away * np.cos(lean) + up * np.sin(lean),
                    up * np.cos(lean) - away * np.sin(lean),
                )
                near = _leaf(on - 1, off, length, wide)
                chart[near < 1] = _rgb(LEAF)
                chart[(near < 1) & (np.abs(off) < 0.75) & (on < length - 2)] = _rgb(VEIN)
            berry = np.hypot(away - 9.5, up + 5.5)
            chart[berry < 2.9] = _rgb(BERRY)
    stem = np.abs(x - bend(y)) / np.hypot(1, 7.5 * wave * np.cos(wave * y))
    chart[stem < 1.3] = _rgb(STEM)
    return chart


def shoal() -> Image8:
    """Chart of a fish over a wave, swimming upwards; it repeats in both directions."""
    columns, rows = 36, 40
    x, y = _grid(columns, rows)
    chart = np.zeros((rows, columns, 4), np.uint8)
    wave = 2.2 * np.sin(2 * np.pi * x / columns)
    for height, thick in ((-13.0, 1.6), (-17.0, 1.1)):
        chart[np.abs(y - height - wave) < thick] = _rgb(WATER)
    up = y - 4
    body = (x - 1.5) ** 2 / 12.0**2 + up**2 / 6.2**2
    tail = (
        (x < -8) & (x > -16.5) & (np.abs(up) < (-6 - x) * 0.72) & (np.abs(up) > (-11.5 - x) * 0.8)
    )
    fin = (x > -5) & (x < 5) & (up > 4.5) & (up < 9.8 - 0.55 * np.abs(x + 1.5))
    chart[tail | fin] = _rgb(BACK)
    chart[body < 1] = _rgb(FISH)
    chart[(body < 1) & (up > 1.6)] = _rgb(BACK)
    scale = (np.abs(((x + (up // 3 % 2) * 2) % 4) - 2) < 0.8) & (np.abs(up % 3 - 1.5) < 0.9)
    chart[(body < 0.8) & scale & (x < 6) & (up <= 1.6)] = _rgb(WATER)
    chart[np.hypot(x - 9, up - 1) < 1.6] = _rgb(EYE)
    return np.ascontiguousarray(np.rot90(chart))


def heron() -> Image8:
    """Picture of a heron among reeds before a low sun, on a transparent ground."""
    wide, high = 1400, 620
    image = Image.new("RGBA", (wide * _FINE // 2, high * _FINE // 2), CLEAR)
    draw = ImageDraw.Draw(image)
    scale = _FINE / 2

    def at(*points: tuple[float, float]) -> list[tuple[float, float]]:
        return [(x * scale, y * scale) for x, y in points]

    def line(points: list[tuple[float, float]], wide_: float, colour: str) -> None:
        draw.line(at(*points), fill=_rgb(colour), width=round(wide_ * scale), joint="curve")
        for x, y in points:
            draw.ellipse(
                at((x - wide_ / 2, y - wide_ / 2), (x + wide_ / 2, y + wide_ / 2)), _rgb(colour)
            )

    def bow(points: list[tuple[float, float]], count: int = 60) -> list[tuple[float, float]]:
        """Points of a Bézier curve."""
        share = np.linspace(0, 1, count)[:, None]
        found = [np.array(point, dtype=float)[None, :].repeat(count, 0) for point in points]
        while len(found) > 1:
            found = [a + (b - a) * share for a, b in itertools.pairwise(found)]
        return [(float(x), float(y)) for x, y in found[0]]

    draw.ellipse(at((830, 60), (1250, 480)), _rgb("#e2703a"))
    draw.ellipse(at((880, 110), (1200, 430)), _rgb("#f2a65a"))
    for place, lean, tall in (
        (90, 30, 500), (170, -40, 560), (235, 60, 430), (1130, 40, 470), (1215, -30, 560),
        (1290, 30, 400), (1345, -25, 500),
    ):  # fmt: skip
        stalk = bow([(place, 600), (place + lean / 3, 600 - tall / 2), (place + lean, 600 - tall)])
        line(stalk, 11, "#3f6b3a")
        x, y = stalk[-1]
        line([(x, y), (x + lean / 7, y + 92)], 27, "#6d4427")
    # Legs, body, neck and bill of the bird.
    line([(600, 400), (588, 500), (596, 600)], 13, "#3b3f44")
    line([(660, 400), (690, 490), (672, 600)], 13, "#3b3f44")
    draw.polygon(
        at(*bow([(430, 478), (430, 330), (560, 210), (800, 250), (770, 330)]),
           *bow([(770, 330), (730, 450), (590, 440), (430, 478)])),
        _rgb("#7f93a8"),
    )  # fmt: skip
    draw.polygon(
        at(*bow([(410, 500), (500, 370), (640, 330), (700, 352)]),
           *bow([(700, 352), (640, 430), (520, 440), (410, 500)])),
        _rgb("#4f6277"),
    )  # fmt: skip
    neck = bow([(745, 310), (850, 330), (690, 130), (800, 92)])
    line(neck, 40, "#c9d3dc")
    draw.ellipse(at((760, 62), (850, 124)), _rgb("#c9d3dc"))
    draw.polygon(at((836, 74), (990, 112), (838, 112)), _rgb("#e0a02c"))
    line(bow([(830, 76), (770, 60), (700, 92), (660, 74)]), 13, "#2b3440")
    draw.ellipse(at((812, 80), (826, 94)), _rgb("#14181c"))
    for y, first, last in ((604, 40, 1370), (585, 470, 800)):
        line([(first, y), (last, y)], 9, "#2e6f87")
    small = image.convert("RGBa").resize((wide // 2, high // 2), Image.Resampling.BOX)
    return np.asarray(small.convert("RGBA"))


MOTIFS: dict[str, Callable[[], Image8]] = {
    "heron.png": heron,
    "shoal.png": shoal,
    "vine.png": vine,
}
"""Functions that draw the shipped motifs, by file name."""


def motif_png(name: str) -> bytes:
    """Draw a motif as the bytes of a PNG file.

    Parameters
    ----------
    name : str
        Key of `MOTIFS`.
    """
    data = io.BytesIO()
    Image.fromarray(MOTIFS[name]()).save(data, "PNG", optimize=True)
    return data.getvalue()


if __name__ == "__main__":
    for file_name in MOTIFS:
        (Path(sys.argv[1]) / file_name).write_bytes(motif_png(file_name))
