"""The chart commands: what they write, and what they refuse without writing anything."""

import numpy as np
import pytest
from PIL import Image

from render.cli import main as cli
from scenes.files import samples, storage


@pytest.fixture
def chart(tmp_path):
    """A chart of 3 by 2: red, green and clear over three blue."""
    pixels = np.zeros((2, 3, 4), np.uint8)
    pixels[0, 0], pixels[0, 1] = (224, 38, 58, 255), (0, 128, 0, 255)
    pixels[1] = (0, 0, 255, 255)
    path = tmp_path / "chart.png"
    Image.fromarray(pixels).save(path)
    return path


def ran(*words) -> int:
    return cli.main(["chart", *map(str, words)])


def pixels_of(path):
    with Image.open(path) as image:
        assert image.mode == "RGBA"
        return np.asarray(image)


def test_mirror_turn_and_repeat(chart, tmp_path) -> None:
    out = tmp_path / "out.png"
    before = pixels_of(chart)
    assert ran("mirror", chart, "-o", out) == 0
    assert np.array_equal(pixels_of(out), before[:, ::-1])
    assert ran("mirror", chart, "-o", out, "--upright") == 0
    assert np.array_equal(pixels_of(out), before[::-1])
    assert ran("turn", chart, "-o", out) == 0
    assert np.array_equal(pixels_of(out), np.rot90(before))
    assert ran("repeat", chart, "-o", out, "--up", 2, "--beside", 3) == 0
    assert np.array_equal(pixels_of(out), np.tile(before, (2, 3, 1)))


def test_recolour(chart, tmp_path, capsys) -> None:
    out = tmp_path / "out.png"
    assert ran("recolour", chart, "#0000ff=Gorse Gold A", "008000=warp", "-o", out) == 0
    made = pixels_of(out)
    assert made[1, 0].tolist() == [0xF0, 0xB4, 0x29, 255]
    assert made[0, 1, 3] == 0
    assert made[0, 0].tolist() == [224, 38, 58, 255]
    assert '{ colour = "#f0b429", thread = "Gorse Gold A" },' in capsys.readouterr().out
    assert ran("recolour", chart, "-o", out, "--kind", "metallic") == 0
    assert pixels_of(out)[0, 0].tolist() == [224, 38, 58, 255]


def test_what_import_says_goes_into_a_design(tmp_path, capsys) -> None:
    """A picture to a chart, its lines pasted into a sample: the panel can be woven."""
    picture = tmp_path / "picture.png"
    rng = np.random.default_rng(3)
    Image.fromarray(rng.integers(0, 256, (30, 40, 3), np.uint8)).save(picture)
    out = tmp_path / "mine.png"
    assert ran("import", picture, "-o", out, "--columns", 20, "--threads", 3) == 0
    assert pixels_of(out).shape == (15, 20, 4)
    said = capsys.readouterr().out
    text = samples.text("vine-band")
    start, end = text.index("colours = ["), text.index("edge = [")
    pasted = text[:start] + said[said.index("colours = [") :] + text[end:]
    pasted = pasted.replace("vine.png", "mine.png")
    file = tmp_path / "rod.toml"
    file.write_text(pasted)
    assert storage.load(file).layers[-1].chart == "mine.png"
    assert cli.main(["check", str(file)]) == 0
    assert "woven: warp threads  20" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "printed"),
    [
        (["mirror", "gone.png"], "is not there; give a PNG file"),
        (["mirror", "."], "is a folder; give a PNG file"),
        (["mirror", "bad.png"], "no PNG picture"),
        (["repeat", "chart.png", "--up", "900"], "up: 900 times 2 is not between 1 and 400"),
        (["repeat", "chart.png", "--beside", "0"], "beside: 0 times 3"),
        (["recolour", "chart.png", "red"], "not a colour and a thread"),
        (["recolour", "chart.png", "#123456=warp"], '"#123456" is not in the chart; give'),
        (["recolour", "chart.png", "#0000ff=Nobody's"], "no thread"),
        (["recolour", "chart.png", "--kind", "wool"], "kind: .wool. is not a kind"),
        (["import", "chart.png", "--columns", "0"], "columns: 0 is not between 1 and 400"),
        (["import", "chart.png", "--columns", "4", "--threads", "99"], "threads: 99"),
        (["import", "gone.jpg", "--columns", "4"], "is not there; give a JPEG, PNG or WebP"),
    ],
)
def test_what_is_refused(chart, tmp_path, monkeypatch, capsys, words, printed) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bad.png").write_bytes(b"nothing of the kind")
    assert ran(*words, "-o", "out.png") == 2
    sentence = capsys.readouterr().err
    assert printed.replace(".wool.", '"wool"') in sentence
    assert sentence.count("\n") == 1
    assert not (tmp_path / "out.png").exists()


def test_only_png_files_are_written(chart, tmp_path) -> None:
    assert ran("mirror", chart, "-o", tmp_path / "out.jpg") == 2
