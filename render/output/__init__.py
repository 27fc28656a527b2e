"""Pictures as files: stills, turntables, comparisons, moving pictures, meshes."""
