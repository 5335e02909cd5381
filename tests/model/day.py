"""Days at the bench: work as the pages offer it to hand-back, and a day on which much goes wrong."""

from __future__ import annotations

from itertools import chain
from typing import Any

from tests.model.acts import Acts
from tests.model.visit import cards, offers, readings_asked
from tests.model.web import Browser, Page

ENDS = frozenset({"done", "begin", "over"})


class Day(Acts):
    """A bench with people who know what a whole day is."""

    def state(self) -> tuple[Any, ...]:
        """What an act must change to have brought the work on."""
        conditions = tuple(self.model.state(one) for one in self.book.table("conditions"))
        orders = [
            self.model.log[at].body
            for at in self.model.live()
            if self.model.log[at].kind == "plan_taken"
        ]
        order = orders[-1]["plan"] if orders else ""
        open_now = frozenset(self.workshop.open_items(self.visit))
        return open_now, conditions, frozenset(self.over()), order

    def work_card(
        self, person: Browser, page: Page, marks_at_most: int = 40, how: str = "good"
    ) -> bool:
        """The card on this page as it should be done: marks, what secures it, readings, Done."""
        worked = False
        for _ in range(marks_at_most):
            here = offers(page, self.book)
            marks = [one for one in here if one.kind == "mark"]
            if not marks:
                break
            act = self.mark(person, marks[0], self.aware())
            if not act.stored:
                return worked
            worked, page = True, act.answer or page
            if not any(one.card == marks[0].card for one in offers(page, self.book)):
                return True  # the last mark closed the card
        done = next((one for one in offers(page, self.book) if one.kind in ENDS), None)
        if done is None:
            return worked
        return self.done(person, done, self.aware(), how).stored or worked

    def do_and_look(self, person: Browser) -> None:
        """Offered a second look at work of others, do that work again, then look from the old page."""
        page, aware = self.look(person, self.at("handback/")), self.aware()
        look = next((one for one in offers(page, self.book) if one.kind == "look"), None)
        if look is None:
            return
        wanted = {one.value for one in look.form.controls if one.name == "look"}
        for step in self.model.steps_under(wanted):
            self.work_card(person, self.look(person, self.at(f"bench/?card={step}")))
        self.other(person, look, aware)

    def finish(self, *, own_looks: bool = False) -> None:
        """From wherever it stands to hand-back, by what the pages offer: there is a way on.

        `own_looks`: once, who is offered a second look does that work again, and then looks.
        """
        tried: dict[tuple[Any, ...], set[str]] = {}
        for _ in range(250):
            if self.model.returned:
                return
            if own_looks and any(one.startswith("second look") for one in self.state()[0]):
                own_looks = False
                self.do_and_look(self.people[1])
            if not self._a_way_on(tried.setdefault(self.state(), set())):
                page = self.look(self.people[0])
                self.fail(f"no way on; open: {self.workshop.open_items(self.visit)}\n{page.text}")
        self.fail(f"no end; open: {self.workshop.open_items(self.visit)}")

    def _a_way_on(self, tried: set[str]) -> bool:
        """Do the first thing offered that was not done in this very state before."""
        first = self.people[0]
        page = self.look(first)
        after_all = [
            one
            for one in offers(page, self.book)
            if one.kind == "undo" and one.button and one.button.label == "Do it after all"
        ]
        if after_all and self.other(first, after_all[0], self.aware()).stored:
            return True
        if self._once(tried, "another order"):
            order = [one for one in offers(page, self.book) if one.kind == "order"]
            if order and self.other(first, order[0], self.aware()).stored:
                return True
        if self._once(tried, "card in hand") and self.work_card(first, page):
            return True
        if any(self._at_hand_back(person, tried) for person in self.people):
            return True
        for address in cards(self.look(first, self.at("handback/"))) + cards(page):
            if self._once(tried, address) and self.work_card(first, self.look(first, address)):
                return True
        return False

    def _at_hand_back(self, person: Browser, tried: set[str]) -> bool:
        page = self.look(person, self.at("handback/"))
        for kind in ("close", "look", "walk", "return"):
            for offer in [one for one in offers(page, self.book) if one.kind == kind]:
                name = f"{person.name} {kind} {offer.form.value('item')}"
                if self._once(tried, name) and self.other(person, offer, self.aware()).stored:
                    return True
        return False

    def _once(self, tried: set[str], name: str) -> bool:
        new = name not in tried
        tried.add(name)
        return new

    # ------------------------------------------------------------------ a bad day

    def bad_day(self) -> None:
        """Each kind of act once or more: too early, twice, from old pages, badly read, taken back."""
        first, second, _ = self.people
        old = self.look(second), self.aware()
        for kind, pick in (("found", 0), ("found", 1), ("wont", 2), ("note", 0), ("skip", 0)):
            self.from_page(first, (self._offering(first, kind), self.aware()), kind, pick)
            self.resend(first, self.history[-1])
            self.from_page(second, old, "note", pick)
        for _ in range(2):
            self.from_page(first, (self.look(first), self.aware()), "undo")
        self.resend(first, self.history[-1])
        for number, how in enumerate(("bad", "missing", "absurd", "no number", "good", "bad")):
            person = self.people[number % 2]
            before = self.look(self.people[1 - number % 2]), self.aware()
            self.careless(person, number % 2, how)
            self.from_page(self.people[1 - number % 2], before, "done")
            self.from_page(self.people[1 - number % 2], before, "mark")
            self.resend(self.by(self.history[-1].sent.by), self.history[-1])
            if number % 3 == 0:
                self.from_page(person, (self.look(person), self.aware()), "undo")
            self.look_at_gates(person)
        for person in (first, second):
            page = self.look(person, self.at("handback/")), self.aware()
            for kind in ("walk", "look", "close", "return"):
                self.from_page(person, page, kind, 2)
        self.finish(own_looks=True)
        self.has_done("found", "wont", "note", "skip", "undo", "mark", "done", "return")

    def _offering(self, person: Browser, kind: str) -> Page:
        """The card in hand, or the first on its page that offers this: an access step is not left out."""
        page = self.look(person)
        others = (self.look(person, address) for address in cards(page))
        return next(
            (
                one
                for one in chain([page], others)
                if any(o.kind == kind for o in offers(one, self.book))
            ),
            page,
        )

    def gap_day(self, closing: str) -> None:
        """Leave out, once each, the cards that close something (`tightens`, `renews` or `closes`).

        Hand-back is asked for before every card, and what holds each gate is read; then all is put right from
        what the pages offer.
        """
        first, second, _ = self.people
        left_out: set[str] = set()
        for _ in range(120):
            self.look_at_gates(second)
            page, aware = self.look(first), self.aware()
            handed = self.look(second, self.at("handback/"))
            self.from_page(second, (handed, self.aware()), "return")
            here = next((one for one in offers(page, self.book) if one.card), None)
            if here is None or self.model.returned:
                break
            closes = self.book.steps[here.card].said.get(closing)
            if closes and here.card not in left_out:
                left_out.add(here.card)
                if self.from_page(first, (page, aware), "skip"):
                    continue
            if not self.work_card(first, self.look(first)):
                break  # a gate holds
        self.finish()

    def has_done(self, *kinds: str) -> None:
        """A day proves nothing of an act that it never came to."""
        if missing := {*kinds} - {act.kind for act in self.history}:
            self.fail(f"never stored on this day: {sorted(missing)}")

    def by(self, name: str) -> Browser:
        return next(one for one in self.people if one.name == name)

    def from_page(
        self, person: Browser, page: tuple[Page, frozenset[int]], kind: str, pick: int = 0
    ) -> bool:
        """Send the first offer of a kind that a page has, however old it is; whether it was stored."""
        offer = next((one for one in offers(page[0], self.book) if one.kind == kind), None)
        if offer is None or (kind == "undo" and not self.undo_is_of_ours(offer)):
            return False
        if kind == "mark":
            return self.mark(person, offer, page[1]).stored
        if kind in ENDS:
            return self.done(person, offer, page[1], "good").stored
        return self.other(person, offer, page[1], pick).stored

    def careless(self, person: Browser, marks: int, how: str) -> None:
        """Too few marks, and a reading as it comes: on the next card that wants any."""
        for _ in range(4):
            page = self.look(person)
            here = offers(page, self.book)
            if any(one.kind == "mark" or readings_asked(one.form) for one in here):
                self.work_card(person, page, marks, how)
                return
            self.work_card(person, page)
