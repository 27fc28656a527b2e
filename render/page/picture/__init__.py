"""The picture: each client's view of the design, and how its frames reach the browser."""
