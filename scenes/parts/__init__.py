"""Parts of a design that its layers may read, and what every layer has."""
