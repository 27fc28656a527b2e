"""Cards made from the models: every field is there, with words, bounds and numbers under it.

Where a slider ends is checked against the closed form of the winding; numbers against the formulas
of the design notes, worked by hand beside the check.
"""

import json
import math

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from materials.shelf import Shelf
from render.page.cards import figures, form
from render.page.cards.bounds import tightened
from scenes.building.build import Plan
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.layers import LAYER_KINDS
from scenes.files import samples
from scenes.numerals import read_number
from scenes.problems import DesignProblem
from scenes.quantities import Units, caliper_number, marker_of, plain_number
from tests.varied_samples import VARIED


def bare(name: str = "half-scale", **changes: object) -> Design:
    design = samples.load(name).without_variants()
    return with_changes(design, changes) if changes else design


def fields_of(design: Design, units: Units = Units.MM) -> dict[str, form.Json]:
    return {one["path"]: one for one in form.all_fields(form.cards_of(design, units))}


# ---- every kind of layer has its card


@pytest.mark.parametrize("name", VARIED)
def test_every_field_of_every_part_is_on_a_card(name):
    """Whatever is added to the models is on the page, without a line for it there."""
    design = bare(name)
    cards = form.cards_of(design, design.units)
    assert json.loads(json.dumps(cards)) == cards  # can be sent
    layers = [card for card in cards if card["layer"]]
    assert [card["kind"] for card in layers] == [layer.kind for layer in design.layers]
    for card, layer in zip(layers, design.layers, strict=True):
        shown = {field["path"].rpartition(".")[2] for field in card["fields"]}
        wanted = {info.alias or key for key, info in type(layer).model_fields.items()}
        left_out = wanted - shown - {"kind", "name"}
        # What would have no meaning beside what is given: a font beside a picture.
        gives_way = {other for one in layer.model_fields_set for other in layer.rivals(one)}
        assert left_out <= gives_way | set(layer.alternatives)
        assert len(shown & set(layer.alternatives)) == bool(layer.alternatives)


def test_no_known_kind_of_layer_falls_back_to_text():
    """A field that the page can only show as TOML is allowed, but should not be usual."""
    shown = [
        field["type"]
        for name in samples.names()
        for field in form.all_fields(form.cards_of(bare(name), Units.MM))
    ]
    assert shown.count("toml") < 0.05 * len(shown)


@pytest.mark.parametrize("name", VARIED)
def test_every_field_has_words(name):
    for field in form.all_fields(form.cards_of(bare(name), Units.MM)):
        assert field["label"]
        assert field["label"][0].isupper()
        if field["type"] in ("number", "whole", "thread", "choice", "colour"):
            assert len(field["help"]) > 8, field["path"]


@pytest.mark.parametrize("name", VARIED)
@pytest.mark.parametrize("units", list(Units))
def test_what_a_field_shows_may_be_typed_back(name, units):
    """Six figures of a number are the number; of inches, what a caliper reads."""
    design = bare(name)
    own = design.model_copy(update={"units": units})
    for field in form.number_fields(form.cards_of(own, units)):
        if not field["given"]:
            continue
        number = read_number(field["text"])
        within = 5e-4 if field["unit"] == "in" else 1e-9
        assert number == pytest.approx(field["value"], rel=1e-5, abs=within)
        try:
            made = with_changes(own, {field["path"]: number})
        except DesignProblem as problem:
            pytest.fail(f"{field['path']}: {problem}")
        assert document_of(made)["title"] == design.title


def test_inches_are_shown_for_a_file_in_mm():
    field = fields_of(bare().model_copy(update={"units": Units.IN}), Units.IN)["relief.gap"]
    # One inch is 25.4 mm by definition (1959): 21.2 / 25.4.
    assert (field["text"], field["unit"]) == ("0.835", "in")
    assert field["high"] == pytest.approx(1000 / 25.4, rel=1e-5)


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (80.0, "3.15"),
        (0.28, "0.011"),
        (0.14, "0.00551"),
        (25.4 * 5 / 64, "0.078125"),
        (25.4 * 1.2345, "1.2345"),
        (0.0, "0"),
    ],
)
def test_inches_are_shown_as_a_caliper_reads_them(mm, text):
    assert caliper_number(mm / 25.4, Units.IN) == text
    assert caliper_number(mm, Units.MM) == plain_number(mm)


@pytest.mark.parametrize("name", VARIED)
def test_no_two_fields_of_a_sweep_are_called_the_same(name):
    cards = form.cards_of(bare(name), Units.MM)
    labels = [form.sweep_label(card, field) for card, field in form.sweep_fields(cards)]
    assert len(labels) == len(set(labels)), labels


# ---- where sliders end


def test_the_gap_slider_ends_where_one_cell_of_strip_is_left():
    """At 45 degrees the pitch is 2 pi r, and a strip takes w / sin(alpha) of it."""
    design = bare()
    diameter = 16.9  # measured where the middle of the wrap is
    field = fields_of(design)["relief.gap"]
    low, high, step = tightened(design, "relief.gap", 21.2, 0, 1000, field["step"])
    pitch = math.pi * diameter / math.tan(math.radians(45))
    assert low == 0
    assert high == pytest.approx(pitch - 2.822 / math.sin(math.radians(45)), abs=0.011)
    assert step == 0.1


def test_the_width_slider_ends_where_the_strip_would_overlap():
    """The widest strip leaves no gap: w = p sin(alpha)."""
    design = bare(**{"relief.strip_width": 20, "relief.laid": "fixed angle"})
    low, high, _ = tightened(design, "relief.strip_width", 20.0, 0.5, 500, 0.01)
    assert low == pytest.approx(2.822, abs=0.011)
    # At the tip's end of the wrap the blank is thinner, and there the strip overlaps first.
    thin = 2 * float(design.blank.measured().radius(446.0))
    assert high == pytest.approx(math.pi * thin * math.cos(math.radians(45)), abs=0.05)


def test_the_place_of_the_wrap_ends_at_the_grips():
    """Grips end at 304 mm and begin at 468 mm; the cover reaches 8 mm beyond the wrap."""
    design = bare()
    assert tightened(design, "placement.from", 326.0, 0, 6000, 0.01)[0] == 312
    assert tightened(design, "placement.to", 446.0, 0, 6000, 0.01)[1] == 460


def test_whole_numbers_stay_whole():
    low, high, step = tightened(bare(), "relief.starts", 1, 1, 24, 1)
    assert (low, high, step) == (1, 2, 1)
    assert all(isinstance(one, int) for one in (low, high, step))


@pytest.mark.parametrize("name", VARIED)
def test_the_ends_of_every_slider_are_right(name):
    design = bare(name)
    warned = len(design.warnings)
    for field in form.number_fields(form.cards_of(design, design.units)):
        if field["value"] is None or field["path"].startswith("bench."):
            continue
        bounds = (field["low"], field["high"], field["step"])
        low, high, step = tightened(design, field["path"], field["value"], *bounds)
        assert field["low"] <= low <= field["value"] <= high <= field["high"]
        assert step > 0
        # The value itself may be a default that the design around it overrides.
        for end in {low, high} - {field["value"]}:
            made = with_changes(design, {field["path"]: end})
            assert len(made.warnings) <= warned


def test_a_sweep_can_be_made_of_what_is_listed():
    listed = form.sweepable(bare())
    assert {"relief.gap", "relief.angle", "cover.margin"} <= {one["path"] for one in listed}
    assert all(one["low"] < one["high"] for one in listed)


# ---- numbers under fields


def test_numbers_stand_under_what_they_follow_from():
    design = bare()
    told = figures.figures_of(Plan(design, Shelf.shipped()), Units.MM)
    under = {one["under"] for one in told}
    assert under <= fields_of(design).keys()
    texts = {one["under"]: one["text"] for one in told if one["text"]}
    # p = 2 pi r / tan(alpha) = pi * 16.9 mm; w = (p - g) sin(alpha); share = 1 - g / p.
    pitch = math.pi * 16.9
    assert f"One turn every {pitch:.2f} mm" in texts["relief.angle"]
    assert f"{(pitch - 21.2) / math.sqrt(2):.2f} mm wide" in texts["relief.gap"]
    assert f"{100 * (1 - 21.2 / pitch):.1f} %" in texts["relief.gap"]


def test_whole_cells_can_be_taken_with_one_press():
    design = bare()
    plan = Plan(design, Shelf.shipped())
    offers = [one["take"] for one in figures.figures_of(plan, Units.MM) if one["take"]]
    # 22.55 mm of 2.822 mm cells is 7.99 cells.
    assert [one["value"] for one in offers] == [
        pytest.approx(7 * 2.822),
        pytest.approx(8 * 2.822),
    ]
    taken = with_changes(design, {offers[0]["path"]: offers[0]["value"]})
    again = figures.figures_of(Plan(taken, Shelf.shipped()), Units.MM)
    assert not [one for one in again if one["take"]]


@pytest.mark.parametrize("name", VARIED)
@pytest.mark.parametrize("units", list(Units))
def test_numbers_are_told_in_the_units_shown(name, units):
    design = bare(name)
    other = {Units.MM: " in ", Units.IN: " mm"}[units]
    for one in figures.figures_of(Plan(design, Shelf.shipped()), units):
        words = one["text"] or one["take"]["label"]
        assert other not in words.replace(" in the middle", "").replace(" in all", "")


def test_a_warning_stands_under_its_field():
    design = bare(**{"placement.from": 306})
    paths = [*fields_of(design)]
    (warned,) = figures.warnings_of(design, paths)
    assert warned["under"] == "blank.fitted"
    assert warned["text"].startswith("The grip from 160 mm to 304 mm reaches into the wrap")


# ---- what is added to lists, and given in place of something


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("blank.stations", ""),
        ("blank.fitted", "grip"),
        ("blank.fitted", "guide"),
        ("trim.threads", ""),
    ],
)
def test_a_new_entry_is_right(path, kind):
    design = bare()
    entry = form.new_entry(design, path, kind)
    document = document_of(design)
    first, last = path.split(".")
    table = document["blank"] if first == "blank" else document["layers"][2]
    table[last] = [*table[last], entry]
    made = design_from(document)
    assert len(document_of(made)["blank"]["stations"]) == 5 + (path == "blank.stations")


@pytest.mark.parametrize("path", ["trim.grade", "trim.threads"])
def test_threads_and_grade_become_one_another(path):
    design = bare()
    if path == "trim.threads":
        grade = {"from": "Dusk Indigo A", "to": "Tarn Teal A", "count": 9}
        design = with_changes(design, {"trim.grade": grade})
    made = with_changes(design, {path: form.starting_value(design, path)})
    assert made.trims[0].count == design.trims[0].count


def test_every_kind_of_layer_can_be_started_from_a_sample():
    from scenes.editing.list_edits import sample_layer

    shown = {layer.kind for name in samples.names() for layer in samples.load(name).layers}
    for kind in LAYER_KINDS:
        if kind in shown:
            assert sample_layer(kind, Units.MM)["kind"] == kind


# ---- numbers as they are typed


@pytest.mark.parametrize(
    ("text", "units", "number"),
    [
        ("25.4", Units.MM, 25.4),
        ("25,4", Units.MM, 25.4),
        (" 7 ", None, 7),
        ("-3.5", Units.MM, -3.5),
        ("−3.5", Units.MM, -3.5),
        ("1 1/4", Units.IN, 1.25),
        ("1-1/4", Units.IN, 1.25),
        ("5/8", Units.IN, 0.625),
        ("1 in", Units.MM, 25.4),
        ('1"', Units.MM, 25.4),
        ("25.4mm", Units.IN, 1.0),
        ("45°", None, 45),
        (".5", None, 0.5),
    ],
)
def test_numbers_are_read_as_builders_type_them(text, units, number):
    assert read_number(text, units) == number


@pytest.mark.parametrize(
    "text", ["", "abc", "1/0", "1 2", "1e3", "nan", "inf", "--1", "1 mm", "9" * 400, "1.2.3"]
)
def test_what_is_no_number_is_refused(text):
    with pytest.raises(DesignProblem) as refused:
        read_number(text, None)
    assert str(refused.value).endswith(".")


@given(st.text(max_size=50), st.sampled_from([None, *Units]))
@settings(derandomize=True, deadline=None)
def test_any_text_is_a_number_or_refused(text, units):
    try:
        number = read_number(text, units)
    except DesignProblem:
        return
    assert math.isfinite(number)


def test_a_whole_number_is_whole_and_a_decimal_is_not():
    assert isinstance(read_number("7", None), int)
    assert isinstance(read_number("7.0", None), float)


def test_every_number_has_a_marker_that_bounds_it():
    """A field without one would be a number that any value suits."""
    for model in LAYER_KINDS.values():
        for key, info in model.model_fields.items():
            if info.annotation in (int, float):
                assert marker_of(info) is not None, f"{model.__name__}.{key}"


def test_what_the_eye_decides_comes_before_what_the_material_is():
    cards = {card["path"]: card["fields"] for card in form.cards_of(bare(), Units.MM)}
    relief = [field["path"] for field in cards["relief"] if not field["material"]]
    assert relief[0] == "relief.gap"
    made_of = {field["path"] for field in cards["relief"] if field["material"]}
    assert made_of == {
        f"relief.{name}" for name in ("cell", "yarn_width", "yarn_height", "crossing_height")
    }
    for path in ("cover.thread", "trim.threads"):
        assert cards[path.partition(".")[0]][0]["path"] == path
