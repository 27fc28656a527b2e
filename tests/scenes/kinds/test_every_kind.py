"""One battery for every kind of layer in the registry: model, builder, bench, words, card."""

import ast
import inspect
import math
from pathlib import Path

import numpy as np
import pytest

from geometry.errors import GeometryError
from geometry.grid import Detail
from materials.shelf import Shelf
from render.page.cards.form import cards_of
from scenes.building.build import Plan, Wrap, build
from scenes.design.differences import differences
from scenes.design.document import Design, with_changes
from scenes.design.layers import KINDS, kind_of
from scenes.editing.layer_defaults import added
from scenes.files import samples
from scenes.files.companion_files import SHIPPED
from scenes.kinds.kind import Kind
from scenes.parts.layer import EdgeModel, ReliefModel
from scenes.problems import DesignProblem
from scenes.quantities import Units
from tests.kept import kept

ROOT = Path(__file__).resolve().parents[3]
SHELF = Shelf.shipped()

every_kind = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)


def of_kind(kind: Kind) -> Design:
    """A short design with a layer of the kind, from the first sample that can be so short."""
    return _designs()[kind.name]


@kept
def _designs() -> dict[str, Design]:
    return {kind.name: _short(kind) for kind in KINDS}


def _short(kind: Kind) -> Design:
    for name in samples.names():
        design = samples.load(name).without_variants()
        if kind not in [kind_of(layer) for layer in design.layers]:
            continue
        middle, unit = design.placement.middle / design.units.in_mm, design.units.in_mm
        short = {"placement.from": middle - 25 / unit, "placement.to": middle + 25 / unit}
        for changes in (short, {}):
            try:
                made = with_changes(design, {**changes, "finish.coats": 1})
                Plan(made, SHELF).prepare()
            except (DesignProblem, GeometryError):
                continue
            return made
    raise AssertionError(f"no sample has a {kind.name}")


def wrap_of(kind: Kind) -> Wrap:
    return _wrap_of(kind.name)


@kept
def _wrap_of(name: str) -> Wrap:
    return build(Plan(_designs()[name], SHELF), Detail.DRAFT)


def builder_of(kind: Kind, wrap: Wrap):
    return next(one for one in wrap.plan.builders if isinstance(one, kind.builder))


def test_every_folder_of_a_kind_is_registered():
    folders = {file.parent.name for file in (ROOT / "scenes/kinds").glob("*/model.py")}
    assert {kind.model.__module__.split(".")[2] for kind in KINDS} == folders
    assert len({kind.name for kind in KINDS}) == len(KINDS)


@every_kind
def test_it_is_put_together_from_files_of_fixed_names(kind):
    folder = Path(inspect.getfile(kind.model)).parent
    assert (folder / "kind.py").is_file()
    for part, file in {
        kind.model: "model.py",
        kind.builder: "builder.py",
        kind.entries: "bench.py",
        kind.lines: "lines.py",
        kind.defaults: "defaults.py",
        kind.summary: "summary.py",
    }.items():
        assert Path(inspect.getfile(part)) == folder / file
    for part, file in {"words": "words.py", "numbers": "numbers.py"}.items():
        given = {word.arg for word in _keywords(folder / "kind.py")}
        assert (part in given) == (folder / file).is_file()


def _keywords(file: Path) -> list[ast.keyword]:
    calls = [node for node in ast.walk(ast.parse(file.read_text())) if isinstance(node, ast.Call)]
    return next(call.keywords for call in calls if ast.unparse(call.func) == "Kind")


@every_kind
def test_its_model_says_what_it_is(kind):
    assert inspect.getdoc(kind.model).endswith(".")
    fields = set(kind.model.model_fields)
    assert set(kind.words) <= fields
    assert set(kind.headline) <= fields
    numbers = kind.numbers
    assert {one.field for one in (*numbers.continuous, *numbers.discrete)} <= fields


@every_kind
def test_it_closes_round_the_blank(kind):
    wrap = wrap_of(kind)
    surface = wrap.surface
    assert np.isfinite(surface.radius).all()
    # The columns run once round: what lies between the last and the first is no wider a step
    # than what lies between any other two.
    steps = np.abs(np.diff(surface.radius, axis=1, append=surface.radius[:, :1]))
    assert steps[:, -1].max() <= max(steps[:, :-1].max(), 1e-9)
    assert surface.theta[-1] + (surface.theta[1] - surface.theta[0]) == pytest.approx(
        surface.theta[0] + 2 * math.pi
    )


@every_kind
def test_it_brings_something_to_the_bench(kind):
    wrap = wrap_of(kind)
    builder = builder_of(kind, wrap)
    uses = wrap.thread_uses[wrap.plan.builders.index(builder)]()
    brought = kind.entries(builder, uses, wrap)
    assert brought.steps
    assert all(step.title and step.work.words for step in brought.steps)
    assert {use.thread.name for use in uses} <= {need.thread.name for need in brought.threads}
    assert list(kind.lines(builder))


@every_kind
@pytest.mark.parametrize("base", ["an empty design", "half-scale", "ringed-guide", "heron-plate"])
def test_a_new_one_is_right_in_a_design(kind, base):
    if base == "an empty design":
        design = samples.load("heron-plate").without_variants()
        design = design.model_copy(update={"layers": design.layers[:1]})
    else:
        design = samples.load(base).without_variants()
    if issubclass(kind.model, EdgeModel) and design.relief is None:
        with pytest.raises(DesignProblem, match="no edge"):
            added(design, kind.name, SHELF, SHIPPED)
        return
    made = added(design, kind.name, SHELF, SHIPPED)
    new = [one for one in made.layers if one not in design.layers and isinstance(one, kind.model)]
    assert new
    if issubclass(kind.model, ReliefModel):
        assert made.cover_over(new[0]) is not None
    # A label tells the two apart, in plain words.
    apart = differences(design, made)
    assert apart
    assert all(words.strip() and "None" not in words for words in apart)


@pytest.mark.parametrize("units", list(Units))
def test_every_layer_of_every_sample_has_a_summary(units):
    """A layer need not give the fields that most of its kind give."""
    for name in samples.names():
        for layer in samples.load(name).layers:
            values = list(kind_of(layer).summary(layer, units))
            assert values, f"{layer.kind} of {name}"
            assert all(value.strip() and "None" not in value for value in values)


@every_kind
@pytest.mark.parametrize("units", list(Units))
def test_its_card_has_every_field(kind, units):
    design = of_kind(kind)
    index = next(i for i, one in enumerate(design.layers) if kind_of(one) is kind)
    card = next(one for one in cards_of(design, units) if one["id"] == f"layers.{index}")
    assert card["kind"] == kind.name
    shown = {field["path"].rpartition(".")[2] for field in card["fields"]}
    for field in card["fields"]:
        assert field["label"]
        shown |= {one["path"].rpartition(".")[2] for one in field.get("instead", ())}
    assert card["summary"]
    model, layer = kind.model, design.layers[index]
    for name, info in model.model_fields.items():
        if name in ("kind", "name"):
            continue
        # A field that what is given leaves without a meaning is not shown.
        pointless = not getattr(layer, name) and any(
            name in model.rivals(one) for one in layer.model_fields_set
        )
        assert (info.alias or name) in shown or pointless
