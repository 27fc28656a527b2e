"""Packed light against the light itself."""

import numpy as np
import pytest

from scenes.light.lights import LightKind, radiance_map
from scenes.packing.light import packed_light, unpacked_light


@pytest.mark.parametrize("kind", LightKind)
def test_light_comes_back_within_half_a_step(kind: LightKind) -> None:
    light = radiance_map(kind, 64)
    packed = packed_light(light)
    back = unpacked_light(packed)
    half = (packed.brightest - packed.darkest) / 4095 / 2
    apart = np.abs(np.log2(back) - np.log2(np.maximum(light, 2.0**-12)))
    assert apart.max() <= half + 1e-5
    # A just visible difference of luminance is 1 % (Weber), of which a step is less than half.
    assert 2 * half < np.log2(1.005)


def test_an_even_light_comes_back() -> None:
    assert unpacked_light(packed_light(np.full((16, 32, 3), 0.5, np.float32))) == pytest.approx(0.5)
