"""The design document: what it holds, and what it refuses in which words."""

import copy
import math
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pydantic
import pytest

from geometry.winding import Hand
from materials.shelf import Shelf
from scenes.design.document import design_from, document_of, with_changes
from scenes.design.field_words import in_words
from scenes.design.layers import LAYER_KINDS, ROLES
from scenes.design.threads import (
    check_all_threads,
    check_threads,
    thread_names,
    variants_without_thread,
)
from scenes.files import samples
from scenes.kinds.edges import EdgeChoice
from scenes.kinds.mesh_strip.model import MeshStripModel, Steering
from scenes.light.lights import LightKind
from scenes.parts.blank import Grip, GripMaterial
from scenes.parts.layer import Role
from scenes.parts.view import View
from scenes.problems import DesignProblem, one_of
from scenes.quantities import Units

Document = dict[str, Any]


def document() -> Document:
    """A small whole design, as a file gives it."""
    return {
        "turnlight": 1,
        "units": "mm",
        "title": "Test",
        "blank": {
            "colour": "#15181c",
            "stations": [{"at": 250, "diameter": 19.6}, {"at": 600, "diameter": 18.1}],
            "fitted": [
                {"kind": "grip", "from": 120, "to": 262, "diameter": 27, "material": "cork"},
                {"kind": "guide", "at": 470, "length": 24, "thread": "Sloe Black A"},
            ],
        },
        "placement": {"from": 290, "to": 410},
        "layers": [
            {
                "kind": "mesh strip",
                "cell": 2.82,
                "yarn_width": 0.6,
                "yarn_height": 0.28,
                "angle": 45,
                "gap": 25.4,
            },
            {"kind": "cover", "thread": "Heron Silver A"},
            {
                "kind": "seam trim",
                "threads": [
                    {"thread": "Sloe Black A", "count": 2},
                    {"thread": "Tarn Teal A", "count": 3},
                ],
            },
        ],
        "variants": [{"name": "wide gap", "changes": {"relief.gap": 32}}],
    }


LATTICE = {"kind": "cord lattice", "cord_diameter": 0.8, "count": 8, "angle": 40}


def refusal(change: Callable[[Document], object]) -> DesignProblem:
    """Change the whole design and have it refused."""
    changed = document()
    change(changed)
    with pytest.raises(DesignProblem) as caught:
        design_from(changed)
    return caught.value


def strip(**fields: object) -> Callable[[Document], object]:
    return lambda changed: changed["layers"][0].update(fields)


def cover(**fields: object) -> Callable[[Document], object]:
    return lambda changed: changed["layers"][1].update(fields)


def trim(**fields: object) -> Callable[[Document], object]:
    return lambda changed: changed["layers"][2].update(fields)


def tapered(d: Document) -> object:
    d["blank"]["fitted"] = []
    return stations((250, 30), (600, 10))(d)


def stations(*pairs: tuple[object, object]) -> Callable[[Document], object]:
    listed = [{"at": at, "diameter": diameter} for at, diameter in pairs]
    return lambda changed: changed["blank"].update(stations=listed)


def placed(start: object, end: object) -> Callable[[Document], object]:
    return lambda changed: changed["placement"].update({"from": start, "to": end})


def varied(**changes: object) -> Callable[[Document], object]:
    return lambda changed: changed["variants"][0].update(changes=changes)


# ---- What it holds


def test_lengths_are_held_in_mm_and_angles_in_radians() -> None:
    design = design_from(document())
    relief = design.relief
    assert isinstance(relief, MeshStripModel)
    assert relief.angle == pytest.approx(math.radians(45))
    assert relief.gap == 25.4
    assert (design.placement.start, design.placement.end) == (290, 410)


def test_defaults() -> None:
    design = design_from(document())
    relief = design.relief
    assert isinstance(relief, MeshStripModel)
    assert (relief.starts, relief.hand, relief.laid) == (1, Hand.RIGHT, Steering.CONSTANT_GAP)
    assert relief.crossing == pytest.approx(0.56)
    assert design.cover.margin == 8
    assert (design.trims[0].edge, design.trims[0].offset) == (EdgeChoice.BOTH, 0)
    assert (design.finish.coats, design.finish.coat_thickness) == (2, 0.12)
    assert (design.light.kind, design.light.turn) == (LightKind.SOFT_BOXES, 0)
    assert (design.camera.view, design.camera.turn) == (View.WHOLE_WRAP, 0)
    assert design.notes == ""


def test_an_inch_file_holds_the_same_wrap() -> None:
    inches = document()
    inches["units"] = "in"
    inches["variants"] = []
    for station in inches["blank"]["stations"]:
        station.update(at=station["at"] / 25.4, diameter=station["diameter"] / 25.4)
    inches["blank"]["fitted"] = []
    inches["placement"] = {"from": 290 / 25.4, "to": 410 / 25.4}
    inches["layers"][0].update(
        cell=2.82 / 25.4, yarn_width=0.6 / 25.4, yarn_height=0.28 / 25.4, gap=1
    )
    design = design_from(inches)
    relief = design.relief
    assert isinstance(relief, MeshStripModel)
    assert design.units is Units.IN
    assert relief.gap == 25.4
    assert design.placement.start == pytest.approx(290, rel=1e-12)
    again = design_from(document_of(design))
    assert again.blank.stations[0].at == pytest.approx(250, rel=1e-12)
    assert document_of(again) == document_of(design)


@pytest.mark.parametrize("name", samples.names())
def test_a_design_is_written_as_it_was_read(name: str) -> None:
    design = samples.load(name)
    assert design_from(document_of(design)) == design
    assert design_from(document_of(design, defaults=True)) == design


def test_only_what_the_file_gave_is_written() -> None:
    assert document_of(design_from(document())) == document()
    assert "finish" in document_of(design_from(document()), defaults=True)


def test_a_design_cannot_be_changed_in_place() -> None:
    design = design_from(document())
    with pytest.raises(pydantic.ValidationError, match="frozen"):
        design.title = "Other"  # type: ignore[misc]


def test_a_25_mm_strip_leaves_a_25_4_mm_gap_on_a_19_3_mm_blank() -> None:
    # At 45 degrees (common practice, no source). Its own share is 0.59: half of the blank is
    # covered by w = pi r / sqrt(2), from 2 w / (p sin 45) = 1 with p = 2 pi r.
    relief = with_changes(samples.load("half-scale"), {"relief.gap": 25.4}).relief
    assert isinstance(relief, MeshStripModel)
    assert relief.width_on(19.3 / 2) == pytest.approx(25, abs=0.1)
    half = document()
    half["variants"] = []
    del half["layers"][0]["gap"]
    half["layers"][0]["covered_share"] = 0.5
    relief = design_from(half).relief
    assert isinstance(relief, MeshStripModel)
    assert relief.width_on(9.65) == pytest.approx(math.pi * 9.65 / math.sqrt(2))
    assert relief.gap_on(9.65) == pytest.approx(math.pi * 9.65)


def test_gap_width_and_share_give_the_same_strip() -> None:
    by_gap = design_from(document()).relief
    assert isinstance(by_gap, MeshStripModel)
    width = by_gap.width_on(9.5)
    other = document()
    del other["layers"][0]["gap"]
    other["layers"][0]["strip_width"] = width
    other["variants"] = []
    by_width = design_from(other).relief
    assert isinstance(by_width, MeshStripModel)
    assert by_width.gap_on(9.5) == pytest.approx(25.4)


def test_a_lattice_may_have_trims_at_its_ends_and_a_cover_may_stand_alone() -> None:
    lattice = document()
    lattice["layers"][0] = dict(LATTICE)
    lattice["variants"] = []
    assert design_from(lattice).relief is not None
    plain = document()
    plain["layers"] = [plain["layers"][1]]
    plain["variants"] = []
    assert design_from(plain).relief is None


def test_what_is_fitted_has_a_span() -> None:
    grip, foot = design_from(document()).blank.fitted
    assert isinstance(grip, Grip)
    assert grip.material is GripMaterial.CORK
    assert grip.span == (120, 262)
    assert foot.span == (458, 482)


def test_every_layer_kind_has_a_role() -> None:
    assert set(Role) < set(ROLES)
    assert all(model.role in ROLES for model in LAYER_KINDS.values())


def test_layers_are_called_by_role_or_name() -> None:
    several = document()
    several["layers"].append(dict(several["layers"][2], name="outer", offset=2))
    design = design_from(several)
    assert [design.path_of(layer) for layer in design.layers] == [
        "relief",
        "cover",
        "layers.2",
        "outer",
    ]


# ---- What it refuses


def test_the_sentence_names_field_value_and_what_would_be_right() -> None:
    problem = refusal(strip(angle=95))
    assert str(problem) == (
        "relief.angle: 95 degrees is not between 5 and 85 degrees; give the angle between the "
        "strip's run and the blank's axis."
    )
    assert problem.field == "relief.angle"


def test_a_misspelt_field_is_named_with_the_nearest() -> None:
    assert str(refusal(strip(gapp=3))) == "relief.gapp is not a field; did you mean gap?"
    assert str(refusal(lambda d: d.update(titel="x"))) == (
        "titel is not a field; did you mean title?"
    )
    assert str(refusal(trim(threads=[{"thred": "Sloe Black A"}]))) == (
        "trim.threads.0.thred is not a field; did you mean thread?"
    )


def test_a_misspelling_comes_before_the_gap_that_it_leaves() -> None:
    def misspell(changed: Document) -> None:
        changed["blank"]["color"] = changed["blank"].pop("colour")

    assert str(refusal(misspell)) == "blank.color is not a field; did you mean colour?"


def test_all_that_is_wrong_is_told_at_once() -> None:
    def spoil(changed: Document) -> None:
        changed["blank"]["color"] = changed["blank"].pop("colour")
        changed["layers"][0].update(angle=400, cell=-1)
        del changed["placement"]["to"]

    problem = refusal(spoil)
    assert str(problem) == "blank.color is not a field; did you mean colour?"
    assert [other.partition(" ")[0] for other in problem.others] == [
        "placement.to",
        "relief.angle:",
        "relief.cell:",
    ]
    assert not refusal(strip(angle=400)).others

    def newer(changed: Document) -> None:
        changed["turnlight"] = 99
        spoil(changed)

    assert not refusal(newer).others


def test_all_fields_that_are_missing_are_named_at_once() -> None:
    def leave_out(changed: Document) -> None:
        del changed["units"], changed["blank"]["colour"]
        for field in ("angle", "cell"):
            del changed["layers"][0][field]

    problem = refusal(leave_out)
    assert str(problem) == (
        "units is missing; give mm or in; missing too: blank.colour, relief.angle and relief.cell."
    )
    assert problem.field == "units"
    assert in_words(str(problem)).endswith(
        "missing too: the colour of the blank, the angle of the relief and the cell of the relief."
    )


BAD = {
    # Version and units.
    "no version": (lambda d: d.pop("turnlight"), "turnlight", "turnlight is missing; give turnl"),
    "newer version": (lambda d: d.update(turnlight=2), "turnlight", "version 2 is newer than"),
    "no units": (lambda d: d.pop("units"), "units", "units is missing; give mm or in."),
    "other units": (lambda d: d.update(units="cm"), "units", '"cm" is not known here; give mm'),
    # Numbers.
    "nan": (strip(gap=math.nan), "relief.gap", "nan is not a number"),
    "infinity": (strip(gap=math.inf), "relief.gap", "inf is not between 0 and 1000 mm"),
    "negative": (strip(cell=-1), "relief.cell", "-1 mm is not between 0.5 and 20 mm"),
    "zero": (strip(cell=0), "relief.cell", "0 mm is not between 0.5 and 20 mm"),
    "text": (strip(gap="wide"), "relief.gap", '"wide" is not a number; give the gap'),
    "number as text": (strip(gap="25"), "relief.gap", '"25" is not a number'),
    "switch": (strip(gap=True), "relief.gap", "true is not a number"),
    "angle 0": (strip(angle=0), "relief.angle", "0 degrees is not between 5 and 85"),
    "angle 90": (strip(angle=90), "relief.angle", "90 degrees is not between 5 and 85"),
    "starts 0": (strip(starts=0), "relief.starts", "0 is not between 1 and 24"),
    "starts 1000": (strip(starts=1000), "relief.starts", "1000 is not between 1 and 24"),
    "starts 1.5": (strip(starts=1.5), "relief.starts", "1.5 is not a whole number"),
    "coats": (lambda d: d.update(finish={"coats": 99}), "finish.coats", "99 is not between 0"),
    # Stations.
    "stations out of order": (
        stations((600, 18.1), (250, 19.6)),
        "blank.stations.1.at",
        "250 mm comes after 600 mm; list the stations from butt to tip",
    ),
    "two at one place": (
        stations((250, 19.6), (250, 19.5), (600, 18)),
        "blank.stations.1.at",
        "250 mm is the same place as the station before it",
    ),
    "one station": (stations((250, 19.6)), "blank.stations", "1 entry is fewer than 2"),
    "a step": (
        stations((250, 30), (260, 19), (600, 18)),
        "blank.stations.1.diameter",
        "differs from the station before by 11 mm within 10 mm",
    ),
    "thick as a mast": (
        stations((250, 196), (600, 181)),
        "blank.stations.0.diameter",
        "196 mm is not between 0.5 and 60 mm",
    ),
    # Placement.
    "backwards": (placed(410, 290), "placement.to", "290 mm is not beyond placement.from, 410 mm"),
    "too short": (placed(290, 291), "placement.to", "makes the wrap 1 mm long"),
    "before the blank": (placed(200, 410), "placement.from", "before the first station at 250 mm"),
    "beyond the blank": (placed(290, 900), "placement.to", "beyond the last station at 600 mm"),
    "cover beyond the blank": (
        placed(290, 595),
        "placement.to",
        "with its cover the wrap ends at 603 mm, beyond the last station at 600 mm",
    ),
    # The strip.
    "gap as long as the pitch": (
        strip(gap=61),
        "relief.gap",
        "61 mm leaves no strip: at 45 degrees on a 19.17 mm blank the next strip comes after 60.22",
    ),
    "strip wider than the pitch": (
        lambda d: (strip(strip_width=50)(d), d["layers"][0].pop("gap")),
        "relief.strip_width",
        "50 mm overlaps the next strip",
    ),
    "less than a cell": (strip(gap=59.5), "relief.gap", "less than one cell of 2.82 mm"),
    "nothing given": (lambda d: d["layers"][0].pop("gap"), "relief", "no gap, strip_width or cov"),
    "two given": (strip(strip_width=20), "relief", "gap and strip_width are given together"),
    "share 0": (strip(covered_share=0), "relief.covered_share", "0 is not between 0.01 and 1"),
    "yarns touch": (strip(yarn_width=3), "relief.yarn_width", "3 mm is not narrower than a cell"),
    "flat crossing": (
        strip(crossing_height=0.1),
        "relief.crossing_height",
        "0.1 mm is less than yarn_height, 0.28 mm",
    ),
    "overlaps on the taper": (
        lambda d: (
            tapered(d),
            strip(covered_share=1, laid="fixed angle")(d),
            d["layers"][0].pop("gap"),
        ),
        "relief.laid",
        "would overlap itself",
    ),
    "turns back": (
        lambda d: (
            tapered(d),
            strip(angle=75, laid="unsteered", gap=4)(d),
        ),
        "relief.laid",
        "would turn back at ",
    ),
    "hand": (strip(hand="rihgt"), "relief.hand", '"rihgt" is not one of right and left; did you'),
    # The stack.
    "no layers": (lambda d: d.update(layers=[]), "layers", "0 entries are fewer than 1"),
    "no cover": (lambda d: d["layers"].pop(1), "relief", "nothing is wound over it; list a cover"),
    "two reliefs": (
        lambda d: d["layers"].insert(0, dict(LATTICE)),
        "layers",
        "2 reliefs lie under one cover; give one, or a cover over each",
    ),
    "trim before cover": (
        lambda d: d["layers"].insert(1, d["layers"].pop(2)),
        "trim",
        "the relief has no thread over it yet where this trim is laid; list the trim after the",
    ),
    "trim on nothing": (lambda d: d["layers"].pop(0), "trim", "a seam trim has no edge to lie"),
    "unknown kind": (
        strip(kind="mash strip"),
        "layers.0.kind",
        '"mash strip" is not a kind known here; did you mean mesh strip?',
    ),
    "strange kind": (
        strip(kind="feather"),
        "layers.0.kind",
        f'"feather" is not a kind known here; give {one_of(LAYER_KINDS)}.',
    ),
    "no kind": (lambda d: d["layers"][0].pop("kind"), "layers.0.kind", "is missing; give mesh str"),
    "layer is no table": (lambda d: d.update(layers=[3]), "layers.0", "3 is not a table"),
    "layers are no list": (lambda d: d.update(layers=3), "layers", "3 is not a list"),
    "blank is no table": (lambda d: d.update(blank=[]), "blank", "an empty list is not a table"),
    "name with a stop": (cover(name="a.b"), "layers.1.name", '"a.b" cannot name a layer'),
    "name of a table": (cover(name="blank"), "layers.1.name", '"blank" cannot name a layer'),
    "too many cords": (
        lambda d: d["layers"].__setitem__(0, dict(LATTICE, count=60, cord_diameter=3)),
        "relief.count",
        "60 cords each way do not fit round a",
    ),
    # Trims.
    "10,000 trims": (
        trim(threads=[{"thread": "Sloe Black A", "count": 1}] * 10_000),
        "trim.threads",
        "10000 entries are more than 60; give at most 60",
    ),
    "10,000 trim layers": (
        lambda d: d["layers"].extend([d["layers"][2]] * 10_000),
        "layers",
        "10003 entries are more than 24",
    ),
    "10,000 threads": (
        trim(threads=[{"thread": "Sloe Black A", "count": 10_000}]),
        "trim.threads.0.count",
        "10000 is not between 1 and 60",
    ),
    "600 threads": (
        trim(threads=[{"thread": "Sloe Black A", "count": 60}] * 10),
        "trim.threads",
        "600 threads side by side are more than 400",
    ),
    "no threads": (trim(threads=[]), "trim.threads", "0 entries are fewer than 1"),
    "grade and threads": (
        trim(grade={"from": "Sloe Black A", "to": "Tarn Teal A", "count": 5}),
        "trim",
        "threads and grade are given together",
    ),
    "grade without end": (
        trim(grade={"from": "Sloe Black A", "count": 5}),
        "trim.grade.to",
        "is missing; give the name of a thread",
    ),
    "climbs too far": (trim(offset=-20), "trim.offset", "-20 mm climbs beyond the middle"),
    "off the flat": (trim(offset=20), "trim.offset", "20 mm is beyond the flat beside the relief"),
    # Fitted.
    "thin grip": (
        lambda d: d["blank"]["fitted"][0].update(diameter=12),
        "blank.fitted.0.diameter",
        "12 mm is not thicker than the blank inside it, 19.6 mm",
    ),
    "grip backwards": (
        lambda d: d["blank"]["fitted"][0].update(to=100),
        "blank.fitted.0.to",
        "100 mm is not beyond 120 mm",
    ),
    "grip of corck": (
        lambda d: d["blank"]["fitted"][0].update(material="corck"),
        "blank.fitted.0.material",
        "did you mean cork?",
    ),
    "guide on a grip's field": (
        lambda d: d["blank"]["fitted"][1].update(diameter=3),
        "blank.fitted.1.diameter",
        "is not a field; give kind, at, length, scheme, thread, underwrap, rings, inset, band, "
        "trim, feet, width, height, ring or mass.",
    ),
    # Words.
    "colour": (lambda d: d["blank"].update(colour="blue"), "blank.colour", '"blue" is not a colou'),
    "long title": (lambda d: d.update(title="x" * 201), "title", "has 201 characters"),
    "no title": (lambda d: d.update(title=" "), "title", '" " is empty'),
    "escape": (lambda d: d.update(title="\x1b[2J"), "title", '"\\x1b[2J" holds a character'),
    # Variants.
    "same name twice": (
        lambda d: d["variants"].append(d["variants"][0]),
        "variants.1.name",
        '"wide gap" is used twice',
    ),
    "variant changes nothing": (varied(), "variants.0.changes", "a table is not a change"),
    "too many variants": (
        lambda d: d.update(
            variants=[{"name": str(i), "changes": {"relief.gap": 20}} for i in range(25)]
        ),
        "variants",
        "25 entries are more than 24",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_gets_one_sentence(case: str) -> None:
    change, field, words = BAD[case]
    problem = refusal(change)
    sentence = str(problem)
    assert problem.field == field
    assert sentence.startswith(field)
    assert words in sentence
    assert sentence.endswith((".", "?"))
    assert sentence.isprintable()
    assert len(sentence) < 320


def test_values_are_told_in_the_units_of_the_file() -> None:
    inches = document_of(samples.load("two-start-band"))
    inches["placement"]["to"] = 40
    with pytest.raises(
        DesignProblem, match=r"placement.to: with its cover the wrap ends at 40.25 in"
    ):
        design_from(inches)
    inches["placement"]["to"] = 15.6
    inches["layers"][0]["gap"] = 0.9
    with pytest.raises(DesignProblem, match=r"on a 0\.452 in blank the next strip comes after"):
        design_from(inches)


def test_what_the_sentence_says_would_be_right_is_right() -> None:
    wide = document()
    wide["variants"] = []
    del wide["layers"][0]["gap"]
    wide["layers"][0]["strip_width"] = 50
    with pytest.raises(DesignProblem, match=r"give 42\.58 mm or less") as caught:
        design_from(wide)
    assert caught.value.field == "relief.strip_width"
    wide["layers"][0]["strip_width"] = 42.58
    design_from(wide)


def test_a_gap_that_cannot_be_held_is_refused_with_its_place_and_a_width_that_can() -> None:
    odd = document()
    strip(angle=5, gap=2)(odd)
    with pytest.raises(DesignProblem) as caught:
        design_from(odd)
    found = re.search(
        r"cannot be held at ([0-9.]+) mm from the butt, where the blank is ([0-9.]+) mm thick "
        r"beyond your readings, .* give a gap of ([0-9.]+) mm or more, for a strip of ([0-9.]+) mm "
        r"or less",
        str(caught.value),
    )
    assert found is not None, str(caught.value)
    at, thick, gap, width = map(float, found.groups())
    # The taper of the last two readings, carried on.
    first, last = odd["blank"]["stations"][-2:]
    taper = (first["diameter"] - last["diameter"]) / (last["at"] - first["at"])
    assert at > last["at"]
    assert thick == pytest.approx(last["diameter"] - taper * (at - last["at"]), abs=0.02)
    strip(angle=5, gap=gap)(odd)
    relief = design_from(odd).relief
    assert isinstance(relief, MeshStripModel)
    assert relief.width_on(design_from(odd).blank.measured().radius(350.0)) == pytest.approx(
        width, abs=0.02
    )


# ---- What it warns of


def test_a_good_design_has_no_warning() -> None:
    assert design_from(document()).warnings == ()


def test_a_tip_thicker_than_the_butt_is_allowed_with_a_warning() -> None:
    odd = document()
    stations((250, 18.1), (600, 19.6))(odd)
    (warning,) = design_from(odd).warnings
    assert warning == (
        "blank.stations: the blank gets thicker towards the tip, from 18.1 mm at 250 mm to 19.6 mm "
        "at 600 mm; if these were measured from the tip, give each place by its distance from the "
        "butt."
    )


def test_one_reading_that_is_off_is_named() -> None:
    odd = document()
    # Without the second the blank is most even.
    stations((100, 20), (350, 18), (600, 19.6))(odd)
    (warning,) = design_from(odd).warnings
    assert warning == (
        "blank.stations.1.diameter: 18 mm at 350 mm is 1.6 mm thinner than the other readings "
        "of a blank that tapers to the tip allow, more than a caliper is off; measure again there."
    )


def test_further_wrong_readings_are_named_together(rng: np.random.Generator) -> None:
    at, _, read = many_readings(rng)
    for index in (60, 120, 150):
        read[index] -= 1.0
    odd = document()
    stations(*zip(at.tolist(), read, strict=True))(odd)
    (warning,) = design_from(odd).warnings
    places = f"{at[120]:.6g} mm and {at[150]:.6g} mm"
    assert f"; the readings at {places} do not fit either; measure again" in warning


def test_readings_from_the_tip_are_told_from_single_wrong_ones(rng: np.random.Generator) -> None:
    at, _, read = many_readings(rng)
    odd = document()
    stations(*zip(at.tolist(), read[::-1], strict=True))(odd)
    (warning,) = design_from(odd).warnings
    assert "gets thicker towards the tip" in warning
    assert "distance from the butt" in warning


def many_readings(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, list[float]]:
    """Two hundred readings of a cone, each off as a caliper is; places, truth and readings."""
    at = np.linspace(100, 900, 200)
    true = 20 - 0.008 * at
    return at, true, (true + rng.normal(0, 0.02, at.size)).round(3).tolist()


def test_the_noise_of_a_caliper_is_no_warning(rng: np.random.Generator) -> None:
    at, true, read = many_readings(rng)
    odd = document()
    stations(*zip(at.tolist(), read, strict=True))(odd)
    design = design_from(odd)
    assert design.warnings == ()
    # The blank is nearer the truth than the readings are, and its taper is smooth.
    blank = design.blank.measured()
    off = 2 * blank.radius(at) - true
    assert np.sqrt(np.mean(off**2)) < 0.5 * np.std(read - true)
    assert np.abs(2 * blank.slope(at) + 0.008).max() < 0.004


def test_wrong_readings_are_named_in_one_warning(rng: np.random.Generator) -> None:
    at, _, read = many_readings(rng)
    read[60] += 0.3
    read[120] -= 1.0
    odd = document()
    stations(*zip(at.tolist(), read, strict=True))(odd)
    (warning,) = design_from(odd).warnings
    assert warning.startswith("blank.stations.60.diameter: ")
    assert f"at {at[60]:.4g}"[:6] in warning
    assert f"; the reading at {at[120]:.6g} mm does not fit either; measure again" in warning
    assert "more places" not in warning


def test_two_readings_that_differ_by_less_than_a_caliper_is_off_are_no_warning() -> None:
    odd = document()
    stations((250, 18.1), (600, 18.107))(odd)
    assert design_from(odd).warnings == ()


def test_what_reaches_into_the_wrap_is_allowed_with_a_warning() -> None:
    odd = document()
    odd["blank"]["fitted"][0]["to"] = 285
    odd["blank"]["fitted"][1]["at"] = 425
    grip, foot = design_from(odd).warnings
    assert grip.startswith("blank.fitted.0: the grip from 120 mm to 285 mm reaches into the wrap")
    assert foot.startswith("blank.fitted.1: the guide from 413 mm to 437 mm reaches into the wrap")


def test_what_is_fitted_twice_in_one_place_is_warned_of() -> None:
    odd = document()
    odd["blank"]["fitted"].append(dict(odd["blank"]["fitted"][0], to=200))
    (warning,) = design_from(odd).warnings
    assert warning.startswith("blank.fitted.2: the grip from 120 mm to 200 mm reaches into the gri")


def test_two_trims_in_one_place_are_warned_of() -> None:
    odd = document()
    odd["layers"].append(dict(odd["layers"][2], name="outer"))
    (warning,) = design_from(odd).warnings
    assert warning.startswith("outer.offset: 0 mm is where another trim on the same edge starts")
    odd["layers"][2]["edge"], odd["layers"][3]["edge"] = "upper", "lower"
    assert design_from(odd).warnings == ()


# ---- Threads


def test_every_thread_is_listed_with_its_path() -> None:
    assert list(thread_names(design_from(document()))) == [
        ("blank.fitted.1.thread", "Sloe Black A"),
        ("cover.thread", "Heron Silver A"),
        ("trim.threads.0.thread", "Sloe Black A"),
        ("trim.threads.1.thread", "Tarn Teal A"),
    ]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (cover(thread="Hron Silver A"), "cover.thread"),
        (trim(threads=[{"thread": "Nothing"}]), "trim.threads.0.thread"),
    ],
)
def test_an_unknown_thread_is_refused(change: Callable[[Document], object], field: str) -> None:
    unknown = document()
    change(unknown)
    design = design_from(unknown)
    with pytest.raises(DesignProblem, match="there is no thread") as caught:
        check_threads(design, Shelf.shipped())
    assert caught.value.field == field
    assert str(caught.value).startswith(field)


@pytest.mark.parametrize(
    "changes",
    [
        {"cover.thread": "Nothing"},
        {"trim.grade": {"from": "Tarn Teal A", "to": "?", "count": 3}},
    ],
)
def test_an_unknown_thread_of_a_variant_blocks_the_variant_only(changes: Document) -> None:
    unknown = document()
    varied(**changes)(unknown)
    design = design_from(unknown)
    check_threads(design, Shelf.shipped())
    (reason,) = variants_without_thread(design, Shelf.shipped()).values()
    assert "there is no thread" in reason
    with pytest.raises(DesignProblem, match=r'^variants\.0\.changes: in "wide gap", ') as caught:
        check_all_threads(design, Shelf.shipped())
    assert caught.value.field == "variants.0.changes"


def test_the_nearest_thread_is_suggested() -> None:
    unknown = document()
    cover(thread="Hron Silver A")(unknown)
    with pytest.raises(DesignProblem, match="Heron Silver A"):
        check_threads(design_from(unknown), Shelf.shipped())


def test_reading_leaves_the_document_as_it_was() -> None:
    given = document()
    before = copy.deepcopy(given)
    design_from(given)
    assert given == before
