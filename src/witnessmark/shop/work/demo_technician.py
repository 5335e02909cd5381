"""A steady hand: does the cards of a visit one after the other, as a careful person would tap them.

The demo workshop is built with it. Every entry goes through the same functions as a tap on the page.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark import units
from witnessmark.ledger.gates import gate
from witnessmark.shop import store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Visit
from witnessmark.shop.scope import Desk
from witnessmark.shop.work import bottles, evidence, hand_back, rounds, waiting
from witnessmark.shop.work.cards import Card, ReadingShown, ahead, card_of, cards
from witnessmark.shop.work.plan_followed import plan_progress
from witnessmark.shop.work.visit import Work, read
from witnessmark.shop.work.wrenches import OnShelf, shelf

MOST_CARDS = 400


def work_through(
    desk: Desk,
    helper: Desk,
    visit: Visit,
    most: int | None = None,
    last: Sequence[store.EntryDraft] = (),
) -> None:
    """Do the cards in order: `most` of them, or all and then hand the machine back with a second look by `helper`.

    `last`: what is written down after the last card, before it goes.

    Raises RuntimeError where a gate refuses: then something was left open.
    """
    for _ in range(MOST_CARDS if most is None else most):
        work = read(visit)
        left = cards(work, plan_progress(work).left)
        if not left:
            break
        do_card(desk, visit, work, left[0])
    if last:
        _record(desk, visit, iter(last))
    if most is None:
        _hand_back(desk, helper, visit)


def do_card(desk: Desk, visit: Visit, work: Work, card: Card) -> None:
    """One card, with every mark and reading that it asks for; its wait is begun, and ended at once."""
    if waiting.to_begin(card):
        if card.step.gate:
            _passes(work, card.step.gate)
        fluids, _ = bottles.posted(work, card, {})
        passing = hand_back.passing(work, card.id)
        _record(desk, visit, iter([*passing, *waiting.begun(card, fluids)]))
        work = read(visit)
        card = card_of(work, card.id)
    _record(desk, visit, _done(desk, work, card))


def _done(desk: Desk, work: Work, card: Card) -> Iterator[store.EntryDraft]:
    wait = waiting.wait_of(work, card)
    if card.step.gate and not wait:
        _passes(work, card.step.gate)
    yield from () if wait else hand_back.passing(work, card.id)
    tools = shelf(desk.shop)
    made = list(_made_tight(work, card, tools))
    yield from made
    for shown in card.readings:
        for place in shown.left:
            yield evidence.read(card, shown, place, good_reading(shown))
    kind, body = evidence.done(card, began=wait.entry if wait else None, with_acts=made)
    fluids = {} if wait else bottles.posted(work, card, {})[0]
    yield kind, {**body, **fluids}


def _made_tight(work: Work, card: Card, tools: Sequence[OnShelf]) -> Iterator[store.EntryDraft]:
    """Every fastener through all its rounds, then what is shown of its group."""
    for group in card.fasteners:
        for now in ahead(work.book, group) if group.each else ():
            for place in now.left:
                suited = evidence.wrenches_for(tools, now.figure)
                wrench = suited[0] if suited else None
                reached = wrench.setting if wrench and wrench.wrench.gives_value else ""
                yield evidence.tightened(card, now, place, wrench=wrench, reached=reached)
    for proof in card.proofs:
        if not proof.seen:
            yield rounds.shown(proof, card.id)


def good_reading(shown: ReadingShown) -> str:
    """What a machine in good order would show: within the limits, or a word that makes no finding."""
    reading = shown.reading
    if reading.quantity == "words":
        return next(
            (word for word in reading.choices if word not in reading.bad), "as it should be"
        )
    low, high = shown.low, shown.high
    if low is not None and high is not None:
        value = (low + high) / 2
    elif low is not None:
        value = low + abs(low) * 0.2
    else:
        value = 0.8 if high is None else high - abs(high) * 0.2  # −25 °C: colder
    return units.show(value, reading.quantity, unit=reading.unit or None)


def _hand_back(desk: Desk, helper: Desk, visit: Visit) -> None:
    state = read(visit).state
    looks = [item.id for item in state.items.values() if item.kind == "second look"]
    if looks:
        _record(helper, visit, iter([("looked", {"items": looks})]))
    _record(desk, visit, iter([("walked_round", {})]))
    _passes(read(visit), "hand-back")
    back: store.EntryDraft = ("returned", {"keys": 2, "ridden_away": True})
    _record(desk, visit, iter([("gate_passed", {"gate": "hand-back", "open": []}), back]))


def _passes(work: Work, name: str) -> None:
    verdict = gate(name, work.state)  # type: ignore[arg-type]
    if not verdict.passes:
        raise RuntimeError(f"{name}: {'; '.join(verdict.words)}")


def _record(desk: Desk, visit: Visit, acts: Iterator[store.EntryDraft]) -> None:
    store.record_all(desk, visit, store.Ticket(str(new_id())), list(acts))
