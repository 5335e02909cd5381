"""Write a list of steps as an answer of the planner, its figures calculated here and by plain
counting.
"""

from itertools import pairwise
from typing import Any

from tests.outside.planning import exhaustive
from tests.outside.planning.exhaustive import Listed
from witnessmark.planner import Answer, Problem


def answer(problem: Problem, steps: Listed, finish: float, **stated: Any) -> Answer:
    """A sound answer where the steps are; ``stated`` replaces figures. Exposure: whole minutes
    only.
    """
    in_order = tuple(sorted(steps, key=lambda step: step[1]))
    attended = sum(problem.step(name).effort_tenths for name, _, _ in steps) / 10
    figures = {
        "status": "feasible",
        "finish_minutes": finish,
        "attended_minutes": attended,
        "walks": _walks(problem, in_order),
        "late": _late(problem, in_order),
    }
    if "exposure_minutes" not in stated:
        figures["exposure_minutes"] = exhaustive.exposure(problem, in_order, int(finish))
    listed = [_step(problem, *step) for step in in_order]
    return Answer.model_validate(figures | {"steps": listed} | stated)


def _step(problem: Problem, name: str, start: float, people: tuple[str, ...]) -> dict[str, Any]:
    step = problem.step(name)
    end = round(start + step.minutes, 1)
    return {
        "name": name,
        "kind": "operation" if step in problem.operations else "move",
        "start": start,
        "end": end,
        "tail_end": round(end + step.unattended, 1),
        "technicians": people,
        "for": [],
    }


def _walks(problem: Problem, steps: Listed) -> int:
    now = problem.now
    begun = [(one.name, 0, one.technicians) for one in now.running] if now else []
    count = 0
    for person in (technician.name for technician in problem.technicians):
        his = [problem.step(name) for name, _, people in [*begun, *steps] if person in people]
        for pair in pairwise(his):
            at = [
                {key: getattr(step, key, None) for key in ("machine", "place", "job")}
                for step in pair
            ]
            count += any(at[0][key] and at[1][key] and at[0][key] != at[1][key] for key in at[0])
    return count


def _late(problem: Problem, steps: Listed) -> dict[str, float]:
    over = {name: start + problem.step(name).tenths / 10 for name, start, _ in steps}
    if problem.now is not None:
        over |= {one.name: one.minutes + one.unattended for one in problem.now.running}
    late = {}
    for machine, wished in problem.due_by.items():
        its = [one.name for one in problem.operations if one.machine == machine]
        ready = max((over[name] for name in its if name in over), default=0)
        if ready > wished:
            late[machine] = ready - wished
    return late
