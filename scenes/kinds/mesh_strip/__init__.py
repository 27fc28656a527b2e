"""Mesh strips: a strip wound under a cover, cut in whole cells."""
