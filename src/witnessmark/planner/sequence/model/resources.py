"""Resources: used by steps, held by states, never more than there are."""

from __future__ import annotations

from collections.abc import Collection
from itertools import pairwise

from ortools.sat.python import cp_model

from witnessmark.planner.problem.model import Condition
from witnessmark.planner.sequence.model.intervals import StateInterval, intervals
from witnessmark.planner.sequence.model.variables import Variables


def resources_suffice(v: Variables) -> None:
    """``uses`` from start to over and ``holds`` from entering to leaving stay within capacity."""
    for resource in sorted(v.outline.scarce):
        taken: list[cp_model.IntervalVar] = []
        demands: list[int] = []
        for placed in v.placed:
            if units := placed.task.step.uses.get(resource, 0):
                taken.append(_whole(v, placed.start, placed.task.length, placed.present))
                demands.append(units)
        for name, condition in v.outline.conditions.items():
            if v.untimed and condition.lapse:
                continue  # without times it is not known how long it is held
            for units, states in _levels(condition, resource):
                found = [
                    _interval(v, name, interval, states) for interval in intervals(v, name, states)
                ]
                taken += found
                demands += [units] * len(found)
        if taken:
            v.cp.add_cumulative(taken, demands, v.outline.problem.resources[resource])


def _levels(condition: Condition, resource: str) -> list[tuple[int, set[str]]]:
    """Units, and the states that hold them: first what all holding states hold, then what some hold more.

    A condition being changed holds the larger of two amounts: each part of it as long as one of the two
    states holds that part.
    """
    held = {state: units.get(resource, 0) for state, units in condition.holds.items()}
    steps = sorted({units for units in held.values() if units})
    return [
        (units - below, {state for state, holds in held.items() if holds >= units})
        for below, units in pairwise([0, *steps])
    ]


def _whole(
    v: Variables, start: cp_model.IntVar, length: int, present: cp_model.LiteralT | None
) -> cp_model.IntervalVar:
    if present is None:
        return v.cp.new_fixed_size_interval_var(start, length, "")
    return v.cp.new_optional_fixed_size_interval_var(start, length, present, "")


def _interval(
    v: Variables, name: str, interval: StateInterval, states: Collection[str]
) -> cp_model.IntervalVar:
    """The interval as an interval: from entering to where it is changed or lapses.

    Entered from a state that holds the same, it begins only where that one ends.
    """
    cp, stay = v.cp, interval.stay
    end = cp.new_int_var(0, v.forever, "")
    there = _there(v, interval)
    if interval.closes is None:
        cp.add(end >= stay.gone)
    else:
        lapsed = v.literal()
        cp.add(stay.left >= stay.begin + interval.closes).only_enforce_if(lapsed)
        cp.add(end >= stay.begin + interval.closes).only_enforce_if(lapsed)
        cp.add(end >= stay.gone).only_enforce_if(~lapsed)
    begin = v.time()
    if stay.by is not None and not interval.opens:
        cp.add(begin <= stay.by.over).only_enforce_if(there)
        _begin_where_entered(v, name, interval, states, begin, there)
    elif interval.opens:
        cp.add(begin <= cp_model.LinearExpr.sum([interval.begin])).only_enforce_if(there)
    else:
        cp.add(begin == 0)
    size = cp.new_int_var(0, v.forever, "")
    return cp.new_optional_interval_var(begin, size, end, there, "")


def _begin_where_entered(
    v: Variables,
    name: str,
    interval: StateInterval,
    states: Collection[str],
    begin: cp_model.IntVar,
    there: cp_model.IntVar,
) -> None:
    """From the start of its setter, unless that finds the condition in one of the states."""
    number = v.stays[name].index(interval.stay)
    setter = interval.stay.by
    assert setter is not None
    for (i, j), arc in v.follows[name].items():
        if j != number:
            continue
        earlier, found_so = v.stays[name][i], []
        for opens, closes in v.runs(name, earlier.state, states):
            found = v.literal()
            v.cp.add(setter.start >= earlier.begin + opens).only_enforce_if(found)
            if closes is not None:
                v.cp.add(setter.start <= earlier.begin + closes - 1).only_enforce_if(found)
            found_so.append(found)
        elsewhere = [~found for found in found_so]
        v.cp.add(begin <= setter.start).only_enforce_if([there, arc, *elsewhere])


def _there(v: Variables, interval: StateInterval) -> cp_model.IntVar:
    """Whether the interval comes about; it must where nothing keeps it from it."""
    there = v.literal()
    ways: list[cp_model.LiteralT] = [there]
    if interval.stay.outside is not None:
        ways.append(interval.stay.outside)
    if interval.opens:
        early = v.literal()
        v.cp.add(interval.stay.left < interval.begin).only_enforce_if(early)
        late = v.literal()
        v.cp.add(v.finish < interval.begin).only_enforce_if(late)
        ways += [early, late]
    v.cp.add_bool_or(ways)
    return there
