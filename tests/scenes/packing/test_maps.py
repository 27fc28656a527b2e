"""What packing loses of a wrap's maps, map by map, against maps that were never packed."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from materials.colour import from_bytes
from scenes.building.build import Wrap
from scenes.packing.companding import (
    CODES,
    MOST_SLOPE,
    coarser,
    code_image,
    companded,
    expanded,
)
from scenes.packing.looks import index_looks
from scenes.packing.maps import (
    OUTSIDE_KNEE,
    SLOPE_KNEE,
    fewer_bits,
    have_common_maps,
    packed,
    unpacked,
)
from scenes.stage.bodies import WrapBody
from scenes.stage.edges import sides_of
from scenes.stage.maps import SurfaceMaps, surface_maps

Built = Callable[..., Wrap]

# Trims with sides, translucent cover over cords, more than 256 inks, stripes that sides cut twice.
SAMPLES = ("half-scale", "cord-lattice", "heron-plate", "slow-beat")
FINISHED = {"finish.coats": 2}


def body_of(wrap: Wrap) -> WrapBody:
    return WrapBody(
        wrap.surface, wrap.beneath, wrap.outside, wrap.palette, 1.5, wrap.plan.row_width
    )


def maps_of(body: WrapBody) -> SurfaceMaps:
    return surface_maps(body.surface, body.beneath, body.outside, body.palette, body.row_width)


def light_of(colour: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear light, and the share in the fourth channel."""
    share = colour[..., 3:].astype(np.float32) / 255
    return np.concatenate((from_bytes(colour[..., :3]), share), axis=-1)


def cuts_of(body: WrapBody) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """How many sides of threads run through each texel, and whether two others lie beyond them."""
    printed = np.array([look.printed for look in body.palette])
    sides = sides_of(body.surface, body.row_width, printed)
    cuts = np.zeros(body.surface.shape, np.int64)
    station = np.where(sides.share > 0, sides.below + 1, sides.below)
    np.add.at(cuts, (station, sides.column), sides.share != 0)
    material = body.surface.material
    odd = np.zeros(cuts.shape, bool)
    odd[1:-1] = (cuts[1:-1] > 1) & (material[2:] != material[:-2])
    return cuts, odd


@pytest.mark.parametrize("name", SAMPLES)
def test_maps_come_back_within_their_bounds(wrapped: Built, name: str) -> None:
    body = body_of(wrapped(name, FINISHED))
    exact = maps_of(body)
    maps, (looks,) = packed((body,), exact)
    back = unpacked(maps, looks)
    assert (maps.threads_high is None) == (len(looks.body) <= 256)
    # Whole numbers are kept whole, but visibility: half a step of 1 / 63, and half a byte.
    assert np.array_equal(back.rows, exact.rows)
    assert np.array_equal(back.thread[..., [0, 1, 3]], exact.thread[..., [0, 1, 3]])
    visibility = back.thread[..., 2].astype(int) - exact.thread[..., 2]
    assert np.abs(visibility).max() <= 255 / 63 / 2 + 0.5
    # Half a step of the codes, as v = s / (|s| + k): 1 / 508, and float32.
    slopes, coat = exact.slopes[..., :2], exact.outside[..., :2]
    for one, other, knee in (
        (back.slopes[..., :2], slopes, SLOPE_KNEE),
        (back.outside[..., :2], coat, OUTSIDE_KNEE),
    ):
        v = [s / (np.abs(s) + knee) for s in (one, np.clip(other, -MOST_SLOPE, MOST_SLOPE))]
        assert np.abs(v[0] - v[1]).max() <= 0.5 / CODES + 1e-5
    # Half a step of the thickness.
    thickest = exact.outside[..., 2].max()
    thickness = np.abs(back.outside[..., 2] - exact.outside[..., 2])
    assert thickness.max() <= thickest * (0.5 / 255 + 1e-5)
    # Where no side runs, one rounding of the table against one of the palette.
    cuts, odd = cuts_of(body)
    plain = cuts == 0
    for one, other in ((back.mirror, exact.mirror), (back.body, exact.body)):
        assert np.abs(one.astype(int) - other.astype(int))[plain].max() <= 1
        # Else half a byte of the share, and three roundings to bytes of sRGB, whose light grows by
        # 2.3 at the steepest (IEC 61966-2-1). Where two others cut a texel, one is left out.
        apart = np.abs(light_of(one) - light_of(other)).max(axis=-1)
        assert apart[~odd].max() <= (0.5 + 3 * 0.5 * 2.3) / 255
    # Drafts have two stations to a thread; where they have five it is one texel in a hundred.
    assert odd.mean() < 0.05


def test_the_square_of_slopes_is_worked_out_anew(wrapped: Built) -> None:
    body = body_of(wrapped("half-scale", FINISHED))
    maps, (looks,) = packed((body,))
    slopes = unpacked(maps, looks).slopes
    assert np.allclose(slopes[..., 2], (slopes[..., :2] ** 2).sum(axis=-1), rtol=1e-5)
    # As half floats, which is what a browser keeps them in, none is infinite.
    assert np.isfinite(slopes.astype(np.float16)).all()


@pytest.mark.parametrize("knee", [0.1, 0.5])
def test_companding_keeps_order_and_sign(knee: float) -> None:
    slopes = np.linspace(-30, 30, 4001, dtype=np.float32)
    codes = companded(slopes, knee)
    assert (np.diff(codes.astype(int)) >= 0).all()
    assert codes[2000] == 256
    assert np.array_equal(codes.astype(int) - 256, 256 - codes[::-1].astype(int))
    # Steps are wide there.
    assert MOST_SLOPE / 2 < np.abs(expanded(codes, knee)).max() < MOST_SLOPE * 1.3


@pytest.mark.parametrize("bits", [0, 1, 3])
def test_coarser_codes_are_near(bits: int) -> None:
    codes = np.arange(2, 511, dtype=np.uint16)
    less = coarser(codes, bits).astype(int)
    # Half a step, but at the ends, which hold the steepest slopes.
    step = 1 << bits
    assert np.abs(less - codes)[step:-step].max() <= step / 2
    assert less[254] == 256
    assert np.array_equal(less - 256, 256 - less[::-1])
    assert set(np.unique((less[step:-step] - 256) % step)) == {0}


def test_a_picture_of_codes_holds_every_bit() -> None:
    codes = np.stack(np.meshgrid(np.arange(2, 511), np.arange(2, 511)), axis=-1).astype(np.uint16)
    image = code_image(codes).astype(int)
    assert np.array_equal(2 * image[..., 0] + image[..., 2] % 2, codes[..., 0])
    assert np.array_equal(2 * image[..., 1] + image[..., 2] // 2, codes[..., 1])
    # With a bit fewer nothing is left in the third channel.
    assert not code_image(coarser(codes, 1))[..., 2].any()


@pytest.mark.parametrize("bits", [8, 6, 4])
def test_fewer_bits_of_a_share_are_near(bits: int) -> None:
    shares = np.arange(256, dtype=np.uint8)
    less = fewer_bits(shares, bits)
    assert len(np.unique(less)) == 1 << bits
    assert (less[0], less[255]) == (0, 255)
    # Half a step, and half a byte where a step is no whole number of bytes.
    assert np.abs(less.astype(int) - shares).max() <= 255 / ((1 << bits) - 1) / 2 + 0.5


def test_dry_and_finished_share_their_maps(wrapped: Built) -> None:
    finished, dry = (body_of(wrapped("half-scale", {"finish.coats": n})) for n in (2, 0))
    maps = [maps_of(one) for one in (finished, dry)]
    assert have_common_maps(*maps)
    packed_maps, looks = packed((finished, dry), maps[0])
    for one, exact in zip(looks, maps, strict=True):
        back = unpacked(packed_maps, one)
        assert np.abs(back.body.astype(int) - exact.body).max() <= 2
        assert np.array_equal(back.thread[..., [0, 1, 3]], exact.thread[..., [0, 1, 3]])
    # Threads look otherwise under finish: the tables differ.
    assert not np.array_equal(looks[0].mirror, looks[1].mirror)


def test_other_colours_share_their_maps_and_another_gap_does_not(wrapped: Built) -> None:
    bodies = [
        body_of(wrapped("half-scale", {"finish.coats": 0, **more}))
        for more in ({}, {"cover.thread": "Tarn Teal A"}, {"relief.gap": 30})
    ]
    maps = [maps_of(one) for one in bodies]
    assert not have_common_maps(maps[0], maps[2])
    assert have_common_maps(maps[0], maps[1])


def test_numbers_stand_for_one_look_in_each_wrap(wrapped: Built) -> None:
    """Two wraps whose threads coincide in different places get a number for every pair of looks."""
    wrap = wrapped("half-scale", {"finish.coats": 0})
    first = body_of(wrap)
    kinds = np.unique(first.surface.material)
    mapped = np.zeros(kinds.max() + 1, np.int16)
    mapped[kinds] = np.arange(kinds.size) % 2
    # The second has two materials in the place of all.
    surface = first.surface.with_arrays(material=mapped[first.surface.material])
    second = WrapBody(surface, first.beneath, None, first.palette[:2], 1.5, first.row_width)
    both = index_looks((first, second))
    assert len(both.tables[0].body) == kinds.size
    base = np.array([look.base_colour for look in first.palette], np.float32)
    metal = np.array([look.metallic for look in first.palette], np.float32)[:, None]
    for table, body in zip(both.tables, (first, second), strict=True):
        wanted = (base * (1 - metal))[body.surface.material]
        assert np.allclose(table.body[both.own], wanted, atol=1e-6)


def test_more_looks_than_numbers_are_refused(wrapped: Built) -> None:
    body = body_of(wrapped("half-scale", {"finish.coats": 0}))
    many = np.arange(body.surface.radius.size).reshape(body.surface.shape) % 300
    crowded = [
        WrapBody(
            body.surface.with_arrays(material=(many * step % 300).astype(np.int16)),
            body.beneath,
            None,
            (body.palette[0],) * 300,
            1.5,
            body.row_width,
        )
        for step in (1, 7)
    ]
    crowded[1] = WrapBody(
        body.surface.with_arrays(material=np.roll(crowded[1].surface.material, 1, axis=0)),
        body.beneath,
        None,
        crowded[1].palette,
        1.5,
        body.row_width,
    )
    rng = np.random.default_rng(3)
    third = body.surface.with_arrays(material=rng.integers(0, 300, many.shape).astype(np.int16))
    crowd = (*crowded, WrapBody(third, body.beneath, None, crowded[0].palette, 1.5, 0.2))
    with pytest.raises(ValueError, match="looks are more than 65536"):
        index_looks(crowd)


def test_linear_tables_are_the_palette(wrapped: Built) -> None:
    body = body_of(wrapped("half-scale", {"finish.coats": 0}))
    exact = maps_of(body)
    both = index_looks((body,))
    whole = both.share == 0
    light = both.tables[0].body[both.own[whole]]
    # Half a byte of sRGB at its steepest, 1 / 12.92 of 1 / 255, to its flattest, 2.4 times that.
    assert np.abs(light - from_bytes(exact.body[whole])).max() <= 0.5 / 255 * 2.4
