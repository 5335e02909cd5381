"""What readings decide, and which steps are not needed by that."""

from hypothesis import given
from hypothesis import strategies as st

from tests.fixtures.slack import slack_text
from tests.ledger.bench import ANN, ESTIMATE, OWNER, Bench
from witnessmark.book import load_book_text
from witnessmark.ledger.effects import effects
from witnessmark.ledger.work_left import left_of

BOOK = load_book_text(slack_text())
TABLE = effects(BOOK, ["chain"])
SLACK = "slack outside"


def _slack(bench: Bench, mm: float, place: int = 1, step: str = "chain/measure"):
    return bench.say("read", reading="slack", step=step, index=place, value=mm, text=f"{mm:g} mm")


def _within(bench: Bench) -> None:
    for place in (1, 2):
        _slack(bench, 35, place)


def test_within_at_every_place_nothing_is_adjusted_and_what_only_that_would_tell_is_not_asked():
    bench = Bench()
    _within(bench)
    state = bench.state(TABLE)
    assert state.answers == {SLACK: False}
    assert state.not_needed == {
        "chain/adjust": SLACK,
        "chain/sprocket": "play above play_most",
    }


def test_outside_at_one_place_it_is_adjusted_and_not_greased_as_it_is():
    bench = Bench()
    _slack(bench, 45)
    state = bench.state(TABLE)
    assert (state.answers, state.not_needed) == ({SLACK: True}, {"chain/grease": SLACK})


def test_not_read_everywhere_is_no_answer_and_everything_is_to_be_done():
    bench = Bench()
    _slack(bench, 35)
    assert bench.state(TABLE).answers == {}
    bench.say("not_read", reading="slack", step="chain/measure", index=2, because="wheel stuck")
    assert (bench.state(TABLE).answers, bench.state(TABLE).not_needed) == ({}, {})


def test_what_cannot_be_read_may_be_taken_as_an_answer_until_it_is_read():
    bench = Bench()
    _slack(bench, 35)
    said = {"reading": "slack", "step": "chain/measure", "index": 2, "because": "wheel stuck"}
    bench.say("not_read", **said, taken_as={SLACK: False})
    assert bench.state(TABLE).answers == {SLACK: False}
    _slack(bench, 45, 2)
    assert bench.state(TABLE).answers == {SLACK: True}


def test_the_reading_after_the_work_decides_nothing_any_more():
    bench = Bench()
    _slack(bench, 45)
    bench.done("chain/adjust")
    for place in (1, 2):
        _slack(bench, 35, place, "chain/measure_again")
    assert bench.state(TABLE).answers == {SLACK: True}


def test_a_corrected_reading_turns_the_answer_and_what_was_done_stays_done():
    bench = Bench()
    _slack(bench, 45, 2)
    wrong = _slack(bench, 45)
    bench.done("chain/adjust")
    for entry in (wrong, bench.entries[0]):
        bench.say("corrected", entry=entry.id)
    _within(bench)
    state = bench.state(TABLE)
    assert state.answers == {SLACK: False}
    assert "chain/adjust" in state.done
    assert "chain/adjust" not in state.not_needed


def test_a_limit_that_is_proven_otherwise_judges_the_reading_anew():
    bench = Bench()
    _within(bench)
    bench.say("figure_set", figure="slack_limits", low="20 mm", high="30 mm", source="page 41")
    assert bench.state(TABLE).answers == {SLACK: True}


def test_what_is_not_needed_is_neither_left_nor_open():
    bench = Bench()
    bench.say("job_taken", job="chain")
    bench.say("offered", estimate=ESTIMATE, lines=["chain"])
    bench.say("answered", estimate=ESTIMATE, line="chain", verdict="yes", by=OWNER, how="in person")
    _within(bench)
    for step in ("measure", "grease", "measure_again"):
        bench.done(f"chain/{step}")
    for place in (1, 2):
        _slack(bench, 35, place, "chain/measure_again")
    state = bench.state(TABLE)
    assert [name for name in state.items if name.startswith("job/")] == []
    assert left_of(BOOK, state, ["chain"]).compiled({}, ()).operations == ()


_ACTS = st.lists(
    st.tuples(
        st.sampled_from(["read", "not read", "corrected"]),
        st.integers(1, 2),
        st.sampled_from([25.0, 30.0, 35.0, 40.0, 45.0, -1.0, 1e9]),
        st.sampled_from([None, True, False]),
    ),
    max_size=12,
)


@given(_ACTS)
def test_the_answer_is_that_of_the_newest_reading_that_stands_at_each_place(acts):
    """Said once more without the ledger: yes by one place, no by all, nothing else."""
    bench, said = Bench(), []
    for kind, place, mm, taken in acts:
        if kind == "read":
            said.append((place, mm, _slack(bench, mm, place).id))
        elif kind == "not read":
            as_ = {} if taken is None else {"taken_as": {SLACK: taken}}
            where = {"reading": "slack", "step": "chain/measure", "index": place}
            entry = bench.say("not_read", **where, because="no gauge", author=ANN, **as_)
            said.append((place, taken, entry.id))
        elif said:
            _, _, entry = said.pop()
            bench.say("corrected", entry=entry)
    told = []
    for place in (1, 2):
        here = [what for where, what, _ in said if where == place]
        read = [not 30 <= mm <= 40 for mm in here if isinstance(mm, float)]
        told.append(read[-1] if read else (here[-1] if here else None))
    expected = True if True in told else None if None in told else False
    state = bench.state(TABLE)
    assert state.answers.get(SLACK) is expected
    assert ("chain/adjust" in state.not_needed) is (expected is False)
    assert ("chain/grease" in state.not_needed) is (expected is True)
