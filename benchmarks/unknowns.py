"""The annual service of the tourer and the single with three, five and eight things one does not know yet.

Jobs and steps are those of the demo's books; which reading decides what, and how likely, is invented here.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from benchmarks.books import BOOKS
from witnessmark.book import load_book, selection
from witnessmark.planner import compile_problem


class Unknown(NamedTuple):
    """A thing not known: its name, the operation that tells it, how likely, and what a yes brings."""

    name: str
    told_by: str
    yes: float
    brings: tuple[str, ...]  # a whole job, or single operations


TOURER = (
    Unknown("battery low", "battery/test", 0.2, ("battery/charge",)),
    Unknown("rear pads worn", "brake_wear/rear", 0.25, ("rear_pads",)),
    Unknown("front pads worn", "brake_wear/front", 0.15, ("front_pads",)),
    Unknown("rear tyre worn", "tyres/read_rear", 0.3, ("rear_tyre",)),
    Unknown("air filter full", "ride_before/ride", 0.4, ("air_filter",)),
    Unknown("battery failed", "battery/charge", 0.3, ("battery_change",)),
    Unknown("fluid wet", "brake_wear/front", 0.6, ("front_brake_fluid",)),
    Unknown("drive oil dark", "ride_before/ride", 0.5, ("final_drive_oil",)),
)
SINGLE = (
    Unknown("chain slack", "chain/read", 0.6, ("chain/adjust", "chain/read_again")),
    Unknown("rear pads worn", "brake_wear/rear", 0.25, ("rear_pads",)),
    Unknown("front pads worn", "brake_wear/front", 0.15, ("front_pads",)),
    Unknown("battery low", "battery/test", 0.2, ("battery/charge",)),
    Unknown("rear tyre worn", "tyres/read_rear", 0.3, ("rear_tyre",)),
    Unknown("front tyre worn", "tyres/read_front", 0.2, ("front_tyre",)),
    Unknown("chain worn", "chain/read", 0.15, ("chain_kit",)),
    Unknown("steering has play", "suspension_look/front", 0.1, ("steering_play",)),
)
BOOKS_AND_UNKNOWNS = {"quandle_t9": TOURER, "bromeck_410": SINGLE}
COUNTS = (3, 5, 8)


def problem(name: str, count: int, *more: str) -> dict[str, Any]:
    """The annual service with the first so many of its unknowns, as plain data."""
    book, unknowns = load_book(BOOKS / f"{name}.toml"), BOOKS_AND_UNKNOWNS[name][:count]
    jobs = [brought for one in unknowns for brought in one.brings if "/" not in brought]
    chosen = selection(book, [*selection(book, ["annual"]), *more, *jobs])
    data = compile_problem(book, chosen).model_dump(mode="json", exclude_defaults=True)
    for operation in data["operations"]:
        job = operation["name"].partition("/")[0]
        only_if = [one.name for one in unknowns if {job, operation["name"]} & {*one.brings}]
        if only_if:
            operation["only_if"] = only_if
    data["unknowns"] = {one.name: {"revealed_by": one.told_by, "yes": one.yes} for one in unknowns}
    return data
