"""The command that makes a catalogue of designs for the builder's web site."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from render.cli.converters import Flag, Output, Pixels, Whole
from render.cli.streams import print_line
from render.common.error_reporting import print_message
from render.common.problems import DrawingProblem, RequestProblem
from render.common.progress import Progress
from render.output.film import Film
from render.pathtraced.engines import Engine, cuda_devices
from render.request.capture_settings import CaptureSettings
from render.request.options import choice, detail_of, size_of
from render.request.subject import Size
from scenes.files.atomic import Unfinished

if TYPE_CHECKING:
    from render.catalogue.cluster import Certificates, DaskWorkers
    from render.catalogue.designs import CatalogueSettings

__all__ = ["catalogue"]

_FILM_SHORT_SIDE, _SPIN_SHORT_SIDE = 540, 720
"""Most pixels of the shorter side of turntables, and of pictures on spin pages."""

_MOST_WORKERS = 512
_MOST_SAID = 20
"""Most designs whose problems are said one by one."""


def catalogue(
    *designs: str,
    output: Output,
    title: str = "Catalogue",
    size: Pixels = "16:9",
    frames: Whole = 48,
    detail: str = "normal",
    shelf: Path | None = None,
    photo: Flag = False,
    samples: Whole | None = None,
    engine: str | None = None,
    workers: Whole | None = None,
    scheduler: str | None = None,
    tls_ca: Path | None = None,
    tls_cert: Path | None = None,
    tls_key: Path | None = None,
) -> None:
    """Make a web site of designs: a page for each, with pictures to turn, and an index.

    Put the folder on any web host. Customers' names, your notes of what was agreed, your times and
    what things cost you are left out; a price stands there where the design has one
    (`order.price`). A second run makes what has changed, and removes pages of designs that are not
    named any more.

    Parameters
    ----------
    designs : str
        Design files, in the order of the index.
    output : Path
        A new folder, or that of a catalogue made before.
    title : str
        Heading of the index.
    size : str
        Width and height of stills, pixels, or a shape: 16:9, 1:1, 4:5 or 9:16.
    frames : int
        Pictures in one turn of a turntable; 0 for none.
    detail : str
        draft, normal or fine.
    shelf : Path, optional
        Your own shelf of threads, in place of those that the designs name.
    photo : bool
        Path-trace stills and turntables: up to a minute for each picture.
    samples : int, optional
        Paths through each pixel of a photo.
    engine : str, optional
        What traces a photo: gpu, llvm or scalar; otherwise the fastest that works.
    workers : int, optional
        Processes on this machine; otherwise one for each processor, and for photos one
        for each graphics processor, or a single one.
    scheduler : str, optional
        Address of a Dask scheduler whose workers have this Turnlight: tcp://… or tls://…
    tls_ca, tls_cert, tls_key : Path, optional
        PEM files for a tls:// scheduler: its authority's certificate, and your certificate and key.
    """
    from render.catalogue.catalogue import make_catalogue
    from render.catalogue.designs import CatalogueSettings

    pixels = size_of(size)
    CaptureSettings(photo, samples, None, None if engine is None else _engine(engine))
    film_size = _at_most(pixels, _FILM_SHORT_SIDE)
    if frames:
        Film(film_size, frames)
    settings = CatalogueSettings(
        size=pixels,
        film_size=film_size,
        spin_size=_at_most(pixels, _SPIN_SHORT_SIDE),
        frames=frames,
        detail=detail_of(detail).value,
        photo=photo,
        samples=samples,
        engine=None if engine is None else _engine(engine).value,
    )
    gpus = _gpus(settings) if scheduler is None else ()
    count = _workers(workers, scheduler, photo=photo, gpus=len(gpus))
    certificates = _certificates(tls_ca, tls_cert, tls_key, scheduler)

    @contextmanager
    def opened() -> "Iterator[DaskWorkers]":
        from render.catalogue.cluster import dask_workers

        # Removed after Ctrl-C too.
        with (
            Unfinished(output.absolute().with_name("workers"), folder=True) as scratch,
            dask_workers(
                scheduler,
                count=count,
                certificates=certificates,
                scratch=scratch.path,
                gpus=gpus,
            ) as workers,
        ):
            yield workers

    with Progress() as progress:
        outcome = make_catalogue(
            designs,
            output,
            opened,
            settings=settings,
            title=title,
            shelf=shelf,
            progress=progress,
        )
    for note in outcome.notes:
        print_message(note)
    parts = [f"{outcome.designs} designs", f"{outcome.made} results made"]
    parts += [f"{outcome.present} were there already"] if outcome.present else []
    parts += [f"{outcome.removed} pages removed"] if outcome.removed else []
    if outcome.designs:
        print_line(f"{output}: {', '.join(parts)}")
    for file, problem in list(outcome.problems.items())[:_MOST_SAID]:
        # A refusal of the file itself begins with its name.
        print_message(problem if problem.startswith('"') else f"{file}: {problem}")
    if outcome.problems:
        raise DrawingProblem(
            f"catalogue: {len(outcome.problems)} of {len(designs)} designs could not be made anew; "
            "correct what is said above, and run the same again."
        )


def _at_most(size: Size, short_side: int) -> Size:
    """Size of the same shape with a shorter side of so many pixels at most; even, as films are."""
    scale = min(1.0, short_side / min(size))
    width, height = (2 * round(side * scale / 2) for side in size)
    return width, height


def _engine(text: str) -> Engine:
    return choice("engine", text, Engine)


def _gpus(settings: "CatalogueSettings") -> tuple[str, ...]:
    """Graphics processors of this machine, if photographs may be made on them."""
    if not settings.photo or settings.engine not in (None, Engine.GPU.value):
        return ()
    return cuda_devices()


def _workers(
    workers: int | None, scheduler: str | None, *, photo: bool, gpus: int = 0
) -> int | None:
    if workers is None:
        # One photograph takes all processors, or a graphics processor.
        return max(1, gpus) if photo else None
    if scheduler is not None:
        raise RequestProblem(
            "workers: --workers and --scheduler are given together; the scheduler has workers of "
            "its own, so leave --workers out."
        )
    if not 1 <= workers <= _MOST_WORKERS:
        raise RequestProblem(
            f"workers: {workers} is not between 1 and {_MOST_WORKERS}; give the number of "
            "processes, such as 4."
        )
    return workers


def _certificates(
    authority: Path | None, certificate: Path | None, key: Path | None, scheduler: str | None
) -> "Certificates | None":
    given = {"tls-ca": authority, "tls-cert": certificate, "tls-key": key}
    missing = [name for name, path in given.items() if path is None]
    if len(missing) == len(given):
        return None
    if scheduler is None or not scheduler.startswith("tls://"):
        raise RequestProblem(
            "tls: certificates are for a scheduler whose address begins with tls://; give its "
            "--scheduler."
        )
    if authority is None or certificate is None or key is None:
        raise RequestProblem(f"tls: --{missing[0]} is missing; give all three files.")
    for name, path in given.items():
        if path is not None and not path.is_file():
            raise RequestProblem(f"{name}: {path} is not there; give a PEM file.")
    from render.catalogue.cluster import Certificates

    return Certificates(authority, certificate, key)
