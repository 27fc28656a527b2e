"""Processes beside the page's own: they draw, export and work out the bench."""
