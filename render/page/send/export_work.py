"""The work of an export job, from which its time is forecast."""

from geometry.grid import Detail
from render.page.workers.export_worker import ExportJob, ExportKind
from render.request.capture_settings import CaptureSettings
from render.timing.work import Work

__all__ = ["work_of"]

_KINDS = {ExportKind.ROD_SHEET: ExportKind.SHEET.value, ExportKind.ROD_PICTURE: "rod"}
"""Work under the name that it has on the command line."""

_STILL_ENDINGS = (".png",)


def work_of(job: ExportJob) -> Work:
    """Describe the work of a job.

    Parameters
    ----------
    job : ExportJob

    Raises
    ------
    DesignProblem
        If its design cannot be laid out.
    """
    is_photo = job.kind is ExportKind.PHOTOGRAPH
    return Work(
        _KINDS.get(job.kind, job.kind.value),
        job.path.suffix,
        size=job.size,
        frames=1 if job.path.suffix in _STILL_ENDINGS else job.frames,
        detail=job.detail,
        designs=len(job.subjects),
        limited=job.max_mb is not None,
        paper=job.paper if job.size is None else "",
        sheets=_sheets(job),
        paths=CaptureSettings(photo=True).paths if is_photo else 0,
        points=job.subjects[-1].points_of_rod(Detail(job.detail)),
    )


def _sheets(job: ExportJob) -> int:
    """Sheets of a rod: its own, and one for each of its wraps."""
    further = len(job.subjects[-1].design.wraps)
    return further + 2 if job.kind is ExportKind.ROD_SHEET and further else 1
