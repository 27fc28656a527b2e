"""Wraps whose layers were kept from builds before are those of a fresh build, byte for byte."""

from collections.abc import Callable, Iterator

import numpy as np
import pytest

from geometry import kept
from geometry.grid import Detail
from geometry.kept import KEPT, MOST_BYTES
from geometry.layers.cover import Cover
from geometry.layers.finish import Finish
from geometry.layers.relief import MeshStrip
from geometry.layers.trim import SeamTrim
from geometry.surface import Layer, Surface
from materials.shelf import Shelf
from scenes.building.build import Plan, Wrap, build
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.files import samples
from scenes.parts.guides import GuideFoot
from scenes.problems import DesignProblem
from scenes.stage.bodies import WrapBody
from scenes.stage.feet import foot_plans, wound_feet
from scenes.stage.stage import wraps_of
from tests.varied_samples import VARIED

SHELF = Shelf.shipped()
STRIDE = 2


def _built(design: Design) -> Wrap:
    return build(Plan(design, SHELF), Detail.DRAFT, stride=STRIDE)


def _fresh(monkeypatch: pytest.MonkeyPatch, design: Design) -> tuple[Wrap, tuple[WrapBody, ...]]:
    """A build, and its bodies, with nothing kept from before, and nothing kept of it."""

    def computed(
        _: object, what: str, inputs: object, compute: Callable[[], object], **__: int
    ) -> object:
        return compute()

    with monkeypatch.context() as patched:
        patched.setattr(kept.Kept, "result", computed)
        wrap = _built(design)
        return wrap, wraps_of(wrap)


def _bytes(surface: Surface | None) -> Iterator[bytes]:
    if surface is not None:
        for name in ("z", "theta", "radius", "material", "lay", "row", "along", "tube"):
            array = getattr(surface, name)
            yield f"{name} {array.dtype} {array.shape}".encode()
            yield np.ascontiguousarray(array).tobytes()


def _content(wrap: Wrap, bodies: tuple[WrapBody, ...]) -> list[object]:
    surfaces = [wrap.surface, wrap.beneath, wrap.outside]
    for body in bodies:
        surfaces += [body.surface, body.beneath, body.outside]
    used = [(use.use, use.thread.name, use.length) for use in wrap.threads()]
    arrays = [list(_bytes(surface)) for surface in surfaces]
    return [arrays, wrap.palette, [body.palette for body in bodies], used]


def _edits(design: Design) -> Iterator[Design]:
    """The design again and again, each time with something changed, and at last as it was."""
    yield design
    yield with_changes(design, {"blank.colour": "#702010"})
    yield with_changes(design, {"finish.coats": 0 if design.finish.coats else 2})
    yield with_changes(design, {"blank.finish": "matt"})
    for layer in range(len(design.layers)):
        for old, new in _SWAPPED.items():
            yield _swapped(design, layer, old, new)
    yield design


_SWAPPED = {"Sloe Black A": "Rowan Red A", "Heron Silver A": "Tarn Teal D"}
"""A thread of the same diameter, and a thicker one."""


def _swapped(design: Design, layer: int, old: str, new: str) -> Design:
    """The design with one thread in place of another in one layer."""
    document = document_of(design)

    def swap(value: object) -> object:
        if isinstance(value, dict):
            return {key: swap(entry) for key, entry in value.items()}
        if isinstance(value, list):
            return [swap(entry) for entry in value]
        return new if value == old else value

    document["layers"][layer] = swap(document["layers"][layer])
    return design_from(document)


@pytest.mark.parametrize("name", VARIED)
def test_kept_layers_are_those_of_a_fresh_build(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Against builds with nothing kept; each design twice, the second time from what was kept."""
    for edited in _edits(samples.load(name).without_variants()):
        fresh = _content(*_fresh(monkeypatch, edited))
        for _ in range(2):
            wrap = _built(edited)
            assert _content(wrap, wraps_of(wrap)) == fresh
    assert KEPT.bytes_kept <= MOST_BYTES


@pytest.fixture
def laid(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the layers that are laid from now on, the finish among them."""
    names: list[str] = []
    for kind in (MeshStrip, Cover, SeamTrim, Finish):

        def counted(
            layer: Layer, surface: Surface, own: Callable[..., Surface] = kind.apply
        ) -> Surface:
            names.append(type(layer).__name__)
            return own(layer, surface)

        monkeypatch.setattr(kind, "apply", counted)
    return names


def test_an_edit_lays_only_what_it_changes(laid: list[str]) -> None:
    """Colours lay nothing; a trim is laid with the finish over it, and nothing under it."""
    design = samples.load("half-scale").without_variants()
    _built(design)
    laid.clear()
    _built(_swapped(design, 2, "Willowleaf A", "Rowan Red A"))
    _built(with_changes(design, {"title": "Another", "blank.colour": "#702010"}))
    assert laid == []
    _built(with_changes(design, {"trim.offset": 0.15}))
    # One for each edge of the strip.
    assert laid == ["SeamTrim", "SeamTrim", "Finish"]
    laid.clear()
    _built(with_changes(design, {"relief.gap": 22.0}))
    assert {"MeshStrip", "Cover", "SeamTrim", "Finish"} == set(laid)


def test_each_build_has_a_surface_of_its_own() -> None:
    """Renderers know a wrap by that object, and its looks may have changed."""
    design = samples.load("half-scale").without_variants()
    assert _built(design).surface is not _built(design).surface


def test_a_design_that_cannot_be_wound_is_refused_each_time() -> None:
    design = samples.load("figured-grain").without_variants()
    at = next(index for index, layer in enumerate(design.layers) if layer.kind == "overlay")
    loose = with_changes(design, {f"layers.{at}.pitch": 3.0})
    sentences = []
    for _ in range(2):
        with pytest.raises(DesignProblem) as caught:
            _built(loose)
        sentences.append(str(caught.value))
    assert sentences[0] == sentences[1]


def test_a_guide_is_bound_anew_only_where_it_changes(laid: list[str]) -> None:
    """A colour binds no foot anew, and a longer foot only its own."""
    design = samples.load("spinning-rod").without_variants()
    wound_feet(Plan(design, SHELF), Detail.DRAFT)
    laid.clear()
    recoloured = with_changes(design, {"blank.colour": "#702010"})
    wound_feet(Plan(recoloured, SHELF), Detail.DRAFT)
    assert laid == []
    at = next(i for i, one in enumerate(design.blank.fitted) if isinstance(one, GuideFoot))
    field = f"blank.fitted.{at}.length"
    longer = with_changes(design, {field: design.blank.fitted[at].length * 1.05})
    wound_feet(Plan(longer, SHELF), Detail.DRAFT)
    changed = foot_plans(Plan(longer, SHELF))[0]
    assert laid.count("Cover") == len(changed.wraps) + (changed.underwrap is not None)
