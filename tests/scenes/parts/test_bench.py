"""The builder's bench in a design: read, kept, refused in one sentence."""

from collections.abc import Callable
from typing import Any

import pytest

from scenes.design.document import design_from, document_of, with_changes
from scenes.design.variants import design_hash
from scenes.files import samples
from scenes.files.storage import parse
from scenes.files.toml_writing import document_text
from scenes.parts.bench import BenchSpec
from scenes.problems import DesignProblem

FULL = {
    "bench": {
        "roll_width": 50.8,
        "strip_tail": 25.4,
        "cord_tail": 50.8,
        "thread_tail": 254,
        "waste": 0.1,
        "steering_limit": 0.02,
        "relief_density": 2.5,
        "mix_ratio": 2,
        "cup_loss": 0.5,
        "syringe_division": 0.2,
        "resin_density": 1.2,
        "hardener_density": 0.95,
        "soak": 0.4,
        "least_mix": 6,
        "lathe_speed": 150,
        "hand_time": 240,
        "rate": 40,
        "other_materials": 12,
        "currency": "€",
    },
    "blank": {"mass": 96, "balance": 812.8, "reel_seat": 254},
    "finish": {"work_time": 20, "recoat_time": 12, "cure_time": 72},
}


def full(name: str = "half-scale") -> dict[str, Any]:
    """A sample with every field of the bench."""
    document = document_of(samples.load(name))
    for table, fields in FULL.items():
        document.setdefault(table, {}).update(fields)
    cover = next(one for one in document["layers"] if one["kind"] == "cover")
    cover["wound"] = {"turns": 20, "over": 3.1}
    return document


def test_every_field_is_read_and_kept() -> None:
    design = design_from(full())
    assert document_of(design) == full()
    assert document_of(parse(document_text(full()))) == full()
    assert set(FULL["bench"]) == set(BenchSpec.model_fields)
    assert not any(design.bench.invented(field) for field in BenchSpec.model_fields)
    assert all(BenchSpec().invented(field) for field in BenchSpec.model_fields)


def test_lengths_are_in_the_units_of_the_file() -> None:
    # 1 in = 25.4 mm; grams, minutes and millilitres are the same everywhere.
    inches = document_of(samples.load("two-start-band"))
    inches["bench"] = {"roll_width": 2, "strip_tail": 1, "cup_loss": 0.5}
    inches["blank"] |= {"mass": 96, "balance": 32, "reel_seat": 10}
    design = design_from(inches)
    assert design.bench.roll_width == pytest.approx(50.8)
    assert design.bench.strip_tail == pytest.approx(25.4)
    assert design.bench.cup_loss == 0.5
    assert (design.blank.mass, design.blank.balance) == (96, pytest.approx(812.8))
    assert document_of(design)["bench"] == inches["bench"]


def test_a_design_without_a_bench_is_what_it_was() -> None:
    design = samples.load("half-scale")
    assert "bench" not in document_of(design.without_variants()) or design.bench != BenchSpec()
    document = document_of(design)
    document.pop("bench", None)
    bare = design_from(document)
    assert bare.bench == BenchSpec()
    defaults = {**document, "bench": {}}
    assert design_hash(design_from(defaults)) == design_hash(bare)


def test_variants_may_change_it() -> None:
    changed = with_changes(samples.load("half-scale"), {"bench.rate": 25, "cover.unevenness": 0})
    assert changed.bench.rate == 25


def put(*path: str | int, value: object) -> Callable[[dict[str, Any]], None]:
    def change(document: dict[str, Any]) -> None:
        here: Any = document
        for key in path[:-1]:
            here = here[key]
        here[path[-1]] = value

    return change


REFUSED = {
    "no table": (put("bench", value=3), "bench", "3 is not a table"),
    "misspelt": (put("bench", "rol_width", value=3), "bench.rol_width", "did you mean roll_width"),
    "no number": (put("bench", "waste", value="5 %"), "bench.waste", '"5 %" is not a number'),
    "waste in per cent": (put("bench", "waste", value=5), "bench.waste", "0.05 for 5 %"),
    "no roll": (put("bench", "roll_width", value=0), "bench.roll_width", "between 1 and 5000 mm"),
    "backwards": (put("bench", "lathe_speed", value=-5), "bench.lathe_speed", "turns a minute"),
    "no hardener": (put("bench", "mix_ratio", value=0), "bench.mix_ratio", "parts of resin"),
    "nan": (put("bench", "rate", value=float("nan")), "bench.rate", "is not a number"),
    "infinite": (put("bench", "hand_time", value=float("inf")), "bench.hand_time", "100000 min"),
    "true": (put("bench", "cup_loss", value=True), "bench.cup_loss", "true is not a number"),
    "a long currency": (put("bench", "currency", value="x" * 13), "bench.currency", "13 character"),
    "weightless": (put("blank", "mass", value=0), "blank.mass", "what the blank weighs"),
    "too early": (put("finish", "work_time", value=0), "finish.work_time", "product's own sheet"),
    "no strip": (put("layers", 1, "wound", value=[]), "cover.wound", "is not a table"),
    "a lone turn": (
        put("layers", 1, "wound", value={"turns": 1, "over": 0.2}),
        "cover.wound.turns",
        "number of turns",
    ),
    "no length": (
        put("layers", 1, "wound", value={"turns": 20}),
        "cover.wound.over",
        "is missing; give the length of blank that they take",
    ),
    "a rope": (
        put("layers", 1, "wound", value={"turns": 2, "over": 200}),
        "cover.wound.over",
        "2 turns in 200 mm are 100 mm a turn",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_mistake_gets_one_sentence(case: str) -> None:
    change, field, words = REFUSED[case]
    document = full()
    change(document)
    with pytest.raises(DesignProblem) as caught:
        design_from(document)
    assert caught.value.field == field
    assert words in str(caught.value)
    assert str(caught.value).endswith((".", "?"))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"mass": 96}, "mass is given without balance"),
        ({"balance": 800}, "balance is given without mass"),
        ({"reel_seat": 200}, "reel_seat is given without mass and balance"),
        ({"reel_seat": 200, "mass": 96}, "mass is given without balance"),
    ],
)
def test_swing_takes_mass_and_balance(given: dict[str, float], words: str) -> None:
    document = document_of(samples.load("half-scale"))
    document["blank"].update(given)
    with pytest.raises(DesignProblem, match=words):
        design_from(document)
