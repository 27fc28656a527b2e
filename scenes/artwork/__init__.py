"""Charts, pictures and letters that layers are made from."""
