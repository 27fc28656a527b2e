"""Layers over a surface: thread, cords, mesh and finish."""
