"""Spells: the times for which a condition counts as in certain states."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from ortools.sat.python import cp_model

from witnessmark.planner.sequence.model.outline import runs
from witnessmark.planner.sequence.model.variables import Linear, Stay, Variables


@dataclass(eq=False)
class StateInterval:
    """A time for which a condition counts as in certain states, being changed to and from included.

    ``begin``: where it begins; ``opens`` and ``closes``: tenths after the state was reached between
    which a condition left alone is in the states (``closes`` None: it does not lapse out of them).
    """

    stay: Stay
    begin: Linear
    opens: int
    closes: int | None


def intervals(v: Variables, name: str, states: Collection[str]) -> list[StateInterval]:
    """All intervals for which a condition may count as in one of the states."""
    found = []
    for stay in v.stays[name]:
        for opens, closes in runs(v.outline.conditions[name], stay.state, states):
            if closes is not None and stay.by is None and closes <= v.outline.ages[name]:
                continue  # it was over before the beginning
            at_once = stay.by is not None and opens == 0
            begin = stay.by.start if at_once and stay.by is not None else stay.begin + opens
            found.append(StateInterval(stay, begin, opens, closes))
    return found


def avoided(v: Variables, interval: StateInterval) -> list[cp_model.LiteralT]:
    """Ways in which a interval does not come about within the plan.

    Its setter is left out; or the state lapses into it only after it was left, or after the finish.
    """
    ways: list[cp_model.LiteralT] = []
    if interval.stay.outside is not None:
        ways.append(interval.stay.outside)
    if interval.opens:
        early = v.literal()
        v.cp.add(interval.stay.left < interval.begin).only_enforce_if(early)
        late = v.literal()
        v.cp.add(v.finish <= interval.begin).only_enforce_if(late)
        ways += [early, late]
    return ways


def over_by(v: Variables, interval: StateInterval, time: Linear) -> list[cp_model.LiteralT]:
    """Ways in which a interval is over by a time: changed by a setter, or lapsed before one starts."""
    left = v.literal()
    v.cp.add(interval.stay.gone <= time).only_enforce_if(left)
    if interval.closes is None:
        return [left]
    lapsed = v.literal()
    end = interval.stay.begin + interval.closes
    v.cp.add(end <= interval.stay.left).only_enforce_if(lapsed)
    v.cp.add(end <= time).only_enforce_if(lapsed)
    return [left, lapsed]


def begins_at_once(interval: StateInterval) -> bool:
    """Whether the interval is there from before the start."""
    return interval.stay.by is None and interval.opens == 0
