"""Overlays: threads wound in turn, some of them pulled out again, and their beat."""
