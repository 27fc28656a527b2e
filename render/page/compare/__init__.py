"""Two designs side by side, and a row of values to choose from."""
