"""Sizes of pictures that are given by their shape."""

import pytest

from render.common.problems import RequestProblem
from render.request.options import choice, size_of
from render.request.shapes import Shape, resolution_of, shape_size


def test_paper_is_printed_at_300_pixels_to_an_inch() -> None:
    # ISO 216: A4 is 210 by 297 mm; an inch is 25.4 mm.
    assert size_of("A4") == (round(297 / 25.4 * 300), round(210 / 25.4 * 300))
    assert size_of("a4-upright") == size_of("A4")[::-1]
    assert resolution_of(size_of("a4-upright")) == resolution_of(size_of("A4")) == 300
    assert resolution_of(size_of("16:9")) is None


@pytest.mark.parametrize("shape", [shape for shape in Shape if ":" in shape.value])
def test_a_shape_has_its_proportions(shape: Shape) -> None:
    across, up = map(int, shape.value.split(":"))
    for short in (360, 540, 1080):
        width, height = shape_size(shape, short)
        assert min(width, height) == short
        assert width % 2 == height % 2 == 0
        # A side is rounded to an even number of pixels.
        assert abs(width * up - height * across) <= max(across, up)


def test_what_is_neither_a_size_nor_a_shape_is_refused() -> None:
    with pytest.raises(RequestProblem, match="1280x720, or a shape: 16:9, 1:1, 4:5, 9:16, A4 or"):
        size_of("3:2")
    with pytest.raises(RequestProblem, match='"-4:5" is not a size'):
        size_of("-4:5")


@pytest.mark.parametrize(("option", "words"), [("engine", "an engine"), ("light", "a light")])
def test_what_is_no_choice_is_refused_with_the_right_article(option: str, words: str) -> None:
    with pytest.raises(RequestProblem, match=f'"nowhere" is not {words}; '):
        choice(option, "nowhere", Shape)
