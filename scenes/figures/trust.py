"""How far readings and estimates may be trusted: every ± of the bench comes from here."""

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
"""A diameter read with a caliper on a blank that is not quite round (from memory)."""

WOUND_MM = 0.1
"""Length of a test strip of thread between a caliper's jaws: twice what a caliper is off on
something hard (from memory)."""

MARK_MM = 0.5
"""Width of a pencil's mark on a blank (from memory)."""

TAPE_MM = 0.5
"""A distance laid off round the blank with a strip of paper (from memory)."""

HELD_MM = 0.5
"""How closely a gap can be kept by ruler: what an eye sees along it (from memory)."""

SHELF_WIDTH_SHARE = 0.05
"""Laid width of a thread that nobody has wound yet: it depends on tension (from memory)."""

FILM_SHARE = 0.25
"""Volume of a brushed coat against the one asked for (from memory)."""

RELIEF_SHARE = 0.25
"""Mass of a mesh or cord of which only size and stuff are known, not what it weighs."""

PRINT_SHARE = 0.005
"""Size of a print against the one asked for: film shrinks under heat (from memory)."""
