"""The model that a browser draws: everything of a stage but the picture, as JSON and text.

Maps and shapes are kept by what is in them, so that designs have in common what they share: wraps
that differ in thread colours alone, or are dry and finished, have one set of maps.
"""

import base64
import hashlib
import json
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geometry.grid import Detail
from render.browser.shader_texts import program_texts
from render.browser.stage_json import (
    Json,
    body_json,
    bounded,
    camera_json,
    light_json,
    looks_json,
    maps_json,
    slopes_json,
    unpacking_json,
    wrap_json,
)
from render.common.progress import Progress
from render.request.subject import Size, Subject
from scenes.customer.number import dry as without_finish
from scenes.light.lights import LightKind
from scenes.packing.images import deflated, webp
from scenes.packing.maps import PackedMaps, have_common_maps, packed
from scenes.packing.meshes import packed_mesh
from scenes.parts.view import LightSpec
from scenes.stage.bodies import WrapBody
from scenes.stage.camera import Camera
from scenes.stage.fittings import fittings
from scenes.stage.maps import SurfaceMaps, surface_maps
from scenes.stage.stage import wraps_of

__all__ = ["Model", "model_of", "text_of"]

_LEAST_LONGEST = 2048
"""What every WebGL2 browser draws by the standard."""

_SMALLER: tuple[tuple[tuple[int, int, int], int | None], ...] = (
    ((0, 1, 0), None),
    ((1, 1, 0), None),
    ((1, 1, 2), None),
    ((1, 2, 2), None),
    ((2, 2, 2), None),
    ((2, 3, 3), None),
    ((2, 3, 4), None),
    ((3, 3, 4), None),
    ((3, 3, 4), 3),
    ((3, 3, 4), 2),
    ((3, 3, 4), 1),
    ((4, 4, 4), 1),
    ((5, 5, 5), 1),
)
"""What is given up for room, step by step: bits of slopes of thread, of those of the outside and of
the thickness of finish, then the number of lights."""

_FINISHED, _DRY = "finished", "dry"
"""States of a design, as its JSON names them."""


@dataclass(frozen=True, slots=True)
class Model:
    """What a browser draws.

    Parameters
    ----------
    data : dict
        For JSON. Its ``blobs`` are text, named by what is in them.
    lights : tuple of str
        Names of the lights to choose from, the design's own first.
    """

    data: Json
    lights: tuple[str, ...]

    @property
    def size(self) -> int:
        """Bytes of its blobs, as text, and of all else."""
        return _size(self.data)


def model_of(
    subjects: Sequence[Subject],
    camera: Camera,
    size: Size,
    detail: Detail = Detail.NORMAL,
    *,
    lights: Iterable[LightKind] = LightKind,
    most_bytes: float = math.inf,
    progress: Progress | None = None,
) -> Model:
    """Make the model of a few designs.

    Parameters
    ----------
    subjects : sequence of Subject
    camera : Camera
        For all of them.
    size : (int, int)
        Width and height of the picture that the camera takes, pixels.
    detail : Detail
    lights : iterable of LightKind
        To choose from beside the first design's own.
    most_bytes : float
        As text. Slopes and thickness are given fewer bits, and lights beside the own one are left
        out, until it fits, or cannot be made smaller.
    progress : Progress, optional
        Advanced by `render.request.subject.BUILDING` for each subject.
    """
    progress = progress or Progress.none()
    blobs = _Blobs()
    own = subjects[0].design.light.kind
    kinds = [own, *(kind for kind in lights if kind is not own)]
    groups: list[_Group] = []
    designs: list[Json] = []
    for number, subject in enumerate(subjects):
        plan = subject.plan()
        for state, bodies in _states(subject, detail, progress):
            for place, body in enumerate(bodies):
                _sort_in(groups, _Place(number, state, place), bounded(body))
        designs.append(
            {
                "middle": plan.middle,
                _FINISHED: None,
                _DRY: None,
                "bodies": [body_json(packed_mesh(one), blobs) for one in fittings(plan)],
                "lights": [
                    light_json(plan, _of_kind(subject, kind), camera, size[0] / size[1], blobs)
                    for kind in kinds
                ],
            }
        )
    maps: list[Json] = []
    packed_ones: list[PackedMaps] = []
    for group in groups:
        packed_maps, looks = packed(group.bodies, group.maps)
        for at, body, look in zip(group.places, group.bodies, looks, strict=True):
            wraps = designs[at.design][at.state] or {"wraps": {}}
            wrap = {"maps": len(maps), "looks": looks_json(look), **wrap_json(body, blobs)}
            designs[at.design][at.state] = {"wraps": wraps["wraps"] | {at.place: wrap}}
        maps.append(maps_json(packed_maps, blobs))
        packed_ones.append(packed_maps)
    for design in designs:
        for state in (_FINISHED, _DRY):
            if design[state]:
                wraps = design[state]["wraps"]
                design[state] = {"wraps": [wraps[place] for place in sorted(wraps)]}
    data: Json = {
        "programs": program_texts(),
        "size": size,
        "camera": camera_json(camera),
        "maps": maps,
        "designs": designs,
        **unpacking_json(),
        "longestSide": max(_LEAST_LONGEST, *(side for one in maps for side in one["textures"])),
        "blobs": blobs.texts,
    }
    for left_out, count in _SMALLER:
        if _size(data) <= most_bytes:
            break
        for one, group_maps in zip(maps, packed_ones, strict=True):
            one |= slopes_json(group_maps, blobs, left_out)
        if count is not None:
            kinds = kinds[:count]
            for design in designs:
                design["lights"] = design["lights"][:count]
        data["blobs"] = _used(data, blobs)
    return Model(data, tuple(kind.value for kind in kinds))


def _of_kind(subject: Subject, kind: LightKind) -> LightSpec:
    return subject.design.light.model_copy(update={"kind": kind})


def _size(data: Json) -> int:
    blobs = sum(len(blob) for blob in data["blobs"].values())
    return blobs + len(json.dumps(data | {"blobs": {}}, separators=(",", ":")))


def _used(data: Json, blobs: "_Blobs") -> dict[str, str]:
    """The blobs that are still named."""
    named = json.dumps(data | {"blobs": {}})
    return {name: text for name, text in blobs.texts.items() if name in named}


def text_of(data: bytes) -> str:
    """Bytes as text of digits to the base 85 [RFC1924], a sixteenth shorter than base 64.

    A comma stands in for the less-than sign, which JSON in HTML would write as six characters.

    Parameters
    ----------
    data : bytes
    """
    return base64.b85encode(data).decode("ascii").replace("<", ",")


class _Blobs:
    """Bytes as text, each once, named by their hash.

    A map is encoded once: designs and states share lights and maps, and what is made smaller step
    by step comes back to most of them.
    """

    def __init__(self) -> None:
        self.texts: dict[str, str] = {}
        self._pictures: dict[tuple[tuple[int, ...], bytes], str] = {}

    def name(self, data: bytes) -> str:
        """Keep bytes, and name them."""
        name = hashlib.sha256(data).hexdigest()[:16]
        self.texts[name] = text_of(data)
        return name

    def picture(self, image: NDArray[np.uint8]) -> str:
        """Keep a map."""
        content = image.shape, hashlib.sha256(image.tobytes()).digest()
        if content not in self._pictures:
            self._pictures[content] = self.name(webp(image))
        return self._pictures[content]

    def columns(self, whole: NDArray[np.integer]) -> str:
        """Keep whole numbers."""
        return self.name(deflated(whole))


# ---- Wraps that have their maps in common


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a wrap belongs: its design, its state, and its place among the wraps of a stage."""

    design: int
    state: str
    place: int


@dataclass(slots=True)
class _Group:
    """Wraps that share a set of maps.

    Parameters
    ----------
    maps : SurfaceMaps
        Of the first.
    places : list of _Place
    bodies : list of WrapBody
        The first has finish, if any has.
    """

    maps: SurfaceMaps
    places: list[_Place]
    bodies: list[WrapBody]


def _states(
    subject: Subject, detail: Detail, progress: Progress
) -> Iterator[tuple[str, tuple[WrapBody, ...]]]:
    """The wraps of a design under finish, if it has one, and dry."""
    wrap = subject.build(detail, progress)
    if subject.design.finish.coats:
        yield _FINISHED, wraps_of(wrap)
        progress.describe("without finish")
        bare = replace(subject, design=without_finish(subject.design))
        wrap = bare.build(detail, Progress.none())
    yield _DRY, wraps_of(wrap)


def _sort_in(groups: list[_Group], place: _Place, body: WrapBody) -> None:
    maps = surface_maps(body.surface, body.beneath, body.outside, body.palette, body.row_width)
    for group in groups:
        if have_common_maps(group.maps, maps) and (
            body.outside is None or np.array_equal(group.maps.outside, maps.outside)
        ):
            group.places.append(place)
            group.bodies.append(body)
            return
    groups.append(_Group(maps, [place], [body]))
