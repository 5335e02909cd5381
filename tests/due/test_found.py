"""What was found at the door brings the jobs that look at it; what a test decides waits for its test."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.book.model import Book
from witnessmark.due import NextVisit, what_is_due
from witnessmark.facts import LastDone, Odometer, ReadingTaken

TODAY = date(2026, 5, 2)


def job(text, finding=None, **more):
    step = {"text": "do it", "minutes": 5, **({"for_findings": [finding]} if finding else {})}
    return {"text": text, "operations": {"do": step}, **more}


BOOK = Book(
    format=1,
    name="trial",
    title="Trial",
    figures={
        "every": {"text": "Every", "quantity": "duration", "value": "24 months", "source": "p. 1"}
    },
    readings={
        "load": {"text": "Under load", "quantity": "words", "choices": ["holds", "sinks"], "bad": ["sinks"]}
    },
    jobs={
        "battery": job("Battery test", "starts badly"),
        "renewal": job("Renew the battery", every_time="every", early=["load"], after_test=["battery"]),
        "tyre": job("Rear tyre", "flat tyre, rear", after_test=["tyres"]),
        "tyres": job("Tyres", "worn tyre, rear"),
        "oil": job("Engine oil", every_time="every"),
    },
)  # fmt: skip


def stand(known=(), readings=(), found=None):
    here = Odometer(TODAY, 1000.0)
    following = NextVisit(TODAY + timedelta(days=365), None)
    done = {one.job: one for one in known}
    every = what_is_due(BOOK, here, TODAY, done, following, readings=readings, found=found)
    return {one.job: one for one in every}


def record(name, months):
    return LastDone(name, "record", None, TODAY - timedelta(days=30 * months), "paper")


def test_of_a_battery_of_which_nothing_is_known_the_test_is_due_not_the_renewal():
    now = stand()
    assert (now["renewal"].state, now["renewal"].by) == ("not due", "test")
    assert now["renewal"].why.startswith("after the test, Battery test; never known to be done")
    assert (now["battery"].state, now["battery"].by) == ("due", "test")
    assert now["battery"].why.startswith("tells whether “Renew the battery” is wanted")
    assert now["oil"].state == "due"  # no test decides that: not known is due, as ever


def test_a_test_on_record_is_not_asked_for_again_and_one_that_failed_brings_the_renewal():
    tested = record("battery", 1)
    assert stand([tested])["battery"].state == "not due"
    sinks = ReadingTaken("load", None, "words", TODAY - timedelta(days=30), words="sinks")
    assert stand([tested], [sinks])["renewal"].by == "reading"
    assert stand([tested], [sinks])["renewal"].state == "due"


def test_what_the_interval_says_by_record_needs_no_test():
    over, fresh = (
        stand([record("renewal", 30)])["renewal"],
        stand([record("renewal", 2)])["renewal"],
    )
    assert (over.state, over.by) == ("due", "time")
    assert fresh.state == "not due"


def test_a_finding_at_the_door_brings_what_looks_at_it_with_its_words():
    now = stand(found={"worn tyre, rear": "Tyres: worn (rear)"})
    assert (now["tyres"].state, now["tyres"].by) == ("due", "finding")
    assert now["tyres"].why.startswith("found at arrival: Tyres: worn (rear); ")
    assert now["tyre"].state == "not due"


def test_of_a_job_after_a_test_a_finding_brings_the_test():
    now = stand(found={"flat tyre, rear": "Tyres: flat"})
    assert (now["tyres"].state, now["tyre"].state) == ("due", "not due")


@given(
    st.sets(st.sampled_from(["starts badly", "worn tyre, rear", "flat tyre, rear", "fuel leak"]))
)
def test_a_finding_makes_nothing_less_due_and_touches_no_job_without_a_step_for_it(names):
    before, after = stand(), stand(found=dict.fromkeys(names, "seen"))
    for name, was in before.items():
        assert after[name].state == "due" if was.state == "due" else True
        if "found at arrival" not in after[name].why:
            assert after[name] == was
    wanted = {"starts badly": "battery", "worn tyre, rear": "tyres", "flat tyre, rear": "tyres"}
    for name in names & wanted.keys():
        assert "found at arrival: seen" in after[wanted[name]].why
