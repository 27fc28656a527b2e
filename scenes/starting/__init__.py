"""A first design for a measured blank, made from a few answers."""
