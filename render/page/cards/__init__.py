"""The cards at the side: the design's fields, their bounds and the figures under them."""
