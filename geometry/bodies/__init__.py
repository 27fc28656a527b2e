"""Solid bodies for pictures and files: triangles of a surface, turned parts, guides."""
