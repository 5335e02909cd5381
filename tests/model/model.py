"""What must be open on a visit: a fold over what people were told is stored.

Written from the design and docs/ledger.md alone; it shares no line with the program, and where the
documents leave a case open it says UNSURE instead of guessing: such an item may be open or not.
"""

from __future__ import annotations

import copy

from tests.model.items import Items
from tests.model.log import CLOSED, OPEN, UNSURE, Told


class Model(Items):
    """One visit: what is open on it, and what stands before each gate."""

    def with_done(self, steps: tuple[str, ...]) -> Model:
        """As it would be with these steps done by somebody who knows of everything."""
        made = copy.copy(self)
        made.log = [*self.log]
        for step in steps:
            told = Told(f"if/{step}", "done", "somebody", "nowhere", {"step": step}, -1)
            made.add(told, frozenset(range(len(made.log))))
        return made

    def blocks(self, gate: str) -> tuple[set[str], set[str]]:
        """What surely stands before the gate, and what may."""
        surely, perhaps = set(), set()
        for item, how in self.items().items():
            stands = self._stands_before(item, gate)
            if stands == OPEN and how == OPEN:
                surely.add(item)
            elif stands != CLOSED:
                perhaps.add(item)
        return surely, perhaps

    def _stands_before(self, item: str, gate: str) -> str:  # noqa: PLR0911 - a table of kinds
        if gate == "hand-back":
            return OPEN
        kind, _, rest = item.partition("/")
        name = rest.split("/")[0]
        if kind == "fastener":
            return self._fastener_before(name, gate)
        if kind == "circuit":
            return self._requirement_before(name, rest.split("/")[1], gate)
        if kind == "renewal" and gate == "road test":
            return OPEN if self.book.table("renewals")[name].get("safety") else CLOSED
        if kind in {"secured", "still", "thread"} and gate == "road test":
            return OPEN if self.book.table("fasteners")[name].get("safety") else CLOSED
        if kind == "finding" and gate == "road test":
            safety = any(
                one.id == rest and one.body.get("safety") for _, one in self._entries("found")
            )
            return OPEN if safety else CLOSED
        if kind in {"condition", "job", "walk round", "ride"} or item.startswith("second look"):
            return CLOSED
        return UNSURE

    def _fastener_before(self, name: str, gate: str) -> str:
        about = self.book.table("fasteners")[name]
        own, safety = about.get("gate", ""), about.get("safety")
        if own == gate:
            return OPEN
        if gate == "road test":
            return OPEN if safety or own in {"starter", "wheels on the ground"} else CLOSED
        if own:
            return UNSURE if own == "starter" and gate == "wheels on the ground" else CLOSED
        if not safety:
            return CLOSED
        # open keeps the wheels off the ground; seated, not tight, stops the starter
        return OPEN if gate == "wheels on the ground" else UNSURE

    def _requirement_before(self, circuit: str, requirement: str, gate: str) -> str:
        about = self.book.requirements(circuit)[requirement]
        if about.get("ride"):
            return CLOSED
        own = about.get("gate", "")
        if own == gate:
            return OPEN
        if gate == "road test":
            safety = self.book.table("circuits")[circuit].get("safety")
            return OPEN if safety or own in {"starter", "wheels on the ground"} else CLOSED
        return UNSURE if own == "starter" and gate == "wheels on the ground" else CLOSED
