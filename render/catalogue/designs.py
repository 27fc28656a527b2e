"""Designs of a catalogue: read from files, with the tasks and the page of each."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from render.catalogue.pages import DesignPage, VariantEntry
from render.catalogue.public_design import PublicDesign, customers_named, public_subjects
from render.catalogue.site_folder import Card
from render.catalogue.tasks import Task, TaskKind, joined_film, small_size
from render.common.plain_name import plain_name
from render.common.problems import RequestProblem
from render.request.options import SAMPLE, subject_of
from render.request.subject import Size, Subject
from scenes.customer.notes import layer_words, own_notes
from scenes.customer.number import design_number
from scenes.design.differences import differences
from scenes.design.document import Design
from scenes.design.threads import thread_names
from scenes.figures.figures import Kind
from scenes.figures.formatter import FigureFormatter
from scenes.files.samples import text as sample_text
from scenes.files.storage import read
from scenes.problems import shown

__all__ = ["CatalogueDesign", "CatalogueSettings", "read_design", "slugs_of"]


_STANDING_IN = 12
"""Frames of a spin page that stand in for the rod itself (`render.spin.spin_page.STANDING_IN`)."""


@dataclass(frozen=True, slots=True)
class CatalogueSettings:
    """How the pictures of a catalogue are made.

    Parameters
    ----------
    size : (int, int)
        Width and height of stills, pixels.
    film_size : (int, int)
        Width and height of turntables, pixels.
    spin_size : (int, int)
        Width and height of the frames of spin pages, pixels.
    frames : int
        Pictures in one turn; 0 for no turntables.
    detail : str
        Value of a `Detail`.
    photo : bool
        Path-trace stills and turntables; spin pages show the rod itself.
    samples : int, optional
        Paths through each pixel of a photo.
    engine : str, optional
        Value of an `Engine` for photos.
    """

    size: Size = (1600, 900)
    film_size: Size = (960, 540)
    spin_size: Size = (1280, 720)
    frames: int = 48
    detail: str = "normal"
    photo: bool = False
    samples: int | None = None
    engine: str | None = None


@dataclass(frozen=True, slots=True)
class _Version:
    """A design, or a variant of it, and what is made of it."""

    subject: Subject
    still: Task
    spin: Task


@dataclass(frozen=True, slots=True)
class CatalogueDesign:
    """A design of a catalogue.

    Parameters
    ----------
    name : str
        Name of its page, without an ending.
    versions : tuple of _Version
        The design itself and its variants.
    film : Task or None
    notes : tuple of str
        What was left out, one sentence each.
    """

    name: str
    versions: tuple[_Version, ...]
    film: Task | None
    notes: tuple[str, ...]

    def tasks(self) -> Iterator[Task]:
        """Every task whose result its page shows."""
        for version in self.versions:
            yield version.still
            yield version.spin
        if self.film is not None:
            yield self.film

    def page(self) -> DesignPage:
        """What its page shows."""
        first = self.versions[0]
        design = first.subject.design
        return DesignPage(
            title=design.title,
            builder=design.order.builder,
            price=_price(design),
            notes=own_notes(design),
            size=first.still.size,
            small=small_size(first.still.size),
            pictures=(first.still.names[0], first.still.names[1]),
            film="" if self.film is None else self.film.names[0],
            film_size=(0, 0) if self.film is None else self.film.size,
            spin=first.spin.names[0],
            variants=tuple(_variant(design, version) for version in self.versions[1:]),
            figures=tuple(_figures(first.subject)),
            threads=tuple(_threads(first.subject)),
        )

    def card(self) -> Card:
        """What the index shows of it."""
        first = self.versions[0]
        design = first.subject.design
        width, height = small_size(first.still.size)
        count = len(self.versions) - 1
        others = f", {count} variants" if count > 1 else ", 1 variant" if count else ""
        length = FigureFormatter(design.units).amount(design.placement.length, Kind.LENGTH)
        return Card(
            self.name,
            design.title,
            _price(design),
            f"{length} long{others}",
            first.still.names[1],
            width,
            height,
            tuple(name for task in self.tasks() for name in task.names),
        )


def slugs_of(files: Sequence[str]) -> dict[str, str]:
    """Name the pages of designs by their files.

    Parameters
    ----------
    files : sequence of str
        Paths, or ``sample:`` and a sample's name.

    Returns
    -------
    dict
        File by the name of its page.

    Raises
    ------
    RequestProblem
        If there are none, or two of one name.
    DesignProblem
        If one is not there.
    """
    if not files:
        raise RequestProblem("designs: none is given; give one design file or more.")
    found: dict[str, str] = {}
    for file in files:
        stem = file.removeprefix(SAMPLE) if file.startswith(SAMPLE) else Path(file).stem
        name = plain_name(stem) or "design"
        if name in found:
            raise RequestProblem(
                f"designs: {shown(found[name])} and {shown(file)} would have one page, "
                f"{name}.html; give each file its own name."
            )
        found[name] = file
    for file in files:
        if file.startswith(SAMPLE):
            sample_text(file.removeprefix(SAMPLE))
        elif not Path(file).is_file():
            read(Path(file))
    return found


def read_design(
    name: str, file: str, shelf: Path | None, settings: CatalogueSettings
) -> CatalogueDesign:
    """Read a design, and list what is to be made of it.

    Parameters
    ----------
    name : str
        Name of its page.
    file : str
        Path, or ``sample:`` and a sample's name.
    shelf : Path, optional
        The builder's own shelf, instead of the one that the design names.
    settings : CatalogueSettings

    Raises
    ------
    DesignProblem, ShelfProblem, RequestProblem
    """
    given = subject_of(file, shelf)
    subjects, notes = public_subjects(given)
    notes += [
        f"The {field} has a word of the customer's name; is it to be seen?"
        for field in customers_named(given.design)
    ]
    made = [(subject, PublicDesign.of(subject)) for subject in subjects]
    versions = tuple(
        _Version(
            subject,
            Task(
                TaskKind.STILL,
                public,
                settings.size,
                settings.detail,
                photo=settings.photo,
                samples=settings.samples,
                engine=settings.engine,
            ),
            Task(
                TaskKind.SPIN_PAGE,
                public,
                settings.spin_size,
                settings.detail,
                frames=_STANDING_IN,
            ),
        )
        for subject, public in made
    )
    return CatalogueDesign(name, versions, _film(made[0][1], settings), tuple(notes))


def _film(public: PublicDesign, settings: CatalogueSettings) -> Task | None:
    if not settings.frames:
        return None
    film = Task(
        TaskKind.FILM,
        public,
        settings.film_size,
        settings.detail,
        frames=settings.frames,
        photo=settings.photo,
        samples=settings.samples,
        engine=settings.engine,
    )
    return joined_film(film) if settings.photo else film


def _price(design: Design) -> str:
    price, currency = design.order.price, design.bench.currency
    if price is None:
        return ""
    number = f"{price:.0f}" if price == round(price) else f"{price:.2f}"
    return f"{number} {currency}".strip()


def _variant(design: Design, version: _Version) -> VariantEntry:
    made = version.subject.design
    words = ", ".join(differences(design, made))
    name = version.subject.variant
    return VariantEntry(
        name,
        "" if words.casefold() == name.casefold() else words,
        "" if _price(made) == _price(design) else _price(made),
        version.still.names[1],
        version.spin.names[0],
    )


def _figures(subject: Subject) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Names and values of the numbers that a customer reads."""
    plan, design = subject.plan(), subject.design
    written = FigureFormatter(design.units)
    lower, upper = (2 * float(plan.blank.radius(at)) for at in (plan.start, plan.end))
    coats = design.finish.coats
    yield "Length", (written.amount(design.placement.length, Kind.LENGTH),)
    yield "From the butt", (written.span(plan.start, plan.end),)
    yield "Blank there", (f"{written.span(lower, upper)} thick",)
    yield "Layers", tuple(layer_words(design))
    yield "Finish", (f"{coats} coats" if coats > 1 else "1 coat" if coats else "none",)
    yield "Design number", (design_number(design, subject.shelf, subject.beside),)


def _threads(subject: Subject) -> Iterator[tuple[str, str]]:
    """Name and colour of every thread."""
    names = dict.fromkeys(name for _, name in thread_names(subject.design))
    for thread in (subject.shelf.thread(name) for name in names):
        yield thread.name, thread.colour
