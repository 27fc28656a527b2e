"""Covers: thread wound row against row over whatever lies beneath."""
