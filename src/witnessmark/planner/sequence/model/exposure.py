"""The minutes for which exposed states last."""

from __future__ import annotations

from witnessmark.planner.sequence.model.variables import Linear, Variables


def exposure(v: Variables) -> Linear:
    """Tenths that exposed states last, entering and leaving included (lapses left aside)."""
    total: Linear = 0
    for name, condition in v.outline.conditions.items():
        for number, stay in enumerate(v.stays[name]):
            if stay.state in condition.exposed:
                total += _minutes(v, name, number, condition.exposed)
    return total


def _minutes(v: Variables, name: str, number: int, exposed: tuple[str, ...]) -> Linear:
    """From where the state is entered to where it is left; the next exposed state counts itself."""
    stays, lasts = v.stays[name], v.time()
    stay = stays[number]
    begin = 0 if stay.by is None else stay.by.start
    for (i, j), literal in v.follows[name].items():
        if i == number:
            setter = stays[j].by
            if setter is None:
                end: Linear = v.finish
            else:
                end = setter.start if stays[j].state in exposed else setter.over
            v.cp.add(lasts >= end - begin).only_enforce_if(literal)
    return lasts
