"""Whether the lines of a trim will be seen, measured in a picture."""
