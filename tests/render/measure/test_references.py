"""References: made until they have converged, written, read, and known to be out of date."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from geometry.grid import Detail
from render.measure import agreement
from render.measure.make_references import converged, make_references
from render.measure.references.files import FOLDER, Making, Reference, outdated, read, write
from render.measure.references.fingerprint import fingerprint
from scenes.building.build import Wrap
from scenes.files import samples
from scenes.stage.stage import Stage, stage_for

SIZE = (32, 18)


@pytest.fixture
def stage(sample_wrap: Callable[[str], Wrap]) -> Stage:
    return stage_for(sample_wrap("half-scale"), SIZE[0] / SIZE[1])


def made(name: str, shown: str) -> Reference:
    pictures = np.arange(2 * 18 * 32 * 3).reshape(2, 18, 32, 3) % 251
    making = Making(shown, (0.5, 3.6), (1024, 2048), (0.009, 0.01), "GPU")
    return Reference(name, making, pictures.astype(np.uint8))


# ---- Files


def test_what_is_written_is_read(tmp_path: Path) -> None:
    reference = made("half-scale", "0123456789abcdef")
    folder = tmp_path / "pictures"
    written = write(reference, folder)
    assert written == sum(path.stat().st_size for path in folder.iterdir())
    found = read("half-scale", folder)
    assert found is not None
    assert (found.name, found.making) == ("half-scale", reference.making)
    np.testing.assert_array_equal(found.pictures, reference.pictures)
    assert read("full-mesh", folder) is None


def test_files_that_do_not_fit_together_are_refused(tmp_path: Path) -> None:
    reference = made("half-scale", "0" * 16)
    write(reference, tmp_path)
    making = replace(reference.making, turns=(0.1,) * 5)
    write(replace(reference, making=making, pictures=reference.pictures[:, :-1]), tmp_path / "five")
    (tmp_path / "five" / "half-scale.json").replace(tmp_path / "half-scale.json")
    with pytest.raises(ValueError, match=r"half-scale\.webp is not a column of 5 pictures"):
        read("half-scale", tmp_path)


# ---- What a reference shows


def test_the_last_bits_of_an_array_do_not_count(stage: Stage) -> None:
    wrap = stage.wraps[0]
    surface = wrap.surface.with_arrays(radius=wrap.surface.radius * (1 + 1e-12))
    other = replace(stage, wraps=(replace(wrap, surface=surface), *stage.wraps[1:]))
    assert fingerprint(other) == fingerprint(stage)
    assert outdated(made("half-scale", fingerprint(stage)), other) is None


def test_a_changed_geometry_look_light_or_view_does(stage: Stage) -> None:
    reference = made("half-scale", fingerprint(stage))
    wrap = stage.wraps[0]
    thicker = replace(wrap, surface=wrap.surface.with_arrays(radius=wrap.surface.radius + 0.02))
    first, *others = wrap.palette
    duller = replace(first, roughness_along=first.roughness_along + 0.1)
    changed = (
        replace(stage, wraps=(thicker, *stage.wraps[1:])),
        replace(stage, wraps=(replace(wrap, palette=(duller, *others)), *stage.wraps[1:])),
        replace(stage, light=stage.light * np.float32(1.1)),
        replace(stage, camera=replace(stage.camera, view_angle=stage.camera.view_angle * 0.9)),
        replace(stage, bodies=stage.bodies[1:]),
    )
    for other in changed:
        sentence = outdated(reference, other)
        assert sentence is not None
        assert sentence.startswith("The reference of half-scale shows an earlier state of it (")
        assert sentence.endswith("with python -m render.measure.make_references half-scale.")


# ---- Making them


class Noisy:
    """Stands in for the path tracer: grey of 0.2 with the noise of its paths."""

    engine = type("Kind", (), {"words": "2 cores"})

    def __init__(self, stage: Stage, size: tuple[int, int], *, samples: int, **settings: Any):
        assert settings == {"aperture": 0, "denoise": False}
        self.size, self.samples = size, samples
        self.noise = np.random.default_rng(3)

    def __enter__(self) -> "Noisy":
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def turn_to(self, turn: float) -> None:
        pass

    def radiance(self) -> Any:
        shape = (self.size[1], self.size[0], 3)
        return (0.2 + self.noise.normal(0, 0.4, shape) / self.samples**0.5).astype(np.float32)


@pytest.fixture
def noisy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("render.measure.make_references.PhotoScene", Noisy)


@pytest.mark.usefixtures("noisy")
def test_paths_are_doubled_until_two_halves_look_the_same(stage: Stage) -> None:
    kwargs = {"first_paths": 16, "target": 0.02}
    notes: list[str] = []
    found = converged("a", stage, SIZE, (0.0, 1.0), most_paths=1 << 16, note=notes.append, **kwargs)
    assert found.pictures.shape == (2, 18, 32, 3)
    assert max(found.making.halves) <= 0.02
    assert all(paths > 32 and (paths // 32).bit_count() == 1 for paths in found.making.paths)
    assert len(notes) == 2
    # The mean of both halves is nearer to the truth than they are to each other.
    spread = found.pictures.astype(float).std(axis=(1, 2))
    assert spread.max() < 8
    short = converged("a", stage, SIZE, (0.0,), most_paths=64, **kwargs)
    assert short.making.paths == (128,)
    assert short.making.halves[0] > 0.02


@pytest.mark.usefixtures("noisy")
def test_what_is_up_to_date_is_not_made_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def make(**options: Any) -> str:
        options = {"most_paths": 1 << 20, **options}
        make_references(
            ["two-start-band"], tmp_path, size=SIZE, turns=2, detail=Detail.DRAFT, **options
        )
        return capsys.readouterr().err

    assert "two-start-band: not converged to 0.01" in make(most_paths=512)
    assert "two-start-band: converged" in make()
    assert "two-start-band is up to date" in make()
    assert "two-start-band: converged" in make(again=True)


# ---- Comparing with them


@pytest.mark.render
def test_the_live_picture_is_compared_with_the_reference(stage: Stage) -> None:
    reference = made("half-scale", "0" * 16)
    found = list(agreement.agreement(stage, SIZE, reference=reference))
    assert [one.turn for one in found] == [0.5, 3.6]
    assert [one.itself for one in found] == [0.009, 0.01]
    for one, photo in zip(found, reference.pictures, strict=True):
        np.testing.assert_array_equal(one.photo, photo)
        assert 0.05 < one.flip < 1


def test_the_references_that_are_kept_are_of_samples_and_small() -> None:
    kept = {path.stem for path in FOLDER.glob("*.json")}
    assert kept
    assert kept <= set(samples.names())
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 12_000_000
    for name in kept:
        reference = read(name)
        assert reference is not None
        assert reference.pictures.shape == (len(reference.making.turns), 270, 480, 3)
        # Their own noise is known, and small beside what they are to measure.
        assert max(reference.making.halves) < 0.035
