"""A new design for the rod that the builder has measured: the questions before it."""
