"""Uncertainty of readings and estimates: every ± of the bench is derived from these."""

__all__ = [
    "CALIPER_MM",
    "FILM_SHARE",
    "HELD_MM",
    "MARK_MM",
    "PRINT_SHARE",
    "RELIEF_SHARE",
    "SHELF_WIDTH_SHARE",
    "TAPE_MM",
    "WOUND_MM",
]

CALIPER_MM = 0.05
"""Error of a diameter read with a caliper on a blank that is not quite round (from memory)."""

WOUND_MM = 0.1
"""Error of the length of a test strip of thread between the jaws of a caliper: twice the error on a
hard body (from memory)."""

MARK_MM = 0.5
"""Width of a pencil's mark on a blank (from memory)."""

TAPE_MM = 0.5
"""Error of a distance laid off round the blank with a strip of paper (from memory)."""

HELD_MM = 0.5
"""Error of a gap that is kept by ruler: what an eye sees along it (from memory)."""

SHELF_WIDTH_SHARE = 0.05
"""Error of the laid width of a thread before it is wound: it depends on tension (from memory)."""

FILM_SHARE = 0.25
"""Error of the volume of a brushed coat (from memory)."""

RELIEF_SHARE = 0.25
"""Error of the mass of a mesh or cord of which only size and material are known."""

PRINT_SHARE = 0.005
"""Error of the size of a print: film shrinks under heat (from memory)."""
