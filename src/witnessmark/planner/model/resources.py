"""Resources: used by steps, held by states, never more than there are."""

from __future__ import annotations

from collections.abc import Collection
from itertools import pairwise

from ortools.sat.python import cp_model

from witnessmark.planner.model.spells import Spell, spells
from witnessmark.planner.model.variables import Variables
from witnessmark.planner.problem import Condition


def resources_suffice(v: Variables) -> None:
    """``uses`` from start to over and ``holds`` from entering to leaving stay within capacity."""
    for resource in sorted(v.outline.scarce):
        intervals: list[cp_model.IntervalVar] = []
        demands: list[int] = []
        for placed in v.placed:
            if units := placed.task.step.uses.get(resource, 0):
                intervals.append(_whole(v, placed.start, placed.task.length, placed.present))
                demands.append(units)
        for name, condition in v.outline.conditions.items():
            if v.untimed and condition.lapse:
                continue  # without a clock nobody knows how long it is held
            for units, states in _levels(condition, resource):
                found = [_interval(v, name, spell, states) for spell in spells(v, name, states)]
                intervals += found
                demands += [units] * len(found)
        if intervals:
            v.cp.add_cumulative(intervals, demands, v.outline.problem.resources[resource])


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
    v: Variables, name: str, spell: Spell, states: Collection[str]
) -> cp_model.IntervalVar:
    """The spell as an interval: from entering to where it is changed or lapses.

    Entered from a state that holds the same, it begins only where that one ends.
    """
    cp, stay = v.cp, spell.stay
    end = cp.new_int_var(0, v.forever, "")
    there = _there(v, spell)
    if spell.closes is None:
        cp.add(end >= stay.gone)
    else:
        lapsed = v.literal()
        cp.add(stay.left >= stay.begin + spell.closes).only_enforce_if(lapsed)
        cp.add(end >= stay.begin + spell.closes).only_enforce_if(lapsed)
        cp.add(end >= stay.gone).only_enforce_if(~lapsed)
    begin = v.time()
    if stay.by is not None and not spell.opens:
        cp.add(begin <= stay.by.over).only_enforce_if(there)
        _begin_where_entered(v, name, spell, states, begin, there)
    elif spell.opens:
        cp.add(begin <= cp_model.LinearExpr.sum([spell.begin])).only_enforce_if(there)
    else:
        cp.add(begin == 0)
    size = cp.new_int_var(0, v.forever, "")
    return cp.new_optional_interval_var(begin, size, end, there, "")


def _begin_where_entered(
    v: Variables,
    name: str,
    spell: Spell,
    states: Collection[str],
    begin: cp_model.IntVar,
    there: cp_model.IntVar,
) -> None:
    """From the start of its setter, unless that finds the condition in one of the states."""
    number = v.stays[name].index(spell.stay)
    setter = spell.stay.by
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


def _there(v: Variables, spell: Spell) -> cp_model.IntVar:
    """Whether the spell comes about; it must where nothing keeps it from it."""
    there = v.literal()
    ways: list[cp_model.LiteralT] = [there]
    if spell.stay.outside is not None:
        ways.append(spell.stay.outside)
    if spell.opens:
        early = v.literal()
        v.cp.add(spell.stay.left < spell.begin).only_enforce_if(early)
        late = v.literal()
        v.cp.add(v.finish < spell.begin).only_enforce_if(late)
        ways += [early, late]
    v.cp.add_bool_or(ways)
    return there
