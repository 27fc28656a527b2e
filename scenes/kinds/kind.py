"""A kind of layer: everything that the rest of Turnlight knows of it, as one object.

Each folder below is one kind. Its `kind.py` offers one object, `KIND`, put together from files of
fixed names: `model.py`, `builder.py`, `bench.py`, `lines.py`, `words.py`, `defaults.py`,
`numbers.py` and `summary.py`; a kind leaves out those that it does not need. `scenes.design.layers`
lists these objects. Code outside looks the kind of a layer up there and names none.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar, get_args

from materials.shelf import Shelf
from scenes.figures.figures import Sentence
from scenes.kinds.builder import CompanionContext, LayerBuilder, ThreadUse, WrapContext
from scenes.kinds.defaults import NewLayer, Surroundings
from scenes.kinds.entries import Entries, default_entries
from scenes.kinds.lines import BlankLine, BlankMark
from scenes.kinds.numbers import Numbers
from scenes.kinds.words import FieldWording
from scenes.parts.layer import LayerModel
from scenes.quantities import Units

__all__ = ["Kind"]

L = TypeVar("L", bound=LayerBuilder[Any])


@dataclass(frozen=True, slots=True)
class Kind(Generic[L]):
    """A kind of layer.

    Parameters
    ----------
    model : type of LayerModel
        What a design says of such a layer; its ``kind`` is the name that files give.
    builder : type of LayerBuilder
        How such a layer is laid.
    summary : callable
        From a layer and units: a few short values for the head of its card, the first of which
        tells it from others of its kind.
    entries : callable
        What it brings to the bench, from its laying, the thread that it took, and the wrap.
    lines, marks : callable
        Its lines and its named points on paper, from its laying.
    words : mapping of str to Say
        How its fields are said in a label, by name, where name and value would not be plain.
    headline : tuple of str
        Fields the first given of which stands for the whole layer in a label.
    defaults : callable, optional
        Ways to begin such a layer in a design, the likeliest first; without it a layer begins as
        in the samples, or with what its fields allow.
    numbers : Numbers
        Its numbers for `check`, for its card, and for wishes.
    notes : callable
        What the template says of it in words, from its laying.
    alternative_entry : callable
        From a layer and a field that it does not give: what the field would hold to look like
        what it gives instead, as in a file; None if that does not tell.
    changes_for_file : callable
        What else changes, by field, when a field is to name another file: from the layer, the
        field, the file's name, the field's path, the files beside the design, and the shelf.
    """

    model: type[LayerModel]
    builder: type[L]
    summary: Callable[[Any, Units], Iterator[str]]
    entries: Callable[[L, tuple[ThreadUse, ...], WrapContext], Entries] = default_entries
    lines: Callable[[L], Iterator[BlankLine]] = lambda builder: iter(())
    marks: Callable[[L], Iterator[BlankMark]] = lambda builder: iter(())
    words: Mapping[str, FieldWording] = field(default_factory=dict)
    headline: tuple[str, ...] = ()
    defaults: Callable[[Surroundings], Iterator[NewLayer]] | None = None
    numbers: Numbers[L] = field(default_factory=Numbers)
    notes: Callable[[L], Iterator[Sentence]] = lambda builder: iter(())
    alternative_entry: Callable[[Any, str], Any] = lambda layer, field: None
    changes_for_file: Callable[[Any, str, str, str, CompanionContext, Shelf], dict[str, Any]] = (
        lambda layer, field, name, path, beside, shelf: {}
    )

    @property
    def name(self) -> str:
        """The ``kind`` that a file gives."""
        return str(get_args(self.model.model_fields["kind"].annotation)[0])
