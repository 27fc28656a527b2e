"""Rings of other threads at the ends of a wrap."""
