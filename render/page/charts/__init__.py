"""Charts on the page: a picture turned, mirrored and reduced to threads of the shelf."""
