"""Children are ended after each test, and nothing decoded in one is known in the next."""

import pytest

from scenes.artwork import lettering
from scenes.decoding import cache, process


@pytest.fixture(autouse=True)
def _afresh():
    _forget()
    yield
    _forget()


def _forget() -> None:
    process._end_idle()
    cache._KEPT.clear()
    lettering._text_outline.cache_clear()
