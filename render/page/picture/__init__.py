"""The picture: the view of the design, and how its frames reach the browser."""
