"""The design document: everything that defines a wrap, as one frozen model.

The model holds lengths in mm and angles in radians, whatever units the file uses. `design_from`
reads the nested tables of a file; `document_of` writes them in the file's own units.
"""

import itertools
from collections.abc import Mapping
from typing import Annotated, Any, Self

from pydantic import Field, PrivateAttr, ValidationError, model_validator
from pydantic_core import PydanticCustomError

from scenes.design import checks, paths, rod
from scenes.design.former_names import with_current_names
from scenes.design.layers import Layer, layer_path
from scenes.design.wording import problem_of
from scenes.parts.bench import BenchSpec
from scenes.parts.blank import BlankSpec, Placement
from scenes.parts.finish import FinishSpec
from scenes.parts.layer import EdgeModel, LayerModel, ReliefModel, WoundModel
from scenes.parts.order import Agreement, OrderSpec
from scenes.parts.part import Part
from scenes.parts.view import CameraSpec, LightSpec
from scenes.problems import DesignProblem, refusal, shown
from scenes.quantities import Example, Marker, Units, Words

__all__ = [
    "FORMAT",
    "Design",
    "Variant",
    "WrapSpec",
    "design_from",
    "document_of",
    "with_changes",
]

FORMAT = 1
"""The newest version of the document that this Turnlight reads, and the one it writes."""


class Format(Marker):
    """The version of the document."""

    what = f"turnlight = {FORMAT}, the version of the document, at the top of the file"

    def read(self, given: object, units: Units) -> int:
        """Check the version, so that a newer file is not misread.

        Parameters
        ----------
        given : object
            Value in the file.
        units : Units
            Not used.
        """
        if isinstance(given, bool) or not isinstance(given, int) or given < 1:
            raise refusal(f"{shown(given)} is not a version; give turnlight = {FORMAT}")
        if given > FORMAT:
            raise refusal(
                f"version {shown(given)} is newer than this Turnlight reads ({FORMAT}); update "
                "Turnlight to open it"
            )
        return int(given)

    def json_schema(self, units: Units) -> dict[str, Any]:
        """Describe the versions that can be read."""
        return {"type": "integer", "minimum": 1, "maximum": FORMAT}


class Changes(Marker):
    """Changes by path, in the units of the file."""

    what = 'a table of paths and values, such as "relief.gap" = 20'

    def read(self, given: object, units: Units) -> dict[str, Any]:
        """Check the form only; a variant whose changes do not fit the design is set aside.

        Parameters
        ----------
        given : object
            Value in the file.
        units : Units
            Not used.
        """
        if not isinstance(given, Mapping) or not given:
            raise refusal(f"{shown(given)} is not a change; give {self.what}")
        if len(given) > paths.MOST_CHANGES:
            raise refusal(f"{len(given)} changes are more than {paths.MOST_CHANGES}; give fewer")
        return {str(path): paths.plain_value(value, finite=True) for path, value in given.items()}

    def json_schema(self, units: Units) -> dict[str, Any]:
        """Describe the form of the changes; values are not checked by path."""
        plain = ["string", "number", "boolean", "array", "object"]
        return {
            "type": "object",
            "minProperties": 1,
            "maxProperties": paths.MOST_CHANGES,
            "additionalProperties": {"type": plain, "additionalProperties": True},
        }


class Variant(Part):
    """A named set of changes to a design, for comparison."""

    name: Annotated[str, Words(60, "a short name for the variant")]
    changes: Annotated[dict[str, Any], Changes()]


LayerStack = Annotated[
    tuple[Layer, ...],
    Field(strict=False, min_length=1, max_length=24),
    Example(
        '[ { kind = "cover", thread = "Heron Silver A" } ]',
        'at least one [[layers]], such as kind = "cover"',
    ),
]

VariantList = Annotated[
    tuple[Variant, ...],
    Field(strict=False, max_length=24),
    Example('[ { name = "thin finish", changes = { "finish.coats" = 1 } } ]'),
]


class WrapSpec(Part):
    """A further wrap on the same rod; blank, light, view and bench are those of the design."""

    name: Annotated[str, Words(60, "a short name for the wrap"), Example('"butt wrap"')]
    placement: Placement
    layers: LayerStack
    """The layers of this wrap in bench order."""
    finish: FinishSpec | None = None
    """Where it differs from that of the design."""
    variants: VariantList = ()
    """Named sets of changes to this wrap, for comparison."""


class Design(Part):
    """A whole design."""

    turnlight: Annotated[int, Format()]
    units: Annotated[Units, Field(strict=False)]
    title: Annotated[str, Words(200, "a title")]
    notes: Annotated[str, Words(10_000, "notes", shortest=0, lines=True)] = ""
    """The customer reads them on the spin page."""
    shelf: (
        Annotated[str, Words(100, "the file name of your own shelf"), Example('"my-shelf.toml"')]
        | None
    ) = None
    """A file beside the design; its threads go before those of the shipped shelf."""
    order: OrderSpec = OrderSpec()
    blank: BlankSpec
    placement: Placement
    layers: LayerStack
    """The layers of the wrap in bench order: what is laid first stands first."""
    finish: FinishSpec = FinishSpec()
    light: LightSpec = LightSpec()
    camera: CameraSpec = CameraSpec()
    bench: BenchSpec = BenchSpec()
    variants: VariantList = ()
    """Named sets of changes, for comparison."""
    wrap_name: Annotated[str, Words(60, "a short name for the wrap that the design describes")] = (
        "first wrap"
    )
    """It tells it from the further wraps of the rod."""
    wraps: Annotated[
        tuple[WrapSpec, ...],
        Field(strict=False, max_length=12),
        Example(
            '[ { name = "butt wrap", placement = { from = 60, to = 110 }, '
            'layers = [ { kind = "cover", thread = "Heron Silver A" } ] } ]'
        ),
    ] = ()
    """Further wraps on the same rod."""
    agreed: Annotated[
        tuple[Agreement, ...],
        Field(strict=False, max_length=50),
        Example('[ { date = "2026-11-30", number = "7K3Q-9XMA", scheme = "wide gap" } ]'),
    ] = ()
    """What the customer has agreed to, the latest last."""

    _renamed: tuple[str, ...] = PrivateAttr(())
    """One sentence for each field that the file gives under a former name."""

    @property
    def relief(self) -> ReliefModel | None:
        """The first relief, if there is one."""
        return next((layer for layer in self.layers if isinstance(layer, ReliefModel)), None)

    @property
    def cover(self) -> WoundModel | None:
        """The first cover, if there is one."""
        return next((layer for layer in self.layers if isinstance(layer, WoundModel)), None)

    def relief_under(self, layer: LayerModel) -> ReliefModel | None:
        """The last relief laid before a layer.

        Parameters
        ----------
        layer : LayerModel
            A layer of this design.
        """
        before = itertools.takewhile(lambda other: other is not layer, self.layers)
        reliefs = [other for other in before if isinstance(other, ReliefModel)]
        return reliefs[-1] if reliefs else None

    def cover_over(self, relief: ReliefModel) -> WoundModel:
        """The cover wound over a relief.

        Parameters
        ----------
        relief : ReliefModel
            A relief of this design.
        """
        after = itertools.dropwhile(lambda other: other is not relief, self.layers)
        return next(other for other in after if isinstance(other, WoundModel))

    @property
    def trims(self) -> tuple[EdgeModel, ...]:
        """The trims, in bench order."""
        return tuple(layer for layer in self.layers if isinstance(layer, EdgeModel))

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is allowed but is probably a mistake, one sentence each; also variants set aside."""
        places = {variant.name: index for index, variant in enumerate(self.variants)}
        set_aside = (
            f"variants.{places[name]}.changes: {shown(name)} does not fit the design and is set "
            f"aside: {reason}"
            for name, reason in self.variants_set_aside.items()
        )
        return (*self._renamed, *checks.warnings(self), *set_aside)

    @property
    def variants_set_aside(self) -> dict[str, str]:
        """Why variants do not fit the design, one sentence by the variant's name.

        Such a variant stays in the document. It is valid again as soon as its changes make a valid
        design.
        """
        base = self.without_variants()
        reasons: dict[str, str] = {}
        for variant in self.variants:
            try:
                with_changes(base, variant.changes)
            except DesignProblem as problem:
                reasons[variant.name] = str(problem)
        return reasons

    def path_of(self, layer: LayerModel) -> str:
        """The path of a layer.

        Parameters
        ----------
        layer : LayerModel
            A layer of this design.
        """
        index = next(i for i, other in enumerate(self.layers) if other is layer)
        return layer_path(self.layers, index)

    def without_variants(self) -> "Design":
        """Copy the design without its variants."""
        bare = self.model_copy(update={"variants": ()})
        bare.model_fields_set.discard("variants")
        return bare

    @model_validator(mode="after")
    def _checked(self) -> Self:
        checks.check(self)
        rod.check_wraps(self)
        names: set[str] = set()
        for index, variant in enumerate(self.variants):
            field = f"variants.{index}"
            if variant.name in names:
                raise refusal(
                    f"{shown(variant.name)} is used twice; give each variant its own name",
                    field=f"{field}.name",
                )
            names.add(variant.name)
        return self


def design_from(document: Mapping[str, Any]) -> Design:
    """Read a design from nested tables as in a file.

    Parameters
    ----------
    document : dict
        Lengths in the document's own units, angles in degrees.

    Raises
    ------
    DesignProblem
        With one sentence about the most important error.
    """
    given = document.get("units")
    units = Units(given) if isinstance(given, str) and given in tuple(Units) else Units.MM
    document, renamed = with_current_names(document)
    try:
        design = Design.model_validate(document, context={"units": units})
    except ValidationError as error:
        raise problem_of(error, document, Design) from None
    design._renamed = renamed
    return design


def document_of(design: Design, *, defaults: bool = False) -> dict[str, Any]:
    """Write a design as nested tables, in the design's own units.

    Parameters
    ----------
    design : Design
    defaults : bool
        Whether fields that the file leaves out are written with their defaults.
    """
    return design.model_dump(
        mode="json",
        by_alias=True,
        exclude_unset=not defaults,
        exclude_none=True,
        context={"units": design.units},
    )


def with_changes(design: Design, changes: Mapping[str, object]) -> Design:
    """Change a design by path, and check the whole design again.

    Its variants stay as they are, also those that do not fit the changed design.

    Parameters
    ----------
    design : Design
    changes : dict
        New value by path (see `scenes.design.paths`), in the design's own units and degrees.

    Raises
    ------
    DesignProblem
        If there is no such path, or the changed design is not valid.
    """
    try:
        values = {path: paths.plain_value(value) for path, value in changes.items()}
    except PydanticCustomError as error:
        raise DesignProblem(f"{error.message()}.") from None
    document = document_of(design)
    paths.change(document, values)
    return design_from(document)
