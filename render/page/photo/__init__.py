"""A photograph on the page: the standing picture, path-traced in its place pass by pass."""
