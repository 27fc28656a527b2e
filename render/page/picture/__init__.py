"""The picture: what is looked at, and how it reaches the browser."""
