"""The job of a choice, its work, from which its time is forecast, and its expected size."""

from pathlib import Path

from geometry.grid import Detail
from render.common.file_size import megabytes
from render.page.send.export_options import EXPORT_OPTIONS, PAPERS, Preset
from render.page.send.order import Choice
from render.page.workers.export_worker import ExportJob, ExportKind
from render.request.capture_settings import CaptureSettings
from render.request.subject import Size, Subject
from render.timing.work import Work

__all__ = ["job_of", "size_words", "work_of"]

_KINDS = {ExportKind.ROD_SHEET: ExportKind.SHEET.value, ExportKind.ROD_PICTURE: "rod"}
"""Work under the name that it has on the command line."""

_STILL_ENDINGS = (".png",)

_LIMITED = (".gif", ".mp4", ".webp", ".html")
"""Formats of files that are made to fit a size limit."""

_BITS = {".png": 3.7, ".gif": 1.0, ".mp4": 0.27, ".webp": 0.39}
"""Bits for each pixel of a frame: the mean of three samples at 960 x 540 and 10 frames, which
differ by a quarter either way."""

_USUAL = 2
"""Designs in a file of several for which its size and limit are given; more get more room."""


def job_of(number: int, choice: Choice, subjects: tuple[Subject, ...], path: Path) -> ExportJob:
    """The job that makes what a client has chosen.

    Parameters
    ----------
    number : int
        Of the job.
    choice : Choice
    subjects : tuple of Subject
        The designs in it.
    path : Path
        File to write.
    """
    preset = EXPORT_OPTIONS[choice.kind].presets[choice.size]
    return ExportJob(
        number,
        choice.kind,
        subjects,
        path,
        size=_size(choice, len(subjects)),
        frames=preset.frames,
        max_mb=_max_mb(preset, choice, len(subjects)),
        detail=preset.detail,
        paper=choice.size if choice.size in PAPERS else PAPERS[0],
        signed=choice.signed and EXPORT_OPTIONS[choice.kind].signed,
        resolution=preset.resolution,
    )


def _size(choice: Choice, count: int) -> Size | None:
    """Width and height of pictures, pixels; designs one above the other are all as high."""
    size = EXPORT_OPTIONS[choice.kind].size(choice.size, choice.shape)
    if size is None or choice.kind is not ExportKind.COMPARISON or count <= _USUAL:
        return size
    return size[0], 2 * round(size[1] * count / _USUAL / 2)


def _max_mb(preset: Preset, choice: Choice, count: int) -> float | None:
    """Limit of a file, megabytes; twice as much at most as for two designs, which mail takes."""
    if preset.max_mb is None or choice.ending not in _LIMITED:
        return None
    return preset.max_mb * min(max(count / _USUAL, 1), 2)


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


def size_words(choice: Choice, subjects: tuple[Subject, ...]) -> str:
    """Describe the expected size of what a client has chosen.

    Parameters
    ----------
    choice : Choice
    subjects : tuple of Subject
        The designs in it.

    Returns
    -------
    str
        Empty where it is not known in advance.

    Raises
    ------
    DesignProblem
        If a mesh of the design cannot be made.
    """
    preset, count = EXPORT_OPTIONS[choice.kind].presets[choice.size], len(subjects)
    if choice.kind is ExportKind.MESH:
        return _mesh_words(subjects[0], Detail(preset.detail), choice.ending)
    size = _size(choice, count)
    if size is None:
        return ""
    limit = _max_mb(preset, choice, count)
    words = _picture_words(choice.ending, preset.frames, size, limit, count)
    return f"{count} designs: {words}" if count > 1 and words else words


def _mesh_words(subject: Subject, detail: Detail, ending: str) -> str:
    from render.output.export import forecast

    triangles, size = forecast(subject.plan(), detail, ending)
    counted = f"{triangles / 1e6:.1f} million" if triangles > 1e6 else f"{triangles:,}"
    return f"{counted} triangles, about {megabytes(size)}"


def _picture_words(ending: str, frames: int, pixels: Size, limit: float | None, count: int) -> str:
    bits = _BITS.get(ending)
    width, height = pixels
    if ending == ".html":
        rod = "the rods themselves" if count > 1 else "The rod itself"
        each = " of each" if count > 1 else ""
        stand_ins = f"{frames} pictures{each} to stand in for {'them' if count > 1 else 'it'}"
        return f"{rod}, and {stand_ins}; {limit:g} MB at most"
    if bits is None:
        return ""
    frames = 1 if ending == ".png" else frames
    size = bits / 8 * width * height * frames / 1e6
    text = f"{width} × {height}"
    if frames > 1:
        text += f", {frames} pictures"
    if limit is not None and size >= limit:
        return text + f", made smaller where it must be to stay under {limit:g} MB"
    return text + (f", about {size:.1f} MB" if size < 10 else f", about {size:.0f} MB")
