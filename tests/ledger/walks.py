"""A bad day at the bench: cards out of their order, left out, failed, undone, given up half-way; then the way home.

On the way home only what the bench offers is done: the order, or what frees the way; then what the open items say.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence

from tests.ledger.bench import BO, Bench
from witnessmark.book import Book, steps
from witnessmark.book.figures import figure_state, limits
from witnessmark.book.model import Operation, Reading
from witnessmark.book.select import with_brought
from witnessmark.book.sequence import rounds
from witnessmark.ledger import Table, effects, gate
from witnessmark.ledger.fastener_effects import shown_of
from witnessmark.ledger.fold import visit_state
from witnessmark.ledger.state import OpenItem, VisitState
from witnessmark.ledger.work_left import left_of, misfits, steps_left, to_do
from witnessmark.planner import PlanStep, Problem, remedies
from witnessmark.planner.explain.recovery import recovery_order

MOST_ACTS = 150  # on the way home: more is going round in a ring
PLAN = "a" * 64
MACHINE = "01890000-0000-7000-8000-000000000000"


class StuckError(AssertionError):
    """Nothing that the bench offers leads on."""


class Walk:
    """One visit of some jobs of a book, driven by chance from a seed."""

    def __init__(
        self,
        book: Book,
        jobs: Sequence[str],
        seed: int,
        found: dict[str, str] | None = None,
        table: Table | None = None,
    ) -> None:
        self.book, self.chance = book, random.Random(f"{book.name} {seed}")
        self.steps, self.bench = steps(book), Bench()
        self.jobs = with_brought(book, jobs)
        self.table = table or effects(book, tuple(book.jobs))
        self.order: tuple[PlanStep, ...] = ()
        self.problem: Problem | None = None
        self.followed: list[str] = []  # the jobs of the order taken
        self.told: list[str] = []
        self._state: tuple[int, VisitState] | None = None
        self.say("arrived", machine=MACHINE, owner=MACHINE, keys=1)
        self.say("states_found", states=found or self._found())
        for job in self.jobs:
            self.say("job_taken", job=job)

    # ------------------------------------------------------------ what is so

    @property
    def state(self) -> VisitState:
        made = len(self.bench.entries)
        if self._state is None or self._state[0] != made:
            self._state = made, visit_state(self.bench.entries, self.table)
        return self._state[1]

    @property
    def wanted(self) -> list[str]:
        return to_do(self.book, self.state)

    def left(self) -> tuple[PlanStep, ...]:
        return steps_left(self.book, self.state, self.bench.entries, self.followed, self.order)

    def fits(self, left: Sequence[PlanStep]) -> bool:
        if self.problem is None:
            return False
        return not misfits(self.book, self.state, left, self.problem, self.followed)

    def held(self, name: str) -> bool:
        step = self.steps[name]
        return bool(step.gate) and not gate(step.gate, self.state).passes

    # ------------------------------------------------------------ acts

    def say(self, kind: str, **body):
        self.told.append(f"{kind} {' '.join(str(v) for v in body.values())[:70]}")
        return self.bench.say(kind, **body)

    def evidence(self, name: str, *, bad: bool = False) -> None:
        """What the card asks for: marks, what is shown, readings."""
        step = self.steps[name]
        for fastener in step.tightens:
            self._tighten(name, fastener)
        for reading in step.readings:
            self._read(name, reading, self.book.readings[reading], bad=bad)

    def card(self, name: str, *, bad: bool = False) -> None:
        """A card done with all that it asks for."""
        self.evidence(name, bad=bad)
        step = self.steps[name]
        if step.gate == "road test":
            self.say("gate_passed", gate="road test", open=[])
        self.say("done", step=name)

    def _tighten(self, step: str, name: str) -> None:
        fastener = self.book.fasteners[name]
        if fastener.grade != "proven":
            return
        every = rounds(fastener)
        for k, figure in enumerate(every, 1):
            for index in range(1, fastener.count + 1):
                turns = self.book.figures[figure].quantity == "angle"
                value = self.book.figures[figure].in_base("value")
                at = {"angle_deg": value or 90.0} if turns else {
                    "set_nm": value or 12.0, "clicked": True}  # fmt: skip
                round_ = k if len(every) > 1 else 0
                self.told.append(f"tight {name} {index} {round_}")
                self.bench.tight(name, index, step=step, round=round_, **at)
        for item in shown_of(fastener, name):
            self.say("shown", fastener=name, what=item.partition("/")[0], step=step)

    def _read(self, step: str, name: str, reading: Reading, *, bad: bool = False) -> None:
        for index in range(1, reading.repeat + 1):
            body = {"reading": name, "step": step, "index": index}
            if reading.quantity == "words":
                good = [choice for choice in reading.choices if choice not in reading.bad]
                words = reading.bad if bad and reading.bad else good or ["seen"]
                self.say("read", **body, words=words[0])
                continue
            ends = [end for end in limits(self.book, name) if end is not None]
            value = sum(ends) / len(ends) if ends else 1.0
            if bad and ends:
                value = min(ends) * 0.5 if limits(self.book, name)[0] is not None else max(ends) * 2
            self.say("read", **body, value=value)

    # ------------------------------------------------------------ a bad day

    def bad_day(self, acts: int) -> None:
        """So many acts by chance."""
        for _ in range(acts):
            self.chance.choice(self._acts())()

    def _acts(self):
        in_order = [self._next_in_order] * 6
        return [
            *in_order, self._out_of_order, self._out_of_order, self._any_access, self._skip,
            self._wont, self._undo, self._undo, self._half, self._read_badly, self._find, self._leave_job,
        ]  # fmt: skip

    def _operations(self) -> list[str]:
        return [
            name
            for name, step in self.steps.items()
            if isinstance(step, Operation) and name.partition("/")[0] in self.wanted
        ]

    def _any(self, names: Sequence[str]) -> str | None:
        names = [name for name in names if not self.held(name)]
        return self.chance.choice(names) if names else None

    def _next_in_order(self) -> None:
        left = self.left()
        if not self.fits(left):
            if not self.take_order():
                return
            left = self.left()
        if left and not self.held(left[0].name):
            self.card(left[0].name)

    def _out_of_order(self) -> None:
        if name := self._any(self._operations()):
            self.card(name)

    def _any_access(self) -> None:
        if name := self._any([*self.book.access]):
            self.card(name)

    def _skip(self) -> None:
        if name := self._any(self._operations()):
            self.say("skipped", step=name, reason="no part")

    def _wont(self) -> None:
        if name := self._any(self._operations()):
            self.say("wont", step=name, what="stuck", safe_now="as it was")

    def _undo(self) -> None:
        undone = {e.body["entry"] for e in self.bench.entries if e.kind == "corrected"}
        kinds = {
            "done",
            "skipped",
            "wont",
            "tightened",
            "read",
            "states_found",
            "corrected",
            "job_left",
            "found",
        }
        live = [e.id for e in self.bench.entries if e.kind in kinds and e.id not in undone]
        if live:
            self.say("corrected", entry=self.chance.choice(live[-6:]), why="mistyped")

    def _half(self) -> None:
        if name := self._any(self._operations()):
            self.evidence(name)

    def _read_badly(self) -> None:
        if name := self._any([n for n in self._operations() if self.steps[n].readings]):
            self.card(name, bad=True)

    def _find(self) -> None:
        found = self.say("found", text="found something", safety=self.chance.random() < 0.5)
        job = self.chance.choice([*self.book.jobs])
        for one in with_brought(self.book, [job]):
            self.say("job_taken", job=one, finding=found.id if one == job else None)

    def _leave_job(self) -> None:
        if len(self.wanted) > 1 and self.chance.random() < 0.3:
            self.say("job_left", job=self.chance.choice(self.wanted))

    def _found(self) -> dict[str, str]:
        return {
            name: self.chance.choice(c.states) if c.asked else c.start
            for name, c in self.book.conditions.items()
        }

    # ------------------------------------------------------------ the way home

    def take_order(self) -> bool:
        """Take the order that is offered; False where there is none."""
        problem, found = recovery_order(left_of(self.book, self.state, self.wanted))
        if not found.possible:
            return False
        operations = {o.name for o in problem.operations}
        self.problem, self.followed = problem, self.wanted
        self.order = tuple(
            PlanStep(
                name=name,
                kind="operation" if name in operations else "move",
                start=0,
                end=0,
                tail_end=0,
                technicians=("A",),
            )
            for name in found.order
        )
        self.say("plan_taken", plan=PLAN)
        return True

    def way_home(self) -> int:
        """Do what is offered until hand-back passes; how many acts that took. StuckError where it does not."""
        for acts in range(MOST_ACTS):
            if not self.step_home():
                return acts
        raise StuckError(f"still going after {MOST_ACTS} acts: {self.told[-40:]}")

    def step_home(self) -> bool:
        """One thing that is offered; False where hand-back passes."""
        left = self.left()
        if not self.fits(left):
            if not self.take_order():
                self._free()
        elif left and not self.held(left[0].name):
            self.card(left[0].name)
        else:
            name = self.steps[left[0].name].gate if left else "hand-back"
            blocking = gate(name, self.state).blocking
            if not blocking:
                return False
            self._close(blocking)
        return True

    def _free(self) -> None:
        """The first remedy that is offered, or an answer to what waits."""
        for remedy in remedies(left_of(self.book, self.state, self.wanted)):
            match remedy.kind:
                case "step" if not self.held(remedy.name):
                    return self.card(remedy.name)
                case "state":
                    self.say("states_found", states={remedy.name: remedy.state})
                    return None
                case "job":
                    self.say("job_left", job=remedy.name)
                    return None
        if not self._settle():
            raise StuckError(f"no order, and nothing frees the way: {self.told[-30:]}")
        return None

    def _settle(self) -> bool:
        for finding in self.state.findings:
            if not finding.settled:
                self.say("settled", entry=finding.entry, how="put right")
                return True
        return False

    def _close(self, items: Sequence[OpenItem]) -> None:
        for item in items:
            if self._closed(item):
                return
        raise StuckError(f"open, and nothing closes it: {[i.id for i in items]}: {self.told[-30:]}")

    def _closed(self, item: OpenItem) -> bool:
        """Do what the item says closes it; False where that cannot be done now."""
        about = item.id.partition("/")[2]
        match item.kind:
            case "second look":
                self.say("looked", author=BO, items=[item.id])
            case "walk round":
                self.say("walked_round")
            case "finding" | "wont":
                return self._settle()
            case "thread":
                fastener, _, index = about.partition("/")
                self.say(
                    "judged", fastener=fastener, index=int(index), verdict="sound", text="looked at"
                )
            case "figure":
                return self._figure(about)
            case "job":
                return self._job(about)
            case "outside":
                return self._outside(about)
            case _:
                return self._by_card(item)
        return True

    def _by_card(self, item: OpenItem) -> bool:
        for name in item.closed_by:
            if name in self.steps and not self.held(name) and self._sets_right(item, name):
                self.card(name)
                return True
        return False

    def _sets_right(self, item: OpenItem, name: str) -> bool:
        if item.kind != "condition":
            return True
        about = item.id.partition("/")[2]
        finish = self.book.conditions[about].finish
        return self.steps[name].sets[about] == (
            self.state.found[about] if finish == "as found" else finish
        )

    def _figure(self, name: str) -> bool:
        figure = self.book.figures[name]
        value = (
            {"value": figure.value or "12 N·m"}
            if figure_state(figure) != "proven"
            else {"value": figure.value}
        )
        if figure.value is None and figure.low:
            value = {"low": figure.low, "high": figure.high}
        self.say("figure_set", figure=name, source="invented manual, page 9", **value)
        return True

    def _job(self, name: str) -> bool:
        for operation in self.book.jobs[name].operations:
            step = f"{name}/{operation}"
            if step not in {*self.state.done, *self.state.not_done} and not self.held(step):
                self.card(step)
                return True
        return False

    def _outside(self, about: str) -> bool:
        reading = about.partition("/")[0]
        for name in self.steps:
            if reading in self.steps[name].readings:
                self._read(name, reading, self.book.readings[reading])
                return True
        return False


def walks(book: Book, seeds: range, most_jobs: int, most_acts: int) -> Iterator[Walk]:
    """A walk per seed: of some jobs of the book, after some acts of a bad day."""
    table = effects(book, tuple(book.jobs))
    for seed in seeds:
        chance = random.Random(f"jobs {book.name} {seed}")
        jobs = chance.sample([*book.jobs], chance.randint(1, min(most_jobs, len(book.jobs))))
        walk = Walk(book, jobs, seed, table=table)
        walk.bad_day(chance.randint(2, most_acts))
        yield walk
