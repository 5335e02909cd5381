"""Why the plan is as it is: for what each step is done, and what is saved against one by one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from witnessmark.planner.board.parts import parts
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import tenths
from witnessmark.planner.problem.plan import Answer, PlanStep
from witnessmark.planner.problem.timeline import StateSpan, spans


def explained(problem: Problem, answer: Answer) -> Answer:
    """The answer with ``for`` filled in for each step."""
    reasons = _reasons_by_part(problem, answer.steps)
    steps = tuple(
        step.model_copy(update={"for_": reason})
        for step, reason in zip(answer.steps, reasons, strict=True)
    )
    return answer.model_copy(update={"steps": steps})


def _reasons_by_part(problem: Problem, steps: Sequence[PlanStep]) -> list[tuple[str, ...]]:
    """The same part by part: what shares no condition has no reasons in common."""
    reasons: list[tuple[str, ...]] = [()] * len(steps)
    part_of: dict[str, int] = {}
    split = parts(problem)
    for number, part in enumerate(split):
        part_of |= dict.fromkeys((step.name for step in part.steps), number)
    places: list[list[int]] = [[] for _ in split]
    for n, step in enumerate(steps):
        if step.name in part_of:
            places[part_of[step.name]].append(n)
    for part, theirs in zip(split, places, strict=True):
        found = reasons_of(part, [steps[n] for n in theirs])
        for n, reason in zip(theirs, found, strict=True):
            reasons[n] = reason
    return reasons


def reasons_of(problem: Problem, steps: Sequence[PlanStep]) -> list[tuple[str, ...]]:
    """Per step the operations it is done for, in plan order.

    An operation is done for itself. A move is done for the steps that rely on the states it sets,
    and for what those are done for. One that only restores a state is done for what the steps it
    undoes are done for.
    """
    links = _links(problem, steps)
    reasons = [{n} if step.kind == "operation" else set[int]() for n, step in enumerate(steps)]
    _spread(reasons, steps, links)
    for n in range(len(steps)):
        if not reasons[n]:
            reasons[n] = set().union(*(reasons[m] for m in links.undoes[n]))
    _spread(reasons, steps, links)
    return [tuple(steps[m].name for m in sorted(reason)) for reason in reasons]


@dataclass
class _Links:
    """Per step: the steps that rely on a state it set, and the steps whose changes it takes back."""

    serves: list[set[int]] = field(default_factory=list)
    undoes: list[set[int]] = field(default_factory=list)


def _spread(reasons: list[set[int]], steps: Sequence[PlanStep], links: _Links) -> None:
    """Give each move the reasons of the steps it serves; those come later, so go backwards."""
    for n in reversed(range(len(steps))):
        if steps[n].kind == "move":
            reasons[n] |= set().union(*(reasons[m] for m in links.serves[n]))


def _links(problem: Problem, steps: Sequence[PlanStep]) -> _Links:
    links = _Links([set() for _ in steps], [set() for _ in steps])
    until = max((tenths(step.tail_end) for step in steps), default=0)
    every = {name: spans(problem, steps, name, until) for name in problem.conditions}
    needing = _needing(problem, steps)
    for name, found in every.items():
        for place, span in enumerate(found):
            if span.by is None:
                continue
            back = _last_in(span.state, found[:place])
            if back is not None:
                links.undoes[span.by] |= {s.by for s in found[back + 1 : place] if s.by is not None}
            before = found[place - 1].state
            relying = _relying(problem, steps, name, span, before, needing[name])
            links.serves[span.by] |= set(relying)
            links.serves[span.by] |= set(_made_safe(problem, every, name, span, before))
    return links


def _last_in(state: str, earlier: Sequence[StateSpan]) -> int | None:
    return next((n for n in reversed(range(len(earlier))) if earlier[n].state == state), None)


def _needing(problem: Problem, steps: Sequence[PlanStep]) -> dict[str, list[int]]:
    """Per condition the steps that cannot be done in every state of it."""
    needing: dict[str, list[int]] = {name: [] for name in problem.conditions}
    for n, step in enumerate(steps):
        for name, states in problem.step(step.name).needs.items():
            if set(states) != set(problem.conditions[name].states):
                needing[name].append(n)
    return needing


def _relying(
    problem: Problem,
    steps: Sequence[PlanStep],
    name: str,
    span: StateSpan,
    before: str,
    needing: Sequence[int],
) -> Iterator[int]:
    """Steps that need the condition in this span; a move that only sets it back is not served by it."""
    for n in needing:
        step, described = steps[n], problem.step(steps[n].name)
        if n == span.by:
            continue
        if name in described.sets:
            if span.to == n and (step.kind == "operation" or described.sets[name] != before):
                yield n
        elif span.reached <= tenths(step.start) < span.left:
            yield n


def _made_safe(
    problem: Problem, every: dict[str, list[StateSpan]], name: str, span: StateSpan, before: str
) -> Iterator[int]:
    """Steps that complete the rest of a forbidden combination this condition was taken out of."""
    for combination in problem.never:
        states = combination.get(name, ())
        if before not in states or span.state in states:
            continue
        for other, others in combination.items():
            for entered in every[other] if other != name else ():
                within = span.reached <= entered.begin < span.left
                if entered.state in others and within and entered.by is not None:
                    yield entered.by
