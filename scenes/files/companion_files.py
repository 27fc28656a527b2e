"""Files that a design names (pictures, charts, fonts), which lie beside it or ship with Turnlight.

A file beside the design has precedence over a shipped file of the same name. Shipped files are
found by name too, so that a design made from a sample finds the sample's pictures.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from materials.ordinary import NotOrdinaryError, read_ordinary
from scenes.artwork.shipped import shipped_file, shipped_names
from scenes.design.layers import layer_path
from scenes.design.variants import variants
from scenes.files.atomic import PlaceProblem, write_new
from scenes.parts.layer import LayerModel
from scenes.parts.part import Part
from scenes.problems import DesignProblem, printable
from scenes.quantities import FileName, marker_of

if TYPE_CHECKING:
    from scenes.design.document import Design

__all__ = ["MOST_BYTES", "SHIPPED", "CompanionFiles", "copy_files", "file_names", "layer_files"]

MOST_BYTES = 20_000_000
"""Most bytes of one file."""


@dataclass(frozen=True, slots=True)
class CompanionFiles:
    """The files that a design may name.

    Parameters
    ----------
    folder : Path, optional
        Folder of the design file; None for a sample, or a design without a file.
    held : tuple of (str, bytes)
        Name and content of files that are not written yet; they precede those in the folder.
    """

    folder: Path | None = None
    held: tuple[tuple[str, bytes], ...] = ()

    @classmethod
    def of(cls, path: str | Path) -> "CompanionFiles":
        """The files beside a design file.

        Parameters
        ----------
        path : path
            Path of the design file.
        """
        return cls(Path(path).absolute().parent)

    def with_file(self, name: str, data: bytes) -> "CompanionFiles":
        """A copy with one more file, as if it were in the folder.

        Parameters
        ----------
        name : str
            A plain name.
        data : bytes
        """
        return replace(self, held=(*self.held, (name, data)))

    def read(self, name: str, field: str) -> bytes:
        """Read a file.

        Parameters
        ----------
        name : str
            A plain name.
        field : str
            Path of the field that names it, for a refusal.

        Raises
        ------
        DesignProblem
            If there is no such file beside the design, or it cannot be read.
        """
        for held, data in self.held:
            if held == name:
                return data
        lead = f'{field}: "{printable(name)}"'
        where = "" if self.folder is None else f' in "{printable(str(self.folder), 300)}"'
        try:
            if self._leads_outside(name):
                raise DesignProblem(
                    f"{lead} is a link that leads out of the design's folder; put the file itself "
                    f"beside the design{where}.",
                    field=field,
                )
            found = self._found(name)
        except DesignProblem:
            raise
        except (OSError, ValueError):
            found = None
        if found is not None:
            return _read(found, lead, field)
        if name in shipped_names():
            return shipped_file(name)
        raise DesignProblem(
            f"{lead} is not there; put the file beside the design{where}.", field=field
        )

    def _found(self, name: str) -> Path | None:
        """The file beside the design, or None."""
        if self.folder is None or name != Path(name).name:
            return None
        path = self.folder / name
        return path if path.exists() else None

    def _leads_outside(self, name: str) -> bool:
        """Tell whether the file is a link to a place that is not in the folder itself."""
        if self.folder is None or name != Path(name).name:
            return False
        path = self.folder / name
        return path.is_symlink() and path.resolve().parent != self.folder.resolve()


SHIPPED = CompanionFiles()
"""Only the files that ship with Turnlight."""


def _read(path: Path, lead: str, field: str) -> bytes:
    try:
        data, _ = read_ordinary(path, MOST_BYTES + 1)
    except NotOrdinaryError:
        raise DesignProblem(f"{lead} is no ordinary file; give one that is.", field=field) from None
    except OSError as error:
        raise DesignProblem(
            f"{lead} cannot be read ({error.strerror or type(error).__name__}); give another file.",
            field=field,
        ) from None
    if len(data) > MOST_BYTES:
        raise DesignProblem(
            f"{lead} is larger than {MOST_BYTES // 1_000_000} MB; give a smaller one.", field=field
        )
    return data


def file_names(design: "Design") -> Iterator[tuple[str, str]]:
    """List every companion file that a design and its variants name.

    Parameters
    ----------
    design : Design

    Yields
    ------
    (str, str)
        Path of the field, and name of the file.
    """
    yield from _named("order", design.order)
    yield from layer_files(design)


def layer_files(design: "Design") -> Iterator[tuple[str, str]]:
    """List the companion files without which the wrap cannot be built, as `file_names` does.

    Parameters
    ----------
    design : Design

    Yields
    ------
    (str, str)
    """
    for _, made in variants(design):
        for index, layer in enumerate(made.layers):
            yield from _named(layer_path(made.layers, index), layer)
    for place, wrap in enumerate(design.wraps):
        for index, layer in enumerate(wrap.layers):
            yield from _named(f"wraps.{place}.layers.{index}", layer)


def _named(path: str, layer: LayerModel | Part) -> Iterator[tuple[str, str]]:
    for name, field in type(layer).model_fields.items():
        value = getattr(layer, name)
        if isinstance(value, str) and isinstance(marker_of(field), FileName):
            yield f"{path}.{name}", value


def copy_files(design: "Design", folder: Path, to: Path) -> None:
    """Copy the companion files of a design to another folder.

    Files that are not in `folder` ship with Turnlight and need no copy.

    Parameters
    ----------
    design : Design
    folder : Path
        Folder of the design file.
    to : Path
        The other folder.

    Raises
    ------
    DesignProblem
        If another file of that name is in `to`, or the copy cannot be written.
    """
    if to == folder:
        return
    here, there = CompanionFiles(folder), CompanionFiles(to)
    for field, name in dict.fromkeys(file_names(design)):
        if not (folder / name).exists():
            continue
        data = here.read(name, field)
        try:
            put = write_new(to / name, data)
        except PlaceProblem as problem:
            raise DesignProblem(f'{field}: "{printable(name)}" {problem}.', field=field) from None
        if not put and there.read(name, field) != data:
            raise DesignProblem(
                f'{field}: another file called "{printable(name)}" is in that folder; save '
                "elsewhere.",
                field=field,
            )
