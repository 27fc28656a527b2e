"""Fonts of the system, by Fontconfig and by the folders where they lie."""

from pathlib import Path

import pytest

from scenes.artwork import faces
from scenes.artwork.faces import face_with, missing_in
from scenes.artwork.lettering import text_outline
from scenes.decoding.errors import DecodingError
from scenes.problems import DesignProblem
from tests.scenes.artwork.squares import font_of_squares

FIELDS = ("decal.text", "decal.font")


@pytest.fixture(params=["fontconfig", "folders"])
def fonts(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of fonts of the user's own, found in either way."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    if request.param == "folders":
        monkeypatch.setattr(faces, "_listed_by_fontconfig", lambda _: None)
    elif faces._listed_by_fontconfig("a") is None:
        pytest.skip("Fontconfig is not installed here")
    face_with.cache_clear()
    yield tmp_path / "fonts"
    face_with.cache_clear()


def test_a_font_of_the_system_has_what_the_shipped_one_lacks(fonts: Path) -> None:
    fonts.mkdir()
    (fonts / "squares.ttf").write_bytes(font_of_squares("巻き糸"))
    found = face_with("糸巻")
    assert found is not None
    assert missing_in(found, "糸巻x") == "x"
    # A square an em high beside a capital of DejaVu Sans, 0.729 em.
    made = text_outline("H巻き", None, "", FIELDS)
    assert made.height == pytest.approx(1 / 0.729, rel=2e-3)
    with pytest.raises(DesignProblem, match=r'^decal.text: neither DejaVu Sans nor .* has "絹"'):
        text_outline("絹巻き", None, "", FIELDS)


def test_a_broken_font_of_the_system_is_passed_over(fonts: Path) -> None:
    fonts.mkdir()
    (fonts / "a sans.ttf").write_bytes(b"\0\1\0\0" + bytes(5000))
    (fonts / "squares.ttf").write_bytes(font_of_squares("巻"))
    assert face_with("巻") is not None
    with pytest.raises(DecodingError):
        missing_in(faces.Face((fonts / "a sans.ttf").read_bytes()), "巻")


def test_letters_without_outlines_are_none(fonts: Path) -> None:
    fonts.mkdir()
    (fonts / "empty.ttf").write_bytes(font_of_squares("巻", empty=True))
    assert face_with("巻") is None
