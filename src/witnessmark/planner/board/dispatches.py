"""The best schedule found of a path: many dispatches by different priority rules."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import count

from witnessmark.planner.board.dispatch import Dispatch, PriorityRule, Schedule
from witnessmark.planner.board.path import Path
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import tenths
from witnessmark.planner.system import Budget

PLACED_PER_SECOND = 100_000  # items placed by dispatching count as one second of deterministic time
NEAR = 0.2  # share of the dispatches that are near to the best so far
PATIENCE = (
    0,
    0,
    20,
    50,
    100,
    200,
)  # tenths of a minute a technician waits for work on the same machine
FEW = 30  # dispatches made in any case, so that machines are ready early as well
ENOUGH = 600  # dispatches without a better one after which no more are made


Key = tuple[int, int, int]


def scheduled(
    problem: Problem,
    path: Path,
    reference: Sequence[int],
    bound: int,
    budget: Budget,
    seed: int = 1,
) -> Schedule | None:
    """The best of many dispatches: least finish, then least late, then machines ready early.

    ``reference``: starts of the parts each alone. Stops where the finish meets ``bound``. None: none found.
    """
    dispatch = Dispatch(problem, path, reference)
    worth = _Worth(problem, path)
    best: tuple[Key, Schedule, PriorityRule] | None = None
    chance = random.Random(seed)  # noqa: S311  (the same rules again)
    rules = _first_rules(dispatch, problem, reference)
    latest = 0
    for number in count():
        rule = next(rules, None) or _another(chance, best[2] if best else None, dispatch, reference)
        found = dispatch.run(rule)
        budget.spent += len(path.items) / PLACED_PER_SECOND
        if found is not None:
            key = worth.of(found)
            if best is None or key < best[0]:
                best, latest = (key, found, rule), number
        if number - latest >= ENOUGH:
            break
        if best is not None and best[1].finish <= bound and number >= FEW:
            break
        if budget.scarcer() <= 0:
            break
    return best[1] if best else None


class _Worth:
    """What one schedule is compared with another by."""

    def __init__(self, problem: Problem, path: Path) -> None:
        self.path = path
        self.due = {machine: tenths(due) for machine, due in problem.due_by.items()}

    def of(self, schedule: Schedule) -> Key:
        """Finish, late tenths of all machines, sum of the times they are ready."""
        ready: dict[str | None, int] = {}
        for start, item in zip(schedule.starts, self.path.items, strict=True):
            machine = item.step.machine
            ready[machine] = max(ready.get(machine, 0), start + item.length)
        late = sum(max(0, ready.get(machine, 0) - due) for machine, due in self.due.items())
        return schedule.finish, late, sum(ready.values())


def _machines(dispatch: Dispatch) -> list[str | None]:
    return list(dict.fromkeys(dispatch.machine))


def _first_rules(
    dispatch: Dispatch, problem: Problem, reference: Sequence[int]
) -> Iterator[PriorityRule]:
    """The longest machine first, the shortest first, the most urgent first."""
    machines = _machines(dispatch)
    effort: dict[str | None, int] = dict.fromkeys(machines, 0)
    for machine, minutes in zip(dispatch.machine, dispatch.attended, strict=True):
        effort[machine] += minutes
    longest = sorted(machines, key=lambda machine: -effort[machine])
    yield PriorityRule(longest, reference, 0)
    yield PriorityRule(longest[::-1], reference, 0)
    urgent = sorted(machines, key=lambda machine: problem.due_by.get(machine or "", 1e9))
    yield PriorityRule(urgent, reference, 0)
    yield PriorityRule(longest, [-tail for tail in dispatch.tails], 50)


def _another(
    chance: random.Random, best: PriorityRule | None, dispatch: Dispatch, reference: Sequence[int]
) -> PriorityRule:
    """Near to the best so far, or quite another one."""
    if best is not None and chance.random() < NEAR:
        return _near(chance, best)
    machines = list(best.machines if best else _machines(dispatch))
    if best is None or chance.random() < 0.4:
        chance.shuffle(machines)
    else:
        _swap(chance, machines)
    if chance.random() < 0.7:
        noise = chance.choice((0, 0, 50, 200))
        rank = [start + noise * chance.random() for start in reference]
    else:
        rank = [-float(tail) for tail in dispatch.tails]
    return PriorityRule(machines, rank, chance.choice(PATIENCE))


def _near(chance: random.Random, best: PriorityRule) -> PriorityRule:
    """The same with a few items sooner or later, perhaps two machines in each other's place."""
    machines, rank, patience = list(best.machines), list(best.rank), best.patience
    for _ in range(chance.choice((1, 2, 4, 8))):
        rank[chance.randrange(len(rank))] += chance.choice((-1, 1)) * 400 * chance.random()
    if chance.random() < 0.3:
        _swap(chance, machines)
    if chance.random() < 0.2:
        patience = chance.choice(PATIENCE)
    return PriorityRule(machines, rank, patience)


def _swap(chance: random.Random, machines: list[str | None]) -> None:
    for _ in range(chance.choice((1, 1, 2, 3))):
        a, b = chance.randrange(len(machines)), chance.randrange(len(machines))
        machines[a], machines[b] = machines[b], machines[a]
