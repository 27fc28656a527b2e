"""A thread's colour from a photograph on disk: how it is read, shown, put on the shelf, refused."""

import io
import os
import struct
import zlib
from pathlib import Path

import colour
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from materials.colour import linear_to_lab, parse_hex, srgb_to_linear
from materials.difference import delta_e_2000
from materials.lamps import Lamp
from materials.photographed import corrected, read_thread
from materials.shelf import Shelf
from render.cli import main as cli
from render.colour.colour_sheet import _corrected
from render.colour.photograph import read_photograph
from render.common.problems import RequestProblem

Captured = pytest.CaptureFixture[str]

THREAD, CARD = "20,30,60,40", "120,30,60,60"
LAMP = np.array([1.25, 0.95, 0.6])
"""A warm light, linear RGB."""
DYE = np.array([0.1, 0.35, 0.3])


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def pixels(light: NDArray[np.float64] = LAMP) -> NDArray[np.uint8]:
    """A spool on the left and a grey card on the right of a dark bench."""
    scene = np.full((120, 200, 3), 0.05)
    scene[25:75, 15:85] = DYE + 0.022  # with half the sheen of nylon
    scene[20:100, 110:190] = 0.18
    encoded = colour.models.eotf_inverse_sRGB(np.clip(scene * light, 0, 1))
    return np.rint(255 * encoded).astype(np.uint8)


def photo(name: str = "a.png", **how: object) -> str:
    Image.fromarray(pixels()).save(name, **how)  # type: ignore[arg-type]
    return name


def answer(capsys: Captured, *arguments: str) -> str:
    code = cli.main(["colour", *arguments])
    out, err = capsys.readouterr()
    assert (code, err) == (0, "")
    return out


def read_colour(out: str) -> NDArray[np.float64]:
    return linear_to_lab(srgb_to_linear(parse_hex(out.split(": ")[1][:7])))


def test_it_reads_the_colour_and_says_what_is_near(capsys: Captured) -> None:
    out = answer(capsys, photo(), "--thread", THREAD, "--card", CARD, "--name", "Home Teal")
    assert out.startswith("Home Teal: #")
    assert "as photographed #" in out
    assert "far from daylight" in out
    assert "nearest on the shelf: " in out
    assert delta_e_2000(read_colour(out), linear_to_lab(DYE)) < 4
    assert sorted(path.name for path in Path().iterdir()) == ["a.png"]


def test_the_lamp_makes_it_more_certain(capsys: Captured) -> None:
    where = photo(), "--thread", THREAD, "--card", CARD
    without_lamp, with_lamp = answer(capsys, *where), answer(capsys, *where, "--lamp", "led")
    within = [float(out.split("ΔE00 ")[1].split(";")[0]) for out in (without_lamp, with_lamp)]
    assert within[1] < within[0]
    assert "The kind of lamp is not given" in without_lamp
    assert "is not given" not in with_lamp
    assert "LED light is poor for judging colour" in with_lamp
    assert without_lamp[:20] != with_lamp[:20]
    daylight = answer(capsys, *where, "--lamp", "Daylight")
    assert daylight.split(",")[0] == without_lamp.split(",")[0]
    lamps = [answer(capsys, *where, "--lamp", "LED", "--kelvin", one) for one in ("2700", "6500")]
    assert lamps[0].split(",")[0] != lamps[1].split(",")[0]


def test_the_sheet_shows_every_colour_as_it_is_read() -> None:
    rng = np.random.default_rng(5)
    seen = pixels()
    seen[:20, :20] = rng.integers(20, 230, (20, 20, 3))
    reading = read_thread(
        seen[30:70, 20:80] / 255, seen[30:90, 120:180] / 255, lamp=Lamp.LED, kelvin=2700
    )
    after = _corrected(seen, reading)[:20, :20]
    light = srgb_to_linear(seen[:20, :20] / 255)
    true = corrected(light, reading.card.mean, reading.reflectance, Lamp.LED, 2700)
    off = delta_e_2000(
        linear_to_lab(srgb_to_linear(after / 255)), linear_to_lab(np.clip(true, 0, 1))
    )
    assert off.mean() < 1
    assert np.percentile(off, 95) < 3


def test_before_and_after_and_on_the_shelf(capsys: Captured) -> None:
    Path("mine.toml").write_text(
        '# mine\n[[threads]]\nname = "Old One"\nkind = "NCP nylon"\nsize = "D"\n'
        'colour = "#603060"\n'
        "diameter = 0.25\ntex = 50\nspool = 70\nprice = 2\n",
        encoding="utf-8",
    )
    out = answer(
        capsys, photo(), "--thread", THREAD, "--card", CARD, "--name", "Home Teal", "--like",
        "Old One", "--add-to", "mine.toml", "-o", "both.png",
    )  # fmt: skip
    shelf = Shelf.load("mine.toml")
    assert shelf["Home Teal"].colour == out.split(": ")[1][:7]
    assert (shelf["Home Teal"].size, shelf["Home Teal"].tex) == ("D", 50)
    assert len(shelf) == 2
    assert Path("mine.toml").read_text(encoding="utf-8").startswith("# mine\n")
    with Image.open("both.png") as image:
        seen = np.asarray(image.convert("RGB")).astype(int)
    # Swatches stand under the pictures: as photographed on the left, corrected on the right.
    before, after = seen[-100, 100], seen[-100, -100]
    np.testing.assert_array_equal(after, np.rint(255 * parse_hex(shelf["Home Teal"].colour)))
    assert np.abs(before - pixels()[50, 50]).max() <= 1
    # And the card, corrected, is grey.
    rows = seen[: seen.shape[0] - 200, seen.shape[1] // 2 :]
    greys = (np.ptp(rows, axis=-1) <= 1) & (np.abs(rows.mean(axis=-1) - 118) < 3)
    assert greys.mean() > 0.05


def test_it_makes_a_shelf(capsys: Captured) -> None:
    like = Shelf.shipped().threads[0].name
    answer(
        capsys, photo(), "--thread", THREAD, "--card", CARD, "--name", "Home", "--like", like,
        "--kind", "nylon", "--add-to", "new.toml",
    )  # fmt: skip
    assert Shelf.load("new.toml")["home"].kind.value == "nylon"


# ---- How it is read


def test_it_stands_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # EXIF 2.32: the first row is on the right; turn it by 90° clockwise to show
    name = photo("turned.jpg", exif=exif, quality=95)
    turned = read_photograph(Path(name)).astype(int)
    assert np.abs(turned - np.rot90(pixels(), -1).astype(int)).mean() < 3


def tiff(kind: int, value: bytes) -> bytes:
    """An EXIF block that gives the orientation in an odd way (EXIF 2.32, 4.6.2)."""
    entry = struct.pack("<HHI", 0x0112, kind, 1) + value
    return b"Exif\0\0II*\0" + struct.pack("<IH", 8, 1) + entry + bytes(4)


@pytest.mark.parametrize(
    "exif",
    [
        b"Exif\0\0garbage, no TIFF",
        b"Exif\0\0II*\0" + b"\xff" * 40,
        b"Exif\0\0MM\0*\0\0\0\x08\xff\xff",
        tiff(3, b"\x63\0\0\0"),
        tiff(2, b"ab\0\0"),
        tiff(5, b"\xff\xff\xff\x7f"),
        tiff(7, b"\x06\0\0\0"),
    ],
)
def test_exif_data_that_are_none_do_not_count(exif: bytes) -> None:
    name = photo("odd.png")
    plain = photo("plain.jpg", quality=95)
    with Image.open(name) as image:
        image.save("odd.jpg", quality=95, exif=exif)
    np.testing.assert_array_equal(read_photograph(Path("odd.jpg")), read_photograph(Path(plain)))


def test_grey_of_16_bits_is_called_that() -> None:
    Image.fromarray(np.full((20, 20), 30_000, np.uint16)).save("deep.png")
    with pytest.raises(RequestProblem, match="is 16-bit grey, not in colours of a screen"):
        read_photograph(Path("deep.png"))
    Image.new("CMYK", (20, 20)).save("print.jpg")
    with pytest.raises(RequestProblem, match="is CMYK, as for print, not in colours of a screen"):
        read_photograph(Path("print.jpg"))


def test_its_profile_counts() -> None:
    # Swapped primaries: a profile in which what is stored as red is shown as green.
    profile = rgb_profile([(0.3, 0.6), (0.64, 0.33), (0.15, 0.06)])
    name = photo(icc_profile=profile)
    found = read_photograph(Path(name)).astype(int)
    # The card is not neutral; its stored red, the larger, comes out as green.
    card = found[60, 150]
    stored = pixels()[60, 150].astype(int)
    assert stored[0] > stored[1]
    assert card[1] > card[0]
    assert np.abs(read_photograph(Path(photo("b.png", icc_profile=srgb()))) - pixels()).max() <= 1
    # One that is none is taken for sRGB.
    np.testing.assert_array_equal(
        read_photograph(Path(photo("c.png", icc_profile=b"no profile"))), pixels()
    )


def srgb() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def rgb_profile(primaries: list[tuple[float, float]]) -> bytes:
    """A matrix profile with the curve γ 2.2 ([ICC1], section 8.3), under D50."""
    space = colour.RGB_Colourspace("x", primaries, (0.3457, 0.3585))
    columns = np.asarray(space.matrix_RGB_to_XYZ).T

    def fixed(value: float) -> bytes:
        return struct.pack(">i", round(value * 65536))

    def xyz(three: object) -> bytes:
        return b"XYZ \0\0\0\0" + b"".join(fixed(float(v)) for v in np.asarray(three))

    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(2.2 * 256)) + b"\0\0"
    text = "x".encode("utf-16-be")
    words = b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(text), 28) + text
    parts = {b"wtpt": xyz([0.9642, 1, 0.8249]), b"desc": words + b"\0\0", b"cprt": words + b"\0\0"}
    for letter, column in zip(b"rgb", columns, strict=True):
        parts[bytes([letter]) + b"XYZ"] = xyz(column)
        parts[bytes([letter]) + b"TRC"] = curve
    at, table, body = 128 + 4 + 12 * len(parts), b"", b""
    for tag, data in parts.items():
        table += tag + struct.pack(">II", at + len(body), len(data))
        body += data
    size = at + len(body)
    head = struct.pack(">I4sI4s4s4s", size, b"\0\0\0\0", 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28
    head += fixed(0.9642) + fixed(1) + fixed(0.8249) + b"\0" * 48
    return head + struct.pack(">I", len(parts)) + table + body


# ---- What is refused


def bomb() -> bytes:
    """A PNG of a few bytes that claims 40,000 x 40,000 pixels [PNG3], 11.2.1."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        held = kind + data
        return struct.pack(">I", len(data)) + held + struct.pack(">I", zlib.crc32(held))

    size = struct.pack(">IIBBBBB", 40_000, 40_000, 8, 2, 0, 0, 0)
    parts = chunk(b"IHDR", size), chunk(b"IDAT", zlib.compress(b"\0" * 99)), chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def made(name: str) -> str:
    """Write a file that is no good photograph."""
    stored = io.BytesIO()
    Image.fromarray(pixels()).save(stored, "PNG")
    grey = Image.fromarray(pixels()).convert("L")
    match name:
        case "cut.png":
            Path(name).write_bytes(stored.getvalue()[:300])
        case "bomb.png":
            Path(name).write_bytes(bomb())
        case "words.jpg":
            Path(name).write_text("no picture", encoding="utf-8")
        case "nothing.png":
            Path(name).write_bytes(b"")
        case "grey.png":
            grey.save(name)
        case "a.bmp":
            grey.save(name)
        case "folder":
            Path(name).mkdir()
        case "good.png":
            Path(name).write_bytes(stored.getvalue())
    return name


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("cut.png", "broken or cut short"),
        ("bomb.png", "give 64 megapixels at most"),
        ("words.jpg", "give JPEG, PNG or WebP"),
        ("nothing.png", "give JPEG, PNG or WebP"),
        ("a.bmp", "give JPEG, PNG or WebP"),
        ("grey.png", "give a colour photograph"),
        ("folder", "is a folder"),
        ("missing.png", "is not there; give a JPEG, PNG or WebP file"),
    ],
)
def test_no_photograph(capsys: Captured, name: str, words: str) -> None:
    made(name)
    refused(capsys, words, name, "--thread", THREAD, "--card", CARD)


def refused(capsys: Captured, words: str, *arguments: str) -> None:
    before = sorted(path.name for path in Path().iterdir())
    code = cli.main(["colour", *arguments])
    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1
    assert sorted(path.name for path in Path().iterdir()) == before


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--thread", "20,30,60", "--card", CARD], 'thread: "20,30,60" is not a rectangle'),
        (["--thread", "a,b,c,d", "--card", CARD], "is not a rectangle"),
        (["--thread", THREAD, "--card", "120,30,600,60"], "which is 200x120 pixels"),
        (["--thread", THREAD, "--card", "120,30,0,60"], "does not lie in the photograph"),
        (["--thread", THREAD, "--card", "60,40,60,40"], "card: 60,40,60,40 lies over"),
        (["--thread", "20,30,60,4", "--card", CARD], "thread is 60x4 pixels"),
        (["--thread", THREAD, "--card", CARD, "--card-reflectance", "18"], "card-reflectance: 18"),
        (["--thread", THREAD, "--card", CARD, "--card-reflectance", "x"], "not a number"),
        (["--thread", THREAD, "--card", CARD, "--lamp", "bulb"], "give daylight, incandescent or"),
        (["--thread", THREAD, "--card", CARD, "--lamp", "LEDs"], "did you mean LED?"),
        (["--thread", THREAD, "--card", CARD, "--kelvin", "2700"], "but no lamp is given"),
        (
            ["--thread", THREAD, "--card", CARD, "--lamp", "LED", "--kelvin", "27"],
            "kelvin: 27 is not between",
        ),
        (["--thread", THREAD, "--card", CARD, "--kind", "metalic"], "did you mean metallic?"),
        (["--thread", THREAD, "--card", CARD, "--like", "None Such"], 'no thread "None Such"'),
        (["--thread", THREAD, "--card", CARD, "--add-to", "m.toml"], "add-to: a shelf needs more"),
        (["--thread", THREAD, "--card", CARD, "-o", "a.jpg"], "give .png"),
        (["--thread", THREAD, "--card", CARD, "-o", "none/a.png"], "make it first"),
        (["--thread", THREAD], "--card"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_what_is_asked_wrongly(capsys: Captured, arguments: list[str], words: str) -> None:
    refused(capsys, words, made("good.png"), *arguments)


def test_a_larger_file_than_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patched:
        patched.setattr("render.colour.photograph.MOST_BYTES", 100)
        with pytest.raises(RequestProblem, match="give a smaller one"):
            read_photograph(Path(photo()))
    monkeypatch.setattr("render.colour.photograph.MOST_PIXELS", 100)
    with pytest.raises(RequestProblem, match="200x120 pixels; give"):
        read_photograph(Path(photo("b.png")))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no such files on this system")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.jpg")
    with pytest.raises(RequestProblem, match="is no ordinary file; give a JPEG, PNG"):
        read_photograph(tmp_path / "a.jpg")
    with pytest.raises(RequestProblem, match="is a folder; give a JPEG, PNG"):
        read_photograph(tmp_path)
