"""The shelf: what is shipped, the builder's own file, and every file that is no shelf."""

import os
from pathlib import Path

import colour
import numpy as np
import pytest
from numpy.typing import ArrayLike

from materials.problems import MaterialProblem
from materials.shelf import Shelf, ShelfProblem
from materials.thread import Thread, ThreadKind, laid_diameter_mm

SHIPPED = Shelf.shipped()

GOOD = """
[[threads]]
name = "Own Teal A"
kind = "NCP nylon"
size = "A"
colour = "#0AB"
diameter = 0.17
tex = 23
spool = 50
price = 0
"""
TARN = GOOD.replace("Own Teal A", "TARN  teal a")


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "own.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def refusal(path: Path) -> str:
    with pytest.raises(ShelfProblem) as problem:
        Shelf.load(path)
    sentence = str(problem.value)
    assert str(path) in sentence
    assert sentence.endswith((".", "?"))
    assert sentence.isprintable()
    assert len(sentence) < 300 + len(str(path))
    return sentence


# --- shipped


def test_shipped_shelf_is_full() -> None:
    assert len(SHIPPED) >= 28
    assert {t.kind for t in SHIPPED.threads} == set(ThreadKind)
    assert {t.size for t in SHIPPED.threads} == {"A", "D"}


def test_shipped_shelf_says_that_it_is_invented() -> None:
    import materials.shelf

    head = Path(materials.shelf.__file__).with_name("shelf.toml").read_text().split("[[")[0]
    assert "Every name, colour and price here is invented" in head


@pytest.mark.parametrize("thread", SHIPPED.threads, ids=lambda t: t.name)
def test_shipped_diameters_follow_from_tex(thread: Thread) -> None:
    # Densities: [MortonHearle], table 5.1 (metallic: taken as its polyester film and core).
    # Packing 0.9 is the file's stated assumption; diameters are written to 0.01 or 0.001 mm.
    density = 1.39 if thread.kind is ThreadKind.METALLIC else 1.14
    assert thread.diameter_mm == pytest.approx(
        laid_diameter_mm(thread.tex, density, 0.9), abs=0.005
    )


def test_shipped_colours_differ_within_kind_and_size() -> None:
    keys = [(t.kind, t.size, t.colour) for t in SHIPPED.threads]
    assert len(set(keys)) == len(keys)


# --- looking up


def test_lookup_does_not_mind_capitals() -> None:
    teal = SHIPPED["Tarn Teal A"]
    assert SHIPPED.thread("tarn teal a") is teal
    assert SHIPPED["  TARN   TEAL A "] is teal
    assert "tarn teal a" in SHIPPED
    assert "Tarn Teal" not in SHIPPED


def test_is_an_immutable_mapping() -> None:
    assert list(SHIPPED) == [t.name for t in SHIPPED.threads]
    assert SHIPPED == Shelf.shipped()
    with pytest.raises(TypeError):
        SHIPPED["x"] = SHIPPED.threads[0]  # type: ignore[index]
    with pytest.raises(AttributeError):
        SHIPPED.threads = ()  # type: ignore[misc]
    with pytest.raises(KeyError):
        SHIPPED["no such"]


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        (
            "Tarn Teel",
            'There is no thread "Tarn Teel" on the shelf; nearest are "Tarn Teal D", "Tarn',
        ),
        ("rowan red", 'There is no thread "rowan red" on the shelf; nearest is "Rowan Red A".'),
        ("zzz", 'There is no thread "zzz" on the shelf; it has 35, such as "Heron Silver A", '),
        ("", 'There is no thread "" on the shelf; it has 35, such as'),
        ("x\ny", 'There is no thread "x\\ny" on the shelf; it has 35, such as'),
    ],
)
def test_unknown_thread_is_refused_with_the_nearest(name: str, sentence: str) -> None:
    with pytest.raises(ShelfProblem) as problem:
        SHIPPED.thread(name)
    assert str(problem.value).startswith(sentence)
    assert str(problem.value).endswith('".')


def test_unknown_thread_of_an_empty_shelf() -> None:
    with pytest.raises(ShelfProblem, match="the shelf, which is empty"):
        Shelf([]).thread("x")


def test_problem_is_a_value_error() -> None:
    assert issubclass(ShelfProblem, MaterialProblem)
    assert issubclass(MaterialProblem, ValueError)


def test_two_threads_of_one_name_are_refused() -> None:
    with pytest.raises(ShelfProblem, match='"Heron Silver A" is on the shelf twice'):
        Shelf([*SHIPPED.threads, SHIPPED.threads[0]])


# --- nearest colour


def test_nearest_is_that_of_colour_science() -> None:
    wanted = np.array([0.05, 0.3, 0.45])
    xyz = colour.RGB_to_XYZ(np.array([wanted, *(t.linear_rgb for t in SHIPPED.threads)]), "sRGB")
    lab = colour.XYZ_to_Lab(xyz, np.array([0.3127, 0.3290]))
    best = np.argsort(colour.difference.delta_E_CIE2000(lab[0], lab[1:]), kind="stable")[:5]
    assert SHIPPED.nearest(wanted, n=5) == tuple(SHIPPED.threads[i] for i in best)


@pytest.mark.parametrize("kind", list(ThreadKind))
def test_nearest_of_a_kind(kind: ThreadKind) -> None:
    found = SHIPPED.nearest([0.5, 0.1, 0.1], kind)
    assert len(found) == 3
    assert {t.kind for t in found} == {kind}


def test_nearest_to_a_thread_is_itself() -> None:
    thread = SHIPPED.thread("Bramble Purple A")
    assert SHIPPED.nearest(thread.linear_rgb, n=1) == (thread,)
    assert len(SHIPPED.nearest(thread.linear_rgb, n=1000)) == len(SHIPPED)
    assert Shelf([]).nearest(thread.linear_rgb) == ()


@pytest.mark.parametrize("rgb", [[0, 0, np.nan], [0, 0], 1.0])
def test_nearest_to_no_colour_is_refused(rgb: ArrayLike) -> None:
    with pytest.raises(ShelfProblem, match="three finite numbers"):
        SHIPPED.nearest(rgb)
    with pytest.raises(ShelfProblem, match="is 0, but should be 1 or more"):
        SHIPPED.nearest([0, 0, 0], n=0)


# --- the builder's own file


def test_own_shelf_is_read(tmp_path: Path) -> None:
    thread = Shelf.load(written(tmp_path, GOOD)).thread("own teal a")
    assert thread == Thread("Own Teal A", ThreadKind.NCP_NYLON, "A", "#00aabb", 0.17, 23, 50, 0)
    assert Shelf.load(str(tmp_path / "own.toml"))["Own Teal A"] == thread


@pytest.mark.parametrize(
    "text", ["\ufeff" + GOOD, GOOD.replace("\n", "\r\n"), "version = 1\n" + GOOD]
)
def test_own_shelf_from_any_editor(tmp_path: Path, text: str) -> None:
    assert len(Shelf.load(written(tmp_path, text))) == 1


def test_own_shelf_wins(tmp_path: Path) -> None:
    own = Shelf.load(written(tmp_path, GOOD + TARN))
    both = SHIPPED.with_own(own)
    assert len(both) == len(SHIPPED) + 1
    assert both.thread("Tarn Teal A").kind is ThreadKind.NCP_NYLON
    assert both.thread("Own Teal A").colour == "#00aabb"
    assert SHIPPED.thread("Tarn Teal A").kind is ThreadKind.METALLIC
    # It keeps its place, so a list on screen does not jump.
    place = [t.name for t in SHIPPED.threads].index("Tarn Teal A")
    assert both.threads[place].name == "TARN  teal a"


# --- files that are no shelf


def test_missing_file(tmp_path: Path) -> None:
    assert "is not there" in refusal(tmp_path / "gone.toml")
    assert "is not there" in refusal(tmp_path / "no folder" / "gone.toml")


def test_path_through_a_file(tmp_path: Path) -> None:
    refusal(written(tmp_path, GOOD) / "own.toml")


def test_impossible_paths(tmp_path: Path) -> None:
    with pytest.raises(ShelfProblem):
        Shelf.load("a\0b")
    with pytest.raises(ShelfProblem):
        Shelf.load(tmp_path / ("x" * 5000))


def test_folder(tmp_path: Path) -> None:
    assert "is a folder" in refusal(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert "not an ordinary file" in refusal(tmp_path / "pipe")


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"\x89PNG\r\n\x1a\n\0\0", "is not a text; give a shelf file."),
        (b"\xff\xfe[\0[\0", "is not a text; give a shelf file."),
        (b"a = 1\0", "is not a text; give a shelf file."),
        (b"\n\xc3(", "is not UTF-8 text (line 2); save it as UTF-8"),
    ],
)
def test_binary(tmp_path: Path, data: bytes, sentence: str) -> None:
    assert sentence in refusal(written(tmp_path, data))


@pytest.mark.parametrize("text", ["", "  \n\n", "\ufeff"])
def test_empty(tmp_path: Path, text: str) -> None:
    assert "the file is empty; give one [[threads]] table or more." in refusal(
        written(tmp_path, text)
    )


@pytest.mark.parametrize("text", ["# only a comment\n", "threads = []\n"])
def test_no_threads(tmp_path: Path, text: str) -> None:
    assert "should be one [[threads]] table or more" in refusal(written(tmp_path, text))


def test_too_large(tmp_path: Path) -> None:
    assert "a shelf is a text of 1 MB at most" in refusal(written(tmp_path, b"#" * 1_000_001))


@pytest.mark.parametrize(
    "text",
    [
        "name: yaml",
        "[[threads]",
        '{"json": 1}',
        "a = 1\na = 2",
    ],
)
def test_not_toml(tmp_path: Path, text: str) -> None:
    assert "not TOML" in refusal(written(tmp_path, text))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("x = " + "[" * 5000, "lists or tables in it lie more than 16 within one another"),
        ("x = " + "9" * 5000, "a key or a number in it has more than 200 characters"),
        ("[[threads]]\n" * 10_001, "it has more than 10000 tables and lists"),
    ],
)
def test_too_much_of_something(tmp_path: Path, text: str, sentence: str) -> None:
    assert f"not a shelf: {sentence}." in refusal(written(tmp_path, text))


def test_endless_key(tmp_path: Path) -> None:
    # Python's parser takes more than a minute over it.
    text = "x" + ".x" * 64_000 + " = 1\n"
    assert "not a shelf: a key in it has more than 16 parts." in refusal(written(tmp_path, text))


# Each wrong field as (old text, new text, end of the sentence); {of} is the thread.
WRONG = [
    # misspelt, unknown, missing
    ("diameter =", "diametre =", '"diametre"{of} is not a field; did you mean "diameter"?'),
    ("colour =", "Color =", '"Color"{of} is not a field; did you mean "colour"?'),
    ("price = 0", "price = 0\nqqq = 1", "is not a field; the fields are name, kind, size,"),
    ("[[threads]]", "[[thread]]", '"thread" is not a field; did you mean "threads"?'),
    (
        "[[threads]]",
        "[threads]",
        "threads is a table, but should be one [[threads]] table or more.",
    ),
    ("tex = 23\n", "", "tex{of} is missing, but should be a number of g per km from 1 to 5000."),
    ('name = "Own Teal A"\n', "", "name of thread 1 is missing, but should be a name"),
    # words
    ('"Own Teal A"', '""', 'name of thread 1 ("") is "", but should be a name'),
    ('"Own Teal A"', '"  "', "but should be a name"),
    ('"Own Teal A"', '"a\\nb"', "but should be a name"),
    ('"Own Teal A"', f'"{"x" * 81}"', "but should be a name in quotes, at most 80 characters."),
    ('"Own Teal A"', "5", "name of thread 1 is 5, but should be a name"),
    ('"NCP nylon"', '"silk"', 'kind{of} is "silk", but should be "metallic", "NCP nylon" or'),
    ('"NCP nylon"', "[1]", "kind{of} is a list, but"),
    ('size = "A"', "size = 1", "size{of} is 1, but"),
    ('size = "A"', 'size = ""', 'size{of} is "", but'),
    ('"#0AB"', '"teal"', 'colour{of} is "teal", but should be "#rgb" or "#rrggbb" in quotes'),
    ('"#0AB"', "true", "colour{of} is true, but"),
    # numbers
    ("0.17", "nan", "diameter{of} is nan, but should be a number of mm from 0.03 to 3."),
    ("0.17", "inf", "diameter{of} is inf, but"),
    ("0.17", "-0.17", "diameter{of} is -0.17, but"),
    ("0.17", "0", "diameter{of} is 0, but"),
    ("0.17", '"0.17"', 'diameter{of} is "0.17", but'),
    ("0.17", "true", "diameter{of} is true, but"),
    ("0.17", "1979-05-27", "diameter{of} is 1979-05-27, but"),
    ("0.17", "{}", "diameter{of} is a table, but"),
    ("0.17", "[]", "diameter{of} is an empty list, but"),
    ("0.17", "17", "diameter{of} is 17, but should be a number of mm from 0.03 to 3."),
    ("tex = 23", "tex = 1e9", "tex{of} is 1000000000.0, but"),
    ("tex = 23", "tex = 0x" + "f" * 190, "tex{of} is a number of more than 20 digits, but"),
    ("spool = 50", "spool = 0", "spool{of} is 0, but should be a number of metres from 1"),
    ("price = 0", "price = -1", "price{of} is -1, but should be a number from 0"),
    # format version
    ("\n[[threads]]", "version = 2\n[[threads]]", "version is 2, but should be 1."),
    ("\n[[threads]]", "version = true\n[[threads]]", "version is true, but should be 1."),
]


@pytest.mark.parametrize(("old", "new", "sentence"), WRONG)
def test_wrong_field_is_named(tmp_path: Path, old: str, new: str, sentence: str) -> None:
    assert old in GOOD
    sentence = sentence.replace("{of}", ' of thread 1 ("Own Teal A")')
    assert sentence in refusal(written(tmp_path, GOOD.replace(old, new)))


def test_row_that_is_no_table(tmp_path: Path) -> None:
    assert "thread 1 is 3, but should be a table." in refusal(written(tmp_path, "threads = [3]"))


def test_second_thread_is_counted(tmp_path: Path) -> None:
    text = GOOD + TARN.replace("0.17", "-1")
    assert 'diameter of thread 2 ("TARN  teal a") is -1, but' in refusal(written(tmp_path, text))


def test_one_name_twice(tmp_path: Path) -> None:
    text = GOOD + GOOD.replace("Own Teal A", "own teal A")
    assert 'name of thread 2 is "own teal A", the same as of thread 1' in refusal(
        written(tmp_path, text)
    )


def test_unreadable(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Root may read any file, so the refusal is acted.
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = written(tmp_path, GOOD)
    monkeypatch.setattr(os, "open", refuse)
    assert "may not be read; ask for the right to read it." in refusal(path)


def test_what_is_left_on_a_spool(tmp_path: Path) -> None:
    new, begun = (
        Shelf.load(written(tmp_path, text)).thread("Own Teal A")
        for text in (GOOD, GOOD + "left = 12.5\n")
    )
    # A spool without a length left is a new spool.
    assert (new.left_m, new.at_hand_m) == (None, 50)
    assert (begun.left_m, begun.at_hand_m) == (12.5, 12.5)
    assert Shelf.load(written(tmp_path, GOOD + "left = 0\n")).thread("Own Teal A").at_hand_m == 0
    assert "metres from 0 to 100000" in refusal(written(tmp_path, GOOD + "left = -1\n"))
    assert "metres from 0 to 100000" in refusal(written(tmp_path, GOOD + 'left = "some"\n'))
