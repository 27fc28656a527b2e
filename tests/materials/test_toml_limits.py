"""What a text may hold before it is parsed: each limit kept to the last, and passed by one."""

import tomllib

import pytest

from materials.toml_limits import TomlLimits, beyond_limits
from scenes.files import samples
from scenes.files.storage import DESIGN_TEXT, parse
from scenes.problems import DesignProblem

LIMITS = TomlLimits(tables=4, values=6, parts=3, depth=3, text=10, word=8)


@pytest.mark.parametrize(
    ("within", "beyond", "sentence"),
    [
        ("[[a]]\n" * 4, "[[a]]\n" * 5, "it has more than 4 tables and lists"),
        ("a=[[],[],[]]", "a=[[],[],[],[]]", "it has more than 4 tables and lists"),
        ("a=[{},{},{}]", "a=[{},{},{},{}]", "it has more than 4 tables and lists"),
        ("a=[1,2,3,4,5,6]", "a=[1,2,3,4,5,6,7]", "it has more than 6 values"),
        ("a=1\n" * 6, "a=1\n" * 7, "it has more than 6 values"),
        ("a.b.c=1", "a.b.c.d=1", "a key in it has more than 3 parts"),
        ("[a . b . c]", "[a . b . c . d]", "a key in it has more than 3 parts"),
        ("a.\"b.b\".'c'=1", "a.\"b\".'c'.d=1", "a key in it has more than 3 parts"),
        ('"".""=1', '""."".""."".""=1', "a key in it has more than 3 parts"),
        ("a=[[[1]]]", "a=[[[[]]]]", "lists or tables in it lie more than 3 within one another"),
        ("a={a={a={}}}", "a={a={a={a={}}}}", "lists or tables in it lie more than 3 within"),
        ('a="12345678"', 'a="123456789"', "a text in it has more than 10 characters"),
        ("a='12345678'", "a='123456789'", "a text in it has more than 10 characters"),
        ('a="""1234"""', 'a="""12345"""', "a text in it has more than 10 characters"),
        ("a='''\n\n\n\n'''", "a='''\n\n\n\n\n'''", "a text in it has more than 10 characters"),
        ("a=12345678", "a=123456789", "a key or a number in it has more than 8 characters"),
        ("abcdefgh=1", "abcdefghi=1", "a key or a number in it has more than 8 characters"),
    ],
)
def test_each_limit_is_kept_to_the_last(within, beyond, sentence) -> None:
    assert beyond_limits(within, LIMITS) == ""
    assert beyond_limits(beyond, LIMITS).startswith(sentence)


@pytest.mark.parametrize(
    "text",
    [
        "# [[[[[[ ,,,,,,,,,,, ====== a.b.c.d.e\n",
        '"a,,,,,," = 1',
        "a = '[[[[,,,,'",
        'a = "\\"[[[[,"',
        "a = [\"\"\"\",,,\"\"\", '''',,,''']",
        "a = ''''''\nb = '#,,,,'",
    ],
)
def test_what_stands_in_texts_and_comments_does_not_count(text) -> None:
    tomllib.loads(text)
    assert beyond_limits(text, LIMITS) == ""


@pytest.mark.parametrize("name", samples.names())
def test_the_fullest_sample_is_far_from_every_limit(name) -> None:
    most = DESIGN_TEXT.limits
    tenth = TomlLimits(most.tables // 10, most.values // 10, 5, 4, most.text // 10, 100)
    assert beyond_limits(samples.text(name), tenth) == ""


BASE = samples.text("half-scale")


@pytest.mark.parametrize(
    "text",
    [
        '""' + '.""' * 320_000 + " = 1",
        '"a b"' + ' . "a b"' * 110_000 + " = 1",
        "".join(f"[a{number}]\n" for number in range(100_000)),
        BASE.replace("stations = [", "stations = [" + "1," * 450_000, 1),
        BASE.replace("stations = [", "stations = [" + "{}," * 300_000, 1),
        BASE + "[[layers]]\n" * 80_000,
        "a = 0x" + "f" * 990_000,
        'a = "' + '\\"' * 490_000,
    ],
    ids=[
        *("quoted key", "spaced key", "tables", "stations", "empty stations", "layers"),
        *("number", "open text"),
    ],
)
def test_a_megabyte_of_anything_is_refused_before_it_is_parsed(text, monkeypatch) -> None:
    """The first two were parsed for hours, the stations for seconds."""
    assert len(text) <= 1_000_000
    monkeypatch.setattr(tomllib, "loads", lambda _: pytest.fail("It was parsed."))
    with pytest.raises(DesignProblem, match=r"^mine: not a design: .* more than \d+ ") as caught:
        parse(text, "mine")
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)
