"""What can be sent of a whole rod: its picture and its sheet, made by the worker of the page."""

from pathlib import Path

import pdfplumber
import pytest
from PIL import Image

from render.common.progress import Progress
from render.page.send.export_work import work_of
from render.page.workers import export_worker
from render.page.workers.export_worker import ExportJob, ExportKind
from render.request.subject import Subject
from scenes.design.document import design_from, document_of
from scenes.files import samples, storage


class Counted(Progress):
    """Progress that is only counted."""

    done = 0.0

    def advance(self, share: float = 1) -> None:
        self.done += share


@pytest.fixture(scope="module")
def subject() -> Subject:
    document = document_of(samples.load("ringed-grip-wrap").without_variants())
    document["wraps"] = [
        {
            "name": "fore wrap",
            "placement": {"from": 420, "to": 440},
            "layers": [{"kind": "cover", "thread": "Hawthorn Red A", "margin": 0}],
        }
    ]
    document["agreed"] = [{"date": "2026-11-30", "number": "7K3Q-9XMA"}]
    design = design_from(document)
    return Subject(design, storage.shelf_for(design, "design.toml"))


def made(kind: ExportKind, subject: Subject, path: Path) -> None:
    size = (600, 300) if path.suffix == ".png" else None
    job = ExportJob(1, kind, (subject,), path, size=size, detail="draft", resolution=300)
    progress = Counted(export_worker._steps(job), quiet=True)
    export_worker._MAKERS[kind](job, progress, None)
    assert progress.done == pytest.approx(export_worker._steps(job))
    assert path.exists()


@pytest.mark.render
@pytest.mark.usefixtures("coarse_mesh")
def test_the_picture_of_a_rod(subject: Subject, tmp_path: Path) -> None:
    path = tmp_path / "rod.png"
    made(ExportKind.ROD_PICTURE, subject, path)
    with Image.open(path) as picture:
        assert picture.size == (600, 300)
        assert picture.info["dpi"] == pytest.approx((300, 300), abs=0.1)


@pytest.mark.render
@pytest.mark.usefixtures("coarse_mesh", "small_picture")
def test_the_sheet_of_a_rod(subject: Subject, tmp_path: Path) -> None:
    path = tmp_path / "rod.pdf"
    made(ExportKind.ROD_SHEET, subject, path)
    with pdfplumber.open(path) as pdf:
        first = pdf.pages[0].extract_text()
    assert ": the rod" in first
    assert "Agreed by the customer on 2026-11-30: design number 7K3Q-9XMA." in first
    assert "Stop" in first
    assert "This is not what was agreed" in first


def test_the_time_of_a_rods_sheet_counts_each_wrap(subject: Subject, tmp_path: Path) -> None:
    rod, one = (
        work_of(ExportJob(1, kind, (subject,), tmp_path / "a.pdf"))
        for kind in (ExportKind.ROD_SHEET, ExportKind.SHEET)
    )
    assert (rod.kind, one.kind) == ("bench sheet", "bench sheet")
    assert (rod.sheets, one.sheets) == (3, 1)
