"""Hand-back, and the gates before it: what stands between a machine and the road, and what would close each item.

The judging is the ledger's (`ledger.gate`); here it meets the shop's rule, the cards and the people.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from django.db import transaction
from django.utils.translation import ngettext

from witnessmark.book.model import Gate, Operation
from witnessmark.book.model_step import before
from witnessmark.book.rides import is_ride
from witnessmark.ledger import Entry, GateResult, OpenItem, ids
from witnessmark.ledger.bodies import Arrived, GatePassed
from witnessmark.ledger.gates import alike, gate, lines, together
from witnessmark.ledger.ids import ItemId, StepId
from witnessmark.ledger.state import Finding, Happening, Override, Passage
from witnessmark.money import EstimateLine
from witnessmark.shop import store
from witnessmark.shop.models import Entry as EntryRow
from witnessmark.shop.models import Visit
from witnessmark.shop.projections import arrival
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.beyond_book import agreed_lines
from witnessmark.shop.work.deciding import why_not_needed
from witnessmark.shop.work.plan_followed import plan_progress
from witnessmark.shop.work.planning import to_do
from witnessmark.shop.work.pricing import accepted
from witnessmark.shop.work.visit import Work, read

WORK = (
    "done",
    "added",
    "tightened",
    "read",
    "found",
    "wont",
    "figure_set",
    "corrected",
    "states_found",
)
PASSED_BY: tuple[Gate, ...] = ("starter", "wheels on the ground")  # for a reason
LEAST_APART = 15  # minutes of a lone worker between the work and the look at it
# What closes an item that no card closes; "card": a card does.
Means = Literal[
    "card", "second look", "walk round", "confirm", "settle", "figure", "judge", "outside", "answer",
    "state", "take back", "codes", "complaint", "none",
]  # fmt: skip


@dataclass(frozen=True)
class Blocking:
    """One line of what blocks: alike items together, and what would close them."""

    items: tuple[OpenItem, ...]
    words: str
    means: Means
    card: str = ""  # the step whose card closes it best: one that is still in the order, if any
    said: tuple[Happening, ...] = ()  # of a conflict: the entries to compare
    finding: Finding | None = None

    @property
    def key(self) -> str:
        """The id of the first of its items: names the line."""
        return self.items[0].id

    @property
    def item(self) -> OpenItem:
        """The first of its items."""
        return self.items[0]

    @property
    def name(self) -> str:
        """What the item is about: the id behind its kind."""
        return self.item.key.name

    @property
    def safety(self) -> bool:
        """Whether one of them is safety-critical."""
        return any(item.safety for item in self.items)


@dataclass(frozen=True)
class SecondLook:
    """A second look that is wanted, and who did the work."""

    item: OpenItem
    words: str  # what is to be looked at
    doers: frozenset[str]  # members, by id
    since: datetime | None  # of the newest work on it
    ridden: bool  # it was ridden after that work


def verdict(work: Work, name: Gate) -> GateResult:
    """One gate, by the rule of the shop."""
    return gate(name, work.state, refuse_override=work.visit.shop.refuse_override)


def passed(work: Work, name: Gate) -> Passage | None:
    """The newest passing of a gate that stands: of the road test, with no work since that asks for a ride."""
    return next(
        (one for one in reversed(work.state.gates) if one.gate == name and not one.void), None
    )


def blocking(work: Work, judged: GateResult) -> list[Blocking]:
    """What blocks a gate, line by line: safety-critical first, then in the order of the entries."""
    left = [step.name for step in plan_progress(work).left]
    found = [_line(work, tuple(group), left) for group in alike(judged.blocking)]
    return sorted(found, key=lambda line: not line.safety)


def let_through(judged: GateResult) -> list[tuple[OpenItem, Override]]:
    """What was let through by name, alike items as one line."""
    return [(item, item.override) for item in lines(judged.let_through) if item.override]


def rides_to_come(work: Work) -> list[str]:
    """Steps of this visit's jobs that only follow a passed road test, and are not done."""
    return [
        f"{job}/{name}"
        for job in work.state.taken
        if job in work.book.jobs
        for name, operation in work.book.jobs[job].operations.items()
        if operation.gate == "road test" and f"{job}/{name}" not in work.state.over
    ]


def steps_first(work: Work) -> list[str]:
    """Steps of the agreed jobs that come before every ride that is left; none where no ride is left."""
    return min((before_ride(work, name) for name in rides_to_come(work)), key=len, default=[])


def not_ready(first: Sequence[str]) -> str:
    """That these steps come before every ride that is left, in words; empty where none does."""
    n = len(first)
    words = ngettext(
        "Not ready for the road yet: {n} step of the order comes before the ride.",
        "Not ready for the road yet: {n} steps of the order come before the ride.",
        n,
    )
    return words.format(n=n) if n else ""


def before_ride(work: Work, ride: str) -> list[str]:
    """Operations of this visit's jobs that a ride comes after, at any remove, and that are not over."""
    over, found = work.state.over, [ride]
    for step in found:
        operation = work.steps[step]
        for name in operation.after if isinstance(operation, Operation) else ():
            full = before(StepId(step).job, name)
            if full not in found and full not in over and StepId(full).job in work.state.taken:
                found.append(full)
    return found[1:]


@dataclass(frozen=True)
class HeldStep:
    """A step that its gate holds."""

    gate: Gate
    words: tuple[str, ...]  # what is open
    open: tuple[str, ...]  # the items

    @property
    def for_a_reason(self) -> bool:
        """Whether it can be done all the same, by somebody who says why; a ride never."""
        return self.gate in PASSED_BY


def held(work: Work, step_id: str) -> HeldStep | None:
    """What holds a step by its gate; None where nothing does."""
    name = work.steps[step_id].gate
    if name is None or name == "hand-back":
        return None
    judged = verdict(work, name)
    if judged.passes:
        return None
    words = tuple(line.words for line in lines(judged.blocking))
    return HeldStep(name, words, tuple(item.id for item in judged.blocking))


def passing(work: Work, step_id: str, because: str = "") -> list[store.EntryDraft]:
    """The entry that the step's gate is passed, or passed by ``because``; none where one stands since the last work."""
    name = work.steps[step_id].gate
    if name is None or name == "hand-back":
        return []
    hold = held(work, step_id)
    if hold is not None:
        return [("gate_passed", {"gate": name, "open": list(hold.open), "because": because})]
    newest = next((e for e in reversed(work.standing) if e.kind in {*WORK, "gate_passed"}), None)
    said = newest.said if newest else None
    passed_now = isinstance(said, GatePassed) and said.gate == name
    return [] if passed_now else [("gate_passed", {"gate": name, "open": []})]


def passed_by(work: Work) -> list[Passage]:
    """The gates that were passed by with something open."""
    return [one for one in work.state.gates if one.because]


def looks(work: Work) -> list[SecondLook]:
    """The second looks that are wanted."""
    by_id = {entry.id: (place, entry) for place, entry in enumerate(work.entries)}
    rides = [
        by_id[entry][0]
        for step, one in work.state.steps.items()
        if step in work.steps and is_ride(work.steps[step]) and one.status in ("done", "again")
        for entry in one.entries
    ]
    return [
        _look(
            work,
            item,
            [by_id[key] for key in work.state.to_look.get(item.id, ())],
            [by_id[key][0] for key in work.state.to_ride.get(item.id, ())],
            rides,
        )
        for item in work.state.items.values()
        if item.kind == "second look"
    ]


def looked_at(work: Work, item: ItemId) -> str:
    """What a second look is at, as the book calls it; empty for what the book does not have."""
    tables: dict[str, Mapping[str, Any]] = {
        "fastener": work.book.fasteners,
        "circuit": work.book.circuits,
        "step": work.steps,
    }
    one = tables[item.about].get(item.name)
    return str(one.text) if one else ""


def came_with(work: Work) -> Arrived:
    """What the arrival says; empty counts where nobody wrote one."""
    entry = arrival(work.entries, work.state)
    nobody = "00000000-0000-0000-0000-000000000000"
    said = entry.said if entry else Arrived(machine=nobody, owner=nobody)
    assert isinstance(said, Arrived)
    return said


def counted(keys: int, fobs: int) -> str:
    """Keys and fobs in words; empty for none. Example: ``2 keys, 1 fob``."""
    said = [
        ngettext("{count} key", "{count} keys", keys).format(count=keys) if keys else "",
        ngettext("{count} fob", "{count} fobs", fobs).format(count=fobs) if fobs else "",
    ]
    return ", ".join(one for one in said if one)


def never_asked(work: Work) -> bool:
    """Whether work was taken on and none of it was ever offered to the owner, or agreed."""
    state = work.state
    return bool(state.taken) and not state.offers and not state.agreed and not state.declined


def done_whole(work: Work) -> list[str]:
    """Jobs taken on, and agreed own lines, of which every operation is done."""
    return [
        job
        for job in dict.fromkeys([*work.state.taken, *agreed_lines(work)])
        if job in work.jobs
        and work.state.done_whole(f"{job}/{name}" for name in work.jobs[job].operations)
    ]


def beside_the_plan(work: Work) -> list[EstimateLine]:
    """Agreed lines of before they had entries: no card shows them done, so whoever hands back has to know."""
    free = [name for name in work.state.agreed if name not in work.jobs]
    return [line for name, line in accepted(work).items() if name in free] if free else []


def not_done(work: Work) -> list[str]:
    """Jobs taken on that were not done whole and yet block nothing: said, so that nobody hands back blind."""
    over = work.state.over
    found = []
    for job in work.state.taken:
        steps = (
            [f"{job}/{name}" for name in work.book.jobs[job].operations]
            if job in work.book.jobs
            else []
        )
        if ids.job(job) not in work.state.items and any(step not in over for step in steps):
            found.append(work.book.jobs[job].text)
    return found


def not_needed(work: Work) -> list[tuple[str, str]]:
    """The steps of this visit's jobs that readings made needless: each in words, and why."""
    wanted = {*to_do(work)}
    return [
        (work.steps[step].text, why_not_needed(work, step))
        for step in work.state.not_needed
        if StepId(step).job in wanted
    ]


class NotReleasedError(Exception):
    """The gate holds, or something came in since the page was shown: nothing was recorded."""


@transaction.atomic
def pass_gate(
    desk: Desk,
    visit: Visit,
    ticket: store.Ticket,
    name: Gate,
    also: Iterable[store.EntryDraft] = (),
) -> list[store.Stored]:
    """Record that a gate was passed, with what comes with it, all or none, while nobody else writes.

    Raises NotReleasedError where the gate holds, where steps come before each ride, or where the visit has
    entries that the page of this ticket had not seen.
    The same ticket again is answered as before.
    """
    locked = desk.all(Visit).select_for_update().get(pk=visit.pk)
    again = EntryRow.objects.filter(pk=ticket.entry_id, visit=locked).first()
    if again is not None:
        return [
            store.Stored(one, again=True)
            for one in store.entries(locked)
            if one.id == str(again.pk)
        ]
    work = read(locked)
    judged = verdict(work, name)
    first = steps_first(work) if name == "road test" else []
    if not judged.passes or first or _unseen(locked, ticket):
        raise NotReleasedError
    opened = [item.id for item in judged.let_through]
    return store.record_all(
        desk, locked, ticket, [("gate_passed", {"gate": name, "open": opened}), *also]
    )


# ---------------------------------------------------------------- parts


def _unseen(visit: Visit, ticket: store.Ticket) -> bool:
    return ticket.seen is not None and any(
        ticket.seen.get(device, 0) < newest for device, newest in store.heads(visit).items()
    )


def _line(work: Work, items: tuple[OpenItem, ...], left: Sequence[str]) -> Blocking:
    item = together(list(items))
    cards = [step for step in item.closed_by if step in work.steps]
    if item.kind == "condition":
        cards = [step for step in cards if _sets_back(work, step, item.key.name)]
    card = next((step for step in left if step in cards), cards[0] if cards else "")
    means = _means(item, has_card=bool(card))
    if item.kind == "outside" and item.safety:  # only a better reading closes it, no finding
        means = "card" if card else "none"
    finding = next((f for f in work.state.findings if item.key.name == f.entry), None)
    return Blocking(
        items=items,
        words=item.words,
        means=means,
        card=card if means in ("card", "confirm", "outside", "settle", "judge") else "",
        said=tuple(_said(work, item)) if means == "confirm" else (),
        finding=finding,
    )


def finish(work: Work, condition: str) -> str:
    """The state a condition must have at hand-back; the one it was found in, where the book says so."""
    asked = work.book.conditions[condition]
    if asked.finish == "as found":
        return work.state.found.get(condition, asked.start)
    return asked.finish or asked.start


def _sets_back(work: Work, step: str, condition: str) -> bool:
    return work.steps[step].sets.get(condition) == finish(work, condition)


# What is simply done again where two entries did not see each other.
_AGAIN = {"figure", "condition", "conflict", "walk round", "second look"}
_MEANS: dict[str, Means] = {
    "second look": "second look",
    "walk round": "walk round",
    "figure": "figure",
    "thread": "judge",
    "finding": "settle",
    "wont": "settle",
    "outside": "outside",
    "unknown": "take back",
    "codes": "codes",
    "complaint": "complaint",
}


def _means(item: OpenItem, *, has_card: bool) -> Means:
    """A conflict of marks is confirmed; of most else a new entry is made that saw both."""
    if item.kind == "conflict" and item.key.about == "answer":
        return "answer"
    if item.stands == "conflict" and item.kind not in _AGAIN:
        return "confirm"
    without_card: Means = "state" if item.kind == "condition" else "none"
    return _MEANS.get(item.kind, "card" if has_card else without_card)


def _said(work: Work, item: OpenItem) -> Iterator[Happening]:
    yield from (line for line in work.state.history if line.entry in item.opened_by)


def _look(
    work: Work, item: OpenItem, by: Sequence[tuple[int, Entry]], to_ride: Sequence[int],
    rides: Sequence[int],
) -> SecondLook:  # fmt: skip
    return SecondLook(
        item=item,
        words=looked_at(work, item.key) or item.words,
        doers=frozenset(entry.author for _, entry in by),
        since=max((entry.instant for _, entry in by), default=None),
        ridden=any(all(place < ride for place in to_ride) for ride in rides),
    )
