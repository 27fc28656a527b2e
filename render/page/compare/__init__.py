"""Two designs side by side, and a sweep of one field's values."""
