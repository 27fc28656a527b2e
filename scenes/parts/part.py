"""What every part of a design has, and threads as parts name them."""

from typing import Annotated, ClassVar

from pydantic import BaseModel, ConfigDict, Field

from scenes.problems import one_of, refusal
from scenes.quantities import Count, Example, ShelfName

__all__ = ["Part", "ThreadName", "ThreadRuns", "TrimThread", "only_one"]


class Part(BaseModel):
    """Any part of a design: frozen, with no field but its own."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        serialize_by_alias=True,
        hide_input_in_errors=True,
    )

    alternatives: ClassVar[tuple[str, ...]] = ()
    """Fields of which a design gives exactly one."""
    material_fields: ClassVar[tuple[str, ...]] = ()
    """Fields that describe what it is made of, measured once, rather than chosen by eye."""


ThreadName = Annotated[
    str, ShelfName(80, "the name of a thread on the shelf"), Example('"Heron Silver A"')
]


def only_one(part: Part) -> None:
    """Check that exactly one of a part's alternatives is given.

    Parameters
    ----------
    part : Part
        Part that is validated.

    Raises
    ------
    PydanticCustomError
        If none or several are given.
    """
    given = [name for name in part.alternatives if getattr(part, name) is not None]
    if not given:
        options = one_of(part.alternatives)
        raise refusal(f"it has no {options}; give exactly one of them")
    if len(given) > 1:
        raise refusal(f"{one_of(given, 'and')} are given together; keep one of them")


class TrimThread(Part):
    """Some threads of one kind, side by side."""

    thread: ThreadName
    count: Annotated[int, Count(1, 60, "the number of these threads side by side")] = 1


ThreadRuns = Annotated[
    tuple[TrimThread, ...],
    Field(strict=False, min_length=1, max_length=60),
    Example('[ { thread = "Heron Silver A", count = 2 } ]'),
]
