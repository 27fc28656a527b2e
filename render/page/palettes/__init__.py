"""Colour schemes on the page: tried on the rod, kept as the design or as a variant, or left."""
