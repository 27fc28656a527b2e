"""Files made to hang, to fill the memory or to take over the decoder: one sentence each.

Before decoding had a process of its own, each of the fonts here hung its program for ever.
"""

import _thread
import io
import signal
import struct
import subprocess
import sys
import threading
import zlib
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from render.colour.photograph import decode_photograph
from scenes.artwork import faces, images, lettering, typesetting
from scenes.artwork.images import read_image
from scenes.artwork.lettering import check_font, text_outline
from scenes.decoding import cache, process
from scenes.decoding.cancelling import Cancellation, CancelledError
from scenes.decoding.errors import DecodingError, Reason
from scenes.decoding.frames import FrameError, frame_header, read_frame
from scenes.decoding.process import Limits, decode
from scenes.problems import DesignProblem
from tests.scenes.decoding.hostile import (
    chunk,
    nested_components,
    nested_subroutines,
    png_of_chunks,
)
from tests.waiting import WITHIN, eventually

FIELDS = ("decal.text", "decal.font")
AMPLE = Limits(cpu_s=600, wall_s=600, memory=1_000_000_000, output=100_000_000)
"""So much that a test which waits for a limit fails by its own time instead."""

HANGS = nested_subroutines()


def outline(font: bytes, text: str = "A") -> lettering.Outline:
    return text_outline(text, font, "own.ttf", FIELDS)


def png(pixels: np.ndarray) -> bytes:
    data = io.BytesIO()
    Image.fromarray(pixels).save(data, "PNG")
    return data.getvalue()


@pytest.fixture
def hurried(monkeypatch) -> None:
    """The same limits of fonts, with less time."""
    limits = replace(faces.FONT_LIMITS, cpu_s=1.0, wall_s=5.0)
    monkeypatch.setattr(lettering, "FONT_LIMITS", limits)
    monkeypatch.setattr(typesetting, "FONT_LIMITS", limits)


# ---- fonts


@pytest.mark.parametrize("deep", [1, 3])
def test_fonts_that_are_nested_a_little_are_drawn(deep) -> None:
    parts = outline(nested_components(deep))
    assert len(parts.contours) == 2 ** (deep - 1)
    assert outline(nested_subroutines(deep)).width == pytest.approx(1.0)


@pytest.mark.parametrize("base", [True, False])
def test_composite_glyphs_that_double_forty_times_are_refused(base) -> None:
    data = nested_components(base=base)
    assert len(data) < 2000
    with pytest.raises(DesignProblem, match=r"^decal.text: .* more than 60000 points; give fewer"):
        outline(data)


@pytest.mark.usefixtures("hurried")
def test_subroutines_that_double_forty_times_are_stopped_and_not_tried_again(monkeypatch) -> None:
    assert len(HANGS) < 1000
    check_font(HANGS, "own.ttf", "decal.font")
    for _ in range(2):
        with pytest.raises(DesignProblem, match=r'^decal.font: "own.ttf" takes too long') as caught:
            outline(HANGS)
        assert caught.value.field == "decal.font"
        monkeypatch.setattr(cache, "decode", lambda *_: pytest.fail("It was tried again."))


def test_a_font_in_a_circle_is_refused() -> None:
    data = bytearray(nested_components(2))
    # The one composite glyph refers to itself instead (OpenType, "glyf", component glyph index).
    at = data.index(struct.pack(">h", -1))
    data[at + 12 : at + 14] = struct.pack(">H", 3)
    with pytest.raises(DesignProblem, match=r"^decal"):
        outline(bytes(data))


# ---- pictures


def test_text_that_unpacks_to_a_thousand_times_its_size_is_refused() -> None:
    packed_text = chunk(b"zTXt", b"k\0\0" + zlib.compress(bytes(1_000_000)))
    data = png_of_chunks(packed_text * 100)
    assert len(data) < 200_000
    with pytest.raises(DesignProblem, match=r'^decal.picture: "own.png" is '):
        read_image(data, "own.png", "decal.picture", 100)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux bounds a process's memory")
def test_what_needs_more_memory_than_it_may_is_stopped() -> None:
    data = png(np.zeros((3000, 3000, 3), np.uint8))
    assert len(data) < 50_000
    with pytest.raises(DecodingError) as caught:
        decode("png", data, {"most_side": 4000}, replace(AMPLE, memory=20_000_000))
    assert caught.value.reason is Reason.MEMORY
    header, block = decode("png", data, {"most_side": 4000}, AMPLE)
    assert header == {"width": 3000, "height": 3000}
    assert block == bytes((0, 0, 0, 255)) * 9_000_000


def test_no_more_is_taken_than_an_answer_may_have() -> None:
    data = png(np.zeros((100, 100, 3), np.uint8))
    with pytest.raises(DecodingError) as caught:
        decode("png", data, {"most_side": 100}, replace(AMPLE, output=39_999))
    assert caught.value.reason is Reason.MEMORY


def test_what_comes_with_turnlight_needs_no_process(monkeypatch) -> None:
    monkeypatch.setattr(cache, "decode", lambda *_: pytest.fail("A process was asked."))
    assert text_outline("A", None, "", FIELDS).height == pytest.approx(1.0)
    data = images.is_shipped.__globals__["shipped_file"]("vine.png")
    assert read_image(data, "own.png", "decal.picture", 4000).ndim == 3


def test_a_photograph_is_that_which_was_saved(rng) -> None:
    seen = rng.integers(0, 256, (40, 30, 3), np.uint8)
    assert np.array_equal(decode_photograph(png(seen), process._ROOT / "a.png"), seen)


# ---- the process


def working() -> list[process._Child]:
    """The children that are at work."""
    return [one for one in _children() if one not in process._IDLE]


def _children() -> list[process._Child]:
    threads = [one for one in threading.enumerate() if isinstance(one, process._Exchange)]
    return [one._given[0] for one in threads]


def is_there(child: process._Child) -> bool:
    return child._process.poll() is None


def test_a_child_is_used_again_and_another_comes_for_one_that_ended() -> None:
    data = png(np.zeros((2, 2, 3), np.uint8))
    decode("png", data, {"most_side": 10}, AMPLE)
    (first,) = process._IDLE
    decode("font", nested_components(1), {}, AMPLE)
    assert process._IDLE == [first]
    first._process.kill()
    assert decode("png", data, {"most_side": 10}, AMPLE)[0] == {"width": 2, "height": 2}
    assert process._IDLE != [first]


def test_a_refused_file_costs_no_child() -> None:
    for _ in range(2):
        with pytest.raises(DecodingError) as caught:
            decode("png", b"no picture", {"most_side": 10}, AMPLE)
        assert caught.value.reason is Reason.KIND
        (child,) = process._IDLE
        assert is_there(child)


def test_a_child_that_dies_at_its_work_is_one_refusal() -> None:
    killed = []

    def kill() -> None:
        eventually(lambda: bool(working()))
        killed.extend(working())
        killed[0]._process.kill()

    thread = threading.Thread(target=kill)
    thread.start()
    with pytest.raises(DecodingError) as caught:
        decode("letters", HANGS, {"runs": [["A", False]], "number": 0}, AMPLE)
    thread.join()
    assert caught.value.reason is Reason.BROKEN
    assert not is_there(killed[0])


def test_time_on_the_clock_is_bounded_too() -> None:
    with pytest.raises(DecodingError) as caught:
        decode("letters", HANGS, {"runs": [["A", False]], "number": 0}, replace(AMPLE, wall_s=0.3))
    assert caught.value.reason is Reason.TIME
    assert _children() == []


@pytest.fixture
def interruptible() -> Iterator[None]:
    """Ctrl-C interrupts, also where the tests run in the background of a shell that ignores it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("interruptible")
def test_ctrl_c_ends_the_child_at_once() -> None:
    found = []

    def interrupt() -> None:
        eventually(lambda: bool(working()))
        found.extend(working())
        _thread.interrupt_main()

    thread = threading.Thread(target=interrupt)
    thread.start()
    with pytest.raises(KeyboardInterrupt):
        decode("letters", HANGS, {"runs": [["A", False]], "number": 0}, AMPLE)
    thread.join()
    assert not is_there(found[0])
    assert _children() == []


def test_work_that_is_called_off_ends_with_its_child() -> None:
    cancellation, ended = Cancellation(), threading.Event()

    def work() -> None:
        with cancellation.covering(), pytest.raises(CancelledError):
            decode("letters", HANGS, {"runs": [["A", False]], "number": 0}, AMPLE)
        with cancellation.covering(), pytest.raises(CancelledError):
            decode("png", b"", {"most_side": 10}, AMPLE)
        ended.set()

    thread = threading.Thread(target=work)
    thread.start()
    eventually(lambda: bool(working()))
    (child,) = working()
    cancellation.cancel()
    assert ended.wait(WITHIN)
    assert not is_there(child)


def test_a_child_starts_without_what_it_does_not_need() -> None:
    """Its modules decide how long a first picture or letter takes: numpy and pydantic stay out."""
    program = (
        f"import sys; sys.path.append({str(process._ROOT)!r}); "
        "from scenes.decoding import child, outlines, pictures; print(*sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-c", program], capture_output=True, text=True, check=True
    )
    loaded = {name.partition(".")[0] for name in done.stdout.split()}
    assert {"scenes", "PIL", "fontTools"} <= loaded
    assert not loaded & {"numpy", "pydantic", "pydantic_core", "scipy", "vtkmodules", "render"}


# ---- answers of a decoder that a file has taken over


@pytest.mark.parametrize(
    "answer",
    [
        frame_header({}, 101),
        struct.pack(">IQ", 1 << 31, 0),
        struct.pack(">IQ", 2, 0) + b"[]",
        struct.pack(">IQ", 2, 0) + b"\x80\x04",
        struct.pack(">IQ", 50_000, 0) + b"[" * 50_000,
    ],
    ids=["large", "large header", "list", "pickle", "deep"],
)
def test_what_is_no_frame_is_refused(answer) -> None:
    with pytest.raises(FrameError):
        read_frame(io.BytesIO(answer).read, 100)


def test_a_frame_that_ends_early_is_no_answer() -> None:
    whole = frame_header({"a": 1}, 4) + b"four"
    assert read_frame(io.BytesIO(whole).read, 4) == ({"a": 1}, b"four")
    for size in range(len(whole)):
        with pytest.raises(EOFError):
            read_frame(io.BytesIO(whole[:size]).read, 4)


NUMBERS = np.arange(9.0).tobytes()
"""The width of a run, and a contour of four points."""


@pytest.mark.parametrize(
    ("header", "block"),
    [
        ({}, b""),
        ({"contours": "1", "capital": 1.0, "unit": 1.0}, b""),
        ({"contours": -1, "capital": 1.0, "unit": 1.0}, b""),
        ({"contours": 10**30, "capital": 1.0, "unit": 1.0}, b""),
        ({"contours": 1, "capital": 1.0, "unit": 1.0}, struct.pack("=II", 1, 5) + NUMBERS),
        ({"contours": 1, "capital": 1.0, "unit": 1.0}, struct.pack("=II", 1, 4) + NUMBERS[:-3]),
        ({"contours": 1, "capital": 1.0, "unit": 1.0}, struct.pack("=II", 2, 4) + NUMBERS),
        ({"contours": 1, "capital": np.nan, "unit": 1.0}, struct.pack("=II", 1, 4) + NUMBERS),
        ({"contours": 1, "capital": 1.0, "unit": 0.0}, struct.pack("=II", 1, 4) + NUMBERS),
        ({"contours": 1, "capital": 1.0, "unit": 1.0}, struct.pack("=II", 1, 4) + b"\xff" * 72),
    ],
)
def test_letters_that_are_none_are_refused(monkeypatch, header, block) -> None:
    monkeypatch.setattr(typesetting, "decoded", lambda *_: (header, bytearray(block)))
    with pytest.raises(DesignProblem, match=r'^decal.font: "own.ttf" is no font'):
        outline(b"")


@pytest.mark.parametrize("size", [(2, 3), (-2, -2), (0, 0), (10**9, 0), ("2", 2), (2, None)])
def test_pixels_that_are_no_picture_are_refused(monkeypatch, size) -> None:
    header = dict(zip(("width", "height"), size, strict=True))
    monkeypatch.setattr(images, "decoded", lambda *_: (header, bytearray(16)))
    with pytest.raises(DesignProblem, match="is broken or cut short"):
        read_image(b"", "own.png", "decal.picture", 100)


def test_reasons_that_are_none_are_taken_for_damage() -> None:
    for header in ({"reason": "x"}, {"reason": 7}, {"reason": None}):
        assert process._error_of(header).reason is Reason.BROKEN
    odd = process._error_of({"reason": "size", "details": {"width": [1], "reason": "x", "self": 1}})
    assert (odd.number("width"), odd.text("mode")) == (0, "")
