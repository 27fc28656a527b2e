"""Live or path-traced, for all eyes or some: one stage and one way through for all of them."""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from materials.vision import Deficiency, simulate
from render.common.durations import duration_text
from render.common.problems import RequestProblem
from render.common.progress import Progress
from render.common.tags import Tag
from render.live.live import LiveScene
from render.output.capture import scene_of
from render.output.film import Film
from render.output.still import STEPS, save_still
from render.output.turntable import save_turntable, steps
from render.pathtraced.engines import Engine
from render.pathtraced.photo import SAMPLES
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.subject import Pixels
from scenes.building.build import Wrap
from scenes.stage.stage import Stage, stage_for

SIZE = (96, 54)

SampleWrap = Callable[[str], Wrap]


class Traced:
    """Stands in for the path tracer: pictures of one grey in three passes."""

    made: "list[Traced]" = []  # noqa: RUF012

    def __init__(
        self,
        stage: Stage,
        size: tuple[int, int],
        *,
        samples: int,
        step: Callable[[int, int], None],
    ) -> None:
        self.stage, self.size, self.samples, self.step = stage, size, samples, step
        self.turns: list[float | None] = []
        self.made.append(self)

    def __enter__(self) -> "Traced":
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def estimate(self) -> float:
        return 41.2

    def picture(self, turn: float | None = None) -> Pixels:
        for done in range(3):
            self.step(done + 1, 3)
        self.turns.append(turn)
        return np.full((self.size[1], self.size[0], 3), (200, 90, 40), np.uint8)


class Recorded(Progress):
    def __init__(self) -> None:
        super().__init__(quiet=True)
        self.taken, self.notes, self.most = 0.0, [], 0.0  # type: ignore[var-annotated]

    def advance(self, share: float = 1) -> None:
        self.taken += share
        self.most = max(self.most, share)

    def note(self, sentence: str) -> None:
        self.notes.append(sentence)


@pytest.fixture
def traced(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Traced]]:
    monkeypatch.setattr("render.pathtraced.photo.PhotoScene", Traced)
    Traced.made.clear()
    yield Traced.made
    Traced.made.clear()


# ---- Photos


def test_a_photo_has_the_same_stage_as_the_live_picture(
    sample_wrap: SampleWrap, tmp_path: Path, traced: list[Traced]
) -> None:
    wrap, progress = sample_wrap("half-scale"), Recorded()
    capture = CaptureSettings(photo=True, samples=9)
    save_still(wrap, tmp_path / "a.png", size=SIZE, capture=capture, progress=progress)
    (made,) = traced
    expected = stage_for(wrap, SIZE[0] / SIZE[1])
    assert made.stage.camera == expected.camera
    assert made.stage.turn == expected.turn
    np.testing.assert_array_equal(made.stage.light, expected.light)
    np.testing.assert_array_equal(made.stage.backdrop.radiance, expected.backdrop.radiance)
    assert (made.size, made.samples) == (SIZE, 9)
    with Image.open(tmp_path / "a.png") as image:
        assert image.getpixel((3, 3)) == (200, 90, 40)
        assert image.text["Description"] == "path-traced, 9 samples a pixel"  # type: ignore[attr-defined]
    # The time is told once, before; each pass counts its share of the picture.
    assert progress.notes == [
        f"About 42 seconds for a photo of 96x54 at 9 samples a pixel ({capture.maker})"
    ]
    assert progress.taken == pytest.approx(STEPS)


def test_photos_of_a_turntable(
    sample_wrap: SampleWrap, tmp_path: Path, traced: list[Traced]
) -> None:
    wrap, progress = sample_wrap("half-scale"), Recorded()
    capture = CaptureSettings(photo=True)
    save_turntable(wrap, tmp_path / "turn", Film(SIZE, 4), capture=capture, progress=progress)
    (made,) = traced
    np.testing.assert_allclose(made.turns, np.pi / 2 * np.arange(4))
    assert progress.notes == [
        f"About 3 minutes for 4 photos of 96x54 at {SAMPLES} samples a pixel ({capture.maker})"
    ]
    assert progress.taken == pytest.approx(steps(4))


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.2, "1 second"),
        (41.2, "42 seconds"),
        (101, "2 minutes"),
        (3600, "60 minutes"),
        (5401, "1.5 hours"),
        (100_000, "27.8 hours"),
    ],
)
def test_times_in_words(seconds: float, words: str) -> None:
    assert duration_text(seconds) == words


@pytest.mark.render
def test_a_photo_really_taken(sample_wrap: SampleWrap, tmp_path: Path) -> None:
    """Alike in the large to the live picture: what stands where, and how bright the card is."""
    wrap = sample_wrap("two-start-band")
    pictures = []
    for name, settings in (("live", LIVE), ("photo", CaptureSettings(photo=True, samples=4))):
        path = tmp_path / f"{name}.png"
        save_still(wrap, path, size=SIZE, capture=settings)
        pictures.append(np.asarray(Image.open(path)).astype(float))
    live, photo = pictures
    assert np.abs(live - photo).mean() < 20
    assert np.corrcoef(live.ravel(), photo.ravel())[0, 1] > 0.85


def test_without_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    # How Python is told that a module cannot be had (importlib, "The module cache").
    monkeypatch.setitem(sys.modules, "mitsuba", None)
    with pytest.raises(RequestProblem, match=r"pip install .*turnlight\[photo\]"):
        CaptureSettings(photo=True).prepare()
    LIVE.prepare()


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"samples": 64}, "samples: 64 is for a photo; give --photo too"),
        ({"engine": Engine.LLVM}, "engine: llvm is for a photo; give --photo too"),
        ({"photo": True, "samples": 0}, "samples: 0 is not between 1 and 4096"),
        ({"photo": True, "samples": 5000}, "samples: 5000 is not between 1 and 4096"),
    ],
)
def test_invalid_capture_settings(given: dict[str, Any], words: str) -> None:
    with pytest.raises(RequestProblem, match=words):
        CaptureSettings(**given)


# ---- Whose eyes


@pytest.mark.render
def test_vision_is_of_every_picture(
    sample_wrap: SampleWrap, monkeypatch: pytest.MonkeyPatch, rng: np.random.Generator
) -> None:
    drawn = rng.integers(0, 256, (SIZE[1], SIZE[0], 3), np.uint8)
    monkeypatch.setattr(LiveScene, "picture", lambda scene, turn=None: drawn)
    for vision in Deficiency:
        capture = CaptureSettings(vision=vision)
        with scene_of(sample_wrap("half-scale"), SIZE, Progress.none(), capture=capture) as scene:
            np.testing.assert_array_equal(scene.picture(0.3), simulate(drawn, vision))


def test_a_photo_is_seen_so_too(sample_wrap: SampleWrap, traced: list[Traced]) -> None:
    capture = CaptureSettings(photo=True, vision=Deficiency.PROTAN)
    with scene_of(sample_wrap("half-scale"), SIZE, Progress.none(), capture=capture) as scene:
        red, green, blue = scene.picture()[0, 0].tolist()
    # Protan eyes see orange as a dark yellow.
    assert abs(red - green) < 40
    assert red < 160
    assert blue < green


def test_descriptions() -> None:
    assert LIVE.description == LIVE.sight == ""
    capture = CaptureSettings(photo=True, samples=32, vision=Deficiency.TRITAN)
    assert capture.description == "path-traced, 32 samples a pixel, as seen with tritan vision"


def test_every_kind_of_file_tells_it(tmp_path: Path) -> None:
    told = CaptureSettings(vision=Deficiency.DEUTAN).description
    tag = Tag("A & B", "0123456789ab", told)
    assert tag.line == f"A & B | design 0123456789ab | {told} | Turnlight"
    assert f'<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{told}' in tag.xmp().decode()
    plain = Tag("A & B", "0123456789ab")
    assert plain.line == "A & B | design 0123456789ab | Turnlight"
    assert "description" not in plain.xmp().decode()
