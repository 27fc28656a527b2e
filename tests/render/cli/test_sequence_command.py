"""The command that spells a crossed pattern out."""

from pathlib import Path

import pytest

from render.cli.main import main
from scenes.files import samples, storage
from scenes.kinds.crossed.model import CrossedPattern


def test_a_pattern_is_spelled_out_with_its_comments(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    written = tmp_path / "own.toml"
    assert main(["sequence", "sample:open-diamonds", "-o", str(written)]) == 0
    said = capsys.readouterr().out
    # Two courses in the middle and four for each of 15 threads on a side, by the sample's list.
    assert "62 steps; variants set aside, because they do not fit it: reeds" in said
    design = storage.load(written)
    layer = next(one for one in design.layers if isinstance(one, CrossedPattern))
    assert layer.pattern is None
    assert len(layer.courses or ()) == 2 + 4 * 15
    assert "# an underwrap is a cover with nothing under it" in written.read_text("utf-8")
    assert [variant.name for variant in design.variants] == ["three round", "closer", "reeds"]


def test_what_cannot_be_spelled_out_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    written = tmp_path / "own.toml"
    assert main(["sequence", "sample:half-scale", "-o", str(written)]) == 2
    assert "no crossed pattern here is given in short" in capsys.readouterr().err
    assert not written.exists()
    written.write_text("mine", "utf-8")
    assert main(["sequence", "sample:open-diamonds", "-o", str(written)]) == 2
    assert written.read_text("utf-8") == "mine"


def test_a_design_is_not_spelled_out_over_itself(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # The pattern in short, with its few figures to change, would be lost for good.
    own = tmp_path / "own.toml"
    own.write_text(samples.text("open-diamonds"), "utf-8")
    assert main(["sequence", str(own), "-o", str(own)]) == 2
    assert capsys.readouterr().err.endswith('own.toml" is there already; give another name.\n')
    assert own.read_text("utf-8") == samples.text("open-diamonds")
