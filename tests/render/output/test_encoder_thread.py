"""Pictures are encoded beside drawing, in order; whoever fails, both threads end."""

import threading
from collections.abc import Iterator

import pytest

from render.output.encoder_thread import encode_beside


def test_pictures_come_in_order_from_another_thread() -> None:
    encoded: list[int] = []
    threads: set[int] = set()

    def encode(pictures: Iterator[int]) -> None:
        for picture in pictures:
            threads.add(threading.get_ident())
            encoded.append(picture)

    encode_beside(encode, iter(range(20)))
    assert encoded == list(range(20))
    assert len(threads) == 1
    assert threading.get_ident() not in threads


def test_the_next_picture_is_made_while_one_is_encoded() -> None:
    made: list[int] = []
    second = threading.Event()

    def pictures() -> Iterator[int]:
        for number in range(2):
            if number:
                second.set()
            made.append(number)
            yield number

    def encode(given: Iterator[int]) -> None:
        next(given)
        # Only another thread can set this while the first picture is being encoded.
        assert second.wait(30)
        assert list(given) == [1]

    encode_beside(encode, pictures())
    assert made == [0, 1]


@pytest.mark.parametrize("failing", ["drawing", "encoding"])
def test_a_failure_ends_both(failing: str) -> None:
    made: list[int] = []

    def pictures() -> Iterator[int]:
        for number in range(1000):
            if failing == "drawing" and number == 3:
                raise KeyboardInterrupt
            made.append(number)
            yield number

    def encode(given: Iterator[int]) -> None:
        for number in given:
            if failing == "encoding" and number == 3:
                raise OSError("no space")

    with pytest.raises(KeyboardInterrupt if failing == "drawing" else OSError):
        encode_beside(encode, pictures())
    assert len(made) < 20
    assert all(thread.name != "encoder" for thread in threading.enumerate())
