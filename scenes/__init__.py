"""What is in a picture: the design document, the lights and the stage, naming no renderer."""
