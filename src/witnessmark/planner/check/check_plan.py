"""The independent checker: replays any plan from the problem alone and says what is wrong with it.

Written from the planning model and nothing else; it shares no code with the solver, only the form
of problem and answer. Where the model is silent it reads it as follows (``docs/planner-checker.md``
gives the reasons):

1. Along ``steps`` the starts never decrease. Times are whole tenths of a minute, from 0.
2. A condition being changed takes, per resource, the larger of what its old and its new state hold.
3. ``never`` is watched from minute 0 up to and including the instant of the finish.
4. The finish is the earliest instant, all steps being over, at which all finish states hold
   together.
5. A lapse due at the very start of a step has happened; one due at its very over does not touch it.
6. Minute 0 begins a day, or is ``clock`` minutes into it; a shift belongs to the day in which it
   begins; the last end of any technician's shift ends the day; where one technician is always there,
   no day ends. A state left exposed at the finish goes on standing so, over every later end of a day.
7. An attended part lies in one listed shift. One of no length occupies no one: it may name no one or
   all its hands.
8. Exposure is counted per condition: minutes in any exposed state, entering and leaving included,
   to the finish.
9. A walk is a pair of neighbouring steps that name one technician, both name a machine (or place,
   or job), and differ in it.
10. A machine is late by the last step that names it. Machines in time may be left out of ``late``.
11. ``now``: a state given without an age has just been reached. Steps under way occupy, use and
    keep what they need until they are over; they are not listed again, and their minutes are not
    counted as attended.
12. Deviation matches the k-th copy of a name with the k-th; done and running steps are left out.
13. ``change_minutes``: every technician of the step that made a condition exposed has opened it, until
    it is closed or has lapsed into another state; the technician has left a machine when the last attended
    part there has ended and all that was opened there by that technician is closed. Steps that name no
    machine are no change.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark.planner.check.figures import figures, no_plan
from witnessmark.planner.check.layout import Placed, PlanFault, Rule, lay_out, minutes
from witnessmark.planner.check.people import changes, people
from witnessmark.planner.check.states import Timelines, limits, needs
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Operation, tenths
from witnessmark.planner.problem.plan import Answer, PlanStep

__all__ = ["PlanFault", "Rule", "check_plan", "replay"]


def check_plan(
    problem: Problem, answer: Answer, previous: Sequence[str] | None = None
) -> list[PlanFault]:
    """Everything wrong with an answer, in order of the rules; empty if it is sound.

    ``previous``: the names of the steps of the plan that the deviation is counted against, in their
    order. Optimality itself is not checked, only that the bounds fit the figures and the status.
    """
    if answer.status in ("impossible", "unknown"):
        return no_plan(answer)
    faults, timelines = replay(problem, answer.steps)
    faults += figures(problem, answer, timelines, previous)
    return sorted(faults, key=lambda fault: fault.rule)


def replay(problem: Problem, steps: Sequence[PlanStep]) -> tuple[list[PlanFault], Timelines]:
    """Everything wrong with the steps themselves, and what they make of each condition."""
    placed, faults = lay_out(problem, steps)
    timelines = Timelines(problem, placed)
    faults += needs(timelines)
    faults += _order(placed)
    faults += people(problem, placed)
    faults += changes(problem, timelines)
    faults += limits(timelines)
    faults += _times(problem, timelines)
    return faults, timelines


def _order(placed: list[Placed]) -> Iterator[PlanFault]:
    """Rule 3: an operation starts when those it comes after are over."""
    over: dict[str, int] = {}
    for one in placed:
        over[one.name] = max(over.get(one.name, one.over), one.over)
    for one in placed:
        if one.running or not isinstance(one.step, Operation):
            continue
        for name in one.step.after:
            if one.start < over.get(name, 0):
                words = f"{one.name} starts at {minutes(one.start):g}, before {name} is over"
                yield PlanFault(Rule.ORDER, (one.name, name), minutes(one.start), words)


def _times(problem: Problem, timelines: Timelines) -> Iterator[PlanFault]:
    """Nothing starts before its release, nothing lasts beyond the horizon."""
    for one in timelines.placed:
        release = one.step.release
        if not one.running and one.start < tenths(release):
            words = f"{one.name} starts at {minutes(one.start):g}, released only at {release:g}"
            yield PlanFault(Rule.TIME, (one.name,), minutes(one.start), words)
    if problem.horizon is not None and timelines.finish > tenths(problem.horizon):
        at = minutes(timelines.finish)
        words = f"the work is finished at {at:g}, beyond the last minute {problem.horizon:g}"
        yield PlanFault(Rule.TIME, (), at, words)
