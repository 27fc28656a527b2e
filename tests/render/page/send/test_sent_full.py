"""Everything that is sent, on a disk that takes a kilobyte: one sentence, and no part of it."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, cast

import pytest

from materials.shelf import Shelf
from render.page.workers.export_worker import ExportJob, ExportKind, JobEnded, _JobQueue
from render.request.subject import Subject
from scenes.design.document import with_changes
from scenes.files import samples

pytestmark = pytest.mark.render


class _PageEnd:
    """The page's end of a pipe: one job is sent."""

    def __init__(self) -> None:
        self.ended: list[JobEnded] = []

    def poll(self, timeout: float = 0.0) -> bool:
        return False

    def send(self, message: object) -> None:
        if isinstance(message, JobEnded):
            self.ended.append(message)


@pytest.fixture
def no_room() -> Iterator[None]:
    resource = pytest.importorskip("resource", reason="no limits on this system")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1024, hard))
    yield
    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.usefixtures("coarse_mesh", "small_picture", "no_room")
@pytest.mark.parametrize(
    ("kind", "ending"),
    [
        (ExportKind.STILL, ".png"),
        (ExportKind.TURNTABLE, ".gif"),
        (ExportKind.COMPARISON, ".mp4"),
        (ExportKind.SPIN_PAGE, ".html"),
        (ExportKind.SHEET, ".pdf"),
        (ExportKind.TEMPLATE, ".pdf"),
        (ExportKind.MESH, ".glb"),
    ],
)
def test_no_room_for_what_is_sent(kind: ExportKind, ending: str, tmp_path: Path) -> None:
    design = samples.load("half-scale").without_variants()
    middle = design.placement.middle
    # Short, since nothing of it is looked at.
    short = {"placement.from": middle - 15, "placement.to": middle + 15}
    design = with_changes(design, short)
    other = with_changes(design, {"relief.gap": 30})
    subjects = tuple(Subject(one, Shelf.shipped()) for one in (design, other))
    pipe = _PageEnd()
    queue = _JobQueue(cast(Any, pipe))
    path = tmp_path / f"1-wrap{ending}"
    queue._take(ExportJob(1, kind, subjects, path, size=(320, 240), frames=2, detail="draft"))
    queue.run_next()
    (ended,) = pipe.ended
    assert ended.problem == (
        f'"{path}" cannot be written, because it grows larger than files may be there; ask for '
        "less or give another place."
    )
    assert list(tmp_path.iterdir()) == []
