"""People, pages of any age, kills: what was told as stored is stored once and says what was meant.

The model (`model.py`) is written from the design and docs/ledger.md alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule, run_state_machine_as_test

from tests.model.crash import crash
from tests.model.day import Day
from tests.model.server import Workshop, workshop
from tests.model.visit import cards, offers
from tests.model.web import Browser, Page

VISITS = [
    ("sistrel_m12", ["gearbox_oil", "rear_balance", "brake_wear", "ride_after"]),
    ("sistrel_m12", ["brake_wear", "front_brake_fluid", "look_over", "ride_after"]),
    ("sistrel_m12", ["front_brake_fluid", "ride_after"]),
    ("sistrel_m12", ["engine_oil", "ride_after"]),
    ("bromeck_410", ["chain", "rear_tyre", "ride_after"]),
    ("quandle_t9", ["final_drive_oil", "brake_wear", "ride_after"]),
]
PICK = st.integers(0, 1000)
WHO = st.integers(0, 1)
AGE = st.integers(0, 5)
HOW = st.sampled_from(["good", "good", "bad", "absurd", "no number", "missing"])


class People(RuleBasedStateMachine):
    """Two people at one machine, until they stop; then all is put right, a third looks at it, and it goes back."""

    shop: Workshop
    people: list[Browser]

    @initialize(which=st.integers(0, len(VISITS) - 1))
    def come_in(self, which: int) -> None:
        self.bench = Day(self.shop, self.people, *VISITS[which])

    def held(self, who: int, age: int, kinds: set[str]) -> tuple[Browser, Page, frozenset[int]]:
        """A page of this person that offers such an act, the age-th newest; else a new one."""
        person = self.people[who]
        kept = [
            (page, aware)
            for page, aware in reversed(self.bench.pages[person.name])
            if any(one.kind in kinds for one in offers(page, self.bench.book))
        ]
        if kept:
            return person, *kept[age % len(kept)]
        page = self.bench.look(person)
        return person, page, self.bench.aware()

    def chosen(self, page: Page, kinds: set[str], pick: int):
        here = [one for one in offers(page, self.bench.book) if one.kind in kinds]
        return here[pick % len(here)] if here else None

    @rule(who=WHO)
    def look_at_the_bench(self, who: int) -> None:
        self.bench.look(self.people[who])

    @rule(who=WHO, pick=PICK)
    def take_another_card(self, who: int, pick: int) -> None:
        page = self.bench.look(self.people[who])
        if other := cards(page):
            self.bench.look(self.people[who], other[pick % len(other)])

    @rule(who=WHO, cards=st.integers(1, 4))
    def work_the_cards_in_hand(self, who: int, cards: int) -> None:
        for _ in range(cards):
            self.bench.work_card(self.people[who], self.bench.look(self.people[who]))

    @rule(who=WHO, marks=st.integers(0, 2), how=HOW)
    def work_a_card_carelessly(self, who: int, marks: int, how: str) -> None:
        self.bench.careless(self.people[who], marks, how)

    @rule(who=WHO)
    def look_at_what_one_did(self, who: int) -> None:
        self.bench.do_and_look(self.people[who])

    @rule(who=WHO, age=AGE, pick=PICK)
    def mark(self, who: int, age: int, pick: int) -> None:
        person, page, aware = self.held(who, age, {"mark"})
        if offer := self.chosen(page, {"mark"}, pick):
            self.bench.mark(person, offer, aware)

    @rule(who=WHO, age=AGE, how=HOW)
    def done(self, who: int, age: int, how: str) -> None:
        ends = {"done", "begin", "over"}
        person, page, aware = self.held(who, age, ends)
        if offer := self.chosen(page, ends, 0):
            self.bench.done(person, offer, aware, how)

    @rule(who=WHO, age=AGE, pick=PICK, kind=st.sampled_from(["wont", "found", "note", "skip"]))
    def write(self, who: int, age: int, pick: int, kind: str) -> None:
        person, page, aware = self.held(who, age, {kind})
        if offer := self.chosen(page, {kind}, 0):
            self.bench.other(person, offer, aware, pick)

    @rule(who=WHO, age=AGE)
    def take_back(self, who: int, age: int) -> None:
        person, page, aware = self.held(who, age, {"undo"})
        offer = self.chosen(page, {"undo"}, 0)
        if offer and self.bench.undo_is_of_ours(offer):
            self.bench.other(person, offer, aware)

    @rule(who=WHO, pick=PICK, fresh=st.booleans(), age=AGE)
    def at_hand_back(self, who: int, pick: int, fresh: bool, age: int) -> None:
        kinds = {"close", "look", "walk", "return"}
        if fresh:
            self.bench.look(self.people[who], self.bench.at("handback/"))
        person, page, aware = self.held(who, 0 if fresh else age, kinds)
        if offer := self.chosen(page, kinds, pick):
            self.bench.other(person, offer, aware, pick)

    @rule(pick=PICK)
    def send_again(self, pick: int) -> None:
        if history := self.bench.history:
            act = history[pick % len(history)]
            person = next(one for one in self.people if one.name == act.sent.by)
            self.bench.resend(person, act)

    @rule(who=WHO, master=st.integers(0, 3).map(lambda pick: pick == 3), other=st.integers(0, 1))
    def killed_meanwhile(self, who: int, master: bool, other: int) -> None:
        person = self.people[who]
        page = self.bench.look(person)
        aware = self.bench.aware()
        kill = self.shop.kill_master if master else lambda: self.shop.kill_worker(other)
        if offer := self.chosen(page, {"mark"}, 0):
            self.bench.mark(person, offer, aware, kill)
        elif offer := self.chosen(page, {"done"}, 0):
            self.bench.done(person, offer, aware, "good", kill)

    def teardown(self) -> None:
        if hasattr(self, "bench") and not self.bench.broken:
            self.bench.finish()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workshop]:
    with workshop(Path(tmp_path_factory.mktemp("model"))) as made:
        yield made


def people_of(shop: Workshop) -> list[Browser]:
    made = [Browser(name, "127.0.0.1", shop.port) for name in ("tamsin", "jonas", "edda")]
    for one in made:
        one.sign_in(one.name, "witness-mark")
    return made


def days_at(shop: Workshop, people: list[Browser], visit: tuple[str, list[str]]) -> None:
    """A bad day, and one with gaps of each kind."""
    Day(shop, people, *visit).bad_day()
    for closing in ("tightens", "renews", "closes"):
        Day(shop, people, *visit).gap_day(closing)


def walk(shop: Workshop, people: list[Browser], examples: int, steps: int) -> None:
    class Here(People):
        pass

    Here.shop, Here.people = shop, people
    run_state_machine_as_test(
        Here,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            derandomize=True,
            database=None,
            phases=[Phase.generate],
            report_multiple_bugs=False,
            suppress_health_check=list(HealthCheck),
        ),
    )
    told = shop.told("verify")
    assert told.returncode == 0, told.stdout + told.stderr


def test_a_bad_day_ends_in_an_honest_hand_back(served):
    Day(served, people_of(served), *VISITS[1]).bad_day()


def test_what_was_told_as_stored_is_stored_once_and_says_what_was_meant(served):
    walk(served, people_of(served), examples=2, steps=10)


def test_killed_meanwhile_nothing_is_lost_or_doubled(served):
    crash(served, people_of(served), kills=3)


@pytest.mark.long
def test_the_same_over_many_days(served):
    people = people_of(served)
    for visit in VISITS:
        days_at(served, people, visit)
    walk(served, people, examples=100, steps=50)


@pytest.mark.long
def test_killed_two_hundred_times_nothing_is_lost_or_doubled(served):
    crash(served, people_of(served), kills=200)
