"""Parts that only some answer asks for: what is surely needed, and with what chance the rest is."""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fixtures.undecided import undecided_book
from witnessmark.book.model import Book
from witnessmark.kit import kit, set_apart, weigh
from witnessmark.planner import Answer, PlanStep, compile_problem, plan

OUTSIDE, BELOW = "tread outside", "tread below tread_least"


def test_what_a_case_asks_for_is_apart_from_what_is_surely_needed(tmp_path):
    """The valve in any case; the label with the tread below its least, the tyre with the job that it brings."""
    book = undecided_book(tmp_path)
    answer = plan(compile_problem(book, ["round"]))
    undecided = {"round/pump": f"!{OUTSIDE}", "round/mark": BELOW}
    likely = {OUTSIDE: 0.3, BELOW: 0.25}
    whole = kit(book, answer)
    laid, perhaps = set_apart(book, whole, answer, undecided, {"tyre": OUTSIDE}, likely)
    assert {need.part for need in whole.parts} == {"valve", "label"}
    assert [(need.part, need.quantity) for need in laid.parts] == [("valve", 1.0)]
    told = {one.part: (one.quantity, one.chance, one.terms) for one in perhaps}
    assert told == {"label": (1.0, 0.25, (BELOW,)), "tyre": (1.0, 0.3, (OUTSIDE,))}


def test_an_order_without_the_unlikely_branch_still_names_its_parts(tmp_path):
    """The order followed is the likeliest way: it pumps, and has no step that marks."""
    book = undecided_book(tmp_path)
    whole = plan(compile_problem(book, ["round"]))
    steps = tuple(step for step in whole.steps if step.name != "round/mark")
    way = whole.model_copy(update={"steps": steps})
    undecided = {"round/pump": f"!{OUTSIDE}", "round/mark": BELOW}
    laid, perhaps = set_apart(book, kit(book, way), way, undecided, {}, {OUTSIDE: 0.3, BELOW: 0.3})
    assert [need.part for need in laid.parts] == ["valve"]
    assert [(one.part, one.chance) for one in perhaps] == [("label", 0.3)]


def test_nothing_to_decide_leaves_the_kit_as_it_is(tmp_path):
    book = undecided_book(tmp_path)
    answer = plan(compile_problem(book, ["round"]))
    laid = kit(book, answer)
    assert set_apart(book, laid, answer, {}, {}, {}) == (laid, ())


def _book(uses):
    """One job: three readings, and steps that use so many of two parts, each decided by one of them or by none."""
    steps = {
        f"read_{name}": {"text": "Read", "minutes": 1, "readings": [name]}
        for name in ("a", "b", "c")
    }
    for n, (part, many, reading, outside) in enumerate(uses):
        step = {"text": f"Step {n}", "minutes": 1, "parts": {part: many}}
        if reading:
            step |= {"only_if": {"reading": reading, "outside": outside}, "likely": 0.5}
        steps[f"step{n}"] = step
    reading = {"text": "R", "quantity": "length", "unit": "mm"}
    return Book.model_validate({
        "format": 1, "name": "trial", "title": "Trial",
        "parts": {"ring": {"text": "Ring"}, "pin": {"text": "Pin"}},
        "readings": dict.fromkeys(("a", "b", "c"), reading),
        "jobs": {"job": {"text": "Job", "operations": steps}},
    })  # fmt: skip


USE = st.tuples(
    st.sampled_from(["ring", "pin"]),
    st.integers(1, 4),
    st.sampled_from(["", "a", "b", "c"]),
    st.booleans(),
)


@settings(max_examples=60)
@given(
    st.lists(USE, min_size=1, max_size=5),
    st.tuples(*[st.sampled_from([0.0, 0.1, 0.25, 0.5, 0.9, 1.0])] * 3),
)
def test_chance_and_quantity_are_those_of_all_cases_counted(uses, priors):
    """Brute force over the eight cases; 0 and 100 per cent are chances as others are."""
    book = _book(tuple(uses))
    names = [f"job/{name}" for name in book.jobs["job"].operations]
    steps = [
        PlanStep(name=n, kind="operation", start=i, end=i + 1, tail_end=i + 1)
        for i, n in enumerate(names)
    ]
    answer = Answer(status="optimal", steps=tuple(steps))
    undecided = {
        f"job/step{n}": f"{'' if outside else '!'}{reading} outside"
        for n, (_, _, reading, outside) in enumerate(uses)
        if reading
    }
    likely = {f"{name} outside": prior for name, prior in zip("abc", priors, strict=True)}
    laid, perhaps = set_apart(book, kit(book, answer), answer, undecided, {}, likely)
    found = {one.part: one for one in perhaps}
    for part in ("ring", "pin"):
        sure = sum(many for p, many, reading, _ in uses if p == part and not reading)
        assert sum(need.quantity for need in laid.parts if need.part == part) == sure
        chance, most = Fraction(0), 0
        for so in product((False, True), repeat=3):
            told = dict(zip("abc", so, strict=True))
            more = sum(
                many for p, many, reading, outside in uses
                if p == part and reading and told[reading] == outside
            )  # fmt: skip
            probable = Fraction(1)
            for yes, prior in zip(so, priors, strict=True):
                probable *= Fraction(repr(prior)) if yes else 1 - Fraction(repr(prior))
            chance += probable if more else 0
            most = max(most, more)
        if most:
            assert (found[part].quantity, found[part].chance) == (
                most,
                pytest.approx(float(chance)),
            )
        else:
            assert part not in found


@pytest.mark.parametrize(
    ("chance", "days", "delay", "lost", "waiting", "back", "order"),
    [
        (0.3, 3, 4000, 1714, 3600, 1200, True),  # 30 % × 3 × 40.00; 70 % × 17.14
        (0.0, 3, 4000, 100, 0, 100, False),
        (1.0, 3, 4000, 99999, 12000, 0, True),
        (0.5, 0, 4000, 0, 0, 0, False),  # there the same day: nothing is won
        (0.5, 1, 1000, 1000, 500, 500, False),  # as dear: it is not ordered
    ],
)
def test_waiting_is_weighed_against_sending_back(chance, days, delay, lost, waiting, back, order):
    found = weigh(chance, days, Fraction(delay), Fraction(lost))
    assert (found.waiting_minor, found.back_minor, found.order) == (waiting, back, order)


@given(st.floats(0, 1), st.integers(0, 365), st.integers(0, 10**7), st.integers(0, 10**7))
def test_both_sides_are_rounded_once_halves_up(chance, days, delay, lost):
    found = weigh(chance, days, Fraction(delay), Fraction(lost))
    exact = Decimal(repr(chance))
    for minor, value in (
        (found.waiting_minor, exact * days * delay),
        (found.back_minor, (1 - exact) * lost),
    ):
        assert abs(minor - value) <= Decimal("0.5")
        assert minor == int(value.to_integral_value(ROUND_HALF_UP)) or abs(
            minor - value
        ) <= Decimal("0.5")
