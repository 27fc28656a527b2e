"""Trims as they are told: measured in a picture, laid out in a table, put into sentences."""

import io
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from geometry.grid import Detail
from materials.shelf import Shelf
from materials.vision import Deficiency
from render.common.progress import Progress
from render.live import live
from render.output.capture import SETTING, scene_of
from render.output.reading import READING, Reader, lost_trims, read_trims, readings_table
from render.request.capture_settings import LIVE, CaptureSettings
from render.request.subject import Subject
from scenes.building.build import Wrap
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.legibility.legibility import BandReport
from scenes.stage.maps import surface_maps
from scenes.stage.stage import wraps_of


def short(**changes: object) -> Wrap:
    """A short silver wrap whose trims are black, copper and teal."""
    design = samples.load("half-scale").without_variants()
    middle = design.placement.middle
    document = {
        "placement.from": middle - 18,
        "placement.to": middle + 18,
        "blank.stations": [{"at": 110, "diameter": 20.7}, {"at": 700, "diameter": 17.7}],
        "relief.gap": 25.4,
        "cover.thread": "Heron Silver A",
        "trim.threads": [
            {"thread": "Sloe Black A", "count": 2},
            {"thread": "Ember Copper A", "count": 2},
            {"thread": "Tarn Teal A", "count": 3},
        ],
    }
    named = {path.replace("__", "."): value for path, value in changes.items()}
    design = with_changes(design, document | named)
    return Subject(design, Shelf.shipped()).build(Detail.DRAFT, Progress.none())


class Counted(Progress):
    taken = 0.0

    def advance(self, share: float = 1) -> None:
        self.taken += share


@pytest.fixture(scope="module")
def wraps() -> list[Wrap]:
    return [short(), short(placement__to=416, cover__thread="Sloe Black A")]


@pytest.fixture(scope="module")
def together(wraps: list[Wrap]) -> list[tuple[BandReport, ...]]:
    """Read one after the other."""
    progress = Counted.none()
    with Reader([wrap.plan for wrap in wraps], progress=progress) as reader:
        reports = [reader.read(wrap) for wrap in wraps]
    assert progress.taken == len(wraps) * READING
    return reports


@pytest.mark.render
def test_one_after_the_other_is_as_alone(
    wraps: list[Wrap], together: list[tuple[BandReport, ...]]
) -> None:
    assert all(one.judged for reports in together for one in reports)
    # The first leaves no trace; only the size of the picture is the longer wrap's.
    alone = read_trims(wraps[1])
    assert [one.band for one in together[1]] == [one.band for one in alone]
    for one, other in zip(together[1], alone, strict=True):
        assert one.contrast == pytest.approx(other.contrast, abs=0.12)


@pytest.mark.render
def test_a_shared_scene_reads_the_same_and_draws_the_same(
    wraps: list[Wrap], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = []

    def counted(*given: object) -> object:
        made.append(given)
        return surface_maps(*given)  # type: ignore[arg-type]

    alone = read_trims(wraps[0])
    monkeypatch.setattr(live, "surface_maps", counted)
    progress = Counted.none()
    with scene_of(wraps[0], (160, 90), progress) as scene:
        before = scene.picture(1.0)
        assert read_trims(wraps[0], progress=progress, scene=scene) == alone
        np.testing.assert_array_equal(scene.picture(1.0), before)
        scene.show(wraps[1], progress)
        later = scene.picture(1.0)
    assert progress.taken == SETTING + 1 + READING + 1 + SETTING + 1
    assert len(made) == len(wraps_of(wraps[0])) + len(wraps_of(wraps[1]))
    with scene_of(wraps[1], (160, 90), progress) as fresh:
        fresh.show(wraps[1], progress, camera=scene.stage.camera)
        np.testing.assert_array_equal(later, fresh.picture(1.0))


@pytest.mark.render
def test_black_on_silver_is_seen_and_on_black_is_not(
    together: list[tuple[BandReport, ...]],
) -> None:
    assert abs(together[0][0].contrast) > 0.3
    assert lost_trims(together[0]) == []
    assert any("against the cover" in one for one in lost_trims(together[1]))


@pytest.mark.render
def test_other_eyes_see_other_colours(
    wraps: list[Wrap], together: list[tuple[BandReport, ...]]
) -> None:
    # Orange-reds and blue-greens are what protan and deutan eyes confuse (from memory).
    plain, deutan = (
        {(one.band, one.against): one.delta_e for one in reports}
        for reports in (
            together[0],
            read_trims(wraps[0], capture=CaptureSettings(vision=Deficiency.DEUTAN)),
        )
    )
    pair = ("the 2-thread Ember Copper A line", "the 3-thread Tarn Teal A line")
    assert deutan[pair] < 0.7 * plain[pair]


def test_no_trims_need_no_picture() -> None:
    wrap = Subject(samples.load("full-mesh"), Shelf.shipped()).build(Detail.DRAFT, Progress.none())
    progress = Counted.none()
    assert read_trims(wrap, progress=progress) == ()
    assert progress.taken == READING


SEEN = BandReport(
    "trim", "the 2-thread Sloe Black A line", "the blank", 1.8, -0.456, 12.34, 0.03, 9, True, None
)
LOST = replace(SEEN, contrast=0.01, delta_e=0.8, sentence="The line disappears.")
UNSEEN = replace(SEEN, contrast=float("nan"), delta_e=float("nan"), judged=False)


def test_the_table() -> None:
    labels = ["gap 14 mm", "a label that is far too long for a narrow table", "dry"]
    table = readings_table(labels, [(SEEN, LOST), (UNSEEN,), ()])
    out = io.StringIO()
    Console(file=out, width=120).print(table)
    title, heading, *rows = [line.rstrip() for line in out.getvalue().splitlines()]
    assert title.endswith("as seen in the picture")
    assert heading.split() == ["design", "line", "touches", "ΔE00", "contrast"]
    assert rows[0].split("  ")[0] == "gap 14 mm"
    assert rows[0].split()[-2:] == ["12.3", "-0.46"]
    assert rows[1].split()[-2:] == ["0.8", "+0.01"]
    assert rows[2].startswith("a label that is far too lon…")
    assert rows[2].split()[-2:] == ["–", "–"]
    assert rows[3].split() == ["dry", "no", "trim"]
    assert "with protan vision" in str(
        readings_table([], [], CaptureSettings(vision=Deficiency.PROTAN)).title
    )


def test_only_what_is_lost_is_said() -> None:
    assert lost_trims([SEEN, LOST, UNSEEN]) == ["The line disappears."]
    assert lost_trims([]) == []
    assert LIVE.sight == ""
