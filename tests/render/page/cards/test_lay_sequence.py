"""A pattern that is written out on its card: laid as before, step by step."""

import pytest

from render.editor.desk import Desk
from render.page.cards import form
from render.page.cards.lay_sequence import mark_patterns, write_out
from scenes.problems import DesignProblem


def marked(desk: Desk) -> dict[str, bool]:
    cards = form.cards_of(desk.design, desk.design.units)
    mark_patterns(cards, desk.subject.plan())
    return {card["path"]: card["pattern"] for card in cards if card["layer"]}


def test_only_a_pattern_that_is_given_in_short_can_be_written_out() -> None:
    desk = Desk.open("sample:open-diamonds")
    (path,) = (path for path, pattern in marked(desk).items() if pattern)
    (before,) = (one.courses for one in desk.subject.plan().builders if one.path == path)
    write_out(desk, path)
    (after,) = (one for one in desk.subject.plan().builders if one.path == path)
    assert after.layer.pattern is None
    assert after.layer.courses == before
    assert after.courses == before
    assert not any(marked(desk).values())
    desk.undo()
    assert marked(desk)[path]


def test_variants_of_the_pattern_are_set_aside_by_name() -> None:
    desk = Desk.open("sample:filled-chevrons")
    (path,) = (path for path, pattern in marked(desk).items() if pattern)
    assert not desk.design.variants_set_aside
    aside = write_out(desk, path)
    # It changes how many threads are laid at once, which only a pattern says.
    assert "six at once" in aside
    assert aside == list(desk.design.variants_set_aside)


def test_a_layer_without_a_pattern_is_refused() -> None:
    with pytest.raises(DesignProblem):
        write_out(Desk.open("sample:half-scale"), "cover")
    with pytest.raises(DesignProblem):
        write_out(Desk.open("sample:open-diamonds"), "cover")
