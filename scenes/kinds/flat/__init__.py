"""What decals and woven panels share: how they run, and the room that they have."""
