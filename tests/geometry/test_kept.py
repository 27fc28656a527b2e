"""Layers kept by content: what tells them apart, what is kept and what is not, and how much."""

from dataclasses import replace

import numpy as np
import pytest

from geometry.blank import Blank
from geometry.grid import Grid
from geometry.kept import Kept
from geometry.layers.cover import Cover
from geometry.surface import Surface

BLANK = Blank(np.array([0.0, 100.0]), np.array([12.0, 10.0]))
GRID = Grid.even(10.0, 30.0, 65, 64)
COVER = Cover(12.0, 28.0, 0.17, 0.17, 1)
ROOM = 10_000_000


class _Counted:
    """A computation that counts how often it is done."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self) -> float:
        self.count += 1
        return float(self.count)


def _arrays(surface: Surface) -> list[bytes]:
    names = ("z", "theta", "radius", "material", "lay", "row", "along", "tube")
    return [getattr(surface, name).tobytes() for name in names]


def test_a_kept_layer_is_the_layer() -> None:
    """Against the layer laid without keeping anything."""
    kept = Kept(ROOM)
    bare = kept.bare(BLANK, GRID, 0)
    first = kept.laid(COVER, bare)
    again = kept.laid(replace(COVER), kept.bare(BLANK, Grid.even(10.0, 30.0, 65, 64), 0))
    assert again is first
    assert _arrays(first) == _arrays(COVER.apply(Surface.bare(BLANK, GRID)))


@pytest.mark.parametrize(
    "changes",
    [{"material": 2}, {"diameter": 0.18}, {"end": 28.5}, {"packed": True}, {"seed": 1}],
)
def test_another_layer_is_laid_anew(changes: dict[str, float]) -> None:
    kept = Kept(ROOM)
    bare = kept.bare(BLANK, GRID, 0)
    other = replace(COVER, **changes)
    kept.laid(COVER, bare)
    assert _arrays(kept.laid(other, bare)) == _arrays(other.apply(bare))


def test_the_surface_under_a_layer_counts() -> None:
    kept = Kept(ROOM)
    thick = Blank(BLANK.at, BLANK.diameter + 1)
    laid = [kept.laid(COVER, kept.bare(blank, GRID, 0)) for blank in (BLANK, thick)]
    assert _arrays(laid[1]) == _arrays(COVER.apply(Surface.bare(thick, GRID)))


def test_surfaces_made_elsewhere_are_known_by_their_arrays() -> None:
    kept = Kept(ROOM)
    first = kept.laid(COVER, Surface.bare(BLANK, GRID))
    assert kept.laid(COVER, Surface.bare(BLANK, GRID)) is first
    assert kept.laid(COVER, Surface.bare(BLANK, GRID, 3)) is not first


def test_a_twin_has_the_same_key() -> None:
    kept = Kept(ROOM)
    bare = kept.bare(BLANK, GRID, 0)
    twin = kept.same(bare)
    assert twin is not bare
    assert kept.laid(COVER, twin) is kept.laid(COVER, bare)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ((1,), (1.0,)),
        ((0.0,), (-0.0,)),
        ((1, 2), ((1, 2),)),
        ((("a",), "b"), (("a", "b"),)),
        (("ab", "c"), ("a", "bc")),
        ((np.zeros(4),), (np.zeros((2, 2)),)),
        ((np.zeros(2, np.float32),), (np.zeros(1, np.float64),)),
        ((np.float32(1),), (1.0,)),
        ((None,), ("None",)),
    ],
)
def test_inputs_are_told_apart(one: tuple[object, ...], other: tuple[object, ...]) -> None:
    kept, compute = Kept(ROOM), _Counted()
    assert kept.result("a", one, compute, points=1) == 1
    assert kept.result("a", other, compute, points=1) == 2
    assert kept.result("a", one, compute, points=1) == 1
    assert kept.result("b", one, compute, points=1) == 3


def test_what_has_no_content_is_refused() -> None:
    with pytest.raises(TypeError, match="function"):
        Kept(ROOM).result("a", (lambda: 1,), _Counted(), points=1)


def test_failures_are_not_kept() -> None:
    kept = Kept(ROOM)

    def fail() -> float:
        raise ValueError("no")

    for _ in range(2):
        with pytest.raises(ValueError, match="no"):
            kept.result("a", (1,), fail, points=1)
    assert kept.result("a", (1,), lambda: 2.0, points=1) == 2


def test_memory_is_bounded_and_the_oldest_goes_first() -> None:
    kept = Kept(1000)
    compute = _Counted()

    def make() -> np.ndarray:
        compute()
        return np.zeros(30)

    for number in range(20):
        kept.result("a", (number,), make, points=1)
        kept.result("a", (0,), make, points=1)
        assert kept.bytes_kept <= 1000
    assert kept.bytes_kept == 4 * 240
    # What was used all along is still there; of the others the last three are.
    assert compute.count == 20
    for number in (0, 17, 18, 19):
        kept.result("a", (number,), make, points=1)
    assert compute.count == 20
    kept.result("a", (16,), make, points=1)
    assert compute.count == 21


def test_shared_arrays_count_once() -> None:
    kept = Kept(1000)
    shared = np.zeros(30)
    for number in range(20):
        kept.result("a", (number,), lambda: (shared, shared[:10]), points=1)
    assert kept.bytes_kept == 240


def test_what_is_too_large_is_not_kept() -> None:
    kept, compute = Kept(1000), _Counted()
    kept.result("a", (1,), lambda: np.zeros(60), points=1)
    assert kept.bytes_kept == 0
    for _ in range(2):
        kept.result("b", (lambda: 1,), compute, points=60)
    assert compute.count == 2


def test_what_is_forgotten_is_computed_anew() -> None:
    kept = Kept(ROOM)
    bare = kept.bare(BLANK, GRID, 0)
    first = kept.laid(COVER, bare)
    kept.forget()
    assert kept.bytes_kept == 0
    again = kept.laid(COVER, bare)
    assert again is not first
    assert _arrays(again) == _arrays(first)
