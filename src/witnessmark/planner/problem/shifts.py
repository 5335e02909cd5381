"""The ends of the working days."""

from __future__ import annotations

from witnessmark.planner.problem.checked import Problem

DAY_MINUTES = 1440


def day_ends(problem: Problem) -> list[float]:
    """Ends of the last shift of each day, in minutes; none where a technician is always at work.

    A day is 1440 minutes, ``clock`` of them gone at minute 0; a shift belongs to the day it begins in.
    """
    ends: dict[int, float] = {}
    for technician in problem.technicians:
        if technician.shifts is None:
            return []
        for begin, end in technician.shifts:
            day = int((begin + problem.clock) // DAY_MINUTES)
            ends[day] = max(ends.get(day, 0.0), end)
    return [ends[day] for day in sorted(ends)]
