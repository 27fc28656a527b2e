"""One file for each kind of layer: what a design says of it, and what it refuses."""
