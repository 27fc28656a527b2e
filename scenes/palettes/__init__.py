"""Colour schemes for a design, from the threads on the shelf: harmonies of hue, with contrast."""
