"""Resources: used by steps, held by states, never more than there are."""

from __future__ import annotations

from ortools.sat.python import cp_model

from witnessmark.planner.model.spells import Spell, spells
from witnessmark.planner.model.variables import Variables


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
            for state, held in condition.holds.items():
                if units := held.get(resource, 0):
                    found = [_interval(v, spell) for spell in spells(v, name, (state,))]
                    intervals += found
                    demands += [units] * len(found)
        if intervals:
            v.cp.add_cumulative(intervals, demands, v.outline.problem.resources[resource])


def _whole(
    v: Variables, start: cp_model.IntVar, length: int, present: cp_model.LiteralT | None
) -> cp_model.IntervalVar:
    if present is None:
        return v.cp.new_fixed_size_interval_var(start, length, "")
    return v.cp.new_optional_fixed_size_interval_var(start, length, present, "")


def _interval(v: Variables, spell: Spell) -> cp_model.IntervalVar:
    """The spell as an interval: from entering to where it is changed or lapses."""
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
    if stay.by is not None or spell.opens:
        cp.add(begin <= cp_model.LinearExpr.sum([spell.begin])).only_enforce_if(there)
    else:
        cp.add(begin == 0)
    size = cp.new_int_var(0, v.forever, "")
    return cp.new_optional_interval_var(begin, size, end, there, "")


def _there(v: Variables, spell: Spell) -> cp_model.IntVar:
    """Whether the spell comes about; it must where nothing keeps it from it."""
    there = v.literal()
    ways: list[cp_model.LiteralT] = [there]
    if spell.stay.outside is not None:
        ways.append(spell.stay.outside)
    if spell.opens:
        early = v.literal()
        v.cp.add(spell.stay.left < spell.begin).only_enforce_if(early)
        ways.append(early)
    v.cp.add_bool_or(ways)
    return there
