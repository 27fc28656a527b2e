"""Wraps added to a rod where there is room for them, renamed and removed."""

import itertools
from collections.abc import Callable

import pytest

from scenes.design.checks import laid_span
from scenes.design.document import Design, design_from, document_of
from scenes.design.rod import LEAST_BETWEEN, at_wrap, other_wraps, wrap_names
from scenes.editing.list_edits import moved
from scenes.editing.list_edits import removed as entry_removed
from scenes.editing.wrap_edits import added, removed, renamed
from scenes.files.storage import parse
from scenes.problems import DesignProblem
from tests.scenes.design.test_rod import BASE, FURTHER, with_third

GRIP = (210.0, 318.0)
BLANK = (200.0, 590.0)


def spans(design: Design) -> list[tuple[float, float]]:
    return sorted(laid_span(rod) for rod in (design, *other_wraps(design)))


def test_a_copy_stands_at_the_next_free_place_towards_the_tip() -> None:
    made = added(parse(BASE), "first wrap")
    copy = made.wraps[0]
    assert wrap_names(made) == ("first wrap", "wrap 2")
    # The wrap is laid from 326 to 378 mm; 7 mm are left between, and its cover shows 2 mm.
    assert (copy.placement.start, copy.placement.end) == (387, 435)
    assert copy.layers == made.layers
    assert copy.finish is None
    assert copy.variants == ()


def filled(design: Design, name: str) -> tuple[Design, str]:
    """Add copies of a wrap until one is refused; also say how."""
    for _ in range(20):
        try:
            design = added(design, name)
        except DesignProblem as problem:
            return design, str(problem)
    raise AssertionError(design.wraps)


def test_copies_are_added_until_the_blank_is_full() -> None:
    design, refused = filled(parse(BASE + FURTHER), "fore wrap")
    assert len(design.wraps) >= 3
    found = spans(design)
    assert all(b[0] - a[1] >= LEAST_BETWEEN - 1e-6 for a, b in itertools.pairwise(found))
    assert all(end <= GRIP[0] or start >= GRIP[1] for start, end in found)
    assert found[0][0] >= BLANK[0]
    assert found[-1][1] <= BLANK[1]
    assert refused.startswith('the blank has no free place for a copy of "fore wrap"')
    # The last one is shorter than what it is a copy of.
    assert design.wraps[-1].placement.length < design.wraps[0].placement.length


def test_a_copy_takes_the_finish_of_its_wrap_along() -> None:
    made = added(with_third(), "fore wrap")
    assert made.wraps[-1].finish == made.wraps[0].finish
    assert made.wraps[-1].variants == ()


def test_the_first_is_removed_and_the_next_takes_its_place() -> None:
    left = removed(with_third(), "first wrap")
    assert wrap_names(left) == ("fore wrap", "tip wrap")
    assert {name: at_wrap(left, name).finish.coats for name in wrap_names(left)} == {
        "fore wrap": 1,
        "tip wrap": 3,
    }
    left = removed(with_third(), "fore wrap")
    assert wrap_names(left) == ("first wrap", "tip wrap")
    assert left.finish.coats == 3


def test_the_only_wrap_stays() -> None:
    with pytest.raises(DesignProblem, match="is the only wrap of the rod"):
        removed(parse(BASE), "first wrap")
    one = removed(removed(with_third(), "tip wrap"), "fore wrap")
    assert "wraps" not in document_of(one)
    assert design_from(document_of(one)) == one


def test_a_name_in_use_is_refused() -> None:
    with pytest.raises(DesignProblem, match='"tip wrap" is used twice'):
        renamed(with_third(), "tip wrap")
    assert wrap_names(renamed(with_third(), " grip wrap "))[0] == "grip wrap"
    with pytest.raises(DesignProblem, match="wrap_name"):
        renamed(with_third(), " ")


def with_variants_into_other_wraps() -> Design:
    """A rod of three wraps; variants of the first and of the last change the one between."""
    document = document_of(with_third())
    paths = {"wraps.0.placement.to": 465, "wraps.tip wrap.placement.to": 518}
    document["variants"] = [
        {"name": "both", "changes": paths},
        {"name": "tip", "changes": {"wraps.1.layers.0.thread": "Deepwater Navy A"}},
    ]
    # Seen from the last wrap, the fore wrap is in its own place and the first in that of the last.
    document["wraps"][1]["variants"] = [
        {"name": "fore", "changes": {"wraps.0.placement.to": 460}},
        {"name": "first", "changes": {"wraps.1.placement.to": 370}},
    ]
    return design_from(document)


def changes_of(design: Design, name: str) -> dict[str, dict[str, object]]:
    return {variant.name: variant.changes for variant in at_wrap(design, name).variants}


def test_variants_follow_a_wrap_whose_position_changes() -> None:
    rod = with_variants_into_other_wraps()
    assert not rod.variants_set_aside
    assert not at_wrap(rod, "tip wrap").variants_set_aside
    swapped = moved(rod, "wraps.0", 1)
    assert wrap_names(swapped) == ("first wrap", "tip wrap", "fore wrap")
    assert changes_of(swapped, "first wrap") == {
        "both": {"wraps.1.placement.to": 465, "wraps.tip wrap.placement.to": 518},
        "tip": {"wraps.0.layers.0.thread": "Deepwater Navy A"},
    }
    assert changes_of(swapped, "tip wrap") == {
        "fore": {"wraps.1.placement.to": 460},
        "first": {"wraps.0.placement.to": 370},
    }
    assert document_of(moved(swapped, "wraps.0", 1)) == document_of(rod)


@pytest.mark.parametrize(
    "remove", [lambda rod: removed(rod, "fore wrap"), lambda rod: entry_removed(rod, "wraps.0")]
)
def test_a_variant_of_a_removed_wrap_is_set_aside_with_its_reason(
    remove: Callable[[Design], Design],
) -> None:
    left = remove(with_variants_into_other_wraps())
    assert changes_of(left, "first wrap")["tip"] == {"wraps.0.layers.0.thread": "Deepwater Navy A"}
    (name,) = left.variants_set_aside
    assert name == "both"
    assert 'there is no further wrap "fore wrap"' in left.variants_set_aside[name]
    tip = at_wrap(left, "tip wrap")
    assert list(tip.variants_set_aside) == ["fore"]
    assert changes_of(left, "tip wrap")["first"] == {"wraps.0.placement.to": 370}


def test_a_wrap_named_in_a_path_is_renamed_there_too() -> None:
    made = renamed(at_wrap(with_variants_into_other_wraps(), "tip wrap"), "top")
    assert changes_of(at_wrap(made, "first wrap"), "first wrap")["both"] == {
        "wraps.0.placement.to": 465,
        "wraps.top.placement.to": 518,
    }
    assert not at_wrap(made, "first wrap").variants_set_aside


def test_names_that_differ_in_capitals_alone_are_refused() -> None:
    with pytest.raises(DesignProblem, match='"tip wrap" differs from "Tip Wrap" in capitals alone'):
        renamed(at_wrap(with_third(), "fore wrap"), "Tip Wrap")
