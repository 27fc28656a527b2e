"""The option of the exposure, and the exposure that a design has worked out."""

from pathlib import Path

from render.cli.arguments import DesignOptions, ViewOptions, read_subject
from scenes.files import samples


def test_a_number_takes_the_place_of_an_exposure_that_is_worked_out(tmp_path: Path) -> None:
    file = tmp_path / "held.toml"
    held = samples.text("half-scale").replace("[light]", "[light]\nhold_highlights = true", 1)
    file.write_text(held, encoding="utf-8")
    given = DesignOptions()
    assert read_subject(str(file), given).design.light.hold_highlights
    light = read_subject(str(file), given, ViewOptions(exposure=-0.5)).design.light
    assert (light.exposure, light.hold_highlights) == (-0.5, False)
