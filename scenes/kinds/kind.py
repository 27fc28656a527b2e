"""A kind of layer: its interface to the rest of Turnlight, as one object.

Each folder below is one kind. Its `kind.py` offers one object, `KIND`, put together from files of
fixed names: `model.py`, `builder.py`, `bench.py`, `lines.py`, `words.py`, `defaults.py`,
`numbers.py`, `refit.py` and `summary.py`; a kind leaves out those that it does not need.
`scenes.design.layers` lists these objects. Code outside looks the kind of a layer up there and
names none.
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
from scenes.kinds.refit import Changes, Refit
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
        Model in the document; its ``kind`` is the name in files.
    builder : type of LayerBuilder
        Computes and lays such a layer.
    summary : callable
        From a layer and units: a few short values for the head of its card, the first of which
        tells it from others of its kind.
    entries : callable
        From a builder, the thread that the layer took, and the wrap: what it brings to the bench.
    bench_warnings : callable
        From a builder of a design as it is cut: what cannot be laid at the bench as it asks.
    lines, marks : callable
        From a builder: lines and named points on paper.
    words : mapping of str to Say
        Wording of fields in a label, by name of the field; other fields read "name value".
    headline : tuple of str
        Fields of which the first that is given stands for the whole layer in a label.
    defaults : callable, optional
        Yields new layers to try in a design, the likeliest first. Without it a new layer is as in
        the samples, or has values that its fields allow.
    refits : callable
        From a layer and a `Refit`: changes that suit another blank, the likeliest first.
    numbers : Numbers
        Numbers for `check`, for its card, and for wishes.
    notes : callable
        From a builder: sentences for the template.
    alternative_entry : callable
        From a layer and a field that it does not give: a value of that field, as in a file, that
        looks like what the layer gives in its place; None if there is none.
    changes_for_file : callable
        Further changes, by field, when a field gets another file: from the layer, the field, the
        name of the file, the path of the field, the files beside the design, and the shelf.
    """

    model: type[LayerModel]
    builder: type[L]
    summary: Callable[[Any, Units], Iterator[str]]
    entries: Callable[[L, tuple[ThreadUse, ...], WrapContext], Entries] = default_entries
    bench_warnings: Callable[[L], Iterator[Sentence]] = lambda builder: iter(())
    lines: Callable[[L], Iterator[BlankLine]] = lambda builder: iter(())
    marks: Callable[[L], Iterator[BlankMark]] = lambda builder: iter(())
    words: Mapping[str, FieldWording] = field(default_factory=dict)
    headline: tuple[str, ...] = ()
    defaults: Callable[[Surroundings], Iterator[NewLayer]] | None = None
    refits: Callable[[Any, Refit], Iterator[Changes]] = lambda layer, refit: iter(({},))
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
