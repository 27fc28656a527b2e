"""Maps brought to sizes that VTK leaves alone, and looked up where they should be."""

from dataclasses import replace

import numpy as np
import pytest

from geometry.grid import Detail
from materials.shelf import Shelf
from render.live.live import LiveScene
from render.live.textures import at_powers_of_two, in_16_bits, linear_light, with_roughness
from render.live.vtk_log import quieten
from scenes.building.build import Plan, build
from scenes.design.document import design_from
from scenes.stage.camera import Camera
from scenes.stage.stage import stage_for


def waves(rows: int, columns: int) -> np.ndarray:
    """Waves aslant over a map that closes on itself, at its texel centres."""
    y = (np.arange(rows) + 0.5) / rows
    x = (np.arange(columns) + 0.5) / columns
    turn = 2 * np.pi * (9 * y[:, None] + 5 * x[None, :])
    return np.stack((np.cos(turn), np.sin(turn)), axis=2).astype(np.float32)


@pytest.mark.parametrize(
    ("shape", "made"),
    # A size within a tenth above a power of two is brought down to it, any other up to the next.
    [
        ((141, 96), (256, 128)),
        ((137, 96), (128, 128)),
        ((128, 64), (128, 64)),
        ((65, 100), (64, 128)),
    ],
)
def test_waves_keep_their_place(shape: tuple[int, int], made: tuple[int, int]) -> None:
    # Sampled anew at the new texel centres: the closed form itself. What linear interpolation
    # takes from a wave of so many texels is its amplitude, 1 - cos(pi f) at most, not its phase.
    old, exact = waves(*shape), waves(*made)
    new = at_powers_of_two(old)
    assert new.shape[:2] == made
    within = slice(2, -2)  # the first and last stations are not carried on
    angle = np.arctan2(new[within, :, 1], new[within, :, 0])
    meant = np.arctan2(exact[within, :, 1], exact[within, :, 0])
    away = np.angle(np.exp(1j * (angle - meant)))
    assert np.abs(away).max() < 0.02
    step = 9 / shape[0] + 5 / shape[1]
    assert np.abs(new[within] - exact[within]).max() < 1.2 * (1 - np.cos(np.pi * step)) + 0.01


def test_whole_numbers_stay_whole_and_are_rounded() -> None:
    image = np.zeros((4, 6, 1), np.uint8)
    image[:, 3:] = 201
    new = at_powers_of_two(in_16_bits(image))
    assert new.dtype == np.uint16
    assert new.shape == (4, 8, 1)
    # By hand: new centres at (j + 1/2) 6/8 - 1/2 = -0.125, 0.625, 1.375, 2.125, 2.875, ...; the
    # first lies between texels 5 and 0, the fourth an eighth of the way from 0 to 201.
    eighth = round(257 * 201 / 8)
    whole = 257 * 201
    assert new[0, :, 0].tolist() == [
        eighth, 0, 0, eighth, whole - eighth, whole, whole, whole - eighth,
    ]  # fmt: skip


def test_light_is_that_of_the_colour_times_what_is_visible() -> None:
    # IEC 61966-2-1: a byte of 188 is half of the light of 255, to a third of a percent. The fourth
    # channel is a share, not light.
    colour = np.array([[[255, 188, 0, 188]]], np.uint8)
    whole = linear_light(colour)[0, 0] / 65535
    assert whole.tolist() == pytest.approx([1, 0.5, 0, 188 / 255], abs=0.0035)
    part = linear_light(colour, np.full((1, 1), 51, np.uint8))[0, 0] / 65535
    assert part[:3] == pytest.approx(whole[:3] / 5, abs=1 / 65535)
    assert part[3] == whole[3]


def test_averaged_roughness_is_that_of_each_part_by_its_share() -> None:
    # Two texels of metal with roughness 0.2 and one of nylon with 0.6: whatever a filter weighs
    # them with, the mean of the products over the mean of the shares is the roughness of either.
    metallic = np.array([[255, 255, 0]], np.uint8)
    threads = np.zeros((1, 3, 4), np.uint8)
    threads[..., 0] = 51, 51, 153
    bodies = np.zeros((1, 3, 3), np.uint16)
    thread, body = with_roughness(in_16_bits(threads), bodies, metallic)
    share = metallic.mean() / 255
    assert thread[..., 0].mean() / 65535 / share == pytest.approx(0.2, abs=1e-4)
    assert body[..., 3].mean() / 65535 / (1 - share) == pytest.approx(0.6, abs=1e-4)
    np.testing.assert_array_equal(thread[..., 1:], in_16_bits(threads)[..., 1:])


def test_a_map_that_fits_is_not_copied() -> None:
    image = waves(64, 32)
    assert at_powers_of_two(image) is image


@pytest.mark.render
def test_no_sample_shows_another_place() -> None:
    """Red lies on the left half alone: were a map read elsewhere, it would stand in the black."""
    quieten()
    design = design_from(
        {
            "turnlight": 1,
            "units": "mm",
            "title": "Test",
            "blank": {
                "colour": "#15181c",
                "stations": [{"at": 250, "diameter": 8}, {"at": 600, "diameter": 8}],
            },
            "placement": {"from": 300, "to": 320},
            "layers": [
                {"kind": "cover", "thread": "Sloe Black A", "margin": 10},
                {
                    "kind": "overlay",
                    "margin": 0,
                    "unevenness": 0,
                    "sequence": [{"thread": "Hawthorn Red A"}],
                },
            ],
            "finish": {"coats": 0},
        }
    )
    wrap = build(Plan(design, Shelf.shipped()), Detail.NORMAL)
    width, height = 320, 240
    stage = stage_for(wrap, width / height)
    # White all round: then only thread is coloured.
    stage = replace(stage, surroundings=np.ones((64, 128, 3), np.float32))
    shown = 10.0  # mm from the lower edge of the picture to the upper, on the axis
    beyond = slice(width // 2 - round(2 * height / shown), None)  # 3 mm past the last red
    with LiveScene(stage, (width, height), supersample=1) as scene:
        # From so near the maps are halved once or twice, here more and there less.
        for away in (40, 60, 70, 80):
            angle = float(2 * np.arctan(shown / 2 / away))
            scene.look_from(Camera((15, 3, away), (15, 0, 0), (0, 1, 0), angle))
            picture = scene.picture().astype(int)
            red = picture[..., 0] - picture[..., 2]
            assert red[:, : width // 8].max() > 80
            assert red[:, beyond].max() < 10
