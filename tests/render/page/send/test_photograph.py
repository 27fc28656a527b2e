"""The photograph of the page: path-traced, with the time that it takes said once it is known."""

from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from PIL import Image

from materials.shelf import Shelf
from render.page.workers.export_worker import (
    ExportJob,
    ExportKind,
    JobEnded,
    JobProgress,
    _JobQueue,
)
from render.pathtraced import photo
from render.request.subject import Subject
from scenes.files import samples

pytestmark = pytest.mark.render

SIZE = (96, 54)


class _PageEnd:
    """The page's end of a pipe, which keeps what is sent."""

    def __init__(self) -> None:
        self.sent: list[object] = []

    def poll(self, timeout: float = 0.0) -> bool:
        return False

    def send(self, message: object) -> None:
        self.sent.append(message)


def test_a_photograph_is_made_and_its_time_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photo, "SAMPLES", 8)
    design = samples.load("two-start-band").without_variants()
    pipe, path = _PageEnd(), tmp_path / "1-wrap.png"
    subjects = (Subject(design, Shelf.shipped()),)
    queue = _JobQueue(cast(Any, pipe))
    queue._take(ExportJob(1, ExportKind.PHOTOGRAPH, subjects, path, size=SIZE, detail="draft"))
    queue.run_next()
    ended = pipe.sent[-1]
    assert isinstance(ended, JobEnded)
    assert (ended.problem, ended.notes) == ("", ())
    steps = [one for one in pipe.sent if isinstance(one, JobProgress)]
    (told,) = (one.left for one in steps if one.left is not None)
    assert told > 0
    shares = [one.share for one in steps]
    assert shares == sorted(shares)
    # Most of the bar is the picture, which is most of the work.
    assert shares[-1] == pytest.approx(1.0)
    assert sum(0.2 < share < 0.95 for share in shares) >= 1
    with Image.open(path) as image:
        assert image.size == SIZE
        assert "path-traced, 8 samples a pixel" in str(image.info)
        assert np.asarray(image.convert("L")).std() > 5
