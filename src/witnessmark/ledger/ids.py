"""Ids of open items and of steps: the one place where they are written and taken apart.

Both are text, and are stored as that. An item's id begins with its kind; the rest is named by the functions here,
in the order of their arguments: ``fastener/<group>/<index>``, ``circuit/<circuit>/<requirement>``. A step's id is that
of an access step, or ``<job>/<operation>``.
"""

from __future__ import annotations

from typing import Literal

from witnessmark.book.select import job_of

# What is looked at a second time, and what two entries that did not see each other differ about.
Looked = Literal["fastener", "circuit", "step"]
Differ = Literal["answer", "step"]


class ItemId(str):
    """The id of an open item."""

    __slots__ = ()

    @property
    def kind(self) -> str:
        """Fastener, circuit, second look, walk round …"""
        return self.partition("/")[0]

    @property
    def name(self) -> str:
        """What it is about: the group of fasteners, the circuit, the reading, the job, the entry …"""
        kind, _, rest = self.partition("/")
        if kind in ("second look", "conflict"):
            return rest.partition("/")[2]
        if kind == "wait":
            return rest
        return rest.rpartition("/")[2] if kind == "reading" else rest.partition("/")[0]

    @property
    def about(self) -> str:
        """Of a second look, and of a conflict: what kind of thing is looked at, or said differently."""
        return self.split("/")[1]

    @property
    def place(self) -> int:
        """Which of a group, which repeat of a reading."""
        return int(self.split("/")[2])

    @property
    def requirement(self) -> str:
        """Of a circuit: what is to be shown."""
        return self.split("/")[2]

    @property
    def round(self) -> int:
        """Of a round: which."""
        return int(self.split("/")[3])

    @property
    def group(self) -> tuple[str, ...]:
        """What it shares with the others of its group: kind, fastener, round; itself where it has none."""
        kind, *rest = self.split("/")
        if kind == "fastener":
            return kind, rest[0]
        return (kind, rest[0], rest[2]) if kind == "round" else (self,)


class StepId(str):
    """The id of a step of the book, or beyond it."""

    __slots__ = ()

    @property
    def job(self) -> str:
        """The job of an operation; empty for an access step."""
        return job_of(self)

    @property
    def operation(self) -> str:
        """Its name within its job; empty for an access step."""
        return self.partition("/")[2]


WALK = ItemId("walk round")
CODES = ItemId("codes")
COMPLAINT = ItemId("complaint")
RIDE = ItemId("ride")
NETWORK = ItemId("network")


def fastener(group: str, index: int) -> ItemId:
    """One of a group that is to be tight."""
    return ItemId(f"fastener/{group}/{index}")


def round(group: str, index: int, number: int) -> ItemId:  # noqa: A001 - the trade's word
    """A round before the last, of one of a group."""
    return ItemId(f"round/{group}/{index}/{number}")


def still(group: str) -> ItemId:
    """That none of a group moves any more."""
    return ItemId(f"still/{group}")


def secured(group: str) -> ItemId:
    """What secures a group."""
    return ItemId(f"secured/{group}")


def thread(group: str, index: int) -> ItemId:
    """A thread that kept turning, to be judged."""
    return ItemId(f"thread/{group}/{index}")


def circuit(name: str, requirement: str) -> ItemId:
    """What is to be shown of a circuit that was opened."""
    return ItemId(f"circuit/{name}/{requirement}")


def renewal(name: str) -> ItemId:
    """A part to be renewed."""
    return ItemId(f"renewal/{name}")


def condition(name: str) -> ItemId:
    """A state that must be another when it leaves."""
    return ItemId(f"condition/{name}")


def figure(name: str) -> ItemId:
    """A figure that work used, without value or source."""
    return ItemId(f"figure/{name}")


def reading(step: str, name: str) -> ItemId:
    """A reading that a step asks for."""
    return ItemId(f"reading/{step}/{name}")


def outside(name: str, index: int) -> ItemId:
    """A reading outside its limits."""
    return ItemId(f"outside/{name}/{index}")


def look(what: Looked, name: str) -> ItemId:
    """A second look."""
    return ItemId(f"second look/{what}/{name}")


def finding(entry: str) -> ItemId:
    """Something found."""
    return ItemId(f"finding/{entry}")


def wont(entry: str) -> ItemId:
    """A step that would not go."""
    return ItemId(f"wont/{entry}")


def job(name: str) -> ItemId:
    """Agreed work."""
    return ItemId(f"job/{name}")


def wait(step: str) -> ItemId:
    """A wait that was begun and is not ended."""
    return ItemId(f"wait/{step}")


def conflict(what: Differ, name: str) -> ItemId:
    """Entries about one thing that did not see each other and differ."""
    return ItemId(f"conflict/{what}/{name}")


def unknown(entry: str) -> ItemId:
    """An entry about something that the pinned book does not have."""
    return ItemId(f"unknown/{entry}")


def device(name: str) -> ItemId:
    """Entries of a device that have not come in."""
    return ItemId(f"device/{name}")
