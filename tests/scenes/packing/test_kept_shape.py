"""Packed maps whose shape was kept are those of maps made afresh, byte for byte."""

from dataclasses import fields, replace
from itertools import pairwise

import numpy as np
import pytest

from geometry.grid import Detail
from geometry.kept import KEPT
from materials.shelf import Shelf
from scenes.building.build import Plan, build
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.packing import maps as packing
from scenes.packing.maps import PackedMaps, packed
from scenes.stage.bodies import WrapBody
from scenes.stage.maps import surface_maps
from scenes.stage.stage import wraps_of
from tests.varied_samples import VARIED

SHELF = Shelf.shipped()


def _bodies(name: str, **changes: object) -> tuple[WrapBody, ...]:
    design = with_changes(samples.load(name).without_variants(), changes)
    return wraps_of(build(Plan(design, SHELF), Detail.DRAFT, stride=2))


def _content(maps: PackedMaps) -> list[object]:
    found: list[object] = []
    for field in fields(maps):
        value = getattr(maps, field.name)
        if isinstance(value, np.ndarray):
            found += [value.dtype, value.shape, np.ascontiguousarray(value).tobytes()]
        else:
            found.append(value)
    return found


def _fresh(body: WrapBody) -> list[object]:
    made = surface_maps(body.surface, body.beneath, body.outside, body.palette, body.row_width)
    return _content(packed([body], made)[0])


@pytest.mark.parametrize("name", VARIED)
def test_kept_shapes_are_those_of_fresh_maps(name: str) -> None:
    """Against maps made for each body; each is packed twice, the second time from what was kept."""
    for body in _bodies(name):
        # Other looks of the same shape: matt and duller ones, and ones whose film does not glint.
        duller = tuple(replace(look, roughness_along=0.9) for look in body.palette)
        plain = tuple(replace(look, sparkle=0.0) for look in body.palette)
        for palette in (body.palette, duller, plain, body.palette):
            shown = replace(body, palette=palette)
            assert _content(packed([shown])[0]) == _fresh(shown)
        dry = replace(body, outside=None)
        assert _content(packed([dry])[0]) == _fresh(dry)


def test_colours_make_no_maps(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[WrapBody] = []
    own = packing._maps_of
    monkeypatch.setattr(packing, "_maps_of", lambda body: made.append(body) or own(body))
    KEPT.forget()
    colours = ["#702010", "#107020"]
    packs = []
    for colour in colours:
        (body,) = _bodies("half-scale", **{"blank.colour": colour})
        packs.append(packed([body]))
    assert len(made) == 1
    for (first, first_looks), (second, second_looks) in pairwise(packs):
        assert _content(first) == _content(second)
        assert not np.array_equal(first_looks[0].body, second_looks[0].body)
