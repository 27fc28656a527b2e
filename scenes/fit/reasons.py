"""The reason why no design meets the wishes, in one sentence."""

import itertools
from collections.abc import Iterator, Sequence

from scenes.design.document import Design
from scenes.fit.fields import field_at
from scenes.fit.knobs import Knob, Switch
from scenes.fit.trials import Trial, Trials
from scenes.fit.wishes import Wish
from scenes.problems import one_of
from scenes.quantities import Count, Quantity, plain_number

__all__ = ["reason_for", "unusual_clause"]

_PROBE = 1e-3
"""Distance beyond the nearest design at which obstacles are looked for, in visible steps."""


def reason_for(
    nearest: Trial,
    exact: Trial,
    wishes: Sequence[Wish],
    trials: Trials,
    knobs: Sequence[Knob],
    switches: Sequence[Switch],
) -> str:
    """Word the reason why a wish cannot be met, without a full stop.

    Parameters
    ----------
    nearest : Trial
        The design nearest to the wishes, with rounded numbers.
    exact : Trial
        The same without rounding; the obstacle is just beyond it.
    wishes : sequence of Wish
    trials : Trials
    knobs : sequence of Knob
        The continuous fields that may be changed.
    switches : sequence of Switch
        Other values of the discrete fields that may be changed.
    """
    units = trials.design.units
    missed = [wish for wish in wishes if nearest.miss(wish) > 1]
    if not missed:
        # The numbers are met, but the wrap cannot be wound.
        listed = one_of((wish.text(units) for wish in wishes), "and")
        why = _clause(nearest.problem) or "it cannot be wound so"
        return f"{listed} cannot be had here, for {why}"
    listed = one_of((wish.text(units) for wish in missed), "and")
    read = [(wish.measure, nearest.value(wish.measure)) for wish in missed]
    values = one_of(
        (measure.text(value, units) for measure, value in read if value is not None), "and"
    )
    ends = _ends_of_counts(nearest, trials, switches)
    stopped = next(itertools.chain(_obstacles(exact, missed, trials, knobs), ends), None)
    if stopped:
        why = stopped
    elif not knobs and not any(switch.counts for switch in switches):
        why = "for nothing that would change it is free"
    elif len(wishes) > 1:
        why = "for the wishes pull against each other"
    else:
        why = "for no field that may change brings it nearer"
    return f"{listed} cannot be had here; the nearest is {values}, {why}"


def _ends_of_counts(nearest: Trial, trials: Trials, switches: Sequence[Switch]) -> Iterator[str]:
    """Find the whole numbers that are as small or as large as they may be."""
    for path, value in nearest.changes.items():
        others = [switch.value for switch in switches if switch.path == path and switch.counts]
        if path in trials.settings or not others or value == field_at(trials.design, path).value:
            continue
        marker = field_at(trials.design, path).marker
        allowed = (max(marker.low, 1), marker.high) if isinstance(marker, Count) else ()
        verb = "can be" if value in allowed else "is usually"
        if value == min(others):
            yield f"for {path} {verb} no less than {value}"
        elif value == max(others):
            yield f"for {path} {verb} no more than {value}"


def unusual_clause(beyond: Trial, knobs: Sequence[Knob], design: Design) -> str:
    """Word what would meet the wishes beyond what builders use.

    Parameters
    ----------
    beyond : Trial
        A design that meets the wishes.
    knobs : sequence of Knob
        Continuous fields with their usual bounds.
    design : Design
        The present design.

    Returns
    -------
    str
        To be added to a sentence without a full stop.
    """
    usual = {knob.path: knob for knob in knobs}
    told = []
    for path, value in beyond.changes.items():
        knob = usual.get(path)
        if field_at(design, path).value == value or (knob is not None and knob.holds(value)):
            continue
        marker = field_at(design, path).marker
        unit = marker.unit(design.units) if isinstance(marker, Quantity) else ""
        told.append(f"{path} {plain_number(value)}{unit}")
    return f"; {one_of(told, 'and')} would do it, which is unusual"


def _obstacles(
    nearest: Trial, missed: Sequence[Wish], trials: Trials, knobs: Sequence[Knob]
) -> Iterator[str]:
    """Find what stops each field from bringing the design nearer."""
    free = {path: value for path, value in nearest.changes.items() if path not in trials.settings}
    units = trials.design.units
    for knob in knobs:
        value = free.get(knob.path, knob.start)
        marker = field_at(trials.design, knob.path).marker
        unit = marker.unit(units) if isinstance(marker, Quantity) else ""
        bounds = zip((knob.low, knob.high), ("less", "more"), knob.narrowed, strict=True)
        for bound, word, narrowed in bounds:
            # A present value that is a bound by itself hinders nothing that is usual.
            if abs(value - bound) < _PROBE * knob.step and not (narrowed and bound == knob.start):
                verb = "is usually" if narrowed else "can be"
                yield f"for {knob.path} {verb} no {word} than {plain_number(bound)}{unit}"
        for step in (-_PROBE * knob.step, _PROBE * knob.step):
            back = trials.evaluate({**free, knob.path: value - step})
            beyond = trials.evaluate({**free, knob.path: value + step})
            # Worse in one direction, and no valid design in the other.
            worse = back.valid and any(back.miss(wish) > nearest.miss(wish) for wish in missed)
            if worse and not beyond.valid:
                yield f"since beyond that {_clause(beyond.problem)}"


def _clause(sentence: str) -> str:
    """Take the fact and the field from a refusal, without its advice, which would mislead here."""
    field, colon, fact = sentence.rstrip(".").partition("; ")[0].partition(": ")
    return f"{fact} ({field})" if colon else field
