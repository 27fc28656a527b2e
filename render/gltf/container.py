"""A glTF 2.0 document put together piece by piece, and written as one binary file.

Only what a still model needs is here: meshes, materials and PNG textures. The writer of trimesh
carries neither tangents nor textures of extensions.
"""

import io
import json
import struct
from collections.abc import Mapping, Sequence
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

__all__ = ["Document", "Json", "Target"]

Json = dict[str, Any]

_COMPONENTS = {"uint8": 5121, "uint16": 5123, "uint32": 5125, "float32": 5126}
"""Component types by NumPy's names [GLTF2], section 3.6.2.2."""

_WIDTHS = {1: "SCALAR", 2: "VEC2", 3: "VEC3", 4: "VEC4"}

_TRIANGLES = 4

_LINEAR, _LINEAR_MIPMAP_LINEAR, _CLAMP_TO_EDGE, _REPEAT = 9729, 9987, 33071, 10497

_VERSION = 2
_HEADER, _CHUNK_HEADER, _ALIGNMENT = 12, 8, 4


class Target(IntEnum):
    """What numbers in a buffer are for [GLTF2], section 5.11.5."""

    VERTICES = 34962
    INDICES = 34963


class Document:
    """A glTF document with one scene.

    Parameters
    ----------
    generator : str
        Name of the program.
    extras : mapping
        Further data about the model, for JSON.
    """

    def __init__(self, generator: str, extras: Mapping[str, Any]) -> None:
        self._tree: Json = {
            "asset": {"version": "2.0", "generator": generator, "extras": dict(extras)}
        }
        self._binary = bytearray()
        self._extensions: set[str] = set()

    def picture(self, pixels: NDArray[np.uint8], name: str) -> int:
        """Add a texture: a PNG that repeats from left to right.

        Parameters
        ----------
        pixels : (height, width) or (height, width, 3) uint8
            First row at the top, where v is 0.
        name : str

        Returns
        -------
        int
            Index of the texture.
        """
        file = io.BytesIO()
        Image.fromarray(np.ascontiguousarray(pixels)).save(file, format="PNG")
        if "samplers" not in self._tree:
            self._tree["samplers"] = [
                {
                    "magFilter": _LINEAR,
                    "minFilter": _LINEAR_MIPMAP_LINEAR,
                    "wrapS": _REPEAT,
                    "wrapT": _CLAMP_TO_EDGE,
                }
            ]
        view = self._view(file.getvalue())
        image = self._add("images", {"bufferView": view, "mimeType": "image/png", "name": name})
        return self._add("textures", {"sampler": 0, "source": image, "name": name})

    def material(self, material: Json) -> int:
        """Add a material.

        Parameters
        ----------
        material : dict
            As in [GLTF2], section 5.19. Its extensions are declared as used.

        Returns
        -------
        int
            Index of the material.
        """
        self._extensions.update(material.get("extensions", ()))
        return self._add("materials", material)

    def primitive(
        self,
        attributes: Mapping[str, NDArray[np.generic]],
        faces: NDArray[np.integer],
        material: int,
    ) -> Json:
        """Make a primitive of triangles, for `node`.

        Parameters
        ----------
        attributes : mapping of str to (n, k) arrays
            By their glTF names; float32, or uint16 for shares from 0 to 65,535.
        faces : (m, 3) int
            Counter-clockwise seen from outside.
        material : int

        Returns
        -------
        dict
        """
        count = len(attributes["POSITION"])
        # The greatest index of a type restarts a strip [GLTF2], section 3.7.2.1.
        index = np.uint16 if count < 1 << 16 else np.uint32
        return {
            "attributes": {name: self._numbers(one, name) for name, one in attributes.items()},
            "indices": self._numbers(faces.reshape(-1, 1).astype(index), "indices"),
            "material": material,
            "mode": _TRIANGLES,
        }

    def node(self, name: str, primitives: Sequence[Json]) -> None:
        """Add a mesh to the scene.

        Parameters
        ----------
        name : str
        primitives : sequence of dict
        """
        mesh = self._add("meshes", {"name": name, "primitives": list(primitives)})
        self._add("nodes", {"name": name, "mesh": mesh})

    def binary(self, scene: str) -> bytes:
        """The document as a GLB file [GLTF2], section 4.4.

        Parameters
        ----------
        scene : str
            Name of the scene.
        """
        nodes = list(range(len(self._tree["nodes"])))
        tree = self._tree | {
            "scene": 0,
            "scenes": [{"name": scene, "nodes": nodes}],
            "buffers": [{"byteLength": len(self._binary)}],
        }
        if self._extensions:
            tree["extensionsUsed"] = sorted(self._extensions)
        text = json.dumps(tree, separators=(",", ":"), ensure_ascii=False).encode()
        chunks = (_chunk(b"JSON", text, b" "), _chunk(b"BIN\0", bytes(self._binary), b"\0"))
        size = _HEADER + sum(map(len, chunks))
        return struct.pack("<4sII", b"glTF", _VERSION, size) + b"".join(chunks)

    def _add(self, kind: str, item: Json) -> int:
        items = self._tree.setdefault(kind, [])
        items.append(item)
        return len(items) - 1

    def _view(self, data: bytes, target: Target | None = None) -> int:
        self._binary.extend(b"\0" * (-len(self._binary) % _ALIGNMENT))
        view: Json = {"buffer": 0, "byteOffset": len(self._binary), "byteLength": len(data)}
        if target is not None:
            view["target"] = int(target)
        self._binary.extend(data)
        return self._add("bufferViews", view)

    def _numbers(self, array: NDArray[np.generic], name: str) -> int:
        count, width = array.shape
        kind = array.dtype.name
        target = Target.INDICES if name == "indices" else Target.VERTICES
        little = np.ascontiguousarray(array, array.dtype.newbyteorder("<"))
        accessor: Json = {
            "bufferView": self._view(little.tobytes(), target),
            "componentType": _COMPONENTS[kind],
            "count": count,
            "type": _WIDTHS[width],
        }
        if name == "POSITION":
            accessor |= {"min": array.min(axis=0).tolist(), "max": array.max(axis=0).tolist()}
        if target is Target.VERTICES and kind != "float32":
            accessor["normalized"] = True
        return self._add("accessors", accessor)


def _chunk(kind: bytes, data: bytes, padding: bytes) -> bytes:
    padded = data + padding * (-len(data) % _ALIGNMENT)
    return struct.pack("<I4s", len(padded), kind) + padded
