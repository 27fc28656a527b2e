"""The option of the ground, and that of the card's colour beside it."""

from pathlib import Path

import pytest

from render.cli.arguments import DesignOptions, ViewOptions, read_subject
from render.common.problems import RequestProblem
from scenes.files import samples
from scenes.parts.view import Ground

GIVEN = DesignOptions()


def ground_of(file: str, options: ViewOptions) -> Ground:
    return read_subject(file, GIVEN, options).design.light.ground


def test_a_ground_is_chosen() -> None:
    assert ground_of("sample:half-scale", ViewOptions()) is Ground.CARD
    assert ground_of("sample:half-scale", ViewOptions(ground="Linen")) is Ground.LINEN


def test_a_colour_of_card_brings_the_card_back(tmp_path: Path) -> None:
    file = tmp_path / "slate.toml"
    slate = samples.text("half-scale").replace("[light]", '[light]\nground = "slate"', 1)
    file.write_text(slate, encoding="utf-8")
    assert ground_of(str(file), ViewOptions()) is Ground.SLATE
    assert ground_of(str(file), ViewOptions(backdrop="light")) is Ground.CARD


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (ViewOptions(ground="marble"), ["marble", "card", "workbench", "slate", "linen"]),
        (ViewOptions(ground="linen", backdrop="light"), ["linen", "--backdrop", "keep one"]),
    ],
)
def test_what_cannot_be_is_refused(options: ViewOptions, words: list[str]) -> None:
    with pytest.raises(RequestProblem) as told:
        ground_of("sample:half-scale", options)
    assert str(told.value).startswith("ground: ")
    for word in words:
        assert word in str(told.value)
