"""What a file was made of, compared with what is open."""

from dataclasses import replace
from pathlib import Path

import pytest

from render.editor.desk import Desk
from render.page.send.order import Age, origin_of
from scenes.files import samples


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    path = tmp_path / "mine.toml"
    path.write_text(samples.text("half-scale"), encoding="utf-8")
    return Desk.open(str(path))


def test_a_design_that_is_read_anew_is_the_same_design(desk: Desk) -> None:
    made = origin_of(desk)
    desk.reload()
    assert made.age(origin_of(desk)) is Age.PRESENT
    desk.change("relief.gap", 30)
    desk.save()
    desk.reload()
    assert made.age(origin_of(desk)) is Age.EARLIER


def test_another_design_is_another_even_if_it_looks_the_same(desk: Desk) -> None:
    made = origin_of(desk)
    desk.open_sample("half-scale")
    assert made.age(origin_of(desk)) is Age.OTHER


def test_a_design_that_is_opened_again_is_the_same_design(desk: Desk) -> None:
    file = desk.path
    assert file is not None
    of_file = origin_of(desk)
    desk.open_sample("half-scale")
    of_sample = origin_of(desk)
    desk.open_sample("cord-lattice")
    assert of_sample.age(origin_of(desk)) is Age.OTHER
    desk.open_sample("half-scale")
    assert of_sample.age(origin_of(desk)) is Age.PRESENT
    assert of_file.age(origin_of(desk)) is Age.OTHER
    desk.change("relief.gap", 30)
    assert of_sample.age(origin_of(desk)) is Age.OTHER
    desk.open_file(file)
    assert of_file.age(origin_of(desk)) is Age.PRESENT


def test_of_the_shelf_only_the_threads_of_the_design_count(desk: Desk) -> None:
    thread = desk.shelf.thread(desk.design.cover.thread)
    made = origin_of(desk)
    desk.put_thread(replace(thread, name="Nobody Uses This"))
    assert made.age(origin_of(desk)) is Age.PRESENT
    desk.put_thread(replace(thread, price=thread.price + 1))
    assert made.age(origin_of(desk)) is Age.EARLIER
