"""Due, plan, kit and price of a whole book, one after the other, as a visit does it."""

from datetime import date
from decimal import Decimal
from importlib.resources import as_file, files

import pytest

from witnessmark.book import load_book, selection
from witnessmark.due import next_likely_visit, what_is_due
from witnessmark.facts import LastDone, Odometer, Riding
from witnessmark.kit import Pack, kit
from witnessmark.money import Rates, carried, estimate
from witnessmark.planner import compile_problem, plan

HERE = Odometer(date(2026, 5, 2), 21_000.0)


@pytest.fixture(scope="module")
def book():
    with as_file(files("witnessmark") / "demo" / "books" / "sistrel_m12.toml") as path:
        return load_book(path)


def planned(book, jobs):
    """The plan of those jobs, as long as it takes."""
    return plan(compile_problem(book, jobs))


def priced(book, answer, jobs):
    stock = [
        Pack(fluid, size, price_minor=int(size)) for fluid in book.fluids for size in (250, 1000)
    ]
    prices = dict.fromkeys(book.parts, 999)
    rates = Rates(currency="EUR", labour_per_hour=Decimal(90), part_prices=prices)
    return estimate(book, answer, jobs, rates, kit(book, answer, stock))


def test_every_job_with_an_interval_is_due_on_a_machine_of_unknown_history_and_none_once_done(book):
    """Unknown means due; the same jobs by record of today last until the next likely visit."""
    visit = next_likely_visit(Riding(1.0), HERE, HERE.on)
    unknown = what_is_due(book, HERE, HERE.on, {}, visit)
    with_interval = {
        name for name, job in book.jobs.items() if job.every_distance or job.every_time
    }
    tests = {test for name in with_interval for test in book.jobs[name].after_test}
    due = {each.job for each in unknown if each.state == "due"}
    assert {each.job for each in unknown if each.by != "no interval"} == with_interval | tests
    assert due
    assert all(each.by == "unknown" for each in unknown if each.job in due - tests)
    done = {name: LastDone(name, "record", HERE.km, HERE.on, "our ledger") for name in due}
    after = what_is_due(book, HERE, HERE.on, done, visit)
    assert not due & {each.job for each in after if each.state == "due"}


def test_the_lines_of_a_whole_service_sum_to_its_plan_and_the_ride_is_on_the_lines_that_bring_it(
    book,
):
    """Labour over the lines is the planner's own attended minutes, with a line declined as without."""
    jobs = selection(book, ["rear_end"])
    answer = planned(book, jobs)
    offered = priced(book, answer, jobs)
    lines = [line.id for line in offered.lines]
    assert (offered.attended_tenths / 10, offered.unpriced) == (answer.attended_minutes, ())
    assert {item.name for line in offered.lines for item in line.items if item.kind == "fluid"} == {
        need.fluid for need in kit(book, answer).fluids
    }
    assert "ride_after" in jobs
    assert "ride_after" not in lines
    assert set(carried(book, jobs)["ride_after"]) <= set(lines)
    fewer = [job for job in jobs if job != lines[-1]]
    rest = planned(book, fewer)
    assert priced(book, rest, fewer).attended_tenths / 10 == rest.attended_minutes
