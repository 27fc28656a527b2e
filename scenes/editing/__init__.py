"""Edits of a design's lists, and what a new layer is like in a design."""
