"""Advice of refusals and warnings, followed as it reads: the design must be accepted then."""

import math
import re
from collections.abc import Mapping
from typing import Any

import pytest

from geometry.errors import GeometryError
from geometry.grid import Detail
from materials.shelf import Shelf
from scenes.bench.report import bench_report
from scenes.building.build import Plan, build
from scenes.design.document import with_changes
from scenes.figures.formatter import FigureFormatter
from scenes.files import samples
from scenes.problems import DesignProblem

SHELF = Shelf.shipped()
NUMBER = r"(-?[0-9]+(?:\.[0-9]+)?)"
TWO_THREADS = [{"thread": "Gorse Gold A", "count": 2}]
BETWEEN = f"give a spacing from {NUMBER} mm to {NUMBER} mm"


def refusal(name: str, changes: Mapping[str, Any]) -> str:
    """The refusal of a changed sample, empty where it can be built."""
    try:
        Plan(with_changes(samples.load(name).without_variants(), dict(changes)), SHELF).prepare()
    except (DesignProblem, GeometryError) as problem:
        return str(problem).rstrip(".")
    return ""


EVEN_BLANK: dict[str, Any] = {
    "blank.stations": [{"at": 100, "diameter": 55}, {"at": 900, "diameter": 55}],
    "blank.fitted": [],
}

# Sample, what spoils it, the advice, and the field that each of its numbers is given to.
ADVICE: dict[str, tuple[str, dict[str, Any], str, tuple[str, ...]]] = {
    "crosses too steep": (
        "open-diamonds",
        {"crossed.spacing": 3, "crossed.pattern.threads": TWO_THREADS},
        BETWEEN,
        ("crossed.spacing", "crossed.spacing"),
    ),
    "crosses too flat": (
        "open-diamonds",
        {"crossed.around": 8, "crossed.spacing": 100, "crossed.pattern.threads": TWO_THREADS},
        BETWEEN,
        ("crossed.spacing", "crossed.spacing"),
    ),
    "crosses by the angle": (
        "open-diamonds",
        {"crossed.angle": 8.5, "crossed.pattern.threads": TWO_THREADS},
        BETWEEN,
        ("crossed.spacing", "crossed.spacing"),
    ),
    "crosses longer than the wrap": (
        "open-diamonds",
        {"crossed.spacing": 130, "crossed.pattern.threads": TWO_THREADS},
        BETWEEN,
        ("crossed.spacing", "crossed.spacing"),
    ),
    "strips overlap": (
        "half-scale",
        {"relief.strip_width": 90},
        f"give {NUMBER} mm or less",
        ("relief.strip_width",),
    ),
    "trim climbs too far": (
        "half-scale",
        {"trim.offset": -20},
        f"give {NUMBER} mm or more",
        ("trim.offset",),
    ),
    "trim beyond the flat": (
        "half-scale",
        {"trim.offset": 50},
        f"beside the relief, which is {NUMBER} mm wide; give that or less",
        ("trim.offset",),
    ),
    "letters too high": (
        "lettered-band",
        {"decal.height": 60},
        f"give {NUMBER} mm or less",
        ("decal.height",),
    ),
    "panel that does not close": (
        "badge-panel",
        {"woven.closed": True},
        f"set side_by_side to {NUMBER}$",
        ("woven.side_by_side",),
    ),
    "closed panel much too wide": (
        "shoal-panel",
        {"woven.side_by_side": 50},
        f"set side_by_side to {NUMBER}$",
        ("woven.side_by_side",),
    ),
    "rings beyond the room": (
        "ringed-grip-wrap",
        {"bands.inset": 23.5},
        f"give an inset of {NUMBER} mm or less",
        ("bands.inset",),
    ),
    "rings of a guide": (
        "ringed-guide",
        {"blank.fitted.0.inset": 1},
        f"give an inset of {NUMBER} in or less",
        ("blank.fitted.0.inset",),
    ),
    "a station out of order": (
        "half-scale",
        {"blank.stations.1.at": 100},
        f"list the stations from butt to tip, or give {NUMBER} mm to {NUMBER} mm",
        ("blank.stations.1.at", "blank.stations.1.at"),
    ),
    "the last station before the others": (
        "half-scale",
        {"blank.stations.4.at": 500},
        f"list the stations from butt to tip, or give {NUMBER} mm or more",
        ("blank.stations.4.at",),
    ),
    "two stations at one place": (
        "half-scale",
        {"blank.stations.1.at": 110},
        f"give each place one diameter, or give {NUMBER} mm to {NUMBER} mm",
        ("blank.stations.1.at", "blank.stations.1.at"),
    ),
    "threads too many": (
        "open-diamonds",
        {
            **EVEN_BLANK,
            "crossed.around": 12,
            "crossed.spacing": 60,
            "crossed.pattern.threads": [{"thread": "Gorse Gold A", "count": 20}] * 4,
        },
        f"give {NUMBER} crosses round the blank or fewer, or fewer threads",
        ("crossed.around",),
    ),
    "a step of the blank": (
        "half-scale",
        {
            "blank.stations": [
                {"at": 200, "diameter": 20},
                {"at": 210, "diameter": 10},
                {"at": 650, "diameter": 10},
            ]
        },
        f"give {NUMBER} mm to {NUMBER} mm",
        ("blank.stations.1.diameter", "blank.stations.1.diameter"),
    ),
    "a margin that leaves no letters": (
        "lettered-band",
        {"decal.margin": 9},
        f"give a margin of {NUMBER} mm or less",
        ("decal.margin",),
    ),
    "a strip that turns back": (
        "half-scale",
        {
            "relief.laid": "unsteered",
            "relief.angle": 75,
            "relief.strip_width": 8,
            "blank.stations": [{"at": 200, "diameter": 22}, {"at": 650, "diameter": 15}],
        },
        f"give an angle of {NUMBER} degrees",
        ("relief.angle",),
    ),
    "bundles that touch": (
        "open-diamonds",
        {"crossed.spacing": 4},
        f"give a spacing of {NUMBER} mm or more",
        ("crossed.spacing",),
    ),
    "bundles that touch all round": (
        "open-diamonds",
        {"crossed.around": 12},
        f"give {NUMBER} cross(?:es)? round the blank or fewer",
        ("crossed.around",),
    ),
    "cords too many": (
        "cord-lattice",
        {"relief.count": 60},
        f"give {NUMBER} or fewer",
        ("relief.count",),
    ),
}


@pytest.mark.parametrize("case", ADVICE)
def test_a_number_that_a_refusal_advises_is_accepted(case: str) -> None:
    name, spoilt, words, fields = ADVICE[case]
    told = refusal(name, spoilt)
    found = re.search(words, told)
    assert found, told
    # A spacing takes the place of an angle.
    spoilt = {key: given for key, given in spoilt.items() if key != "crossed.angle"}
    for field, number in zip(fields, found.groups(), strict=True):
        value = float(number) if "." in number else int(number)
        assert refusal(name, {**spoilt, field: value}) == "", value


def test_a_blank_too_thin_for_any_mesh_has_room_at_the_angle_or_the_diameter_advised() -> None:
    def spoilt(diameter: float, angle: float) -> dict[str, Any]:
        stations = [{"at": at, "diameter": diameter} for at in (100, 700)]
        share = {"relief.covered_share": 0.5, "relief.angle": angle}
        return {"blank.stations": stations, "blank.fitted": [], **share}

    found = re.search(
        f"give an angle of {NUMBER} degrees or less$", refusal("half-scale", spoilt(0.6, 80))
    )
    assert found
    assert "give a cell of" in refusal("half-scale", spoilt(0.6, float(found[1])))
    assert "give a cell of" not in refusal("half-scale", spoilt(0.6, float(found[1]) + 0.2))
    share = {"relief.covered_share": 0.2}
    told = refusal("half-scale", spoilt(0.6, 60) | share)
    found = re.search(f"give a blank of {NUMBER} mm or thicker in the middle of the wrap$", told)
    assert found, told
    assert "give a cell of" in refusal("half-scale", spoilt(float(found[1]), 60) | share)
    thinner = refusal("half-scale", spoilt(float(found[1]) - 0.1, 60) | share)
    assert "give a cell of" not in thinner


def test_a_last_thread_as_thick_as_is_advised_fills_the_room_with_fewer() -> None:
    names = sorted(SHELF.threads, key=lambda thread: thread.diameter_mm)
    thin, thick = names[0], names[-1]
    spoilt = {
        **EVEN_BLANK,
        "crossed.around": 12,
        "crossed.spacing": 100,
        "crossed.pattern.filled": True,
    }

    def filled(thread: str) -> str:
        threads = [{"thread": thread, "count": 1}]
        return refusal("open-diamonds", {**spoilt, "crossed.pattern.threads": threads})

    found = re.search(f"give a last thread of {NUMBER} mm or thicker$", filled(thin.name))
    assert found, filled(thin.name)
    assert thin.diameter_mm < float(found[1]) <= thick.diameter_mm
    for thread in SHELF.threads:
        accepted = "led from end to end" not in filled(thread.name)
        assert accepted or thread.diameter_mm < float(found[1])


@pytest.mark.parametrize("diameter", [8, 11, 16])
def test_a_panel_closes_as_advised_on_any_blank(diameter: float) -> None:
    stations = [{"at": at, "diameter": diameter} for at in (100, 700)]
    blank: dict[str, Any] = {"blank.stations": stations, "woven.side_by_side": 60}
    told = refusal("shoal-panel", blank)
    found = re.search(r"set side_by_side to (\d+)(?: and spread to ([\d.]+))?$", told)
    assert found, told
    changes = {**blank, "woven.side_by_side": int(found[1])}
    if found[2]:
        changes["woven.spread"] = float(found[2])
    assert refusal("shoal-panel", changes) == ""


@pytest.mark.parametrize(
    ("name", "path", "inset"),
    [("ringed-grip-wrap", "bands", 10), ("ringed-guide", "blank.fitted.0", 0.1)],
)
def test_as_many_rings_as_are_advised_have_room(name: str, path: str, inset: float) -> None:
    def rings(count: int) -> list[dict[str, Any]]:
        runs = [min(60, count - first) for first in range(0, count, 60)]
        return [{"thread": "Gorse Gold A", "count": run} for run in runs]

    field = f"{path}.rings" if path.startswith("blank") else f"{path}.threads"
    spoilt: dict[str, Any] = {field: rings(240), f"{path}.inset": inset}
    told = refusal(name, spoilt)
    found = re.search(r"give (\d+) threads or fewer(, without an inset)?", told)
    assert found, told
    if found[2]:
        spoilt[f"{path}.inset"] = 0
    assert refusal(name, spoilt | {field: rings(int(found[1]))}) == ""
    assert refusal(name, spoilt | {field: rings(int(found[1]) + 1)})


def test_what_packs_no_bundle_can_be_left_out() -> None:
    assert refusal("open-diamonds", {"crossed.packed": True}).endswith("or leave packed out")
    assert refusal("open-diamonds", {"crossed.packed": False}) == ""
    taper: dict[str, Any] = {
        "blank.fitted": [],
        "blank.stations": [
            {"at": 100, "diameter": 26},
            {"at": 300, "diameter": 24},
            {"at": 400, "diameter": 12},
            {"at": 700, "diameter": 9},
        ],
    }
    taper["crossed.marks"] = "closer as the blank thins"
    told = refusal("open-diamonds", {**taper, "crossed.pattern.filled": True})
    assert told.endswith("leave filled out"), told
    assert refusal("open-diamonds", taper) == ""


def test_a_packed_bundle_of_the_advised_width_is_accepted() -> None:
    courses = [{"hand": hand, "thread": "Gorse Gold A", "count": 3} for hand in ("right", "left")]
    spoilt = {"crossed.courses": courses, "crossed.packed": True}
    found = re.search(f"a bundle {NUMBER} mm to {NUMBER} mm wide", refusal("open-diamonds", spoilt))
    assert found
    thick = SHELF.thread("Gorse Gold A").diameter_mm
    narrowest, widest = map(float, found.groups())
    for count in (math.ceil(narrowest / thick), math.floor(widest / thick)):
        for course in courses:
            course["count"] = count
        assert refusal("open-diamonds", spoilt) == "", count


@pytest.mark.parametrize(
    ("spoilt", "words", "fields"),
    [
        (
            {"finish.coats": 12, "finish.coat_thickness": 0.45},
            rf"give (\d+) coats of {NUMBER} mm",
            ("finish.coats", "finish.coat_thickness"),
        ),
        (
            {"finish.coats": 1, "finish.coat_thickness": 0.9},
            f"give coats of {NUMBER} mm or less",
            ("finish.coat_thickness",),
        ),
        (
            {"finish.coats": 2, "bench.least_mix": 1},
            rf"set the least mix \(bench.least_mix\) to {NUMBER} ml",
            ("bench.least_mix",),
        ),
    ],
)
def test_a_warning_is_gone_once_its_advice_is_followed(
    spoilt: dict[str, Any], words: str, fields: tuple[str, ...]
) -> None:
    design = with_changes(samples.load("half-scale").without_variants(), spoilt)

    def warned(changes: dict[str, Any]) -> str:
        changed = with_changes(design, changes)
        bench = bench_report(build(Plan(changed, SHELF), Detail.DRAFT))
        written = FigureFormatter(changed.units)
        return "\n".join(written.sentence(warning) for warning in bench.warnings)

    found = re.search(words, warned({}))
    assert found
    values = [float(number) if "." in number else int(number) for number in found.groups()]
    assert not re.search(words, warned(dict(zip(fields, values, strict=True))))
