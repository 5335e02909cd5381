"""The example every description of the planner starts from: the final drive's oil."""

import copy
from typing import Any

_EXAMPLE: dict[str, Any] = {
    "conditions": {
        "rear_wheel": {"states": ["fitted", "off"], "start": "fitted", "finish": "fitted"},
        "gear": {"states": ["neutral", "engaged"], "start": "neutral"},
        "fill_plug": {"states": ["tight", "out"], "start": "tight", "finish": "tight"},
        "drain_plug": {
            "states": ["tight", "out"],
            "start": "tight",
            "finish": "tight",
            "exposed": ["out"],
        },
        "engine": {
            "states": ["cold", "warm"],
            "start": "cold",
            "lapse": {"warm": {"after": 40, "to": "cold"}},
        },
        "place": {
            "states": ["floor", "lift"],
            "start": "floor",
            "finish": "floor",
            "holds": {"lift": {"lift": 1}},
        },
    },
    "never": [{"rear_wheel": ["off"], "place": ["floor"]}],
    "moves": [
        {
            "name": "onto lift",
            "minutes": 3,
            "needs": {"place": ["floor"]},
            "sets": {"place": "lift"},
        },
        {
            "name": "off lift",
            "minutes": 3,
            "needs": {"place": ["lift"]},
            "sets": {"place": "floor"},
        },
        {
            "name": "engage gear",
            "minutes": 0.5,
            "needs": {"gear": ["neutral"]},
            "sets": {"gear": "engaged"},
        },
        {
            "name": "neutral",
            "minutes": 0.5,
            "needs": {"gear": ["engaged"]},
            "sets": {"gear": "neutral"},
        },
        {
            "name": "wheel off",
            "minutes": 6,
            "needs": {"rear_wheel": ["fitted"], "gear": ["engaged"], "place": ["lift"]},
            "sets": {"rear_wheel": "off"},
        },
        {
            "name": "wheel on",
            "minutes": 7,
            "needs": {"rear_wheel": ["off"], "gear": ["engaged"]},
            "sets": {"rear_wheel": "fitted"},
        },
    ],
    "operations": [
        {
            "name": "crack fill plug",
            "minutes": 2,
            "needs": {"rear_wheel": ["off"], "gear": ["neutral"], "fill_plug": ["tight"]},
            "sets": {"fill_plug": "out"},
            "after": [],
            "job": "final drive oil",
        },
        {
            "name": "drain",
            "minutes": 2,
            "unattended": 10,
            "needs": {"rear_wheel": ["off"], "drain_plug": ["tight"]},
            "sets": {"drain_plug": "out"},
            "after": ["crack fill plug"],
            "job": "final drive oil",
        },
        {
            "name": "drain plug in",
            "minutes": 2,
            "needs": {"drain_plug": ["out"]},
            "sets": {"drain_plug": "tight"},
            "after": ["drain"],
            "job": "final drive oil",
        },
        {
            "name": "fill and close",
            "minutes": 6,
            "needs": {"fill_plug": ["out"], "drain_plug": ["tight"]},
            "sets": {"fill_plug": "tight"},
            "after": ["drain plug in"],
            "job": "final drive oil",
        },
    ],
    "technicians": [{"name": "A", "skills": []}],
    "resources": {"lift": 1},
}


def page_example() -> dict[str, Any]:
    """The whole example, a fresh copy."""
    return copy.deepcopy(_EXAMPLE)


def plain_example() -> dict[str, Any]:
    """The example less its ``holds`` and its ``engine``."""
    data = page_example()
    del data["conditions"]["place"]["holds"]
    del data["conditions"]["engine"]
    return data
