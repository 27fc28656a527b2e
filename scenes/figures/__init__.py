"""Figures with how far each may be off, and the tables and sentences around them."""
