"""What every kind of layer answers; each kind has a folder of its own below."""
