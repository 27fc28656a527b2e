"""The stage: everything that a renderer needs, and no word of any renderer."""
