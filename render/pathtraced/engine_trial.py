"""A program that tries one engine: it ends with 0 if the engine works here.

It runs as a child process, because a driver or a compiler that fails may end the process that
loads it. Arguments: Mitsuba's name of the engine.

The picture is of everything that a photo is made of, in light that is 1 from everywhere. All that
stands in it keeps the light, so its mean is 1 (the white furnace test, [Heitz2014]).
"""

import sys
from importlib import import_module
from typing import Any

__all__ = ["main"]

_TOLERANCE = 0.03
"""How far the mean may be from 1: rough metal and lacquer lose light that they reflect twice."""


def main(variant: str) -> int:
    """Render the trial's picture; 0 if it is right.

    Parameters
    ----------
    variant : str
        Mitsuba's name of the engine.
    """
    import numpy as np

    mitsuba: Any = import_module("mitsuba")
    mitsuba.set_variant(variant)
    mitsuba.set_log_level(mitsuba.LogLevel.Error)
    picture = np.array(mitsuba.render(_scene(mitsuba), spp=64, seed=1))
    return int(not abs(float(picture.mean()) - 1) < _TOLERANCE)


def _scene(mi: Any) -> Any:
    turned = mi.ScalarTransform4f
    colour = {"type": "mesh_attribute", "name": "vertex_body"}
    metal = {
        "type": "roughconductor",
        "distribution": "ggx",
        "alpha": 0.1,
        "material": "none",
        "specular_reflectance": colour,
    }
    matt = {"type": "diffuse", "reflectance": colour}
    both = {"type": "blendbsdf", "weight": 0.5, "matt": matt, "metal": metal}
    lacquer = {"type": "principled", "base_color": colour, "roughness": 0.5, "eta": 1.5}
    glass = {"type": "dielectric", "int_ior": 1.5, "ext_ior": 1.0}
    meshes = {}
    for number, (surface, size) in enumerate(((both, 0.8), (glass, 1.0), (lacquer, 0.2))):
        place = [3.0, 0.0, 0.0] if surface is lacquer else [0.0, 0.0, 0.0]
        mesh = mi.load_dict(
            {
                "type": "cube",
                "to_world": turned().translate(place).rotate([1, 1, 0], 30).scale(size),
                "bsdf": surface,
            }
        )
        mesh.add_attribute("vertex_body", 3, [1.0] * (3 * mesh.vertex_count()))
        meshes[f"mesh{number}"] = mesh
    group = mi.load_dict({"type": "shapegroup", **meshes})
    camera = {
        "type": "thinlens",
        "aperture_radius": 0.05,
        "focus_distance": 6.0,
        "fov": 35.0,
        "to_world": turned().look_at([0, 0, 6], [0, 0, 0], [0, 1, 0]),
        "film": {"type": "hdrfilm", "width": 16, "height": 16, "rfilter": {"type": "box"}},
    }
    return mi.load_dict(
        {
            "type": "scene",
            "integrator": {"type": "path", "max_depth": 32, "rr_depth": 32},
            "light": {"type": "envmap", "bitmap": mi.Bitmap(_even_light())},
            "sensor": camera,
            "group": group,
            "rod": {"type": "instance", "group": group},
        }
    )


def _even_light() -> Any:
    import numpy as np

    return np.ones((8, 16, 3), np.float32)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
