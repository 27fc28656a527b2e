"""Variants, sweeps, labels and the hash of a design."""

import math
import re
from itertools import permutations
from typing import Any

import pytest

from scenes.design.differences import BASE_LABEL, differences, labels, paired_differences
from scenes.design.document import design_from, document_of, with_changes
from scenes.design.variants import design_hash, sweep, variant, variants
from scenes.files import samples, storage
from scenes.kinds.mesh_strip.model import MeshStripModel
from scenes.problems import DesignProblem
from scenes.quantities import Units

HALF = samples.load("half-scale")


def gap_of(design: object) -> float | None:
    relief = getattr(design, "relief", None)
    assert isinstance(relief, MeshStripModel)
    return relief.gap


# ---- Changes by path


def test_values_are_in_the_units_of_the_design() -> None:
    band = with_changes(samples.load("two-start-band"), {"relief.gap": 0.4})
    assert gap_of(band) == pytest.approx(0.4 * 25.4)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("relief.gap", 20),
        ("relief.starts", 2),
        ("cover.thread", "Gorse Gold A"),
        ("trim.threads.0.thread", "Gorse Gold A"),
        ("trim.threads.1.count", 5),
        ("trim.threads", [{"thread": "Sloe Black A", "count": 3}]),
        ("trim.edge", "upper"),
        ("finish.coats", 0),
        ("blank.colour", "#ffffff"),
        ("blank.stations.0.diameter", 20.8),
        ("blank.fitted.0.material", "foam"),
        ("placement.to", 405),
        ("light.kind", "low sun"),
        ("light.turn", 30),
        ("camera.view", "close"),
        ("layers.0.angle", 50),
        ("title", "Other"),
    ],
)
def test_a_path_changes_one_field_and_nothing_else(path: str, value: object) -> None:
    base = HALF.without_variants()
    changed = document_of(with_changes(base, {path: value}))
    expected: Any = document_of(base)
    names = {"relief": "layers.0", "cover": "layers.1", "trim": "layers.2"}
    first, _, rest = path.partition(".")
    *above, last = (names.get(first, first) + f".{rest}".rstrip(".")).split(".")
    here = expected
    for key in above:
        here = here[int(key)] if key.isdigit() else here[key]
    here[int(last) if last.isdigit() else last] = value
    assert changed == expected


def test_one_alternative_takes_the_place_of_another() -> None:
    by_width = with_changes(HALF.without_variants(), {"relief.strip_width": 20}).relief
    assert isinstance(by_width, MeshStripModel)
    assert (by_width.gap, by_width.strip_width) == (None, 20)
    graded = with_changes(
        HALF.without_variants(),
        {"trim.grade.from": "Dusk Indigo A", "trim.grade.to": "Tarn Teal A", "trim.grade.count": 5},
    )
    assert graded.trims[0].threads is None
    assert graded.trims[0].count == 5
    back = with_changes(graded, {"trim.threads": [{"thread": "Sloe Black A"}]})
    assert back.trims[0].grade is None


def test_two_alternatives_at_once_are_refused() -> None:
    with pytest.raises(DesignProblem, match="gap and strip_width are given together"):
        with_changes(HALF, {"relief.gap": 20, "relief.strip_width": 20})


def test_a_whole_layer_may_be_replaced() -> None:
    lattice = {"kind": "cord lattice", "cord_diameter": 0.8, "count": 8, "angle": 40}
    changed = with_changes(HALF.without_variants(), {"relief": lattice})
    assert changed.relief is not None
    assert changed.relief.kind == "cord lattice"


def test_a_variant_that_no_longer_fits_is_set_aside_and_returns() -> None:
    assert len(with_changes(HALF, {"relief.gap": 20}).variants) == len(HALF.variants)
    two = with_changes(HALF, {"relief.starts": 2, "relief.gap": 10})
    assert two.variants == HALF.variants
    assert two.variants_set_aside["wide gap"].startswith("relief.gap: 36 mm leaves no strip")
    assert [name for name, _ in variants(two)] == [
        BASE_LABEL,
        *(one.name for one in HALF.variants if one.name not in two.variants_set_aside),
    ]
    with pytest.raises(DesignProblem, match=r'"wide gap" does not fit the design: relief\.gap: 36'):
        variant(two, "wide gap")
    assert any(one.startswith('variants.1.changes: "wide gap" does not') for one in two.warnings)
    # In the file too: what was saved can be opened again.
    assert design_from(document_of(two)) == two
    back = with_changes(two, {"relief.starts": 1, "relief.gap": HALF.relief.gap})
    assert not back.variants_set_aside
    assert design_hash(back) == design_hash(HALF) != design_hash(two)


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"relief.gap": 70}, "relief.gap: 70 mm leaves no strip"),
        ({"relief.gapp": 70}, "relief.gapp is not a field; did you mean gap?"),
        ({"releif.gap": 70}, "releif.gap leads to no field; did you mean relief?"),
        ({"units": "in"}, "units belongs to the file and cannot be changed by a path"),
    ],
)
def test_the_reason_of_a_variant_set_aside(changes: dict[str, object], reason: str) -> None:
    document = {**document_of(HALF), "variants": [{"name": "wrong", "changes": changes}]}
    assert design_from(document).variants_set_aside["wrong"].startswith(reason)


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("relief.gapp", "relief.gapp is not a field; did you mean gap?"),
        ("releif.gap", "releif.gap leads to no field; did you mean relief?"),
        ("finish.coat", "finish.coat is not a field; did you mean coats?"),
        ("finnish.coats", "finnish.coats leads to no field; did you mean finish?"),
        ("relief.gap.x", "relief.gap.x: relief.gap is one value"),
        ("trim.threads.4.thread", "4 is no position in trim.threads; give 0 to 3"),
        ("trim.threads.x", '"x" is no position in trim.threads'),
        ("trim.0.thread", "trim is not a list given in this design"),
        ("blank.stations.-1.at", '"-1" is no position in blank.stations'),
        ("units", "units belongs to the file"),
        ("turnlight", "turnlight belongs to the file"),
        ("variants.0.name", "variants.0.name belongs to the file"),
        ("layers.9.gap", "layers.9.gap belongs to the file"),
        ("", '" leads to no field'),
        (".", "leads to no field"),
        ("relief", "layers.0: 1 is not a table; give one with a kind"),
        ("relief.", "relief. is not a field"),
        ("a" * 10_000, "is too long to be a field's path"),
        ("relief." + "a." * 90, "is not a field"),
        ("\x1b[31m", "\\x1b[31m leads to no field"),
    ],
)
def test_a_path_that_leads_nowhere(path: str, words: str) -> None:
    with pytest.raises(DesignProblem) as caught:
        with_changes(HALF.without_variants(), {path: 1})
    assert words.strip('"') in str(caught.value)
    assert str(caught.value).isprintable()


def test_a_role_that_is_not_there_or_there_twice() -> None:
    plain = document_of(HALF.without_variants())
    plain["layers"] = [plain["layers"][1]]
    with pytest.raises(DesignProblem, match="this design has no trim; add the layer first"):
        with_changes(design_from(plain), {"trim.edge": "upper"})
    with pytest.raises(DesignProblem, match=r"could mean 2 layers; give one of relief, cover, sh"):
        with_changes(samples.load("graded-trim"), {"trim.edge": "upper"})


def test_a_value_that_no_design_can_hold() -> None:
    nested: object = 1
    for _ in range(50):
        nested = [nested]
    for value in (nested, {1, 2}, object()):
        with pytest.raises(DesignProblem):
            with_changes(HALF, {"relief.gap": value})


# ---- Variants


def test_variants_follow_the_design_itself() -> None:
    made = variants(HALF)
    assert [label for label, _ in made] == [
        "as designed",
        "narrow gap",
        "wide gap",
        "warm trim",
        "dry",
    ]
    assert all(not design.variants for _, design in made)
    assert gap_of(made[2][1]) == 36
    assert made[0][1] == HALF.without_variants()


def test_a_variant_by_name() -> None:
    assert variant(HALF, "dry").finish.coats == 0
    with pytest.raises(DesignProblem, match="did you mean wide gap"):
        variant(HALF, "wide gpa")
    with pytest.raises(DesignProblem, match="give narrow gap, wide gap, warm trim or dry"):
        variant(HALF, "?")
    with pytest.raises(DesignProblem, match="this design has none"):
        variant(HALF.without_variants(), "dry")


# ---- Sweeps


def test_a_sweep_of_numbers() -> None:
    made = sweep(HALF, "relief.gap=14,20, 26")
    assert [label for label, _ in made] == ["gap 14 mm", "gap 20 mm", "gap 26 mm"]
    assert [gap_of(design) for _, design in made] == [14, 20, 26]


def test_a_sweep_of_words_and_of_lists() -> None:
    assert [label for label, _ in sweep(HALF, "cover.thread=Heron Silver A,Gorse Gold A")] == [
        "cover Heron Silver A",
        "cover Gorse Gold A",
    ]
    assert [label for label, _ in sweep(HALF, 'light.kind="low sun", "north window"')] == [
        "low sun",
        "north window",
    ]
    trims = 'trim.threads=[{thread="Sloe Black A"}],[{thread="Tarn Teal A",count=4}]'
    assert [label for label, _ in sweep(HALF, trims)] == [
        "trim with 1 Sloe Black A",
        "trim with 4 Tarn Teal A",
    ]


def test_a_sweep_inside_a_list_is_labelled_by_what_differs() -> None:
    """As a comparison labels them, which knows the designs alone."""
    marbled = samples.load("marbled-panel")
    for field, words in (
        ("softness", "softness 0.3 mm"),
        ("reach", "reach 0.3 mm"),
        ("alternate", "alternate false"),
    ):
        values = "false,true" if field == "alternate" else "0.3,3"
        made = sweep(marbled, f"marbled.strokes.1.{field}={values}")
        told = labels([design for _, design in made])
        assert told[0] == f"marbled.strokes.1 {words}"
        assert len(set(told)) == 2


def test_a_sweep_of_colours() -> None:
    """Their # begins a comment in a file."""
    marbled = samples.load("marbled-panel")
    for spec in ("#ff0000,#00ff00", '"#ff0000","#00ff00"', '"#ff0000",#00ff00'):
        made = sweep(marbled, f"marbled.pigments.0.colour={spec}")
        colours = [document_of(one)["layers"][0]["pigments"][0]["colour"] for _, one in made]
        assert colours == ["#ff0000", "#00ff00"]


def test_a_sweep_of_what_cannot_be_seen_is_labelled_by_its_values() -> None:
    assert [label for label, _ in sweep(HALF, "notes=a,b")] == ['notes "a"', 'notes "b"']
    assert [label for label, _ in sweep(HALF, "relief.gap=20")] == ["relief.gap 20"]


@pytest.mark.parametrize(
    ("spec", "words"),
    [
        ("", "is not a path and values; write it like relief.gap=14,20,26"),
        ("relief.gap", "is not a path and values"),
        ("=1,2", "is not a path and values"),
        ("relief.gap=", "is not a path and values"),
        ("relief.gap=14,wide", 'relief.gap: "wide" is not a number'),
        ("relief.gap=14,", "relief.gap"),
        ("relief.gap=#20", '"#20" is not a number'),
        ("relief.gap=nan", "nan is not a number"),
        ("relief.gap=14,70", "70 mm leaves no strip"),
        ("releif.gap=14", "did you mean relief?"),
        ("relief.gap=" + ",".join(["20"] * 25), "25 values are more than 24"),
        ("relief.gap=" + "2" * 9000, "is not a path and values"),
    ],
)
def test_a_sweep_that_cannot_be_made(spec: str, words: str) -> None:
    if spec == "relief.gap=14,":
        # A last comma is allowed in a list of numbers.
        assert len(sweep(HALF, spec)) == 1
        return
    with pytest.raises(DesignProblem) as caught:
        sweep(HALF, spec)
    assert words in str(caught.value)


# ---- Labels


def test_no_difference_is_no_words() -> None:
    assert differences(HALF, HALF) == []
    assert labels([HALF, HALF]) == ["", ""]
    assert labels([]) == []


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"relief.gap": 20}, ["gap 20 mm"]),
        ({"relief.strip_width": 20}, ["strip width 20 mm"]),
        ({"relief.covered_share": 0.5}, ["covered share 0.5"]),
        ({"relief.angle": 50.5}, ["angle 50.5°"]),
        ({"relief.hand": "left"}, ["left-hand"]),
        ({"relief.laid": "fixed angle"}, ["fixed angle"]),
        ({"relief.crossing_height": 0.5}, ["crossing height 0.5 mm"]),
        ({"cover.thread": "Gorse Gold A"}, ["cover Gorse Gold A"]),
        ({"cover.margin": 6}, ["cover margin 6 mm"]),
        (
            {"trim.threads": [{"thread": "Sloe Black A", "count": 2}, {"thread": "Tarn Teal A"}]},
            ["trim with 2 Sloe Black A + 1 Tarn Teal A"],
        ),
        (
            {"trim.grade": {"from": "Rowan Red A", "to": "Gorse Gold A", "count": 7}},
            ["trim with 7 shades from Rowan Red A to Gorse Gold A"],
        ),
        ({"trim.edge": "upper"}, ["trim on the upper edge"]),
        ({"trim.offset": 1}, ["trim offset 1 mm"]),
        ({"finish.coats": 0}, ["dry"]),
        ({"finish.coats": 1}, ["1 coat"]),
        ({"light.kind": "low sun", "light.turn": 45}, ["low sun", "light turned 45°"]),
        ({"camera.view": "along the rod", "camera.turn": 90}, ["along the rod", "rod turned 90°"]),
        ({"placement.to": 405, "placement.from": 300}, ["from 300 mm", "to 405 mm"]),
        ({"placement.guide_line": 10}, ["guide line 10°"]),
        ({"blank.colour": "#ffffff"}, ["blank #ffffff"]),
        ({"blank.fitted": []}, ["nothing fitted"]),
        ({"title": "Other", "notes": "Other"}, []),
        (
            {"relief": {"kind": "cord lattice", "cord_diameter": 0.8, "count": 8, "angle": 40}},
            ["cord lattice"],
        ),
    ],
)
def test_what_differs_is_named_in_plain_words(changes: dict[str, object], words: list[str]) -> None:
    base = HALF.without_variants()
    assert differences(base, with_changes(base, changes)) == words


def test_a_layer_that_is_not_there() -> None:
    without = document_of(HALF.without_variants())
    del without["layers"][2]
    bare = design_from(without)
    assert differences(HALF, bare) == ["no trim"]
    assert differences(bare, HALF) == [
        "trim with 2 Sloe Black A + 2 Heron Silver A + 4 Willowleaf A + 2 Sloe Black A"
    ]


def test_the_words_are_in_the_units_of_the_first() -> None:
    band = samples.load("two-start-band").without_variants()
    assert differences(band, with_changes(band, {"relief.gap": 0.35})) == ["gap 0.35 in"]


def test_many_variants_are_measured_by_the_first() -> None:
    told = labels([design for _, design in variants(HALF)])
    assert told[:3] == ["as designed", "gap 16 mm", "gap 36 mm"]
    assert told[4] == "dry"


def test_designs_with_little_in_common_go_by_their_titles() -> None:
    designs = [samples.load(name) for name in samples.names()]
    assert labels(designs) == [design.title for design in designs]


# ---- The hash


def test_the_hash_is_twelve_hex_digits() -> None:
    assert re.fullmatch("[0-9a-f]{12}", design_hash(HALF))


def test_the_hash_does_not_see_comments_order_or_defaults() -> None:
    bare = re.sub(r"\s+#[^\"\n]*$", "", samples.text("half-scale"), flags=re.MULTILINE)
    assert bare != samples.text("half-scale")
    assert design_hash(storage.parse(bare)) == design_hash(HALF)
    full = document_of(HALF, defaults=True)
    assert design_hash(design_from(dict(reversed(full.items())))) == design_hash(HALF)


def in_inches(document: Any) -> Any:
    """Convert lengths by hand: they are all numbers but for these."""
    plain = (
        *("turnlight", "starts", "count", "coats", "angle", "turn", "guide_line", "flatten"),
        *("friction", "covered_share", "exposure", "zoom"),
    )
    if isinstance(document, dict):
        return {key: value if key in plain else in_inches(value) for key, value in document.items()}
    if isinstance(document, list):
        return [in_inches(value) for value in document]
    return document / 25.4 if isinstance(document, int | float) else document


@pytest.mark.parametrize("name", ["half-scale", "cord-lattice", "full-mesh", "graded-trim"])
def test_the_hash_does_not_see_the_units(name: str) -> None:
    design = samples.load(name)
    document = document_of(design)
    changes = [dict(one["changes"]) for one in document["variants"]]
    inches = in_inches(document) | {"units": "in"}
    for one, given in zip(inches["variants"], changes, strict=True):
        one["changes"] = {
            path: in_inches({path.rpartition(".")[2]: value})[path.rpartition(".")[2]]
            for path, value in given.items()
        }
    assert design_hash(design_from(inches)) == design_hash(design)


def test_the_hash_sees_every_change() -> None:
    seen = {design_hash(design) for _, design in variants(HALF)}
    seen |= {design_hash(samples.load(name)) for name in samples.names()}
    seen.add(design_hash(with_changes(HALF, {"title": "Other"})))
    assert len(seen) == 5 + len(samples.names()) + 1


def test_the_hash_stays_from_one_release_to_the_next() -> None:
    # Written down on purpose: pictures already sent carry it.
    simple = design_from(
        {
            "turnlight": 1,
            "units": "mm",
            "title": "Fixed",
            "blank": {
                "colour": "#000000",
                "stations": [{"at": 0, "diameter": 20}, {"at": 500, "diameter": 18}],
            },
            "placement": {"from": 100, "to": 200},
            "layers": [{"kind": "cover", "thread": "Heron Silver A"}],
        }
    )
    assert design_hash(simple) == "ee625ca2db7f"


def test_a_label_has_no_colon_of_its_own() -> None:
    # Behind the letter of a design, "B: cover Gorse Gold A", one colon says where the letter ends.
    # What differs in a further wrap of a rod stands behind its name and a colon.
    every = [samples.load(name).without_variants() for name in samples.names()]
    designs = [design for design in every if not design.wraps]
    said = {
        words
        for first, second in permutations(designs, 2)
        for side in paired_differences(first, second, Units.MM)
        for words in side
    }
    assert len(said) > 100
    assert not [words for words in said if ":" in words]


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_variant_holds_no_number_that_is_not_finite(value: float) -> None:
    document = document_of(samples.load("half-scale"))
    document["variants"][0]["changes"] = {"relief.gap": value}
    with pytest.raises(DesignProblem, match="is not a number that a design can hold"):
        design_from(document)
