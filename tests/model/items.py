"""What is open on a visit, item by item."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from tests.model.log import CLOSED, OPEN, UNSURE, Told
from tests.model.looks import Looks


@dataclass
class Acts:
    """The acts on each item, and what follows from the newest."""

    acts: dict[str, list[tuple[int, str]]] = field(default_factory=dict)

    def act(self, item: str, at: int, effect: str) -> None:
        self.acts.setdefault(item, []).append((at, effect))


class Items(Looks):
    """The items of one visit."""

    def items(self) -> dict[str, str]:
        """Item: OPEN or UNSURE; what is not here is closed."""
        made = Acts()
        live = self.live()
        for at in live:
            self._apply(at, self.log[at], made)
        found = {item: self._newest(acts) for item, acts in made.acts.items()}
        found.update(self._conditions(found))
        found.update(self._job_items())
        found.update(self._waits())
        found["ride"] = OPEN if self._ride_again() else CLOSED
        self._look_items(found)
        return {item: how for item, how in found.items() if how != CLOSED}

    def _newest(self, acts: list[tuple[int, str]]) -> str:
        # a step that takes a seal out and puts a new one in ends with the new one
        last = dict(acts)
        newest = [
            effect
            for at, effect in last.items()
            if not any(at in self.log[other].seen for other in last if other != at)
        ]
        if OPEN in newest and UNSURE not in newest:
            return OPEN
        if len(set(newest)) > 1 or len(newest) > 1 or UNSURE in newest:
            return UNSURE
        return newest[0]

    def _apply(self, at: int, one: Told, made: Acts) -> None:  # noqa: C901, PLR0912 - a table of kinds
        if one.kind == "done":
            self._done(at, one, made)
        elif one.kind == "wait_begun":
            self._begun(at, one, made)
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

    def _wont_ends(self, at: int, step: str, made: Acts) -> None:
        for before, one in self._entries("wont"):
            if one.body["step"] == step and before in self.log[at].seen:
                made.act(f"wont/{one.id}", at, CLOSED)

    def _settled(self, at: int, one: Told, made: Acts) -> None:
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

    def _done(self, at: int, one: Told, made: Acts) -> None:
        step = self.book.steps[one.body["step"]]
        begun = self._wait_before(at, step.id)  # what the step opens was opened by it
        tightens = step.names("tightens")
        loosens, snugs, disturbs = (
            [] if begun else step.names(name) for name in ("loosens", "snugs", "disturbs")
        )
        for fastener in dict.fromkeys([*loosens, *snugs, *tightens]):
            for place in range(1, self.book.count(fastener) + 1):
                effect = OPEN
                if fastener in tightens:
                    effect = self._tight_by_card(at, step.id, fastener, place)
                made.act(f"fastener/{fastener}/{place}", at, effect)
            self._also(at, fastener, made)
        opened, closed = {} if begun else step.table("opens"), step.table("closes")
        for circuit in dict.fromkeys([*opened, *closed]):
            self._circuit(at, circuit, opened.get(circuit, []), closed.get(circuit, []), made)
        for renewal in disturbs:
            made.act(f"renewal/{renewal}", at, OPEN)
        for renewal in step.names("renews"):
            made.act(f"renewal/{renewal}", at, CLOSED)
        if loosens or opened or disturbs:
            made.act("walk round", at, OPEN)
        elif step.table("sets") or snugs:
            made.act("walk round", at, UNSURE)  # "taken off": the documents do not say which
        for reading in step.names("readings"):
            self._reading_by_card(at, step.id, reading, made)
        self._wont_ends(at, step.id, made)
        self._figures(at, [*loosens, *tightens], made)

    def _begun(self, at: int, one: Told, made: Acts) -> None:
        """A wait: what its step opens is open; the end of it opens nothing again."""
        step = self.book.steps[one.body["step"]]
        for fastener in [*step.names("loosens"), *step.names("snugs")]:
            for place in range(1, self.book.count(fastener) + 1):
                made.act(f"fastener/{fastener}/{place}", at, OPEN)
        for circuit, opened in step.table("opens").items():
            self._circuit(at, circuit, opened, [], made)
        for renewal in step.names("disturbs"):
            made.act(f"renewal/{renewal}", at, OPEN)
        if step.names("loosens") or step.table("opens") or step.names("disturbs"):
            made.act("walk round", at, OPEN)

    def _wait_before(self, at: int, step: str) -> bool:
        """Whether this confirmation ends a wait: the newest that was said of its step before it began one."""
        said = [
            before
            for before, one in self._entries("done", "wait_begun", "skipped", "wait_stopped")
            if before in self.log[at].seen and one.body["step"] == step
        ]
        return bool(said) and self.log[said[-1]].kind == "wait_begun"

    def _waits(self) -> dict[str, str]:
        """Waits that nothing ended: each is open by its step."""
        ends = [*self._entries("done", "skipped", "wait_stopped", "wont")]
        return {
            f"wait/{one.body['step']}": UNSURE if self._opened_since(at, one) else OPEN
            for at, one in self._entries("wait_begun")
            if not any(
                at in self.log[end].seen and x.body["step"] == one.body["step"] for end, x in ends
            )
        }

    def _opened_since(self, at: int, begun: Told) -> bool:
        """Whether something was done that may have opened what the wait is to show: then it runs no more."""
        return any(
            at in self.log[later].seen
            for later, _ in self._entries("done", "wait_begun", "tightened")
        )

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
                self._touches(done, fastener, step)
                and not (done.body["step"] == step and self.gone_on(between, step))
                for between, done in self._entries("done")
                # only what lies between: what came after knows this confirmation, and would ask for it again
                if mark in self.log[between].seen
                and between in seen
                and done.tap != self.log[at].tap
            ):
                return CLOSED
        return OPEN

    def gone_on(self, at: int, step: str) -> bool:
        """Whether this confirmation left a fastener not tight: what follows on its card goes on with it."""
        return any(
            self._tight_by_card(at, step, fastener, place) != CLOSED
            for fastener in self.book.steps[step].names("tightens")
            for place in range(1, self.book.count(fastener) + 1)
        )

    def _touches(self, done: Told, fastener: str, step: str) -> bool:
        """Whether this confirmation ends what marks before it prove."""
        other = self.book.steps[done.body["step"]]
        if other.id == step:
            return True
        return fastener in [*other.names("loosens"), *other.names("snugs")]

    def _also(self, at: int, fastener: str, made: Acts) -> None:
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

    def _figures(self, at: int, fasteners: list[str], made: Acts) -> None:
        for fastener in fasteners:
            figure = self.book.table("fasteners")[fastener].get("figure")
            if figure and not self.book.proven(figure):
                made.act(f"figure/{figure}", at, UNSURE)

    def _circuit(
        self, at: int, circuit: str, opens: list[str], closes: list[str], made: Acts
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

    def _ride_again(self) -> bool:
        """Whether there is work on what a ride proves that no ride came after, though it was ridden."""
        every = self._entries("done", "wait_begun")
        work = [at for at, one in every if self._asks_for_ride(one.body["step"])]
        rides = self.rides()
        return bool(rides) and all(
            any(at != ride and at not in self.log[ride].seen for at in work) for ride in rides
        )

    def _asks_for_ride(self, name: str) -> bool:
        step = self.book.steps[name]
        fasteners, renewals = self.book.table("fasteners"), self.book.table("renewals")
        return (
            any(
                fasteners[one].get("safety")
                for one in (*step.names("loosens"), *step.names("snugs"))
            )
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
            for before, one in self._entries("done", "wait_begun")
            if before in self.log[at].seen
            and circuit in self.book.steps[one.body["step"]].table("opens")
        ]
        return any(
            ride in self.log[at].seen and all(before in self.log[ride].seen for before in opened)
            for ride in self.rides()
        )

    def _mark(self, at: int, one: Told, made: Acts) -> None:
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

    def _reading_by_card(self, at: int, step: str, reading: str, made: Acts) -> None:
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

    def _read(self, at: int, one: Told, made: Acts) -> None:
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

    def _left_loose(self, condition: str, items: dict[str, str]) -> bool:
        """Whether a card that sets it was gone on from with a fastener not tight: then it does not set it."""
        return any(
            items.get(f"fastener/{fastener}/{place}", CLOSED) != CLOSED
            for _, one in self._entries("done")
            for step in [self.book.steps[one.body["step"]]]
            if condition in step.table("sets")
            for fastener in step.names("tightens")
            if self.book.grade(fastener) == "proven"
            for place in range(1, self.book.count(fastener) + 1)
        )

    def _conditions(self, items: dict[str, str]) -> dict[str, str]:
        found = {}
        for condition, about in self.book.table("conditions").items():
            finish = about.get("finish")
            if not finish:
                continue
            state = self.state(condition)
            wanted = self.states[condition] if finish == "as found" else finish
            if state is None or self._left_loose(condition, items):
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
