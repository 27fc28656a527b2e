"""The wrap as physical geometry: layers over a surface, in millimetres and radians."""
