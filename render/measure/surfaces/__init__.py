"""What the wrap's surfaces cost: taut skins, and layers, maps and finish by length."""
