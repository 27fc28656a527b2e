"""The reason why no design meets the wishes, in one sentence."""

from collections.abc import Iterator, Sequence

from scenes.fit.fields import field_at
from scenes.fit.knobs import Knob
from scenes.fit.trials import Trial, Trials
from scenes.fit.wishes import Wish
from scenes.problems import one_of
from scenes.quantities import Quantity, plain_number

__all__ = ["reason_for"]

_PROBE = 1e-3
"""Distance beyond the nearest design at which obstacles are looked for, in visible steps."""


def reason_for(
    nearest: Trial,
    exact: Trial,
    wishes: Sequence[Wish],
    trials: Trials,
    knobs: Sequence[Knob],
) -> str:
    """Word the reason why a wish cannot be met.

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
    """
    units = trials.design.units
    missed = [wish for wish in wishes if nearest.miss(wish) > 1]
    if not missed:
        # The numbers are met, but the wrap cannot be wound.
        listed = one_of((wish.text(units) for wish in wishes), "and")
        why = _clause(nearest.problem) or "it cannot be wound so"
        return f"{listed} cannot be had here, for {why}."
    listed = one_of((wish.text(units) for wish in missed), "and")
    read = [(wish.measure, nearest.value(wish.measure)) for wish in missed]
    values = one_of(
        (measure.text(value, units) for measure, value in read if value is not None), "and"
    )
    stopped = next(_obstacles(exact, missed, trials, knobs), None)
    if stopped:
        why = stopped
    elif not knobs:
        why = "for nothing that would change it is free"
    elif len(wishes) > 1:
        why = "for the wishes pull against each other"
    else:
        why = "for no field that may change brings it nearer"
    return f"{listed} cannot be had here; the nearest is {values}, {why}."


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
        for bound, word in ((knob.low, "less"), (knob.high, "more")):
            if abs(value - bound) < _PROBE * knob.step:
                yield f"for {knob.path} can be no {word} than {plain_number(bound)}{unit}"
        for step in (-_PROBE * knob.step, _PROBE * knob.step):
            back = trials.evaluate({**free, knob.path: value - step})
            beyond = trials.evaluate({**free, knob.path: value + step})
            # Worse in one direction, and no valid design in the other.
            worse = back.measured is not None and any(
                back.miss(wish) > nearest.miss(wish) for wish in missed
            )
            if worse and beyond.measured is None:
                yield f"since beyond that {_clause(beyond.problem)}"


def _clause(sentence: str) -> str:
    """Take the fact and the field from a refusal, without its advice, which would mislead here."""
    field, colon, fact = sentence.rstrip(".").partition("; ")[0].partition(": ")
    return f"{fact} ({field})" if colon else field
