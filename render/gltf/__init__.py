"""The wrap as a glTF 2.0 model for other programs: meshes, materials and textures in one file."""
