"""A first design: a kind of wrap, laid on the blank that was measured.

Of the sample that draws the kind of wrap, only what is seen comes along: its layers, with widths
and counts that suit the blank (`scenes.kinds.refit`), its finish and its light. Its title, notes,
variants, fittings and measurements stay behind.
"""

import heapq
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from materials.shelf import Shelf
from scenes.building.build import FINISH_MARGIN, Plan
from scenes.design.document import FORMAT, Design, design_from, document_of
from scenes.design.layers import kind_of
from scenes.design.threads import check_threads
from scenes.editing.blank_defaults import GRIP_LENGTH, GRIP_WALL
from scenes.editing.layer_defaults import COVER, entry_in_units
from scenes.files import samples
from scenes.files.companion_files import SHIPPED
from scenes.files.toml_writing import document_text
from scenes.kinds.refit import Refit
from scenes.parts.blank import GripMaterial
from scenes.problems import DESIGN_REFUSALS, DesignProblem, shown
from scenes.quantities import Units, length
from scenes.starting.wrap_kinds import WrapKind, wrap_kind

__all__ = ["FirstAnswers", "first_design", "first_text", "remarks"]

_MOST_TRIED = 150
"""Combinations of changes that are tried; the least change is tried first."""

_BY_THE_READINGS = "blank.stations"
"""Path at the start of warnings that the readings alone can mend."""


@dataclass(frozen=True, slots=True)
class FirstAnswers:
    """What is asked before a first design; lengths in `units`.

    Parameters
    ----------
    title : str
    units : Units
    readings : sequence of (float, float)
        Distance from the butt and diameter there.
    start, end : float, optional
        Where the wrap begins and ends, from the butt; beside a grip it may be left to be worked
        out.
    wrap : str
        Name of a `WrapKind`.
    threads : sequence of str
        In place of the kind's own threads, in their order; an empty name keeps that thread.
    customer, rod : str
        Name of the customer, and number of the rod.
    below, above : float, optional
        Where a grip nearer the butt ends, and where one nearer the tip begins.
    """

    title: str
    units: Units
    readings: Sequence[tuple[float, float]]
    start: float | None
    end: float | None
    wrap: str
    threads: Sequence[str] = ()
    customer: str = ""
    rod: str = ""
    below: float | None = None
    above: float | None = None

    def __post_init__(self) -> None:
        if self.start is None and self.below is None:
            raise DesignProblem.at(
                "from",
                "the place where the wrap begins is missing; give its distance from the butt, or "
                "where the grip before it ends.",
            )
        if self.end is None and self.above is None:
            raise DesignProblem.at(
                "to",
                "the place where the wrap ends is missing; give its distance from the butt, or "
                "where the grip after it begins.",
            )
        if self.below is not None and self.above is not None and self.below >= self.above:
            raise DesignProblem.at(
                "above",
                f"{length(self.above * self.units.in_mm, self.units)} is not beyond "
                f"{length(self.below * self.units.in_mm, self.units)}, where the grip before the "
                "wrap ends; give where the next one begins.",
            )


def first_text(answers: FirstAnswers, shelf: Shelf) -> str:
    """Write a first design as a design file.

    Parameters
    ----------
    answers : FirstAnswers
    shelf : Shelf
        Where threads are looked up.

    Raises
    ------
    DesignProblem, GeometryError, MaterialProblem
        As `first_design`.
    """
    return _HEAD + document_text(document_of(first_design(answers, shelf)))


_HEAD = """\
#:schema turnlight.schema.json
# (for text editors that complete TOML: turnlight schema -o turnlight.schema.json makes that file)
#
# A first design, fitted to the blank as measured. turnlight fields tells what each field means.

"""


def first_design(answers: FirstAnswers, shelf: Shelf) -> Design:
    """Make a first design, without a warning that better readings could not mend.

    Parameters
    ----------
    answers : FirstAnswers
    shelf : Shelf
        Where threads are looked up.

    Raises
    ------
    DesignProblem, GeometryError, MaterialProblem
        If the blank, the place or the title cannot be used, or no such wrap fits there: then the
        reason against the likeliest.
    """
    kind = wrap_kind(answers.wrap)
    sample = samples.load(kind.sample).without_variants()
    threads = _chosen_threads(kind, answers.threads, shelf)
    frame = _frame(answers, sample)
    # A wrap of nothing but thread shows whether blank and place can be used at all.
    bare = design_from(
        {**frame, "layers": [{"kind": COVER, "thread": shelf.threads[0].name, "margin": 0}]}
    )
    refit = Refit(sample, bare.blank, bare.placement)
    refused: ValueError | None = None
    bearable: Design | None = None
    for layers in _stacks(sample, refit, threads):
        try:
            made = design_from(
                {
                    **frame,
                    "layers": [
                        entry_in_units(name, entry, answers.units) for name, entry in layers
                    ],
                }
            )
            check_threads(made, shelf)
            Plan(made, shelf, SHIPPED).prepare()
        except DESIGN_REFUSALS as problem:
            refused = refused or problem
            continue
        if all(warning.startswith(_BY_THE_READINGS) for warning in made.warnings):
            return made
        bearable = bearable or made
    if bearable is not None:
        return bearable
    assert refused is not None
    raise refused


def remarks(answers: FirstAnswers, design: Design) -> list[str]:
    """Say what a first design has otherwise than asked, one sentence each.

    Parameters
    ----------
    answers : FirstAnswers
    design : Design
        What `first_design` made of them.
    """
    units = answers.units
    place = design.placement
    laid = (place.start, answers.start, answers.below), (place.end, answers.end, answers.above)
    moved = [
        grip is not None
        for now, asked, grip in laid
        if asked is not None and abs(now - asked * units.in_mm) >= _SAME_PLACE
    ]
    if not moved:
        return []
    if all(moved):
        return [
            f"Cover and finish of the wrap keep clear of the grips: the pattern runs from "
            f"{length(place.start, units)} to {length(place.end, units)}."
        ]
    return [
        f"The readings leave no room for thread beyond the wrap: the pattern runs from "
        f"{length(place.start, units)} to {length(place.end, units)}, and its cover ends where the "
        "readings do. Measure the blank beyond both ends of the wrap for the whole of it."
    ]


_SAME_PLACE = 0.01
"""Difference between two places on the blank that is rounding, mm."""

_MOST_SET_IN = 0.125
"""Share of the wrap's length by which either end is set in, at most."""


def _set_in(answers: FirstAnswers, sample: Design) -> tuple[float, float]:
    """Ends of the wrap, so that the cover beyond them stays on the measured blank.

    The builder who measures at both ends of the wrap thinks of the thread as a whole. Beside a
    grip, cover and finish stay clear of it.
    """
    units = answers.units
    place = sample.placement
    reach = max(0.0, *(place.start - layer.extent(place)[0] for layer in sample.layers))
    start = answers.below if answers.start is None else answers.start
    end = answers.above if answers.end is None else answers.end
    assert start is not None
    assert end is not None
    digits = 1 if units is Units.MM else 2
    wanted = round(min(reach / units.in_mm, max(0.0, _MOST_SET_IN * (end - start))), digits)
    first, last = answers.readings[0][0], answers.readings[-1][0]
    start = max(start, first + wanted) if start >= first else start
    end = min(end, last - wanted) if end <= last else end
    clear = round((reach + FINISH_MARGIN) / units.in_mm, digits)
    if answers.below is not None:
        start = max(start, answers.below + clear)
    if answers.above is not None:
        end = min(end, answers.above - clear)
    return float(f"{start:.6g}"), float(f"{end:.6g}")


def _grips(answers: FirstAnswers) -> list[dict[str, Any]]:
    """The grips beside the wrap, as fittings of the blank."""
    units = answers.units
    long, wall = GRIP_LENGTH / units.in_mm, GRIP_WALL / units.in_mm
    spans = []
    if answers.below is not None:
        spans.append((max(0.0, answers.below - long), answers.below))
    if answers.above is not None:
        spans.append((answers.above, answers.above + long))
    thickest = max(diameter for _, diameter in answers.readings)
    digits = 0 if units is Units.MM else 1
    return [
        {
            "kind": "grip",
            "from": float(f"{start:.6g}"),
            "to": float(f"{end:.6g}"),
            "diameter": round(thickest + 2 * wall, digits),
            "material": GripMaterial.CORK.value,
        }
        for start, end in spans
    ]


def _frame(answers: FirstAnswers, sample: Design) -> dict[str, Any]:
    """The document without its layers."""
    order = {"customer": answers.customer.strip(), "rod": answers.rod.strip()}
    order = {name: words for name, words in order.items() if words}
    seen = document_of(sample)
    start, end = _set_in(answers, sample)
    grips = _grips(answers)
    return {
        "turnlight": FORMAT,
        "units": answers.units.value,
        "title": " ".join(answers.title.split()),
        **({"order": order} if order else {}),
        "blank": {
            "colour": sample.blank.colour,
            **_finish_of(sample),
            "stations": [{"at": at, "diameter": diameter} for at, diameter in answers.readings],
            **({"fitted": grips} if grips else {}),
        },
        "placement": {"from": start, "to": end},
        **_seen_beside(seen, sample.units, answers.units),
    }


def _finish_of(sample: Design) -> dict[str, str]:
    """The outside of a sample's blank, if it says one."""
    finish = document_of(sample)["blank"].get("finish")
    return {} if finish is None else {"finish": finish}


def _seen_beside(document: Mapping[str, Any], given: Units, units: Units) -> dict[str, Any]:
    """Finish, light and camera of a document, in other units."""
    tables = {name: document[name] for name in ("finish", "light", "camera") if name in document}
    # Whichever threads are chosen; the sample's own exposure suits its own threads.
    light = {name: value for name, value in tables.get("light", {}).items() if name != "exposure"}
    tables["light"] = {**light, "hold_highlights": True}
    if given is units:
        return tables
    finish = dict(tables.get("finish", {}))
    if "coat_thickness" in finish:
        figures = 3 if units is Units.MM else 4
        finish["coat_thickness"] = round(
            finish["coat_thickness"] * given.in_mm / units.in_mm, figures
        )
    return {**tables, "finish": finish}


def _chosen_threads(kind: WrapKind, chosen: Sequence[str], shelf: Shelf) -> dict[str, str]:
    own = kind.threads
    if len(chosen) > len(own):
        raise DesignProblem.at(
            "threads",
            f"{len(chosen)} threads are more than the {len(own)} of {shown(kind.name)}; give "
            "fewer.",
        )
    for name in filter(None, chosen):
        shelf.thread(name)
    return {
        name: new or name for name, new in zip(own, [*chosen, *own[len(chosen) :]], strict=True)
    }


Entry = dict[str, Any]


def _stacks(
    sample: Design, refit: Refit, threads: Mapping[str, str]
) -> Iterator[list[tuple[str, Entry]]]:
    """Yield stacks of layers as kind and fields in mm, those with the likeliest changes first."""
    ways: list[list[Entry]] = []
    for layer in sample.layers:
        table = layer.model_dump(
            mode="json",
            by_alias=True,
            exclude_unset=True,
            exclude_none=True,
            context={"units": Units.MM},
        )
        changed = []
        for changes in kind_of(layer).refits(layer, refit):
            entry = {
                name: value for name, value in {**table, **changes}.items() if value is not None
            }
            entry = _with_threads(_rounded(entry), threads)
            if entry not in changed:
                changed.append(entry)
        ways.append(changed or [_with_threads(_rounded(table), threads)])
    for choice in _by_sum([len(way) for way in ways]):
        picked = [way[index] for way, index in zip(ways, choice, strict=True)]
        yield [(layer.kind, entry) for layer, entry in zip(sample.layers, picked, strict=True)]


def _by_sum(counts: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Yield one index for each list, by the sum of the indices."""
    first = (0,) * len(counts)
    waiting, seen = [(0, first)], {first}
    for _ in range(_MOST_TRIED):
        if not waiting:
            return
        total, choice = heapq.heappop(waiting)
        yield choice
        for place, count in enumerate(counts):
            nearby = (*choice[:place], choice[place] + 1, *choice[place + 1 :])
            if nearby[place] < count and nearby not in seen:
                seen.add(nearby)
                heapq.heappush(waiting, (total + 1, nearby))


def _rounded(value: Any) -> Any:
    """Round lengths that were given in inches to what a caliper shows in mm."""
    if isinstance(value, dict):
        return {name: _rounded(item) for name, item in value.items()}
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    return round(value, 3) if isinstance(value, float) else value


def _with_threads(value: Any, threads: Mapping[str, str]) -> Any:
    if isinstance(value, dict):
        return {name: _with_threads(item, threads) for name, item in value.items()}
    if isinstance(value, list):
        return [_with_threads(item, threads) for item in value]
    return threads.get(value, value) if isinstance(value, str) else value
