"""What stays open for a step that cannot be done, until it has its answer."""

import pytest

from tests.ledger.bench import Bench
from tests.shipped_books.planned import book as demo_book
from witnessmark.book import steps
from witnessmark.book.select import selection
from witnessmark.ledger.effects import effects
from witnessmark.ledger.stuck import stays_open, stuck
from witnessmark.ledger.work_left import left_of
from witnessmark.planner import compile_problem
from witnessmark.planner.explain.recovery import recovery_order, some_order

BOOK = demo_book("bromeck_410")
STEPS = steps(BOOK)
TABLE = effects(BOOK, tuple(BOOK.jobs))
JOBS = selection(BOOK, ["drive"])
FIT = "chain_kit/fit_chain"


def orderly(jobs) -> list[str]:
    return list(some_order(compile_problem(BOOK, jobs)).order)


ORDER = orderly(JOBS)


def at(step: str, jobs=JOBS, order=ORDER) -> Bench:
    """A bench at which everything before a step of the order is done."""
    bench = Bench()
    for job in jobs:
        bench.say("job_taken", job=job)
    for name in order[: order.index(step)]:
        bench.done(name)
    return bench


def onward(bench: Bench, jobs=JOBS) -> list[str]:
    return list(recovery_order(left_of(BOOK, bench.state(TABLE), jobs))[1].order)


def walked(bench: Bench, order) -> dict[str, str]:
    states = {name: one.start for name, one in BOOK.conditions.items()}
    states |= bench.state(TABLE).states
    for name in order:
        states |= STEPS[name].sets
    return states


def failed(bench: Bench, step: str, **more) -> str:
    return bench.say("wont", step=step, what="stuck", safe_now="as it is", **more).id


def test_the_axle_is_neither_tightened_nor_pinned_while_the_chain_waits_and_is_when_it_need_not():
    bench = at(FIT)
    report = failed(bench, FIT)
    state = bench.state(TABLE)
    assert stays_open(BOOK, state, JOBS) == {"rear_wheel", "stand", "place"}
    assert {"axle_tight", "pin_in", "chain/adjust"} <= stuck(BOOK, state, JOBS)
    assert not {"axle_tight", "pin_in", "off_stand", "off_lift"} & {*onward(bench)}
    left = left_of(BOOK, state, JOBS).compiled(state.states, ())
    assert left.conditions["rear_wheel"].finish is None
    later = at(FIT)
    failed(later, FIT)
    for job in ("chain", "chain_kit"):
        later.say("job_left", job=job)
    rest = [job for job in JOBS if job not in {"chain", "chain_kit", "ride_after"}]
    assert onward(later, rest)[-4:] == ["axle_tight", "pin_in", "off_stand", "off_lift"]
    bench.say("settled", entry=report, how="put right")
    assert {"axle_tight", "pin_in", "off_stand", "off_lift", FIT} <= {*onward(bench)}


def test_the_wheel_may_come_out_for_other_work_and_back_in_loose():
    jobs = ["chain_kit", "chain", "rear_tyre"]
    early = [name for name in ORDER if name != "rear_tyre/change"]
    bench = at(FIT, jobs, early)
    failed(bench, FIT)
    order = onward(bench, jobs)
    assert "rear_tyre/change" in order
    assert walked(bench, order)["rear_wheel"] in {"loose", "off"}


def test_what_a_waiting_step_before_it_needs_tight_is_closed():
    """The sprocket's nut is loosened with the wheel held: for the chain behind it the axle need not stay loose."""
    bench = at("chain_kit/sprocket_nut")
    failed(bench, "chain_kit/sprocket_nut")
    assert "axle_tight" not in stuck(BOOK, bench.state(TABLE), JOBS)
    order = onward(bench)
    assert "rear_tyre/change" in order
    assert "into_neutral" in order, "a gear is changed at any time"
    assert walked(bench, order)["rear_wheel"] == "tight"


@pytest.mark.parametrize("step", [name for name in ORDER if "/" in name and "ride" not in name])
def test_whatever_fails_nothing_that_it_needs_open_is_closed_by_work_before_its_answer(step):
    bench = at(step)
    failed(bench, step)
    now, order = bench.state(TABLE).states, onward(bench)
    for name, accepted in STEPS[step].needs.items():
        finish = BOOK.conditions[name].finish
        open_now = now.get(name) in accepted and finish not in (*accepted, None)
        closing = [s for s in STEPS.values() if s.sets.get(name) == finish]
        if open_now and all(one.tightens or one.renews for one in closing):
            assert walked(bench, order)[name] != finish
    for name in stays_open(BOOK, bench.state(TABLE), JOBS):
        assert now[name] != BOOK.conditions[name].finish
    assert {*order}.isdisjoint(stuck(BOOK, bench.state(TABLE), JOBS))
