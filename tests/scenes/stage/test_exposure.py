"""The exposure that holds highlights: by its stated rule, the same for all that is compared."""

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from materials.appearance import Appearance
from materials.finish import FINISH
from materials.shelf import Shelf
from scenes.building.build import Plan
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.light.lights import LightKind
from scenes.light.tone import display_light
from scenes.parts.view import LightSpec
from scenes.stage import exposure
from scenes.stage.exposure import HELD, held_stops, shared_light, stops_of

HOLD = LightSpec(hold_highlights=True)


def plan(**threads: str) -> Plan:
    changes = {f"{layer}.thread": thread for layer, thread in threads.items()}
    design = samples.load("half-scale").without_variants()
    return Plan(with_changes(design, changes) if changes else design, Shelf.shipped())


class OneLook:
    """Stands for a plan whose threads all have one look."""

    def __init__(self, look: Appearance) -> None:
        self._look = look
        self.builders = (self,)

    def threads(self) -> tuple[None]:
        return (None,)

    def look_of(self, _: object) -> Appearance:
        return self._look


@pytest.fixture
def even_light(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Light of radiance 4 from everywhere (a white furnace)."""
    monkeypatch.setattr(
        exposure, "radiance_map", lambda kind, rows: np.full((rows, 2 * rows, 3), 4, np.float32)
    )
    for cached in (exposure._map, exposure._bright_part):
        cached.cache_clear()
    yield
    for cached in (exposure._map, exposure._bright_part):
        cached.cache_clear()


@pytest.mark.usefixtures("even_light")
@pytest.mark.parametrize(("metallic", "roughness"), [(1.0, 0.3), (1.0, 0.9), (0.0, 0.5)])
@pytest.mark.parametrize("colour", [0.9, 0.6, 0.3])
def test_in_even_light_a_thread_is_as_bright_as_its_colour(
    metallic: float, roughness: float, colour: float
) -> None:
    # Whatever its lobe, an average of equal radiances is that radiance.
    look = Appearance("even", (colour,) * 3, metallic, roughness, roughness)
    one: Any = OneLook(look)
    wanted = min(0.0, math.log2(HELD / (4 * colour)))
    assert held_stops(one, HOLD) == pytest.approx(wanted, abs=1e-3)


@pytest.mark.usefixtures("even_light")
def test_finish_keeps_a_little_of_the_light_back() -> None:
    dry: Any = OneLook(Appearance("dry", (0.9,) * 3, 1.0, 0.3, 0.3))
    wet: Any = OneLook(Appearance("wet", (0.9,) * 3, 1.0, 0.3, 0.3, wet=True))
    front = ((FINISH.ior - 1) / (FINISH.ior + 1)) ** 2  # Fresnel, straight on
    gained = held_stops(wet, HOLD) - held_stops(dry, HOLD)
    assert gained == pytest.approx(-math.log2(1 - front), abs=0.01)


def test_what_is_held_is_shown_a_little_below_white() -> None:
    assert display_light(HELD) == pytest.approx(0.95, abs=0.001)


def test_silver_lowers_it_and_nothing_raises_it() -> None:
    bright, dark = plan(cover="Heron Silver A"), plan(cover="Sloe Black A")
    # A trim of silver does not darken all the rest.
    assert held_stops(plan(), HOLD) == 0
    for kind in LightKind:
        lit = HOLD.model_copy(update={"kind": kind})
        assert held_stops(bright, lit) <= 0
    assert -2 < held_stops(bright, HOLD) < -0.5
    assert stops_of(bright, LightSpec(exposure=-0.5)) == -0.5
    both = HOLD.model_copy(update={"exposure": -0.5})
    assert stops_of(bright, both) == pytest.approx(held_stops(bright, HOLD) - 0.5)
    assert held_stops(dark, HOLD) >= held_stops(bright, HOLD)


def test_compared_designs_share_the_lowest() -> None:
    silver = plan(cover="Heron Silver A")
    plain = Plan(samples.load("marbled-panel").without_variants(), Shelf.shipped())
    assert held_stops(plain, HOLD) > held_stops(silver, HOLD)
    for order in ([silver, plain], [plain, silver]):
        shared = shared_light(HOLD, order)
        assert not shared.hold_highlights
        assert shared.exposure == stops_of(silver, HOLD)
    assert shared_light(LightSpec(exposure=1), [silver, plain]) == LightSpec(exposure=1)
