"""Why there is no plan: a smallest set of constraints that cannot all be met."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from witnessmark.planner import search_seconds
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Move, Technician
from witnessmark.planner.problem.plan import Conflict
from witnessmark.planner.sequence.model.outline import outline
from witnessmark.planner.sequence.reachability import reachability
from witnessmark.planner.sequence.solve import solve


def conflict_of(problem: Problem) -> tuple[Conflict, ...]:
    """An irreducible conflict of a problem known to be impossible.

    The constraints in it cannot all be met, whatever becomes of the others. Dropping any one of them makes
    the rest possible, as far as the limit allowed could show. To drop an operation means that it need not
    be done, and that nothing need come after it.
    """
    return tuple(_smallest(_constraints(problem), lambda kept: _is_impossible(problem, kept)))


def _constraints(problem: Problem) -> list[Conflict]:
    """All constraints that might be dropped; first those best kept."""
    done = problem.now.done if problem.now else ()
    wishes = [Conflict(kind="technicians")]
    wishes += [Conflict(kind="horizon")] if problem.horizon is not None else []
    wishes += [Conflict(kind="never", name=str(n)) for n in range(len(problem.never))]
    wishes += [
        Conflict(kind="finish", name=name)
        for name, condition in problem.conditions.items()
        if condition.finish is not None
    ]
    names = (operation.name for operation in problem.operations)
    return wishes + [Conflict(kind="operation", name=name) for name in names if name not in done]


def _smallest(
    wishes: Sequence[Conflict], is_impossible: Callable[[Sequence[Conflict]], bool]
) -> list[Conflict]:
    """An irreducible subset still impossible, found by halving (QuickXplain, U. Junker 2004)."""

    def explain(base: list[Conflict], rest: list[Conflict], *, added: bool) -> list[Conflict]:
        if added and is_impossible(base):
            return []
        if len(rest) == 1:
            return rest
        half = len(rest) // 2
        first, second = rest[:half], rest[half:]
        needed = explain(base + first, second, added=bool(first))
        return explain(base + needed, first, added=bool(needed)) + needed

    return explain([], list(wishes), added=True) if wishes else []


def _is_impossible(problem: Problem, kept: Sequence[Conflict]) -> bool:
    reduced = _only(problem, kept)
    if reachability(outline(reduced)).possible is False:
        return True
    if reduced.horizon is None and not _has_clocks(reduced):
        return False
    answer = solve(reduced, objective="attended", deterministic_limit=search_seconds.CONFLICT)
    return answer.status == "impossible"


def _has_clocks(problem: Problem) -> bool:
    """Whether anything but the order of steps can make a plan impossible."""
    timed = any(c.lapse or c.holds for c in problem.conditions.values())
    people = any(t.shifts is not None or t.skills is not None for t in problem.technicians)
    return timed or people or any(step.uses for step in problem.steps)


def _only(problem: Problem, kept: Sequence[Conflict]) -> Problem:
    """The problem with the kept constraints alone; operations dropped may still be done, as often as it helps.

    So to drop a constraint only allows more, and an operation that prepares another is not missed.
    """
    names = {kind: {wish.name for wish in kept if wish.kind == kind} for kind in _KINDS}
    data = problem.model_dump()
    done = set(problem.now.done) if problem.now else set()
    operations = [o for o in data["operations"] if o["name"] in names["operation"] | done]
    spare = [o for o in data["operations"] if o not in operations]
    data["moves"] += tuple({key: o[key] for key in Move.model_fields} for o in spare)
    left = {operation["name"] for operation in operations}
    for operation in operations:
        operation["after"] = [name for name in operation["after"] if name in left]
    for name, condition in data["conditions"].items():
        condition["finish"] = condition["finish"] if name in names["finish"] else None
    data["operations"] = operations
    data["never"] = [n for place, n in enumerate(data["never"]) if str(place) in names["never"]]
    data["horizon"] = data["horizon"] if names["horizon"] else None
    if not names["technicians"]:
        data["technicians"] = _plenty(problem)
    data["due_by"] = {}
    return Problem.model_validate(data)


_KINDS = ("operation", "finish", "never", "horizon", "technicians")


def _plenty(problem: Problem) -> list[Technician]:
    """Technicians without limits, as many as there ever could be use for."""
    hands = max((step.hands for step in problem.steps), default=1)
    names = [technician.name for technician in problem.technicians]
    names += [f"another {n}" for n in range(max(0, hands - len(names)))]
    return [Technician(name=name) for name in names]
