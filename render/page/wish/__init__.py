"""Wishes on the page: what the design should come to, what was found, and taking it."""
