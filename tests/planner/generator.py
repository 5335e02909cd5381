"""Small random problems: chains of states, moves that need other conditions, `after`, forbidden pairs."""

from __future__ import annotations

import random
from itertools import pairwise
from typing import Any

STATES = ("a", "b", "c")


def random_problem(seed: int, *, operations: int = 3) -> dict[str, Any]:
    """A problem with two to four conditions and a few operations; some are impossible."""
    chance = random.Random(seed)
    conditions = {
        f"c{n}": list(STATES[: chance.choice((2, 2, 3))]) for n in range(chance.randint(2, 4))
    }
    return {
        "conditions": {name: _condition(chance, states) for name, states in conditions.items()},
        "never": [_combination(chance, conditions) for _ in range(chance.choice((0, 0, 1, 2)))],
        "moves": _moves(chance, conditions),
        "operations": [
            _operation(chance, conditions, number)
            for number in range(chance.randint(1, operations))
        ],
    }


def _condition(chance: random.Random, states: list[str]) -> dict[str, Any]:
    condition: dict[str, Any] = {"states": states, "start": states[0]}
    if chance.random() < 0.6:
        condition["finish"] = chance.choice((states[0], states[0], states[-1]))
    if chance.random() < 0.3:
        condition["exposed"] = [states[-1]]
    return condition


def _combination(chance: random.Random, conditions: dict[str, list[str]]) -> dict[str, Any]:
    names = chance.sample(sorted(conditions), chance.choice((2, 2, min(3, len(conditions)))))
    return {
        name: chance.sample(conditions[name], chance.randint(1, len(conditions[name]) - 1))
        for name in names
    }


def _moves(chance: random.Random, conditions: dict[str, list[str]]) -> list[dict[str, Any]]:
    """Per condition moves along its states there and back; some need another condition."""
    moves = []
    for name, states in conditions.items():
        there = list(pairwise(states))
        back = [(later, earlier) for earlier, later in there]
        if len(states) > 2 and chance.random() < 0.3:
            back = [(states[-1], states[0]), (states[1], states[0])]
        for before, after in there + back:
            move = {
                "name": f"{name} {before} to {after}",
                "minutes": chance.choice((0.5, 1, 2, 5)),
                "needs": {name: [before], **_needs(chance, conditions, name, 0.35)},
                "sets": {name: after},
            }
            if chance.random() < 0.1:
                other = chance.choice([c for c in conditions if c != name])
                move["sets"][other] = chance.choice(conditions[other])
                move["needs"].pop(other, None)
            if chance.random() < 0.1:
                move["unattended"] = 3
            moves.append(move)
    return moves


def _needs(
    chance: random.Random, conditions: dict[str, list[str]], but: str | None, likely: float
) -> dict[str, list[str]]:
    return {
        name: chance.sample(states, chance.choice((1, 1, len(states) - 1)))
        for name, states in conditions.items()
        if name != but and chance.random() < likely
    }


def _operation(
    chance: random.Random, conditions: dict[str, list[str]], number: int
) -> dict[str, Any]:
    needs = _needs(chance, conditions, None, 0.6)
    sets = {
        name: chance.choice(states) for name, states in conditions.items() if chance.random() < 0.15
    }
    return {
        "name": f"o{number}",
        "minutes": chance.choice((1, 2, 4)),
        "unattended": chance.choice((0, 0, 0, 5, 12)),
        "needs": needs,
        "sets": sets,
        "hands": chance.choice((1, 1, 1, 1, 0)),
        "after": [f"o{earlier}" for earlier in range(number) if chance.random() < 0.25],
        "job": chance.choice(("x", "y")),
    }


def timed_problem(seed: int, *features: str) -> dict[str, Any]:
    """A very small problem in whole minutes with some of: lapse, wait, release, holds, uses, shifts, crew."""
    chance = random.Random(seed)
    data = random_problem(seed, operations=2)
    names = list(data["conditions"])[:3]
    data["conditions"] = {name: data["conditions"][name] for name in names}
    data["never"] = [n for n in data["never"] if set(n) <= set(names)]
    data["moves"] = [m for m in data["moves"] if set(m["sets"]) <= set(names)]
    for step in [*data["moves"], *data["operations"]]:
        step["minutes"] = max(1, int(step["minutes"]))
        step["unattended"] = min(4, step.get("unattended", 0))
        step["needs"] = {c: s for c, s in step["needs"].items() if c in names}
        step["sets"] = {c: s for c, s in step["sets"].items() if c in names}
    for feature in features:
        _FEATURES[feature](chance, data)
    return data


def _lapse(chance: random.Random, data: dict[str, Any]) -> None:
    for name in chance.sample(sorted(data["conditions"]), chance.randint(1, 2)):
        condition = data["conditions"][name]
        states = condition["states"]
        condition["lapse"] = {states[-1]: {"after": chance.randint(2, 9), "to": states[0]}}
        if len(states) > 2 and chance.random() < 0.5:
            condition["lapse"][states[-1]]["to"] = states[1]
            condition["lapse"][states[1]] = {"after": chance.randint(1, 6), "to": states[0]}
        if chance.random() < 0.4:
            condition["start"] = states[-1]
            condition["age"] = chance.randint(0, 3)
        if chance.random() < 0.3:
            condition["finish"] = states[0]


def _wait(chance: random.Random, data: dict[str, Any]) -> None:
    """Lapses that nobody is worse off with: what accepts a state that lapses changes it, and accepts all."""
    _lapse(chance, data)
    for name, condition in data["conditions"].items():
        lapsing = condition.get("lapse", {})
        condition.pop("age", None)
        for step in [*data["moves"], *data["operations"]]:
            if lapsing.keys() & set(step["needs"].get(name, ())):
                step["needs"][name] = (
                    condition["states"] if name in step["sets"] else condition["states"][:1]
                )
        if lapsing:
            data["never"] = [
                row for row in data["never"] if name not in row or set(lapsing) <= set(row[name])
            ]
            if condition.get("finish") in lapsing:
                condition["finish"] = condition["states"][0]


def _release(chance: random.Random, data: dict[str, Any]) -> None:
    data["timed"] = True
    for operation in data["operations"]:
        operation["release"] = chance.choice((0, 0, 3, 9, 15))


def _resources(chance: random.Random, data: dict[str, Any]) -> None:
    data["resources"] = {"r": chance.randint(1, 2)}
    for condition in data["conditions"].values():
        if chance.random() < 0.5:
            condition["holds"] = {condition["states"][-1]: {"r": 1}}
    for step in [*data["moves"], *data["operations"]]:
        if chance.random() < 0.3:
            step["uses"] = {"r": 1}


def _shifts(chance: random.Random, data: dict[str, Any]) -> None:
    data["timed"] = True
    data.setdefault("technicians", [{"name": "A"}])
    for technician in data["technicians"]:
        first, gap = chance.randint(4, 12), chance.choice((0, 3, 1440))
        technician["shifts"] = [[0, first], [first + gap, first + gap + 40]]


def _crew(chance: random.Random, data: dict[str, Any]) -> None:
    data["technicians"] = [
        {"name": "A", "skills": ["x"]},
        {"name": "B", "skills": chance.choice((["x"], ["y"], ["x", "y"]))},
    ]
    for step in [*data["moves"], *data["operations"]]:
        step["hands"] = chance.choice((1, 1, 1, 2, 0))
        if chance.random() < 0.3:
            step["skills"] = [chance.choice("xy")]


_FEATURES = {
    "lapse": _lapse,
    "wait": _wait,
    "release": _release,
    "resources": _resources,
    "shifts": _shifts,
    "crew": _crew,
}
