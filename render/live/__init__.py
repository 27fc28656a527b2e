"""The live picture, drawn by VTK with our own shading."""
