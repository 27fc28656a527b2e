"""Names of unsupported kinds of pixels, for refusals."""

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
    """Name a Pillow mode in words, such as "16-bit grey".

    Parameters
    ----------
    mode : str
        Any text: it may come from a decoder that a file controls.
    """
    return "16-bit grey" if mode.startswith("I;16") else _WORDS.get(mode, printable(mode))
