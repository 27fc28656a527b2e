"""Runs when a Python starts that has this folder in its path: the page's worker processes.

They build every wrap on the grid of a draft, and draw it with few triangles. In pictures as small
as the tests' windows, triangles are no larger than pixels, and software OpenGL spends most of a
frame on them; no test of the page looks at the outline of a wrap, or between the points of a draft.
"""

import sys

FEW_POINTS = 1_500
"""Points of a wrap's mesh, in place of `scenes.stage.wrap_mesh.MESH_POINTS`."""

# The worker processes, and not the children that decode strangers' files with little memory.
if any(word.startswith("--multiprocessing-fork") for word in sys.orig_argv):
    from geometry.grid import Detail
    from scenes.stage import wrap_mesh

    wrap_mesh.MESH_POINTS = FEW_POINTS
    for density in ("samples_per_thread", "samples_per_cell"):
        of_a_draft = getattr(Detail.DRAFT, density)
        setattr(Detail, density, property(lambda _, points=of_a_draft: points))
