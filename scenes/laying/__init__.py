"""One file for each kind of layer, or for several alike: how it is laid on a design's blank."""
