"""What must be open on a visit: a fold over what people were told is stored.

Written from the design and docs/ledger.md alone; it shares no line with the program, and where the
documents leave a case open it says UNSURE instead of guessing: such an item may be open or not.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from tests.model.books import Book

OPEN, CLOSED, UNSURE = "open", "closed", "unsure"


@dataclass
class Told:
    """An entry somebody was told is stored. `seen` are the places in the log it came after."""

    id: str
    kind: str
    person: str
    device: str
    body: dict[str, Any]
    tap: int  # entries of one tap share it
    seen: frozenset[int] = frozenset()


@dataclass
class Items:
    """The acts on each item, and what follows from the newest."""

    acts: dict[str, list[tuple[int, str]]] = field(default_factory=dict)

    def act(self, item: str, at: int, effect: str) -> None:
        self.acts.setdefault(item, []).append((at, effect))


class Model:
    """One visit: the log of what was told as stored, and what follows from it."""

    def __init__(self, book: Book, jobs: list[str], states: dict[str, str]) -> None:
        self.book = book
        self.jobs = self._with_brought(jobs)
        self.states = {one: said["start"] for one, said in book.table("conditions").items()}
        self.states.update(states)
        self.log: list[Told] = []
        self.returned = False

    def _with_brought(self, jobs: list[str]) -> list[str]:
        found, look = [], list(jobs)
        while look:
            job = look.pop(0)
            if job not in found:
                found.append(job)
                look += self.book.all["jobs"][job].get("brings", [])
        return found

    # ------------------------------------------------------------------ the log

    def add(self, entry: Told, before: frozenset[int]) -> None:
        """Append; it came after `before`, what those came after, and its device's own entries."""
        seen = set(before)
        seen |= {at for at, one in enumerate(self.log) if one.device == entry.device}
        for at in list(seen):
            seen |= self.log[at].seen
        entry.seen = frozenset(seen)
        self.log.append(entry)

    def live(self) -> list[int]:
        """Entries that no living correction names; an undo can be undone."""
        gone: set[int] = set()
        places = {one.id: at for at, one in enumerate(self.log)}
        for at in range(len(self.log) - 1, -1, -1):
            one = self.log[at]
            if one.kind == "corrected" and at not in gone:
                gone |= {places[target] for target in one.body["entries"] if target in places}
        return [at for at in range(len(self.log)) if at not in gone]

    def _entries(self, *kinds: str) -> Iterator[tuple[int, Told]]:
        for at in self.live():
            if self.log[at].kind in kinds:
                yield at, self.log[at]

    # ------------------------------------------------------------------ what is open

    def items(self) -> dict[str, str]:
        """Item: OPEN or UNSURE; what is not here is closed."""
        made = Items()
        live = self.live()
        for at in live:
            self._apply(at, self.log[at], made)
        found = {item: self._newest(acts) for item, acts in made.acts.items()}
        found.update(self._conditions())
        found.update(self._job_items())
        found["ride"] = OPEN if self._ride_again() else CLOSED
        self._look_items(found)
        return {item: how for item, how in found.items() if how != CLOSED}

    def _newest(self, acts: list[tuple[int, str]]) -> str:
        newest = [
            effect
            for at, effect in acts
            if not any(at in self.log[other].seen for other, _ in acts if other != at)
        ]
        if OPEN in newest and UNSURE not in newest:
            return OPEN
        if len(set(newest)) > 1 or len(newest) > 1 or UNSURE in newest:
            return UNSURE
        return newest[0]

    def _apply(self, at: int, one: Told, made: Items) -> None:  # noqa: C901, PLR0912 - a table of kinds
        if one.kind == "done":
            self._done(at, one, made)
        elif one.kind == "tightened":
            self._mark(at, one, made)
        elif one.kind == "read":
            self._read(at, one, made)
        elif one.kind == "shown":
            for item in ("secured", "still"):
                made.act(f"{item}/{one.body['fastener']}", at, CLOSED)
        elif one.kind == "walked_round":
            made.act("walk round", at, CLOSED)
        elif one.kind == "wont":
            made.act(f"wont/{one.id}", at, OPEN)
        elif one.kind == "found":
            made.act(f"finding/{one.id}", at, OPEN)
            if one.body.get("reading"):
                for place in range(1, 9):
                    item = f"outside/{one.body['reading']}/{place}"
                    if item in made.acts:
                        made.act(item, at, CLOSED)
        elif one.kind == "settled":
            self._settled(at, one, made)
        elif one.kind == "skipped":
            self._wont_ends(at, one.body["step"], made)

    def _wont_ends(self, at: int, step: str, made: Items) -> None:
        for before, one in self._entries("wont"):
            if one.body["step"] == step and before in self.log[at].seen:
                made.act(f"wont/{one.id}", at, CLOSED)

    def _settled(self, at: int, one: Told, made: Items) -> None:
        target = one.body["entry"]
        for _, found in self._entries("wont", "found"):
            if found.id == target:
                kind = "wont" if found.kind == "wont" else "finding"
                declined = one.body["how"] == "told and declined"
                safety = found.kind == "wont" or found.body.get("safety")
                if declined and safety:
                    made.act(f"{kind}/{target}", at, UNSURE if found.kind == "wont" else OPEN)
                else:
                    made.act(f"{kind}/{target}", at, CLOSED)

    # ------------------------------------------------------------------ a step done

    def _done(self, at: int, one: Told, made: Items) -> None:
        step = self.book.steps[one.body["step"]]
        loosens, tightens = step.names("loosens"), step.names("tightens")
        for fastener in dict.fromkeys([*loosens, *step.names("snugs"), *tightens]):
            for place in range(1, self.book.count(fastener) + 1):
                effect = OPEN
                if fastener in tightens:
                    effect = self._tight_by_card(at, step.id, fastener, place)
                made.act(f"fastener/{fastener}/{place}", at, effect)
            self._also(at, fastener, made)
        opened, closed = step.table("opens"), step.table("closes")
        for circuit in dict.fromkeys([*opened, *closed]):
            self._circuit(at, circuit, opened.get(circuit, []), closed.get(circuit, []), made)
        for renewal in step.names("disturbs"):
            made.act(f"renewal/{renewal}", at, OPEN)
        for renewal in step.names("renews"):
            made.act(f"renewal/{renewal}", at, CLOSED)
        if loosens or opened or step.names("disturbs"):
            made.act("walk round", at, OPEN)
        elif step.table("sets") or step.names("snugs"):
            made.act("walk round", at, UNSURE)  # "taken off": the documents do not say which
        for reading in step.names("readings"):
            self._reading_by_card(at, step.id, reading, made)
        self._wont_ends(at, step.id, made)
        self._figures(at, [*loosens, *tightens], made)

    def _tight_by_card(self, at: int, step: str, fastener: str, place: int) -> str:
        if self.book.grade(fastener) != "proven":
            return CLOSED
        seen = self.log[at].seen
        marks = [
            mark
            for mark, one in self._entries("tightened")
            if mark in seen
            and one.body["step"] == step
            and one.body["fastener"] == fastener
            and one.body["index"] == place
            and one.body["outcome"] == "ok"
        ]
        for mark in marks:
            if not any(
                mark in self.log[between].seen and between in seen
                for between, done in self._entries("done")
                if done.tap != self.log[at].tap and self._touches(done, fastener, step)
            ):
                return CLOSED
        return OPEN

    def _touches(self, done: Told, fastener: str, step: str) -> bool:
        """Whether this confirmation ends what marks before it prove."""
        other = self.book.steps[done.body["step"]]
        if other.id == step:
            return True
        return fastener in [*other.names("loosens"), *other.names("snugs")]

    def _also(self, at: int, fastener: str, made: Items) -> None:
        about = self.book.table("fasteners")[fastener]
        if about.get("secured_by"):
            made.act(f"secured/{fastener}", at, OPEN)
        if about.get("sequence") == "alternate until still":
            made.act(f"still/{fastener}", at, UNSURE)
        for other, said in self.book.table("fasteners").items():
            behind = said.get("behind", [])
            if fastener in ([behind] if isinstance(behind, str) else behind):
                for place in range(1, self.book.count(other) + 1):
                    made.act(f"fastener/{other}/{place}", at, UNSURE)

    def _figures(self, at: int, fasteners: list[str], made: Items) -> None:
        for fastener in fasteners:
            figure = self.book.table("fasteners")[fastener].get("figure")
            if figure and not self.book.proven(figure):
                made.act(f"figure/{figure}", at, UNSURE)

    def _circuit(
        self, at: int, circuit: str, opens: list[str], closes: list[str], made: Items
    ) -> None:
        opened = self.book.named(circuit, opens)
        closed = self.book.named(circuit, closes)
        for requirement, about in self.book.requirements(circuit).items():
            item = f"circuit/{circuit}/{requirement}"
            if requirement in closed:
                # "'on the ride' is closed by a ride alone": without one it stays as it was
                if not about.get("ride") or self._ridden_since(at, circuit):
                    made.act(item, at, CLOSED)
            elif requirement in opened:
                made.act(item, at, OPEN)
            elif opened and about.get("ride"):
                made.act(item, at, UNSURE)  # it, or the ride itself, is open again: `_ride_again`

    def rides(self) -> list[int]:
        """The road tests done."""
        return [
            at
            for at, one in self._entries("done")
            if self.book.steps[one.body["step"]].gate == "road test"
        ]

    def _ride_again(self) -> bool:
        """Whether there is work on what a ride proves that no ride came after, though it was ridden."""
        work = [at for at, one in self._entries("done") if self._asks_for_ride(one.body["step"])]
        rides = self.rides()
        return bool(rides) and all(
            any(at != ride and at not in self.log[ride].seen for at in work) for ride in rides
        )

    def _asks_for_ride(self, name: str) -> bool:
        step = self.book.steps[name]
        fasteners, renewals = self.book.table("fasteners"), self.book.table("renewals")
        return (
            any(fasteners[one].get("safety") for one in (*step.names("loosens"), *step.names("snugs")))
            or any(renewals[one].get("safety") for one in step.names("disturbs"))
            or any(
                about.get("ride")
                for circuit in step.table("opens")
                for about in self.book.requirements(circuit).values()
            )
        )

    def _ridden_since(self, at: int, circuit: str) -> bool:
        """Whether a ride came after the last opening of the circuit, and before `at`."""
        opened = [
            before
            for before, one in self._entries("done")
            if before in self.log[at].seen
            and circuit in self.book.steps[one.body["step"]].table("opens")
        ]
        return any(
            ride in self.log[at].seen and all(before in self.log[ride].seen for before in opened)
            for ride in self.rides()
        )

    # ------------------------------------------------------------------ marks and readings

    def _mark(self, at: int, one: Told, made: Items) -> None:
        fastener, place = one.body["fastener"], one.body["index"]
        item, thread = f"fastener/{fastener}/{place}", f"thread/{fastener}/{place}"
        if one.body["outcome"] == "ok":
            made.act(item, at, CLOSED)
        elif one.body["outcome"] == "short":
            made.act(item, at, OPEN)
        else:
            made.act(item, at, UNSURE)
            made.act(thread, at, OPEN)
        self._also(at, fastener, made)
        self._figures(at, [fastener], made)
        for reading, about in self.book.table("readings").items():
            if fastener in about.get("again_after", []):
                for step in self.book.steps.values():
                    if reading in step.names("readings"):
                        made.act(f"reading/{step.id}/{reading}", at, UNSURE)

    def _reading_by_card(self, at: int, step: str, reading: str, made: Items) -> None:
        item = f"reading/{step}/{reading}"
        repeat = int(self.book.table("readings")[reading].get("repeat", 1))
        places: set[int] = set()
        since: set[int] = set()
        confirmed = [
            before
            for before, one in self._entries("done")
            if one.body["step"] == step and before in self.log[at].seen
        ]
        for before, one in self._entries("read"):
            if (one.body["step"], one.body["reading"]) != (step, reading):
                continue
            if before in self.log[at].seen:
                places.add(one.body["index"])
                if not any(before in self.log[done].seen for done in confirmed):
                    since.add(one.body["index"])
        if len(since) >= repeat:
            made.act(item, at, CLOSED)
        else:
            made.act(item, at, UNSURE if len(places) >= repeat else OPEN)

    def _read(self, at: int, one: Told, made: Items) -> None:
        step, reading, place = one.body["step"], one.body["reading"], one.body["index"]
        repeat = int(self.book.table("readings")[reading].get("repeat", 1))
        made.act(f"reading/{step}/{reading}", at, CLOSED if repeat == 1 else UNSURE)
        outside = self.outside(reading, one.body["value"])
        made.act(f"outside/{reading}/{place}", at, OPEN if outside else CLOSED)

    def outside(self, reading: str, value: Any) -> bool:
        about = self.book.table("readings")[reading]
        if about["quantity"] == "words":
            return value in about.get("bad", [])
        low, high = self.book.limits(reading)
        return (low is not None and value < low) or (high is not None and value > high)

    # ------------------------------------------------------------------ conditions, jobs, looks

    def state(self, condition: str) -> str | None:
        """Its state now; None where acts that did not see each other disagree."""
        acts = [
            (at, self.book.steps[one.body["step"]].table("sets")[condition])
            for at, one in self._entries("done")
            if condition in self.book.steps[one.body["step"]].table("sets")
        ]
        if not acts:
            return self.states[condition]
        newest = {
            state
            for at, state in acts
            if not any(at in self.log[other].seen for other, _ in acts if other != at)
        }
        return newest.pop() if len(newest) == 1 else None

    def _conditions(self) -> dict[str, str]:
        found = {}
        for condition, about in self.book.table("conditions").items():
            finish = about.get("finish")
            if not finish:
                continue
            state = self.state(condition)
            wanted = self.states[condition] if finish == "as found" else finish
            if state is None:
                found[f"condition/{condition}"] = UNSURE
            elif state != wanted:
                lapses = about.get("lapse", {}).get(state, {}).get("to") == wanted
                found[f"condition/{condition}"] = UNSURE if lapses else OPEN
        return found

    def _job_items(self) -> dict[str, str]:
        over = {one.body["step"] for _, one in self._entries("done", "skipped")}
        left = {one.body["job"] for _, one in self._entries("job_left")}
        failed = {
            one.body["step"]
            for at, one in self._entries("wont", "wait_begun")
            if not any(
                at in self.log[after].seen and other.body["step"] == one.body["step"]
                for after, other in self._entries("done", "skipped")
            )
        }
        found = {}
        for job in self.jobs:
            steps = [step.id for step in self.book.steps.values() if step.job == job]
            if job in left:
                continue
            if any(step not in over for step in steps):
                found[f"job/{job}"] = OPEN
            elif failed.intersection(steps):
                # done, and then it would not, or its wait was begun again: they do not say
                found[f"job/{job}"] = UNSURE
            elif not self._in_turn(steps):
                found[f"job/{job}"] = UNSURE  # a ride that later work made void, a look before it
        return found

    def _in_turn(self, steps: list[str]) -> bool:
        """Whether the ride among them came after all work, and what looks at it after the ride."""
        last: dict[str, int] = {}
        work = -1
        for at, one in self._entries("done"):
            step = self.book.steps[one.body["step"]]
            last[step.id] = at
            if any(step.said.get(key) for key in ("loosens", "opens", "disturbs")):
                work = at
        rides = [at for at in self.rides() if at > work]
        for name in steps:
            step = self.book.steps[name]
            looks = any(
                self.book.requirements(circuit)[one].get("ride")
                for circuit, wanted in step.table("closes").items()
                for one in self.book.named(circuit, wanted)
            )
            if step.gate == "road test" and last.get(name, -1) < work:
                return False
            if looks and not any(at < last.get(name, -1) for at in rides):
                return False
        return True

    def _look_items(self, found: dict[str, str]) -> None:
        """Second looks: wanted once what they look at was made or done."""
        acts: dict[str, list[tuple[int, str, bool]]] = {}
        for at, one in self._entries("done", "tightened"):
            for item, made in self._wanting(at, one):
                acts.setdefault(item, []).append((at, one.person, made))
        looks = list(self._entries("looked"))
        for item, about in acts.items():
            mine = [(at, one) for at, one in looks if item in one.body["items"]]
            found[item] = self._looked(about, mine)

    def _looked(self, acts: list[tuple[int, str, bool]], looks: list[tuple[int, Told]]) -> str:
        doers = {person for _, person, _ in acts}
        made = [at for at, _, is_made in acts if is_made]
        after = [one for look, one in looks if all(at in self.log[look].seen for at in made)]
        again = bool(made) and any(made[-1] in self.log[at].seen for at, _, _ in acts)
        if not made or again:
            return UNSURE  # opened, or open again, and not yet made: the documents do not say
        if any(one.person not in doers for one in after):
            return CLOSED
        # somebody among several doers, or one who looked before the last of it: they do not say
        several = len(doers) > 1 and bool(looks)
        alone = any(one.body.get("fallback") for _, one in looks)
        return UNSURE if several or alone else OPEN

    def steps_under(self, looks: set[str]) -> list[str]:
        """The steps done that made what these second looks look at, the first of each."""
        found = {}
        for at, one in self._entries("done"):
            for item, made in self._wanting(at, one):
                if item in looks and (made or item.startswith("second look/fastener")):
                    found.setdefault(item, one.body["step"])
        return list(dict.fromkeys(found.values()))

    def _was_opened(self, at: int, circuit: str) -> bool:
        return any(
            circuit in self.book.steps[one.body["step"]].table("opens")
            for before, one in self._entries("done")
            if before == at or before in self.log[at].seen
        )

    def _wanting(self, at: int, one: Told) -> list[tuple[str, bool]]:
        """Second looks this entry bears on, and whether it made or did what they look at."""
        fasteners, circuits = self.book.table("fasteners"), self.book.table("circuits")
        if one.kind == "tightened":
            wanted = fasteners[one.body["fastener"]].get("second_look")
            return [(f"second look/fastener/{one.body['fastener']}", True)] if wanted else []
        step, found = self.book.steps[one.body["step"]], []
        for fastener in dict.fromkeys([*step.names("tightens"), *step.names("loosens")]):
            if fasteners[fastener].get("second_look"):
                by_card = self.book.grade(fastener) != "proven"
                made = by_card and fastener in step.names("tightens")
                found.append((f"second look/fastener/{fastener}", made))
        for circuit in dict.fromkeys([*step.table("closes"), *step.table("opens")]):
            if circuits[circuit].get("second_look"):
                made = circuit in step.table("closes") and self._was_opened(at, circuit)
                found.append((f"second look/circuit/{circuit}", made))
        if step.said.get("second_look"):
            found.append((f"second look/step/{step.id}", True))
        return found

    # ------------------------------------------------------------------ gates

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
