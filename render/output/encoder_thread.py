"""Pictures encoded in a thread of their own, while the next one is drawn in the caller's.

A window is drawn from the thread that made it, so it is the encoder that moves. Drawing lets go of
the interpreter's lock, and leaves a core idle where it does not work in parallel.
"""

from collections.abc import Callable, Iterable, Iterator
from queue import Empty, Full, Queue
from threading import Event, Thread
from typing import TypeVar

__all__ = ["encode_beside"]

_MOST_WAITING = 2
"""Pictures that are drawn before they are encoded."""

_GLANCE = 0.05
"""Seconds between two looks at whether the other thread has ended."""

T = TypeVar("T")


class _Abandoned(Exception):
    """No more pictures come, because drawing has failed."""


def encode_beside(encode: Callable[[Iterator[T]], None], pictures: Iterable[T]) -> None:
    """Encode pictures in another thread while further ones are made in this one.

    Parameters
    ----------
    encode : callable
        Takes an iterator of the pictures; called in the other thread, which has ended when this
        function returns or raises.
    pictures : iterable
        Made one after another, in this thread.

    Raises
    ------
    Exception
        Whatever making or encoding a picture has raised.
    """
    waiting: Queue[T] = Queue(_MOST_WAITING)
    complete, abandoned, ended = Event(), Event(), Event()
    failures: list[Exception] = []

    def taken() -> Iterator[T]:
        while True:
            if abandoned.is_set():
                raise _Abandoned
            whole = complete.is_set()
            try:
                yield waiting.get(timeout=0 if whole else _GLANCE)
            except Empty:
                if whole:
                    return

    def work() -> None:
        try:
            encode(taken())
        except _Abandoned:
            pass
        except Exception as failure:
            failures.append(failure)
        finally:
            ended.set()

    thread = Thread(target=work, name="encoder")
    thread.start()
    try:
        for picture in pictures:
            while not ended.is_set():
                try:
                    waiting.put(picture, timeout=_GLANCE)
                    break
                except Full:
                    continue
            if ended.is_set():
                break
        complete.set()
    finally:
        if not complete.is_set():
            abandoned.set()
        thread.join()
    if failures:
        raise failures[0]
