"""Large problems: the invented tourer's book many times over, on one machine or on many.

python -m benchmarks.large
"""

from __future__ import annotations

from typing import Any

from benchmarks.tourer import tourer


def on_one_machine(times: int) -> dict[str, Any]:
    """All jobs of the book so many times on the same machine, round by round in no particular order."""
    data = tourer()
    return data | {
        "operations": [
            operation
            | {
                "name": f"{operation['name']} {number}",
                "after": [f"{name} {number}" for name in operation["after"]],
            }
            for number in range(1, times + 1)
            for operation in data["operations"]
        ]
    }


def on_many_machines(machines: int) -> dict[str, Any]:
    """All jobs of the book once on each of many machines, one technician."""
    data = tourer()
    parts = [_of_machine(data, f"M{number}") for number in range(1, machines + 1)]
    return {
        "conditions": {name: c for part in parts for name, c in part["conditions"].items()},
        "never": [row for part in parts for row in part["never"]],
        "moves": [move for part in parts for move in part["moves"]],
        "operations": [operation for part in parts for operation in part["operations"]],
    }


def _of_machine(data: dict[str, Any], machine: str) -> dict[str, Any]:
    def named(names: dict[str, Any]) -> dict[str, Any]:
        return {f"{machine}: {name}": value for name, value in names.items()}

    def step(one: dict[str, Any]) -> dict[str, Any]:
        own = {"name": f"{machine}: {one['name']}", "machine": machine}
        return one | own | {"needs": named(one["needs"]), "sets": named(one["sets"])}

    return {
        "conditions": named(data["conditions"]),
        "never": [named(row) for row in data["never"]],
        "moves": [step(move) for move in data["moves"]],
        "operations": [
            step(o) | {"after": [f"{machine}: {name}" for name in o["after"]]}
            for o in data["operations"]
        ],
    }
