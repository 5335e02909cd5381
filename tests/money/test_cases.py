"""A line of which readings decide: its price in each case, and nothing on any other line."""

from decimal import Decimal
from functools import cache, partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fixtures.undecided import undecided_book
from witnessmark.book.model import Book
from witnessmark.kit import kit
from witnessmark.money import (
    Rates,
    charge,
    deciding,
    estimate,
    estimate_by_cases,
    from_canonical,
)
from witnessmark.money.cases import sets, term, without
from witnessmark.planner import Answer, compile_problem, plan

RATES = Rates(
    currency="EUR",
    labour_per_hour=Decimal(60),  # a minute is a euro
    tax={"full": Decimal(20)},
    usual_tax="full",
    part_prices={"valve": 500, "label": 400, "tyre": 9000},
)
PLAN = "a" * 64


def planned(book, jobs):
    return plan(compile_problem(book, jobs))


def priced(book, answer, jobs, rates=RATES, **more):
    lay_out = partial(kit, book)
    return estimate_by_cases(book, answer, jobs, rates, lay_out, plan=PLAN, **more)


def told(line):
    return {frozenset(case.terms): case.net_minor for case in line.cases}


def test_a_line_has_its_price_in_each_case_and_stands_at_the_most(tmp_path):
    """By pencil: 2 to read, 10 for the valve, 14 for the wheel, 5.00 the valve: 31.00. Pumping adds 3 minutes,
    marking 1 and a label at 4.00. Within its limits and below its least no tread can be; nor neither of both.
    """
    book = undecided_book(tmp_path)
    found = priced(book, planned(book, ["round"]), ["round"])
    [line] = found.lines
    assert told(line) == {
        frozenset({"!tread outside"}): 3400,
        frozenset({"tread below tread_least"}): 3600,
    }
    assert (line.net_minor, line.cheapest.net_minor) == (3600, 3400)
    assert (found.gross_minor, found.least.gross_minor) == (4320, 4080)
    assert from_canonical(found.canonical()) == found


def test_shared_access_is_shared_by_what_is_surely_needed_alone(tmp_path):
    """The valve waits for the tread: the wheel is off for the tyre alone, whose line is the same in both cases."""
    after = "parts = { valve = 1 }\n"
    change = (after, f'{after}only_if = {{ reading = "tread", outside = true }}\nlikely = 0.3\n')
    book = undecided_book(tmp_path, change)
    jobs = ["round", "tyre"]
    found = priced(book, planned(book, jobs), jobs)
    assert found.line("tyre").cases == ()
    assert found.line("tyre").net_minor == 9000 + 3000 + 1400
    assert told(found.line("round")) == {
        frozenset({"!tread outside"}): 200 + 300,
        frozenset({"tread below tread_least", "tread outside"}): 200 + 100 + 400 + 1000 + 500,
    }


def test_access_that_one_case_alone_opens_is_charged_to_its_line(tmp_path):
    after = "parts = { valve = 1 }\n"
    change = (after, f'{after}only_if = {{ reading = "tread", outside = true }}\nlikely = 0.3\n')
    book = undecided_book(tmp_path, change)
    jobs = ["round", "lights"]
    found = priced(book, planned(book, jobs), jobs)
    assert found.line("lights").net_minor == 300
    assert max(told(found.line("round")).values()) == 200 + 100 + 400 + 1000 + 500 + 1400


def test_without_an_unknown_the_estimate_is_the_one_it_always_was(tmp_path):
    """To the byte of what is kept; nor where the reading is not taken, or was answered."""
    book = undecided_book(tmp_path)
    for jobs, known in (
        (["tyre", "lights"], ()),
        (["round"], {"tread outside", "tread below tread_least"}),
    ):
        answer = planned(book, jobs)
        before = estimate(book, answer, jobs, RATES, kit(book, answer), plan=PLAN)
        found = priced(book, answer, jobs, known=known)
        assert found.canonical() == before.canonical()
        assert b"cases" not in found.canonical()
        assert found.least is found


def test_what_was_done_decides_what_is_charged_and_never_above_the_most(tmp_path):
    book = undecided_book(tmp_path)
    made = priced(book, planned(book, ["round"]), ["round"])
    asked = {
        (): 3400,  # neither: the cheapest that has what was done
        ("round/pump",): 3400,
        ("round/mark",): 3600,
        ("round/mark", "round/pump"): 3600,  # what no case has: its most
    }
    for done, net in asked.items():
        actual = made.as_done({"round/tread", "round/valve", *done})
        assert not actual.undecided
        found = charge(made, actual)
        assert (found.net_minor, found.gross_minor) == (net, net * 6 // 5)


def test_a_line_that_no_reading_decides_about_has_no_cases_priced_or_not(tmp_path):
    """Beside one that they decide about, and with a part that has no price."""
    book, jobs = undecided_book(tmp_path), ["round", "tyre"]
    rates = RATES.model_copy(update={"part_prices": {"valve": 500, "label": 400}})
    found = priced(book, planned(book, jobs), jobs, rates)
    assert (found.line("tyre").cases, found.line("tyre").unpriced) == ((), ("Rear tyre",))
    assert len(found.line("round").cases) == 2


def test_a_part_without_a_price_in_one_case_is_named(tmp_path):
    book = undecided_book(tmp_path)
    rates = RATES.model_copy(update={"part_prices": {"valve": 500}})
    assert priced(book, planned(book, ["round"]), ["round"], rates).unpriced == (
        "Walk round: Label",
    )


def test_a_flat_price_leaves_nothing_to_decide_but_the_parts(tmp_path):
    book = undecided_book(tmp_path, ("parts = { label = 1 }\n", ""))
    flat = RATES.model_copy(update={"flat": {"round": 5000}})
    [line] = priced(book, planned(book, ["round"]), ["round"], flat).lines
    assert (line.cases, line.net_minor) == ((), 5500)


@pytest.mark.parametrize("repeat", [1, 2])
def test_of_one_reading_only_what_some_value_tells_goes_together(tmp_path, repeat):
    """Held against every value from 0 to 10 mm in steps of 0.1, by every place."""
    more = 'low = "tread_least"\n'
    book = undecided_book(tmp_path, (more, f"{more}repeat = {repeat}\n"))
    mine = deciding(book, planned(book, ["round"]))
    values = [n / 10 for n in range(101)]
    expected = set()
    for one in values:
        for other in values if repeat == 2 else [one]:
            so = {
                "tread outside": min(one, other) < 1.6,
                "tread below tread_least": min(one, other) < 1.6,
            }
            needed = [
                n for n, [d] in mine.items() if so[term(d).lstrip("!")] != term(d).startswith("!")
            ]
            expected.add(tuple(needed))
    assert set(sets(book, mine)) == expected


@cache
def _book(minutes, decided):
    """Two jobs behind one cover, each with a reading and steps that it decides."""
    jobs = {}
    for job, letter in (("one", "a"), ("two", "b")):
        steps = {"read": {"text": "Read", "minutes": 1, "readings": [letter]}}
        for n, (own, cover, how) in enumerate(zip(minutes, *decided, strict=True)):
            step = {"text": f"Step {n}", "minutes": own, "after": ["read"]}
            if cover:
                step["needs"] = {"cover": ["off"]}
            if how is not None:
                step |= {"only_if": {"reading": letter, "outside": how}, "likely": 0.5}
            steps[f"step{n}"] = step
        jobs[job] = {"text": job, "operations": steps}
    reading = {"quantity": "length", "unit": "mm", "low": "least"}
    return Book.model_validate({
        "format": 1, "name": "trial", "title": "Trial",
        "figures": {"least": {"text": "least", "quantity": "length", "value": "1 mm"}},
        "conditions": {"cover": {"text": "cover", "states": ["on", "off"], "start": "on", "finish": "on"}},
        "access": {
            "open": {"text": "open", "minutes": 7, "needs": {"cover": ["on"]}, "sets": {"cover": "off"}},
            "shut": {"text": "shut", "minutes": 5, "needs": {"cover": ["off"]}, "sets": {"cover": "on"}},
        },
        "readings": {"a": {"text": "A"} | reading, "b": {"text": "B"} | reading},
        "jobs": jobs,
    })  # fmt: skip


@settings(max_examples=25)
@given(st.data())
def test_no_case_is_below_the_least_or_above_the_most_and_no_minute_is_lost(data):
    """Over all cases of two readings: each line's price is one of its own cases; the lines carry all attended minutes
    of the steps needed, and just these where no more than one line needs more than is sure.
    """
    size = data.draw(st.integers(1, 3))
    several = partial(st.lists, min_size=size, max_size=size)
    minutes = tuple(data.draw(several(st.integers(1, 20))))
    covers = tuple(data.draw(several(st.booleans())))
    hows = tuple(data.draw(several(st.sampled_from([None, True, False]))))
    book, jobs = _book(minutes, (covers, hows)), ["one", "two"]
    answer = planned(book, jobs)
    made, perhaps = priced(book, answer, jobs), deciding(book, answer)
    for a in (False, True):
        for b in (False, True):
            so = {"a outside": a, "b outside": b}
            needed = [
                n
                for n, [d] in perhaps.items()
                if so[term(d).lstrip("!")] != term(d).startswith("!")
            ]
            done = made.as_done(needed)
            for line in made.lines:
                least, now = line.cheapest.net_minor, done.line(line.id).net_minor
                assert least <= now <= line.net_minor
                assert line.cases or now == least
            attended = without(book, answer, perhaps, needed).attended_minutes
            assert done.attended_tenths >= round(attended * 10)
            more = {job for job in jobs if any(n.startswith(f"{job}/") for n in needed)}
            if len(more) < 2:
                assert done.attended_tenths == round(attended * 10)
            assert charge(made, done).gross_minor == done.gross_minor <= made.gross_minor


def test_a_plan_without_what_is_not_needed_keeps_no_access_for_nothing():
    book = _book((4,), ((True,), (True,)))
    answer = planned(book, ["one", "two"])
    less = without(book, answer, deciding(book, answer), ())
    assert [step.name for step in less.steps] == ["one/read", "two/read"]
    assert isinstance(less, Answer)
    assert less.attended_minutes == 2
