"""Shapes of pictures, for screens, posts and paper."""

from enum import StrEnum

from render.request.subject import Size

__all__ = ["A4_SIZE", "PRINTED", "SHAPES_OF_POSTS", "Shape", "resolution_of", "shape_size"]


class Shape(StrEnum):
    """Width against height, as people name it."""

    WIDE = "16:9"
    SQUARE = "1:1"
    PORTRAIT = "4:5"
    TALL = "9:16"
    A4 = "A4"
    A4_UPRIGHT = "A4 upright"


SHAPES_OF_POSTS = (Shape.WIDE, Shape.SQUARE, Shape.PORTRAIT, Shape.TALL)
"""Shapes for screens: stills and films."""

PRINTED = 300
"""Pixels to an inch of a picture that is meant for paper: as fine as print is looked at."""

A4_SIZE: Size = (3508, 2480)
"""297 by 210 mm (ISO 216) at 300 pixels to an inch."""

_ASPECTS = {Shape.WIDE: 16 / 9, Shape.SQUARE: 1.0, Shape.PORTRAIT: 4 / 5, Shape.TALL: 9 / 16}


def shape_size(shape: Shape, short_side: int) -> Size:
    """Size of a picture of a shape.

    Parameters
    ----------
    shape : Shape
    short_side : int
        Shorter side, pixels; paper is taken at 300 pixels to an inch, whatever this is.

    Returns
    -------
    (int, int)
        Width and height, pixels; even for screens, as video needs them.
    """
    if shape is Shape.A4:
        return A4_SIZE
    if shape is Shape.A4_UPRIGHT:
        return A4_SIZE[1], A4_SIZE[0]
    aspect = _ASPECTS[shape]
    if aspect >= 1:
        return _even(short_side * aspect), _even(short_side)
    return _even(short_side), _even(short_side / aspect)


def resolution_of(size: Size) -> int | None:
    """Pixels to an inch of a picture, if its size is that of a sheet of paper.

    Parameters
    ----------
    size : (int, int)
        Width and height, pixels.
    """
    return PRINTED if size in (A4_SIZE, A4_SIZE[::-1]) else None


def _even(side: float) -> int:
    return 2 * round(side / 2)
