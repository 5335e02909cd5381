"""A repair stands beside the book as a job of it; what an owner agreed to is agreed to in that form alone."""

import itertools

import pytest

from tests.ledger.bench import BOOK, ESTIMATE, OWNER, PLAN, TABLE, Bench
from witnessmark.book.own_job import OwnJob, beside
from witnessmark.ledger.bodies import BODIES, Measured
from witnessmark.ledger.effects import effects
from witnessmark.ledger.entry import EntryErrors, read_body
from witnessmark.ledger.repairs import repairs_in
from witnessmark.ledger.work_left import to_do

YES = {"verdict": "yes", "by": OWNER, "how": "in person"}
JOB = {
    "text": "Stop the leak at the tap",
    "steps": [
        {"name": "off", "text": "Tap off", "minutes": 10, "needs": {"wheel": ["off"]},
         "loosens": ["screws", "wheel_bolts"]},
        {"name": "on", "text": "Tap on", "minutes": 12.5, "parts": {"ring": 1}, "tightens": ["screws", "wheel_bolts"]},
    ],
    "figures": {"screws_torque": {"text": "Tap screws", "quantity": "torque", "value": "8 Nm", "source": "p. 3"}},
    "fasteners": {"screws": {"text": "Tap screw", "count": 2, "figure": "screws_torque", "safety": True}},
    "parts": {"ring": {"text": "Ring"}},
}  # fmt: skip


def own(entry) -> str:
    return f"own_{entry.id[-12:]}"


def written(bench: Bench, **changed):
    return bench.say("repair_written", job=JOB, prices={"ring": 250}, **changed)


def state(bench: Bench):
    jobs = {name: one.said.job for name, one in repairs_in(bench.entries).items()}
    return bench.state(effects(beside(BOOK, jobs), list(jobs)))


def test_its_steps_open_and_close_what_is_its_own_and_what_is_the_books():
    bench = Bench()
    name = own(written(bench))
    bench.done(f"{name}/off")
    items = state(bench).items
    opened = {f"fastener/{name}_screws/{n}": "open" for n in (1, 2)}
    wheel = {f"fastener/wheel_bolts/{n}": "open" for n in range(1, 6)}
    assert {i: x.stands for i, x in items.items() if x.kind == "fastener"} == opened | wheel
    assert items[f"fastener/{name}_screws/1"].gate == "road test"
    assert f"{name}/on" in items[f"fastener/{name}_screws/1"].closed_by
    for n in (1, 2):
        bench.tight(f"{name}_screws", n, set_nm=8.0, clicked=True, step=f"{name}/on")
    bench.done(f"{name}/on")
    assert not {i for i in state(bench).items if "screws" in i}


def test_what_was_agreed_is_agreed_again_once_it_would_cost_something_else():
    bench = Bench()
    first = written(bench)
    name = own(first)
    bench.say("job_taken", job=name)
    bench.say("offered", estimate=ESTIMATE, lines=[name, "brake"])
    bench.say("answered", estimate=ESTIMATE, line=name, **YES)
    book = beside(BOOK, {name: OwnJob.model_validate(JOB)})
    assert state(bench).agreed == (name,)
    assert to_do(book, state(bench)) == [name]
    same = JOB | {"steps": [JOB["steps"][0] | {"place": "left", "cautions": []}, JOB["steps"][1]]}
    bench.say("repair_written", repair=name, job=same, prices={"ring": 250}, cause="torn")
    assert state(bench).agreed == (name,), "neither work nor parts have changed"
    assert state(bench).repairs[name].cause == "torn"
    longer = JOB | {"steps": [JOB["steps"][0] | {"minutes": 20}, JOB["steps"][1]]}
    bench.say("repair_written", repair=name, job=longer, prices={"ring": 250})
    assert state(bench).agreed == ()
    assert to_do(book, state(bench)) == []
    assert [o.lines for o in state(bench).offers] == [("brake",)], "the rest was offered and stands"
    bench.say("offered", estimate=PLAN, lines=[name])
    bench.say("answered", estimate=PLAN, line=name, **YES)
    assert state(bench).agreed == (name,)
    assert list(state(bench).repairs) == [name]


def test_a_yes_that_did_not_see_the_change_is_no_yes_to_it():
    bench = Bench()
    name = own(written(bench, device="tablet"))
    bench.say("offered", estimate=ESTIMATE, lines=[name], device="tablet")
    bench.say("repair_written", repair=name, job=JOB, prices={"ring": 900}, device="desk")
    bench.say("answered", estimate=ESTIMATE, line=name, device="phone", blind=True, **YES)
    assert state(bench).agreed == ()


def test_taken_back_it_is_as_it_was_before_and_gone_with_its_first_entry():
    bench = Bench()
    first = written(bench)
    second = bench.say("repair_written", repair=own(first), job=JOB | {"text": "Else"})
    bench.say("corrected", entry=second.id)
    assert [said.job.text for said in state(bench).repairs.values()] == [JOB["text"]]
    bench.say("corrected", entry=first.id)
    assert state(bench).repairs == {}


def test_the_newest_form_counts_in_whatever_order_entries_come_in():
    bench = Bench()
    first = written(bench)
    for n in range(3):
        bench.say(
            "repair_written",
            repair=own(first),
            job=JOB | {"text": f"Form {n}"},
            device=f"device {n}",
        )
    for order in itertools.permutations(bench.entries):
        assert [one.said.job.text for one in repairs_in(order).values()] == ["Form 2"]


def test_it_names_only_what_is_there_when_another_book_is_pinned():
    small = BOOK.model_copy(update={"conditions": {}, "access": {}, "jobs": {}, "fasteners": {}})
    whole = beside(small, {"own_1": OwnJob.model_validate(JOB)})
    off = whole.jobs["own_1"].operations["off"]
    assert (off.needs, off.loosens) == ({}, ["own_1_screws"])
    assert effects(whole, ["own_1"]).items["fastener/own_1_screws/1"]


@pytest.mark.parametrize(
    ("said", "verdict"),
    [
        ({"quantity": "voltage", "found": "12.1 V", "low": "12.4 V"}, "outside"),
        ({"quantity": "voltage", "found": "12.4 V", "low": "12400 mV", "high": "12.9 V"}, "within"),
        ({"quantity": "voltage", "found": "13 V", "high": "12.9 V"}, "outside"),
        ({"quantity": "voltage", "found": "13 V"}, "not judged"),
        ({"found": "dry", "right": True}, "within"),
        ({"found": "wet", "right": False}, "outside"),
    ],
)
def test_a_test_says_whether_it_is_as_it_should_be(said, verdict):
    assert Measured(text="battery at rest", **said).verdict == verdict


@pytest.mark.parametrize(
    ("said", "problem"),
    [
        ({"job": JOB, "prices": {"nut": 1}}, "a price of nut, which is none of its parts"),
        ({"job": JOB | {"steps": JOB["steps"][:1] * 2}}, "two steps have one name"),
        ({"job": JOB, "tests": [{"text": "x", "quantity": "voltage", "found": "12"}]}, "found: "),
        ({"job": JOB, "tests": [{"text": "x", "found": "dry", "low": "1 V"}]}, "words have no limits"),
    ],
)  # fmt: skip
def test_what_does_not_fit_together_is_refused(said, problem):
    with pytest.raises(EntryErrors, match=problem):
        read_body("repair_written", said)


def test_without_a_repair_nothing_is_put_in_order():
    bench = Bench()
    bench.say("noted", text="x")
    assert repairs_in(bench.entries) == {}
    assert bench.state(TABLE).repairs == {}
    assert BODIES["repair_written"].written_by == "technician"
