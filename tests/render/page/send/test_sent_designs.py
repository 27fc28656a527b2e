"""Which designs go into a file: ticked, picked, or as usual; and what the file is called."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from render.editor.desk import Desk
from render.page.send.export_work import job_of
from render.page.send.file_names import file_name
from render.page.send.order import Age, Choice, Order, origin_of
from render.page.send.recent_variants import RecentVariants
from render.page.send.sent_designs import (
    DESIGN,
    MOST,
    OF_ROD,
    PINNED,
    SentDesign,
    chosen_keys,
    designs_to_send,
    full_words,
)
from render.page.workers.export_worker import ExportJob, ExportKind
from render.request.subject import Subject
from scenes.customer.number import design_number
from scenes.design.variants import variant
from scenes.files import samples
from scenes.problems import DesignProblem


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    path = tmp_path / "mine.toml"
    path.write_text(samples.text("half-scale"), encoding="utf-8")
    return Desk.open(str(path))


@pytest.fixture
def bare(desk: Desk) -> Desk:
    """A document without variants."""
    while desk.design.variants:
        desk.remove("variants.0")
    return desk


def listed(desk: Desk, pin: object = None) -> list[SentDesign]:
    return designs_to_send(desk, pin, lambda subject: subject)  # type: ignore[arg-type]


def labels(desk: Desk, pin: object = None) -> list[str]:
    return [one.label for one in listed(desk, pin)]


def kept(desk: Desk, gap: float, name: str) -> None:
    """Keep a design of another gap as a variant, as the comparison does."""
    pin = desk.pin()
    desk.change("relief.gap", gap)
    desk.keep_variant(name, pin)


def test_variants_of_another_wrap_are_of_the_files_of_the_rod(bare: Desk) -> None:
    first = bare.wrap_name
    kept(bare, 18, "close")
    bare.add_wrap()
    while bare.design.variants:
        bare.remove("variants.0")
    found = listed(bare)
    assert [one.label for one in found] == ["the design", f"{first}: close"]
    other = found[1]
    assert other.words == ("gap 18 mm",)
    for kind in ExportKind:
        assert other.can_be_in(kind) == (kind in OF_ROD)
    # As the customer has agreed to it, the rod is built of it, seen from the wrap worked at.
    assert other.subject is not None
    assert other.subject.design.wrap_name == bare.wrap_name
    number = design_number(other.subject.design, bare.shelf, bare.beside)
    bare.agree(f"Design number: {number}", date(2026, 11, 30))
    assert chosen_keys(listed(bare), Choice(kind=ExportKind.ROD_SHEET), ()) == (other.key,)
    assert chosen_keys(listed(bare), Choice(kind=ExportKind.SHEET), ()) == (DESIGN,)


def test_few_designs_all_go_in(bare: Desk) -> None:
    assert labels(bare) == ["the design"]
    kept(bare, 18, "close")
    kept(bare, 30, "open")
    assert labels(bare) == ["the design", "close", "open"]
    assert chosen_keys(listed(bare), Choice(), ()) == (DESIGN, "variant close", "variant open")
    choice = Choice(ticks={"variant close": False, "variant gone": True})
    assert chosen_keys(listed(bare), choice, ()) == (DESIGN, "variant open")


def test_of_many_those_go_in_that_were_kept_last(desk: Desk) -> None:
    recent = RecentVariants(desk)
    desk.on_change(recent.follow)
    assert len(labels(desk)) > MOST
    assert chosen_keys(listed(desk), Choice(), recent.names) == (DESIGN,)
    assert full_words(1, len(labels(desk))).startswith("4 designs at most")
    kept(desk, 30, "open")
    assert recent.names == ["open"]
    assert chosen_keys(listed(desk), Choice(), recent.names) == (DESIGN, "variant open")
    everything = Choice(ticks={one.key: True for one in listed(desk)})
    assert len(chosen_keys(listed(desk), everything, recent.names)) == MOST
    desk.open_sample("half-scale")
    assert recent.names == []


def test_a_comparison_is_of_its_own_designs(bare: Desk) -> None:
    kept(bare, 18, "close")
    pin = bare.pin()
    assert labels(bare, pin) == ["the design", "close"]  # A is what the design is
    bare.change("relief.gap", 30)
    assert labels(bare, pin) == ["A: gap 21.2 mm", "B: the design", "close"]
    choice = Choice(kind=ExportKind.COMPARISON, ending=".png")
    assert chosen_keys(listed(bare, pin), choice, ()) == (PINNED, DESIGN)
    assert chosen_keys(listed(bare, pin), Choice(), ()) == (PINNED, DESIGN, "variant close")
    bare.change("relief.gap", 18)
    assert labels(bare, pin) == ["A: gap 21.2 mm", "B: close"]


def test_a_variant_that_does_not_fit_says_why(desk: Desk) -> None:
    desk.change("relief.gap", 13.0)  # the strip of "wide gap" is then another
    desk.remove("layers.2")  # its trim is gone, and a variant of it with it
    for one in listed(desk):
        assert (one.subject is None) == bool(one.reason)
        assert one.can_be_in(ExportKind.STILL) == (one.subject is not None)


def test_what_was_agreed_is_what_is_built_by(desk: Desk) -> None:
    wide = variant(desk.design, "wide gap")
    number = design_number(wide, desk.shelf, desk.beside)
    desk.agree(f"I choose it.\nDesign number: {number}", date(2026, 11, 30))
    assert [one.label for one in listed(desk) if one.agreed] == ["wide gap"]
    choice = Choice(kind=ExportKind.SHEET, ending=".pdf", size="A4")
    assert chosen_keys(listed(desk), choice, ()) == ("variant wide gap",)
    assert chosen_keys(listed(desk), Choice(kind=ExportKind.STILL), ()) == (DESIGN,)
    choice.picked = DESIGN
    assert chosen_keys(listed(desk), choice, ()) == (DESIGN,)
    (one,) = (one for one in listed(desk) if one.agreed)
    assert one.subject is not None
    assert one.subject.variant == "wide gap"


def test_names_of_files_tell_what_is_in_them() -> None:
    page = Choice()
    assert file_name("Otter", page, [""], ()) == "otter-spin-page.html"
    assert file_name("Otter", page, ["", "wide gap"], ()) == (
        "otter-design-and-wide-gap-spin-page.html"
    )
    assert file_name("Otter", page, ["A", "", "x" * 30, "y" * 30], ()) == (
        "otter-4-designs-spin-page.html"
    )
    assert file_name("", Choice(kind=ExportKind.STILL, ending=".png"), ["wide gap"], ()) == (
        "wrap-wide-gap.png"
    )
    taken = {"otter-spin-page.html"}
    assert file_name("Otter", Choice(size="print"), [""], taken) == "otter-spin-page-print.html"
    taken.add(file_name("Otter", page, [""], taken))
    assert "otter-spin-page-2.html" in taken
    assert file_name("Otter", page, [""], taken) == "otter-spin-page-3.html"


def test_more_designs_have_more_room(desk: Desk) -> None:
    def job(kind: ExportKind, ending: str, count: int) -> ExportJob:
        choice = Choice(kind=kind, ending=ending)
        return job_of(1, choice, (desk.subject,) * count, Path("made"))

    limits = [job(ExportKind.SPIN_PAGE, ".html", count).max_mb for count in (1, 2, 4)]
    assert limits[0] == limits[1]
    assert limits[2] == 2 * limits[0]
    sizes = [job(ExportKind.COMPARISON, ".png", count).size for count in (2, 3)]
    assert sizes == [(1280, 860), (1280, 1290)]


def test_a_file_is_of_the_variants_in_it(desk: Desk) -> None:
    def order(*names: str) -> Order:
        return Order("made", origin_of(desk), Choice(), names=names)

    with_wide, without = order("wide gap"), order()
    desk.remove("variants.1")
    now = origin_of(desk)
    assert (with_wide.age(now), without.age(now)) == (Age.EARLIER, Age.PRESENT)


def test_designs_that_look_alike_are_one(bare: Desk) -> None:
    """As they are viewed: without finish, one that is dry anyway is the same."""
    pin = bare.pin()
    bare.change("finish.coats", 0)
    bare.keep_variant("dry", pin)
    dried: Callable[[Subject], Subject] = lambda subject: Subject(  # noqa: E731
        variant(bare.design, "dry"), subject.shelf, subject.beside
    )
    assert [one.key for one in designs_to_send(bare, None, dried)] == [DESIGN]
    assert labels(bare) == ["the design", "dry"]
    with pytest.raises(DesignProblem):
        variant(bare.design, "gone")
