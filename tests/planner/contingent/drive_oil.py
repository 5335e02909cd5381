"""The example of the drive's oil with things one does not know before a reading tells them."""

from __future__ import annotations

from typing import Any

from tests.planner.page_example import page_example, plain_example


def worn_tyre(*, clocks: bool = False) -> dict[str, Any]:
    """The tread is read on the fitted wheel; in one case of four a tyre is changed on the wheel that is off."""
    data = page_example() if clocks else plain_example()
    read = {
        "name": "read tread",
        "minutes": 2,
        "needs": {"place": ["lift"], "rear_wheel": ["fitted"]},
    }
    change = {"name": "change tyre", "minutes": 12, "needs": {"rear_wheel": ["off"]}}
    data["operations"] += [read, {**change, "only_if": ["tyre worn"]}]
    data["unknowns"] = {"tyre worn": {"revealed_by": "read tread", "yes": 0.25}}
    return data


def noisy_bearing() -> dict[str, Any]:
    """What is heard only when all is closed: the wheel comes off once more, in one case of five."""
    data = plain_example()
    listen = {"name": "listen", "minutes": 1, "needs": {"rear_wheel": ["fitted"]}}
    swap = {"name": "swap bearing", "minutes": 10, "needs": {"rear_wheel": ["off"]}}
    data["operations"] += [
        {**listen, "after": ["fill and close"]},
        {**swap, "only_if": ["bearing worn"]},
    ]
    data["unknowns"] = {"bearing worn": {"revealed_by": "listen", "yes": 0.2}}
    return data
