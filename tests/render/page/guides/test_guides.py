"""Guides on the page: a scheme is chosen, renamed with its guides, and all are put as a list.

What the page did is read from the design's text, by TOML's own reader.
"""

import asyncio
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from render.measure.wire import Wire
from tests.loops import run
from tests.render.page.server.serving import Serve, Served, serving_in
from tests.scenes.stage.test_guide_schemes import BASE, RODS
from tests.waiting import WITHIN

LIST = "blank.guide_list"
SECOND = """
[[blank.guide_schemes]]
name = "plain"
thread = "Sloe Black A"
"""


@pytest.fixture
def serve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Serve:
    return serving_in(tmp_path, monkeypatch)


async def comes(owner: Wire, shown: Callable[[], bool]) -> None:
    """Wait until the page's state shows something: answers arrive before the state."""
    async with asyncio.timeout(WITHIN), owner.changed:
        await owner.changed.wait_for(shown)


def fitted_field(owner: Wire) -> dict[str, Any]:
    """The list of what is fitted, as the page has it."""
    blank = next(card for card in owner.state["form_cards"] if card["id"] == "blank")
    return next(field for field in blank["fields"] if field["path"] == "blank.fitted")


def schemes_offered(owner: Wire) -> list[dict[str, Any]]:
    """The fields in which a guide's scheme is chosen."""
    rows = fitted_field(owner)["rows"]
    return [one for row in rows for one in row["fields"] if one["path"].endswith(".scheme")]


def guides(served: Served) -> list[dict[str, Any]]:
    """The guides in the design's text."""
    fitted = tomllib.loads(served.page.desk.text)["blank"]["fitted"]
    return [one for one in fitted if one["kind"] == "guide"]


def test_a_scheme_is_one_of_the_designs_or_none(serve: Serve) -> None:
    async def whole() -> None:
        async with serve(BASE + RODS + SECOND) as served, served.client() as owner:
            offered = schemes_offered(owner)
            assert [one["type"] for one in offered] == ["choice"] * 3
            names = [choice["value"] for choice in offered[0]["choices"]]
            assert names == ["", "running", "plain"]
            assert offered[0]["choices"][0]["label"] == "none"
            assert offered[0]["value"] == "running"
            path = offered[1]["path"]
            answer = await owner.trigger("desk_change", path, "plain")
            assert answer.result["problem"] == ""
            assert [one["scheme"] for one in guides(served)] == ["running", "plain", "running"]
            # A guide is bound by a scheme or by a thread of its own.
            answer = await owner.trigger("desk_clear", path)
            assert "scheme that names one" in answer.result["problem"]
            own = path.replace("scheme", "thread")
            await owner.trigger("desk_change", own, "Gorse Gold A")
            answer = await owner.trigger("desk_clear", path)
            assert answer.result["problem"] == ""
            assert "scheme" not in guides(served)[1]

    run(whole())


def test_without_schemes_there_is_nothing_to_choose(serve: Serve) -> None:
    guide = 'kind = "guide"\nat = 430\nlength = 40\nthread = "Sloe Black A"\n'
    text = f"{BASE}[[blank.fitted]]\n{guide}"

    async def whole() -> None:
        async with serve(text) as served, served.client() as owner:
            assert schemes_offered(owner) == []
            await owner.trigger("desk_add", "blank.guide_schemes")
            await comes(owner, lambda: len(schemes_offered(owner)) == 1)
            assert [one["label"] for one in schemes_offered(owner)[0]["choices"]] == [
                "none",
                "guides",
            ]

    run(whole())


def test_a_scheme_is_renamed_with_the_guides_that_refer_to_it(serve: Serve) -> None:
    async def whole() -> None:
        async with serve(BASE + RODS + SECOND) as served, served.client() as owner:
            before = served.page.desk.text
            name = "blank.guide_schemes.0.name"
            answer = await owner.trigger("desk_change", name, "tapered")
            assert answer.result["problem"] == ""
            assert served.page.desk.text == before.replace('"running"', '"tapered"')
            answer = await owner.trigger("desk_change", name, "plain")
            assert "is used twice" in answer.result["problem"]
            assert {one["scheme"] for one in guides(served)} == {"tapered"}
            # One step of the history.
            served.page.desk.undo()
            assert served.page.desk.text == before
            # No guide refers to the other.
            await owner.trigger("desk_change", "blank.guide_schemes.1.name", "simple")
            assert served.page.desk.text == before.replace('"plain"', '"simple"')

    run(whole())


def test_guides_are_put_as_a_list_in_the_units_of_the_page(serve: Serve) -> None:
    async def whole() -> None:
        async with serve(BASE + RODS) as served, served.client() as owner:
            before = served.page.desk.text
            shown = fitted_field(owner)["guide_list"]
            assert shown["path"] == LIST
            assert shown["text"] == "place\tfoot\tring, mm\n430\t40\n490\t20\n540\t20\t10"
            await owner.trigger("desk_units", "in")
            await comes(owner, lambda: "ring, in" in fitted_field(owner)["guide_list"]["text"])
            # Back as it is shown, to a thousandth of an inch: nothing moves.
            shown = fitted_field(owner)["guide_list"]
            answer = await owner.trigger("desk_change", LIST, shown["text"])
            assert answer.result["problem"] == ""
            assert served.page.desk.text == before
            lines = shown["text"].splitlines()
            # 1 in is 25.4 mm (NIST SP 811, appendix B.8); the last names its own units.
            lines[2:] = ["19\t0.75\t0.5", "540 mm;20 mm;10 mm", "22;0.7"]
            answer = await owner.trigger("desk_change", LIST, "\n".join(lines))
            assert answer.result["problem"] == ""
            found = [(one["at"], one["length"], one.get("ring", 0)) for one in guides(served)]
            want = [(430, 40, 0), (482.6, 19.05, 12.7), (540, 20, 10), (558.8, 17.78, 10)]
            for one, right in zip(found, want, strict=True):
                assert one == pytest.approx(right, rel=1e-9)
            assert {one["scheme"] for one in guides(served)} == {"running"}
            assert [one.get("feet") for one in guides(served)] == [None, None, 1, 1]

    run(whole())


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("place\n", "The list holds no guide"),
        ("430 40\n490\n", '"490" in line 2 does not hold two or three numbers'),
        ("430 40\n490 260\n", "Guide 2 from the butt: 260 mm is not between 2 and 150 mm"),
        (7, "This is no text"),
    ],
)
def test_a_list_that_does_not_fit_says_which_guide(serve: Serve, text: object, said: str) -> None:
    async def whole() -> None:
        async with serve(BASE + RODS) as served, served.client() as owner:
            before = served.page.desk.text
            answer = await owner.trigger("desk_change", LIST, text)
            assert said in answer.result["problem"]
            assert served.page.desk.text == before

    run(whole())
