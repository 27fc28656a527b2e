"""A catalogue: a static site with a page for each design, its pictures made by many workers."""
