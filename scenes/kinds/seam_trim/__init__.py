"""Seam trims: threads along the edge of a relief."""
