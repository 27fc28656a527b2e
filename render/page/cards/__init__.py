"""The cards at the side: the design's fields, their ranges and the figures derived from them."""
