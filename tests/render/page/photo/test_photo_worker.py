"""The photo worker, in this process: passes in order, scenes kept, photographs given up."""

import io
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from materials.shelf import Shelf
from render.page.photo import photo_worker
from render.page.photo.photo_messages import (
    PhotoPicture,
    PhotoProblem,
    PhotoRequest,
    PhotoStep,
)
from render.page.photo.photo_worker import PhotoWork
from render.pathtraced import photo as pathtraced
from render.request.subject import Subject
from scenes.design.document import with_changes
from scenes.files import samples

pytestmark = pytest.mark.render

SIZE = (64, 36)


@dataclass
class Pipe:
    """Stands for the worker's end of its pipe; `on_send` may put messages into it."""

    sent: list[Any] = field(default_factory=list)
    waiting: deque[Any] = field(default_factory=deque)
    on_send: Callable[[Any], None] = lambda message: None

    def recv(self) -> Any:
        return self.waiting.popleft()

    def poll(self, timeout: float = 0.0, *, progress: bool = True) -> bool:
        return bool(self.waiting)

    def send(self, obj: Any) -> None:
        self.sent.append(obj)
        self.on_send(obj)


@pytest.fixture
def scenes(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Have coarse wraps built, and list what is made for the photographs: meshes and scenes."""
    made: list[str] = []
    monkeypatch.setenv("TURNLIGHT_PHOTO_ENGINE", "scalar")
    monkeypatch.setattr(photo_worker, "_EVERY", 0.0)
    monkeypatch.setattr(photo_worker, "Detail", _OnlyDraft)
    for name in ("rod_pieces", "LitScene"):
        original = getattr(pathtraced, name)

        def noting(*given: Any, name: str = name, original: Any = original, **more: Any) -> Any:
            made.append(name)
            return original(*given, **more)

        monkeypatch.setattr(pathtraced, name, noting)
    return made


class _OnlyDraft:
    """Stands for `Detail`."""

    from geometry.grid import Detail

    NORMAL = Detail.DRAFT


def request(number: int, paths: int = 8, size: tuple[int, int] = SIZE, **changes: Any) -> Any:
    design = samples.load("two-start-band").without_variants()
    changed = {path.replace("__", "."): value for path, value in changes.items()}
    subject = Subject(with_changes(design, changed), Shelf.shipped())
    return PhotoRequest(number, subject, size, paths)


def done(work: PhotoWork, pipe: Pipe, *requests: PhotoRequest) -> list[Any]:
    """Take all photographs of some requests; give the messages."""
    before = len(pipe.sent)
    pipe.waiting.append(requests)
    work.run_next()
    for _ in range(3 * len(requests)):
        if not pipe.waiting and {one.number for one in requests} <= work._ended:
            break
        work.run_next()
    return pipe.sent[before:]


def image(message: PhotoPicture) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(message.image)).convert("RGB"), float)


def test_it_grows_to_the_picture_that_a_file_would_have(scenes: list[str]) -> None:
    pipe = Pipe()
    work = PhotoWork(pipe)
    messages = done(work, pipe, request(1, paths=16))
    assert all(isinstance(one, PhotoStep | PhotoPicture) for one in messages)
    pictures = [one for one in messages if isinstance(one, PhotoPicture)]
    assert [one.paths for one in pictures] == [4, 8, 12, 16, 16]
    assert [one.finished for one in pictures] == [False] * 4 + [True]
    shares = [one.share for one in pictures]
    assert shares == sorted(shares)
    assert shares[-1] == 1
    assert pictures[-1].left == 0
    assert pictures[-1].memory_mb
    last = image(pictures[-1])
    assert last.shape == (36, 64, 3)
    # What a file has, but for the seeds of its paths.
    assert work._photo is not None
    assert np.abs(last - work._photo.picture()).mean() < 8
    off = [np.abs(image(one) - last).mean() for one in pictures[:-1]]
    assert off[-1] < off[0]


def test_the_scene_is_kept_for_a_turn_and_the_meshes_for_another_light(scenes: list[str]) -> None:
    pipe = Pipe()
    work = PhotoWork(pipe)
    first = done(work, pipe, request(1))[-1]
    assert scenes == ["rod_pieces", "LitScene"]
    turned = done(work, pipe, request(2, camera__turn=40.0))[-1]
    done(work, pipe, request(3, camera__turn=40.0, camera__zoom=1.1))
    assert scenes == ["rod_pieces", "LitScene"]
    assert np.abs(image(first) - image(turned)).mean() > 1
    lit = done(work, pipe, request(4, light__kind="low sun"))[-1]
    assert scenes == ["rod_pieces", "LitScene", "LitScene"]
    assert np.abs(image(first) - image(lit)).mean() > 1
    done(work, pipe, request(5, finish__coats=0))
    assert scenes[3:] == ["rod_pieces", "LitScene"]


def test_one_that_is_not_wanted_any_more_is_given_up(scenes: list[str]) -> None:
    pipe = Pipe()
    work = PhotoWork(pipe)

    def withdraw(message: Any) -> None:
        if isinstance(message, PhotoPicture) and message.number == 1:
            pipe.waiting.append(())

    pipe.on_send = withdraw
    pipe.waiting.append((request(1, paths=64),))
    work.run_next()
    work.run_next()
    pictures = [one for one in pipe.sent if isinstance(one, PhotoPicture)]
    assert [one.paths for one in pictures] == [4]
    assert not pictures[0].finished


def test_one_that_is_stopped_ends_with_the_paths_that_it_has(scenes: list[str]) -> None:
    pipe = Pipe()
    work = PhotoWork(pipe)
    asked = request(1, paths=64)

    def stop(message: Any) -> None:
        if isinstance(message, PhotoPicture) and not message.finished:
            pipe.waiting.append((replace(asked, stopped=True),))

    pipe.on_send = stop
    pictures = [one for one in done(work, pipe, asked) if isinstance(one, PhotoPicture)]
    assert [(one.paths, one.finished, one.denoised) for one in pictures] == [
        (4, False, False), (8, True, False),
    ]  # fmt: skip
    assert image(pictures[-1]).shape == (36, 64, 3)


def test_another_that_comes_first_goes_first(scenes: list[str]) -> None:
    # The owner's photograph need not wait for a guest's, which is begun anew.
    pipe = Pipe()
    work = PhotoWork(pipe)
    guests, owners = request(1, paths=64), request(2)

    def interrupt(message: Any) -> None:
        if isinstance(message, PhotoPicture) and message.number == 1 and not work._ended:
            pipe.waiting.append((owners, guests))

    pipe.on_send = interrupt
    pipe.waiting.append((guests,))
    for _ in range(4):
        work.run_next()
    finished = [one.number for one in pipe.sent if isinstance(one, PhotoPicture) and one.finished]
    assert finished == [2, 1]


def test_one_that_fails_is_refused_in_a_sentence_and_the_next_is_taken(scenes: list[str]) -> None:
    pipe = Pipe()
    work = PhotoWork(pipe)
    heron = samples.load("heron-plate").without_variants()
    place = next(n for n, layer in enumerate(heron.layers) if layer.name == "picture")
    lacking = with_changes(heron, {f"layers.{place}.picture": "none.png"})
    broken = replace(request(1), subject=Subject(lacking, Shelf.shipped()))
    messages = done(work, pipe, broken, request(2, paths=4))
    (problem,) = (one for one in messages if isinstance(one, PhotoProblem))
    assert problem.number == 1
    assert "none.png" in problem.sentence
    assert messages[-1].number == 2
    assert messages[-1].finished
