"""Random planning problems for one technician that a classical planner can judge too.

Only what costs attended minutes is in them: states, needs, sets, `after`, `never`, finishes.
Parallel tails, clocks and shifts are not: they cannot change the least attended minutes, and a
classical planner knows nothing of them. Same family and seed, same problem.
"""

from random import Random
from typing import Any

Json = dict[str, Any]
FAMILIES = ("chains", "paired", "again", "forbidden", "one way", "larger")


def make(family: str, seed: int) -> Json:
    """The problem of this family and seed, as plain data of the planning form."""
    return _MAKERS[family](Random(f"{family} {seed}"))


def _chains(chance: Random, lengths: list[int] | None = None) -> Json:
    """Conditions of two to four states in a row; a move up or down may depend on conditions before."""
    lengths = lengths or [chance.randint(2, 4) for _ in range(chance.randint(3, 5))]
    problem: Json = {"conditions": {}, "moves": [], "never": []}
    for number, length in enumerate(lengths):
        states = [f"s{at}" for at in range(length)]
        condition = {"states": states, "start": states[0] if chance.random() < 0.8 else states[-1]}
        if chance.random() < 0.7:
            condition["finish"] = condition["start"]
        problem["conditions"][f"c{number}"] = condition
        for at in range(length - 1):
            for old, new in ((at, at + 1), (at + 1, at)):
                move = _move(chance, f"c{number} {old} to {new}", {f"c{number}": (old, new)})
                _depend(chance, problem, move, number)
                problem["moves"].append(move)
    problem["operations"] = _operations(chance, problem, chance.randint(3, 6))
    return problem


def _paired(chance: Random) -> Json:
    """Chains, and moves that change two conditions at once: cheap together, or the only way back."""
    problem = _chains(chance, [chance.randint(2, 3) for _ in range(chance.randint(3, 4))])
    for number in range(chance.randint(1, 3)):
        one, other = chance.sample(sorted(problem["conditions"]), 2)
        changes = {}
        for name in (one, other):
            states = len(problem["conditions"][name]["states"])
            old, new = chance.sample(range(states), 2)
            changes[name] = (old, new)
        problem["moves"].append(_move(chance, f"pair {number}", changes))
    drop = chance.randrange(len(problem["moves"]))
    del problem["moves"][drop]
    return problem


def _again(chance: Random) -> Json:
    """Operations that must follow each other and want the same condition by turns: moves come
    again.
    """
    problem = _chains(chance, [2, chance.randint(2, 3), 2])
    turns = chance.randint(5, 6)
    problem["operations"] = [
        {
            "name": f"turn {number}",
            "minutes": _minutes(chance),
            "needs": {"c0": [f"s{number % 2}"]},
            "after": [f"turn {number - 1}"] if number else [],
        }
        for number in range(turns)
    ] + _operations(chance, problem, 2)
    return problem


def _forbidden(chance: Random) -> Json:
    """Chains with two or three combinations that may never hold together."""
    problem = _chains(chance)
    for _ in range(chance.randint(2, 3)):
        names = chance.sample(sorted(problem["conditions"]), chance.choice((2, 2, 3)))
        problem["never"].append(
            {name: [chance.choice(problem["conditions"][name]["states"])] for name in names}
        )
    problem["never"] = [one for one in problem["never"] if not _holds_at_start(problem, one)]
    return problem


def _one_way(chance: Random) -> Json:
    """Chains from which ways back were taken: some of these have no plan at all."""
    problem = _chains(chance)
    for _ in range(chance.randint(1, 4)):
        del problem["moves"][chance.randrange(len(problem["moves"]))]
    return problem


def _larger(chance: Random) -> Json:
    """Seven to nine conditions, eight to ten operations: too much for plain search."""
    problem = _chains(chance, [chance.randint(2, 3) for _ in range(chance.randint(7, 9))])
    problem["operations"] = _operations(chance, problem, chance.randint(8, 10))
    return problem


def _holds_at_start(problem: Json, combination: Json) -> bool:
    return all(problem["conditions"][c]["start"] in states for c, states in combination.items())


def _move(chance: Random, name: str, changes: dict[str, tuple[int, int]]) -> Json:
    return {
        "name": name,
        "minutes": _minutes(chance),
        "needs": {condition: [f"s{old}"] for condition, (old, _) in changes.items()},
        "sets": {condition: f"s{new}" for condition, (_, new) in changes.items()},
    }


def _depend(chance: Random, problem: Json, step: Json, before: int) -> None:
    """Let the step need states of one or two of the conditions before this number."""
    for number in chance.sample(range(before), min(before, chance.choice((0, 1, 1, 2)))):
        states = problem["conditions"][f"c{number}"]["states"]
        count = chance.randint(1, max(1, len(states) - 1))
        step["needs"][f"c{number}"] = sorted(chance.sample(states, count))


def _operations(chance: Random, problem: Json, count: int) -> list[Json]:
    operations: list[Json] = []
    for number in range(count):
        step: Json = {"name": f"o{number}", "minutes": _minutes(chance), "needs": {}, "sets": {}}
        if chance.random() < 0.3:
            step["unattended"] = chance.randint(1, 20)
        if chance.random() < 0.1:
            step["hands"] = 0
        for name in chance.sample(sorted(problem["conditions"]), chance.randint(1, 3)):
            states = problem["conditions"][name]["states"]
            step["needs"][name] = sorted(chance.sample(states, chance.randint(1, len(states) - 1)))
            if chance.random() < 0.3:
                step["sets"][name] = chance.choice(states)
                if chance.random() < 0.3:
                    del step["needs"][name]
        names = [one["name"] for one in operations]
        step["after"] = sorted(chance.sample(names, min(len(names), chance.choice((0, 0, 1, 2)))))
        operations.append(step)
    return operations


def _minutes(chance: Random) -> float:
    return chance.choice((0.5, 1, 1.5, 2, 3, 4, 6, 7.3, 10))


_MAKERS = {
    "chains": _chains,
    "paired": _paired,
    "again": _again,
    "forbidden": _forbidden,
    "one way": _one_way,
    "larger": _larger,
}
