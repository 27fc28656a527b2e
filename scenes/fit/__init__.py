"""From wishes to a design: what may be wished, what may change for it, and the search between."""
