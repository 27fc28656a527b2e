"""Cord lattices: cords wound both ways under a cover."""
