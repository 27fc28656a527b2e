"""Marbled coats: pigments dropped into a thin coat of finish and combed."""
