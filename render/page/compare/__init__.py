"""Two designs side by side, the design's variants, and a sweep of one field's values."""
