"""The lights that a wrap is seen in, and the curve from light to screen."""
