"""What kinds of pixels that are not taken are called, to somebody who paints them."""

from scenes.problems import printable

__all__ = ["pixel_kind"]

_WORDS = {
    "1": "black and white",
    "L": "grey",
    "LA": "grey with transparency",
    "I": "32-bit grey",
    "F": "grey in floating point",
    "CMYK": "CMYK, as for print",
    "LAB": "L*a*b*",
}


def pixel_kind(mode: str) -> str:
    """Put a mode of Pillow's into words, such as "16-bit grey".

    Parameters
    ----------
    mode : str
        Anything: a broken decoder may have given it.
    """
    return "16-bit grey" if mode.startswith("I;16") else _WORDS.get(mode, printable(mode))
