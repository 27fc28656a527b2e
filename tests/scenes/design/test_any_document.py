"""Whatever stands in a document, it is a design or it is refused in one sentence."""

import copy
import math
from collections.abc import Callable
from typing import Any, TypeVar

import hypothesis.strategies as st
from hypothesis import HealthCheck, given, settings

from scenes.design.differences import labels
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.variants import design_hash, sweep, variants
from scenes.files import samples
from scenes.files.storage import parse
from scenes.files.toml_writing import document_text
from scenes.problems import DesignProblem

Made = TypeVar("Made")

BOUNDED = settings(
    derandomize=True,
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def with_bench(document: dict[str, Any]) -> dict[str, Any]:
    """Add what has no default: the blank's weight, the product's times, a test strip."""
    document["blank"] |= {"mass": 96.0, "balance": 30.0, "reel_seat": 10.0}
    document["finish"] |= {"work_time": 20.0, "recoat_time": 12.0, "cure_time": 72.0}
    document["bench"] |= {"hand_time": 240.0, "rate": 40.0, "other_materials": 12.0}
    for layer in document["layers"]:
        if layer["kind"] == "cover":
            layer["wound"] = {"turns": 20, "over": 0.12 if document["units"] == "in" else 3.1}
    return document


DOCUMENTS = [with_bench(document_of(samples.load(name), defaults=True)) for name in samples.names()]

WEIRD = st.one_of(
    st.none(),
    st.booleans(),
    st.sampled_from([0, -1, 1, 10**30, 10**400, -(10**5000), 0.0, -0.0, 1e-300, 1e300, 5e-324]),
    st.sampled_from([math.nan, math.inf, -math.inf]),
    st.integers(),
    st.floats(),
    st.text(max_size=20),
    st.sampled_from(["mm", "in", "left", "cover", "mesh strip", "relief.gap", "x" * 100_000]),
    st.binary(max_size=8),
    st.recursive(
        st.one_of(st.floats(), st.text(max_size=3)),
        lambda inner: st.one_of(
            st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=3)
        ),
        max_leaves=6,
    ),
)

NEARBY = st.one_of(
    st.floats(0, 700), st.integers(0, 700), st.floats(0, 2), st.integers(0, 10), st.floats(0, 90)
)


def places(document: Any, above: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """List where something stands, at every depth."""
    keys: Any = ()
    if isinstance(document, dict):
        keys = document.keys()
    elif isinstance(document, list):
        keys = range(len(document))
    found = [(*above, key) for key in keys]
    return found + [one for key in keys for one in places(document[key], (*above, key))]


def made_or_refused(make: Callable[[], Made]) -> Made | None:
    """Make something; if it is refused, see that the refusal is one clear sentence."""
    try:
        return make()
    except DesignProblem as problem:
        refused = problem
    sentence = str(refused)
    assert sentence.isprintable()
    assert sentence.endswith((".", "?"))
    assert 15 < len(sentence) < 700
    assert refused.field.isprintable()
    return None


def usable(design: Design) -> None:
    """See that all that is made from an accepted design can be made."""
    assert design_hash(design_from(document_of(design))) == design_hash(design)
    made = [one for _, one in variants(design)]
    assert len(labels(made)) == len(made)
    assert all(warning.isprintable() for warning in design.warnings)
    radius = design.blank.measured().radius(design.placement.middle)
    assert math.isfinite(radius)
    assert radius > 0


@st.composite
def changed_documents(draw: st.DrawFn, values: st.SearchStrategy[Any]) -> Any:
    document = copy.deepcopy(draw(st.sampled_from(DOCUMENTS)))
    for _ in range(draw(st.integers(1, 3))):
        listed = places(document)
        if not listed:
            break
        *above, last = draw(st.sampled_from(listed))
        here = document
        for key in above:
            here = here[key]
        how = draw(st.sampled_from(["set", "set", "set", "drop", "rename", "repeat"]))
        if how == "set":
            here[last] = draw(values)
        elif how == "drop":
            del here[last]
        elif isinstance(here, dict):
            here[draw(st.text(max_size=12))] = here[last] if how == "repeat" else here.pop(last)
        else:
            here.insert(draw(st.integers(0, len(here))), copy.deepcopy(here[last]))
    return document


def test_what_is_spoilt_was_a_design() -> None:
    for document in DOCUMENTS:
        usable(design_from(document))


@BOUNDED
@given(changed_documents(WEIRD))
def test_a_spoilt_document_is_read_or_refused(document: Any) -> None:
    design = made_or_refused(lambda: design_from(document))
    if design is not None:
        usable(design)


@BOUNDED
@given(changed_documents(NEARBY))
def test_a_document_with_other_numbers_is_read_or_refused(document: Any) -> None:
    design = made_or_refused(lambda: design_from(document))
    if design is not None:
        usable(design)
        document = document_of(design)
        assert document_of(parse(document_text(document))) == document


@BOUNDED
@given(st.dictionaries(st.sampled_from([*DOCUMENTS[0], "x"]), WEIRD))
def test_any_tables_are_read_or_refused(document: Any) -> None:
    made_or_refused(lambda: design_from(document))


@BOUNDED
@given(st.text(max_size=200))
def test_any_text_is_refused(text: str) -> None:
    assert made_or_refused(lambda: parse(text)) is None


@BOUNDED
@given(
    st.sampled_from(samples.names()),
    st.one_of(
        st.text(max_size=20),
        st.sampled_from(
            ["relief", "cover", "trim", "crossed", "finish", "layers.0", "blank.fitted"]
        ).flatmap(
            lambda first: st.sampled_from([first, f"{first}.gap", f"{first}.0", f"{first}.thread"])
        ),
    ),
    WEIRD,
)
def test_any_change_is_made_or_refused(name: str, path: str, value: Any) -> None:
    design = made_or_refused(lambda: with_changes(samples.load(name), {path: value}))
    if design is not None:
        usable(design)


@BOUNDED
@given(st.sampled_from(["relief.gap=", "trim.threads=", "cover.thread=", ""]), st.text(max_size=30))
def test_any_sweep_is_made_or_refused(start: str, rest: str) -> None:
    made = made_or_refused(lambda: sweep(samples.load("half-scale"), start + rest))
    assert made is None or made
