"""Charts of pictures on the page: pixels and threads are those that are asked for."""

import base64
import io
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from materials.shelf import Shelf, ShelfProblem
from render.cli import main as cli
from render.common.problems import RequestProblem
from render.editor.desk import Desk
from render.page.charts.charts import chart_of
from scenes.files import samples

SHELF = Shelf.shipped()
RED, BLUE, WHITE = (
    next(thread for thread in SHELF.threads if thread.name.startswith(name) and thread.size == "A")
    for name in ("Rowan Red", "Sloe", "Heron Silver")
)
NAME = Path("flag.png")


def colour_of(text: str) -> tuple[int, int, int, int]:
    red, green, blue = bytes.fromhex(text.removeprefix("#"))
    return red, green, blue, 255


def flag() -> bytes:
    """A picture of 40 by 20: upper left red, upper right blue, the lower half white."""
    pixels = np.empty((20, 40, 4), np.uint8)
    pixels[:10, :20], pixels[:10, 20:] = colour_of(RED.colour), colour_of(BLUE.colour)
    pixels[10:] = colour_of(WHITE.colour)
    data = io.BytesIO()
    Image.fromarray(pixels).save(data, "PNG")
    return data.getvalue()


def asked(**changed: str) -> dict[str, str]:
    return {"columns": "4", "rows": "", "turns": "0", "count": "3", **changed}


def png_of(made: dict[str, object]) -> bytes:
    lead, _, text = str(made["picture"]).partition(",")
    assert lead == "data:image/png;base64"
    return base64.b64decode(text)


def chart(**changed: str) -> NDArray[np.uint8]:
    with Image.open(io.BytesIO(png_of(chart_of(flag(), NAME, asked(**changed), SHELF)))) as image:
        return np.asarray(image)


STANDING = np.array(
    [[colour_of(RED.colour)] * 2 + [colour_of(BLUE.colour)] * 2, [colour_of(WHITE.colour)] * 4],
    np.uint8,
)


def test_the_picture_is_kept_in_shape_turned_and_mirrored() -> None:
    assert np.array_equal(chart(), STANDING)
    assert np.array_equal(chart(columns="2", turns="1"), np.rot90(STANDING))
    assert np.array_equal(chart(mirror="1"), STANDING[:, ::-1])
    assert np.array_equal(chart(upright="1"), STANDING[::-1])
    assert np.array_equal(chart(rows="4"), STANDING.repeat(2, axis=0))


def test_only_threads_that_are_chosen_are_used() -> None:
    made = chart_of(flag(), NAME, asked(threads=f"{RED.name}\n{WHITE.name}"), SHELF)
    assert {one["name"] for one in made["threads"]} == {RED.name, WHITE.name}
    few = chart_of(flag(), NAME, asked(count="1", size="A"), SHELF)
    assert len(few["threads"]) == 1


def test_the_page_makes_what_the_command_makes(tmp_path: Path) -> None:
    picture, out = tmp_path / "flag.png", tmp_path / "chart.png"
    picture.write_bytes(flag())
    words = ("--columns", "4", "--threads", "3", "-o", str(out))
    assert cli.main(["chart", "import", str(picture), *words]) == 0
    with Image.open(out) as image:
        assert np.array_equal(np.asarray(image), chart())


def test_the_design_weaves_it_in_the_threads_that_were_shown(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(samples.text("heron-plate"), encoding="utf-8")
    desk = Desk.open(str(file))
    desk.add_layer("woven panel")
    (panel,) = (layer for layer in desk.design.layers if layer.kind == "woven panel")
    made = chart_of(flag(), NAME, asked(size="A"), SHELF)
    desk.import_file(f"{desk.design.path_of(panel)}.chart", "flag-chart.png", png_of(made))
    (panel,) = (layer for layer in desk.design.layers if layer.kind == "woven panel")
    shown = {one["name"]: one["colour"] for one in made["threads"]}
    assert {entry.thread: entry.colour for entry in panel.colours} == shown


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"columns": "many"}, 'columns: "many" is not a whole number from 1 to '),
        ({"columns": "0"}, 'columns: "0" is not'),
        ({"count": "13"}, 'count: "13" is not a whole number from 1 to 12'),
        ({"turns": "-1"}, 'turns: "-1" is not'),
        ({"rows": "9" * 40}, "rows: "),
        ({"columns": "400", "turns": "1"}, "400 columns make 800 rows of this picture"),
    ],
)
def test_what_cannot_be_made_gets_one_sentence(changed: dict[str, str], sentence: str) -> None:
    with pytest.raises(RequestProblem) as caught:
        chart_of(flag(), NAME, asked(**changed), SHELF)
    assert str(caught.value).startswith(sentence)


def test_what_is_no_picture_or_no_thread_is_refused() -> None:
    with pytest.raises(RequestProblem):
        chart_of(b"no picture", NAME, asked(), SHELF)
    with pytest.raises(ShelfProblem):
        chart_of(flag(), NAME, asked(threads="Nobody's Thread A"), SHELF)
