"""What may at no instant hold together, and what may not stand over night."""

from __future__ import annotations

from itertools import permutations, product

from witnessmark.planner.problem.model import tenths
from witnessmark.planner.problem.shifts import day_ends
from witnessmark.planner.sequence.model.intervals import avoided, begins_at_once, intervals, over_by
from witnessmark.planner.sequence.model.variables import Variables


def forbidden_combinations_never_hold(v: Variables) -> None:
    """Of the intervals that make up a forbidden combination, some two do not meet."""
    for combination in v.outline.problem.never:
        if v.untimed and any(v.outline.conditions[name].lapse for name in combination):
            continue  # without times it is not known whether it lapsed
        several = [intervals(v, name, states) for name, states in combination.items()]
        for together in product(*several):
            ways = [way for interval in together for way in avoided(v, interval)]
            for earlier, later in permutations(together, 2):
                if not begins_at_once(later):
                    ways += over_by(v, earlier, later.begin)
            v.cp.add_bool_or(ways)


def nothing_exposed_stands_over_night(v: Variables) -> None:
    """An exposed state is left by the end of the last shift of a day, or entered after it."""
    for end in day_ends(v.outline.problem):
        for name, condition in v.outline.conditions.items():
            for interval in intervals(v, name, condition.exposed):
                ways = [*avoided(v, interval), *over_by(v, interval, tenths(end))]
                if not begins_at_once(interval):
                    later = v.literal()
                    v.cp.add(interval.begin >= tenths(end)).only_enforce_if(later)
                    ways.append(later)
                v.cp.add_bool_or(ways)
