"""Worker processes of the page: they draw, export and compute the bench figures."""
