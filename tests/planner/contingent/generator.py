"""Small random problems some of whose operations depend on what others tell."""

from __future__ import annotations

import random
from typing import Any

from tests.planner.generator import random_problem


def random_unknowns(seed: int) -> dict[str, Any]:
    """One to three unknowns, some told of by a step that depends itself, some by a table."""
    chance = random.Random(seed)
    data = random_problem(seed, operations=5)
    while len(data["operations"]) < 3:
        seed += 100_000
        data = random_problem(seed, operations=5)
    operations = data["operations"]
    for operation in operations:
        operation["hands"] = 1
    names = [f"u{n}" for n in range(chance.randint(1, 3))]
    data["unknowns"] = {}
    for name in names:
        reader = chance.randrange(len(operations) - 1)
        data["unknowns"][name] = {
            "revealed_by": operations[reader]["name"],
            "yes": chance.choice((0.1, 0.3, 0.5, 0.8, 1)),
        }
        for operation in operations[reader + 1 :]:
            if chance.random() < 0.5 and f"!{name}" not in operation.get("only_if", ()):
                sign = chance.choice(("", "", "!"))
                operation["only_if"] = [*operation.get("only_if", ()), sign + name]
    if len(names) > 1 and chance.random() < 0.3:
        first, second = names[:2]
        del data["unknowns"][first]["yes"], data["unknowns"][second]["yes"]
        data["joint"] = {"yes": {first: 0.2, second: 0.1, f"{first}+{second}": 0.4}}
    return data


def with_choices(data: dict[str, Any]) -> dict[str, Any]:
    """The same, but one of the first two that an operation waits for will do."""
    for operation in data["operations"]:
        first, *rest = operation.get("only_if", [""])
        if rest:
            operation["only_if"] = [f"{first}|{rest[0]}", *rest[1:]]
    return data
