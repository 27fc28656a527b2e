"""A stage packed small: maps, looks, meshes and light, as bytes that every host unpacks alike."""
