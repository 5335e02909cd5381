"""An invented shaft-drive tourer's whole book as a planning problem: the case the planner is tuned on.

Sized as a real book: 17 jobs, 36 operations, 33 moves, 20 conditions. All figures are invented.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

Step = dict[str, Any]

BRINGS = {"anti-lock": {"front brake", "rear brake"}}  # cannot be done without

CONDITIONS: dict[str, dict[str, Any]] = {
    "stand": {"states": ["side", "centre"], "start": "side", "finish": "side"},
    "lift": {"states": ["down", "up"], "start": "down", "finish": "down"},
    "seat": {"states": ["on", "off"], "start": "on", "finish": "on"},
    "panniers": {"states": ["on", "off"], "start": "on", "finish": "on"},
    "tank": {"states": ["down", "raised"], "start": "down", "finish": "down"},
    "left_panel": {"states": ["on", "off"], "start": "on", "finish": "on"},
    "right_panel": {"states": ["on", "off"], "start": "on", "finish": "on"},
    "belly_pan": {"states": ["on", "off"], "start": "on", "finish": "on"},
    "rear_wheel": {
        "states": ["fitted", "snug", "off"],
        "start": "fitted",
        "finish": "fitted",
        "exposed": ["snug"],
    },
    "front_wheel": {"states": ["fitted", "off"], "start": "fitted", "finish": "fitted"},
    "front_calipers": {"states": ["fitted", "hung"], "start": "fitted", "finish": "fitted"},
    "gear": {"states": ["neutral", "engaged"], "start": "neutral", "finish": "neutral"},
    "ignition": {"states": ["off", "on"], "start": "off", "finish": "off"},
    "battery": {"states": ["joined", "parted"], "start": "joined", "finish": "joined"},
    "tester": {"states": ["away", "plugged"], "start": "away", "finish": "away"},
    "engine": {"states": ["cold", "warm"], "start": "cold"},
    "sump": {
        "states": ["full", "open", "drained"],
        "start": "full",
        "finish": "full",
        "exposed": ["open"],
    },
    "drive_box": {
        "states": ["closed", "cracked", "draining", "empty"],
        "start": "closed",
        "finish": "closed",
        "exposed": ["draining"],
    },
    "front_reservoir": {
        "states": ["shut", "open"],
        "start": "shut",
        "finish": "shut",
        "exposed": ["open"],
    },
    "rear_reservoir": {
        "states": ["shut", "open"],
        "start": "shut",
        "finish": "shut",
        "exposed": ["open"],
    },
}

NEVER = [
    {"rear_wheel": ["off", "snug"], "stand": ["side"]},
    {"front_wheel": ["off"], "stand": ["side"]},
    {"front_wheel": ["off"], "rear_wheel": ["off"]},
    {"battery": ["parted"], "ignition": ["on"]},
    {"sump": ["open", "drained"], "ignition": ["on"]},
]


def _move(name: str, minutes: float, sets: dict[str, str], **needs: str) -> Step:
    return {
        "name": name,
        "minutes": minutes,
        "needs": {condition: states.split("|") for condition, states in needs.items()},
        "sets": sets,
    }


MOVES: list[Step] = [
    _move("to centre stand", 1.5, {"stand": "centre"}, stand="side", lift="down", gear="neutral"),
    _move("off centre stand", 1, {"stand": "side"}, stand="centre", lift="down"),
    _move("lift up", 1, {"lift": "up"}, lift="down"),
    _move("lift down", 1, {"lift": "down"}, lift="up"),
    _move("seat off", 1, {"seat": "off"}, seat="on"),
    _move("seat on", 1, {"seat": "on"}, seat="off", battery="joined", tank="down"),
    _move("panniers off", 2, {"panniers": "off"}, panniers="on"),
    _move("panniers on", 2.5, {"panniers": "on"}, panniers="off", rear_wheel="fitted"),
    _move("tank up", 4, {"tank": "raised"}, tank="down", seat="off"),
    _move("tank down", 5, {"tank": "down"}, tank="raised", left_panel="on|off"),
    _move("left panel off", 3, {"left_panel": "off"}, left_panel="on"),
    _move("left panel on", 4, {"left_panel": "on"}, left_panel="off", tank="down"),
    _move("right panel off", 3, {"right_panel": "off"}, right_panel="on"),
    _move("right panel on", 4, {"right_panel": "on"}, right_panel="off", tank="down"),
    _move("belly pan off", 4, {"belly_pan": "off"}, belly_pan="on", lift="up"),
    _move("belly pan on", 5, {"belly_pan": "on"}, belly_pan="off", lift="up", sump="full"),
    _move(
        "rear wheel off",
        6,
        {"rear_wheel": "off"},
        rear_wheel="fitted|snug",
        gear="engaged",
        stand="centre",
        panniers="off",
    ),
    _move("rear wheel snug", 4, {"rear_wheel": "snug"}, rear_wheel="off", stand="centre"),
    _move("rear wheel tight", 3, {"rear_wheel": "fitted"}, rear_wheel="snug", gear="engaged"),
    _move("calipers hung", 5, {"front_calipers": "hung"}, front_calipers="fitted"),
    _move(
        "calipers on",
        6,
        {"front_calipers": "fitted"},
        front_calipers="hung",
        front_wheel="fitted",
        front_reservoir="shut",
    ),
    _move(
        "front wheel off",
        5,
        {"front_wheel": "off"},
        front_wheel="fitted",
        stand="centre",
        front_calipers="hung",
    ),
    _move("front wheel on", 6, {"front_wheel": "fitted"}, front_wheel="off", lift="up"),
    _move("engage gear", 0.5, {"gear": "engaged"}, gear="neutral"),
    _move("find neutral", 0.5, {"gear": "neutral"}, gear="engaged"),
    _move("ignition on", 0.3, {"ignition": "on"}, ignition="off", battery="joined"),
    _move("ignition off", 0.2, {"ignition": "off"}, ignition="on"),
    _move("part battery", 2, {"battery": "parted"}, battery="joined", seat="off", ignition="off"),
    _move("join battery", 3, {"battery": "joined"}, battery="parted", seat="off"),
    _move("plug tester", 1, {"tester": "plugged"}, tester="away", seat="off"),
    _move("unplug tester", 0.5, {"tester": "away"}, tester="plugged"),
    _move(
        "run warm",
        8,
        {"engine": "warm"},
        engine="cold",
        ignition="on",
        sump="full",
        rear_wheel="fitted",
        gear="neutral",
        front_reservoir="shut",
        rear_reservoir="shut",
    ),
    _move("let the engine cool", 2, {"engine": "cold"}, engine="warm"),
]


def _operation(
    name: str,
    job: str,
    minutes: float,
    after: str = "",
    sets: dict[str, str] | None = None,
    unattended: float = 0,
    **needs: str,
) -> Step:
    return {
        "name": name,
        "job": job,
        "minutes": minutes,
        "unattended": unattended,
        "after": [earlier for earlier in after.split("; ") if earlier],
        "sets": sets or {},
        "needs": {condition: states.split("|") for condition, states in needs.items()},
    }


OPERATIONS: list[Step] = [
    _operation("read codes before", "codes", 4, tester="plugged", ignition="on"),
    _operation(
        "read codes after",
        "codes",
        5,
        "read codes before; fill engine; refit plugs; swap air filter; close front; close rear",
        tester="plugged",
        ignition="on",
    ),
    _operation("reset reminder", "reminder", 2, "fill engine", tester="plugged", ignition="on"),
    _operation("test battery", "battery", 3, "read codes before", seat="off", ignition="off"),
    _operation("charge battery", "battery", 2, "test battery", unattended=45, battery="parted"),
    _operation(
        "drain engine",
        "engine oil",
        4,
        unattended=10,
        sets={"sump": "open"},
        sump="full",
        engine="warm",
        belly_pan="off",
    ),
    _operation(
        "plugs and filter",
        "engine oil",
        7,
        "drain engine",
        sets={"sump": "drained"},
        sump="open",
        belly_pan="off",
    ),
    _operation(
        "fill engine",
        "engine oil",
        5,
        "plugs and filter",
        sets={"sump": "full"},
        sump="drained",
        stand="centre",
        lift="down",
    ),
    _operation(
        "check oil level",
        "engine oil",
        3,
        "fill engine",
        stand="centre",
        engine="warm",
        lift="down",
    ),
    _operation(
        "crack fill plug",
        "drive oil",
        2,
        sets={"drive_box": "cracked"},
        drive_box="closed",
        rear_wheel="off",
        gear="neutral",
    ),
    _operation(
        "drain drive",
        "drive oil",
        2,
        "crack fill plug",
        unattended=10,
        sets={"drive_box": "draining"},
        drive_box="cracked",
        rear_wheel="off",
    ),
    _operation(
        "drive plug in",
        "drive oil",
        3,
        "drain drive",
        sets={"drive_box": "empty"},
        drive_box="draining",
    ),
    _operation(
        "fill drive",
        "drive oil",
        6,
        "drive plug in",
        sets={"drive_box": "closed"},
        drive_box="empty",
        rear_wheel="off",
    ),
    _operation("look at rear pads", "rear brake", 3, rear_wheel="off|snug"),
    _operation(
        "push rear pistons", "rear brake", 2, "look at rear pads", rear_wheel="off", lift="up"
    ),
    _operation(
        "open rear reservoir",
        "rear brake",
        3,
        "push rear pistons",
        sets={"rear_reservoir": "open"},
        rear_reservoir="shut",
        seat="off",
        panniers="off",
    ),
    _operation(
        "bleed rear",
        "rear brake",
        9,
        "open rear reservoir",
        rear_reservoir="open",
        rear_wheel="snug|fitted",
        lift="up",
    ),
    _operation(
        "close rear",
        "rear brake",
        3,
        "bleed rear",
        sets={"rear_reservoir": "shut"},
        rear_reservoir="open",
    ),
    _operation("look at front pads", "front brake", 4, front_calipers="hung"),
    _operation("push front pistons", "front brake", 3, "look at front pads", front_calipers="hung"),
    _operation(
        "open front reservoir",
        "front brake",
        4,
        "push front pistons",
        sets={"front_reservoir": "open"},
        front_reservoir="shut",
        stand="side|centre",
    ),
    _operation(
        "bleed front",
        "front brake",
        14,
        "open front reservoir",
        front_reservoir="open",
        front_calipers="fitted",
    ),
    _operation(
        "close front",
        "front brake",
        3,
        "bleed front",
        sets={"front_reservoir": "shut"},
        front_reservoir="open",
    ),
    _operation(
        "pump cycle",
        "anti-lock",
        6,
        "bleed front; bleed rear",
        front_reservoir="open",
        rear_reservoir="open",
        tester="plugged",
        ignition="on",
    ),
    _operation("swap rear tyre", "rear tyre", 18, rear_wheel="off"),
    _operation("swap front tyre", "front tyre", 16, front_wheel="off"),
    _operation("look at front bearing", "front bearing", 3, front_wheel="off"),
    _operation(
        "feel the steering", "steering", 4, front_wheel="off|fitted", stand="centre", lift="up"
    ),
    _operation("clean the splines", "splines", 5, unattended=6, rear_wheel="off"),
    _operation("grease the splines", "splines", 4, "clean the splines", rear_wheel="off"),
    _operation("swap air filter", "air filter", 6, tank="raised"),
    _operation(
        "plugs out", "plugs", 8, tank="raised", left_panel="off", right_panel="off", engine="cold"
    ),
    _operation(
        "refit plugs", "plugs", 7, "plugs out", tank="raised", left_panel="off", right_panel="off"
    ),
    _operation("look at coolant", "coolant", 3, right_panel="off", engine="cold", stand="centre"),
    _operation("oil the stands", "stands", 4, stand="centre", lift="up"),
    _operation("check the lights", "lights", 3, ignition="on", seat="on|off"),
]


def tourer(jobs: Iterable[str] | None = None) -> dict[str, Any]:
    """The whole book, or the operations of the named jobs, as problem data."""
    wanted = set(all_jobs() if jobs is None else jobs)
    chosen = [operation for operation in OPERATIONS if operation["job"] in wanted]
    names = {operation["name"] for operation in chosen}
    return {
        "conditions": CONDITIONS,
        "never": NEVER,
        "moves": MOVES,
        "operations": [
            operation | {"after": [name for name in operation["after"] if name in names]}
            for operation in chosen
        ],
    }


def all_jobs() -> list[str]:
    """The jobs in book order."""
    return list(dict.fromkeys(operation["job"] for operation in OPERATIONS))


def with_brought(chosen: set[str]) -> list[str]:
    """Some jobs and those they cannot be done without, in the order of the book."""
    brought = set().union(*(BRINGS.get(job, set()) for job in chosen))
    return [job for job in all_jobs() if job in chosen | brought]
