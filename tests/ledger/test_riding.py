"""Rides: what they prove, what makes them void, and readings and waits that hold what comes after them."""

import pytest

from tests.ledger.bench import ANN, BO, BOOK, TABLE, Bench
from witnessmark.book.model import Book
from witnessmark.ledger.effects import effects
from witnessmark.ledger.entry import EntryErrors
from witnessmark.ledger.fold import visit_state
from witnessmark.ledger.gates import gate

HEAT, DONE_LINING = "circuit/rear_brake/heat", "outside/lining/1"


@pytest.fixture
def bench():
    """Pads pushed back, pumped, ridden, looked at: nothing of the brake is open."""
    bench = Bench()
    bench.done("brake/push_back")
    bench.say("read", reading="pad", step="brake/push_back", value=3.0)
    bench.done("brake/pump")
    bench.say("gate_passed", gate="road test")
    bench.done("ride/ride")
    bench.done("brake/after_ride")
    assert bench.open("circuit", "ride") == set()
    return bench


def blocking(bench, name):
    return {item.id for item in gate(name, bench.state()).blocking}


def test_a_look_without_a_ride_since_the_work_closes_nothing_of_the_ride(bench):
    """Seen: calipers off after the ride, one tap on the look, and it was handed back."""
    bench.done("brake/push_back")
    bench.done("brake/pump")
    bench.done("brake/after_ride")
    assert {HEAT, "ride"} <= blocking(bench, "hand-back")
    assert blocking(bench, "road test") == set(), "what waits for the ride does not hold it"
    assert bench.state().items[HEAT].closed_by == ("ride/ride",), (
        "the look alone would not close it"
    )
    bench.done("ride/ride")
    assert HEAT in blocking(bench, "hand-back"), "ridden, and not yet looked at"
    assert bench.state().items[HEAT].closed_by == ("brake/after_ride",)
    bench.done("brake/after_ride")
    assert bench.open("circuit", "ride") == set()


def test_a_look_that_was_void_counts_once_more_only_after_a_ride_since():
    """Its figure was corrected: what it closed by that figure was not closed, and the old ride came before."""
    said = BOOK.model_dump()
    said["jobs"]["brake"]["operations"]["after_ride"]["fluids"] = {
        "gear_oil": {"figure": "drive_fill"}
    }
    table, bench = effects(Book.model_validate(said), list(BOOK.jobs)), Bench()
    for step in ("brake/push_back", "brake/pump", "ride/ride", "brake/after_ride"):
        bench.done(step)
    assert HEAT not in bench.state(table).items
    bench.say("figure_set", figure="drive_fill", value="200 ml", source="p. 1")
    assert bench.state(table).items[HEAT].stands == "void"
    bench.done("brake/after_ride")
    assert HEAT in bench.state(table).items
    bench.done("ride/ride")
    bench.done("brake/after_ride")
    assert HEAT not in bench.state(table).items


def test_a_look_after_two_rides_is_taken_again_where_one_of_them_is_of_its_own_job():
    said = BOOK.model_dump()
    said["jobs"]["trial"] = {"text": "trial", "operations": {
        "ride": {"text": "ride it", "minutes": 5, "gate": "road test"},
        "look": {"text": "look round it", "minutes": 1, "after": ["ride", "ride/ride"]},
    }}  # fmt: skip
    table, bench = effects(Book.model_validate(said), []), Bench()
    assert set(table.steps["trial/look"].looks_back) == {"trial/ride", "ride/ride"}
    for step in ("trial/look", "wheel_off", "trial/ride", "ride/ride"):
        bench.done(step)
    assert bench.state(table).steps["trial/look"].status == "again"
    bench.done("trial/look")
    assert bench.state(table).steps["trial/look"].status == "done"


def test_a_ride_whose_own_card_closes_what_only_a_ride_can_close_is_ride_enough():
    said = BOOK.model_dump()
    said["jobs"]["ride"]["operations"]["ride"]["closes"] = {"rear_brake": ["heat"]}
    table, bench = effects(Book.model_validate(said), list(BOOK.jobs)), Bench()
    bench.done("brake/push_back")
    assert HEAT in bench.state(table).items
    bench.done("ride/ride")
    assert HEAT not in bench.state(table).items


def test_a_look_of_the_rides_own_job_is_taken_again_after_each_ride_and_another_jobs_is_not(bench):
    """The brake's look stands: nothing of the brake was opened since."""
    said = BOOK.model_dump()
    look = {"text": "look round it", "minutes": 1, "after": ["ride"]}
    said["jobs"]["ride"]["operations"]["look"] = look
    table = effects(Book.model_validate(said), list(BOOK.jobs))
    for step in ("ride/look", "wheel_off", "ride/ride"):
        bench.done(step)
    steps = bench.state(table).steps
    told = {s: steps[s].status for s in ("ride/ride", "ride/look", "brake/after_ride")}
    assert told == {"ride/ride": "done", "ride/look": "again", "brake/after_ride": "done"}
    bench.done("ride/look")
    assert bench.state(table).steps["ride/look"].status == "done"


def test_work_after_a_ride_makes_it_void_and_its_step_is_to_be_done_again(bench):
    """Wheel bolts have no circuit of a ride: the fasteners themselves ask for one."""
    assert (bench.state().steps["ride/ride"].status, bench.state().gates[0].void) == ("done", False)
    bench.done("wheel_off")
    bench.done("wheel_on")
    bench.tight_wheel()
    state = bench.state()
    assert (state.steps["ride/ride"].status, state.gates[0].void) == ("again", True)
    assert state.items["ride"].words == (
        "road test: worked on since it was ridden (put the rear wheel on): ride it again"
    )
    assert state.items["ride"].safety
    bench.say("skipped", step="ride/ride", reason="rain")
    assert "ride" in bench.state().items, "a ride left out proves nothing"
    bench.done("ride/ride")
    assert (bench.open("ride"), bench.state().steps["ride/ride"].status) == (set(), "done")


def test_a_ride_that_did_not_know_of_the_work_proves_nothing_of_it(bench):
    """The order is what each device had seen, not its clock."""
    bench.done("wheel_off", device="phone", blind=True)
    assert "ride" in bench.open("ride")
    bench.done("ride/ride", device="desk", blind=True)
    assert "ride" in bench.open("ride")
    bench.done("ride/ride", device="desk")
    assert bench.open("ride") == set()


def test_a_void_ride_leaves_the_shop_only_on_a_signed_paper(bench):
    """Like all that is safety-critical; and work since the paper is not covered by it."""
    looks = ["second look/step/brake/pump"]
    bench.tight("wheel_bolts", 3, outcome="kept turning")
    bench.say("judged", fastener="wheel_bolts", index=3, verdict="repaired", text="insert")
    bench.tight_wheel(3)
    bench.say("looked", items=[*looks, "second look/fastener/wheel_bolts"], author=BO)
    bench.say("walked_round")
    assert blocking(bench, "hand-back") == {"ride"}
    said = {"item": "ride", "reason": "on a trailer", "person": BO, "author": BO}
    bench.say("overridden", **said)
    assert blocking(bench, "hand-back") == {"ride"}
    bench.say("overridden", **said, paper="not to be ridden", signature="c" * 64)
    assert blocking(bench, "hand-back") == set()
    bench.done("wheel_off")
    assert "ride" in blocking(bench, "hand-back")


def test_a_look_before_any_ride_is_done_and_after_one_to_be_done_again():
    bench = Bench()
    for step, status in (
        ("brake/push_back", None),
        ("brake/after_ride", "done"),
        ("ride/ride", "done"),
    ):
        bench.done(step)
        assert status in (None, bench.state().steps[step].status)
    assert bench.state().steps["brake/after_ride"].status == "done"


def test_what_was_put_on_along_with_the_ride_came_before_it(bench):
    bench.done("wheel_off")
    bench.done("ride/ride", along=["wheel_on"])
    assert bench.open("ride") == set()


def test_a_wait_goes_on_while_what_it_is_to_show_is_shown_otherwise():
    bench = Bench()
    bench.done("brake/push_back")
    bench.say("wait_begun", step="hold/hold", minutes=15)
    bench.done("brake/pump")
    assert bench.state().steps["hold/hold"].status == "waiting"


def test_work_that_is_taken_back_gives_the_ride_back(bench):
    off = bench.done("wheel_off")
    bench.say("corrected", entry=off.id)
    assert bench.open("ride") == set()


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("done", {"step": "covers/off"}),
        ("tightened", {"fastener": "nut", "outcome": "kept turning"}),
        ("found", {"text": "horn is quiet"}),
        ("noted", {"text": "clean it"}),
    ],
)
def test_work_on_what_no_ride_has_to_prove_leaves_the_ride_alone(bench, kind, body):
    bench.say(kind, **body)
    assert bench.open("ride") == set()


def test_a_thread_that_goes_after_the_ride_makes_it_void(bench):
    bench.tight("wheel_bolts", 3, outcome="kept turning")
    assert bench.open("ride") == {"ride"}


# ---------------------------------------------------------------- readings


def test_a_safety_critical_reading_beyond_its_limit_holds_the_ride_until_a_better_one():
    """Neither a finding nor the job that was agreed lets it pass; what is read on the new part does."""
    bench = Bench()
    bench.done("linings/measure")
    bench.say("read", reading="lining", step="linings/measure", value=1.9)
    assert blocking(bench, "road test") == {DONE_LINING}
    bench.say("found", text="lining thin", reading="lining", line="linings")
    assert blocking(bench, "road test") == {DONE_LINING}
    (words,) = gate("road test", bench.state()).words
    assert words.startswith("lining: outside its limits: put it right and read it again")
    bench.say("read", reading="lining", step="linings/renew", value=5.0)
    assert blocking(bench, "road test") == set()


def test_what_cannot_be_read_is_closed_with_its_reason_unless_it_is_safety_critical():
    bench = Bench()
    bench.say("not_read", reading="pad", step="brake/push_back", because="gauge is lent out")
    bench.done("brake/push_back")
    bench.say("not_read", reading="lining", step="linings/measure", because="caliper is seized")
    bench.done("linings/measure")
    assert bench.open("reading") == {"reading/linings/measure/lining"}
    assert "reading/linings/measure/lining" in blocking(bench, "road test")
    assert [one.because for one in bench.state().unread] == [
        "gauge is lent out",
        "caliper is seized",
    ]
    bench.say("read", reading="lining", step="linings/measure", value=4.0)
    assert bench.open("reading") == set()
    assert [one.reading for one in bench.state().unread] == ["pad"]


# ---------------------------------------------------------------- waits


def test_what_waiting_shows_is_closed_when_the_wait_is_over():
    """The holding begins and proves nothing; pads pushed back meanwhile begin it anew."""
    bench = Bench()
    lever = "circuit/rear_brake/lever_firm"
    bench.done("brake/push_back")
    bench.say("wait_begun", step="hold/hold", minutes=15)
    assert (lever in bench.open(), bench.state().steps["hold/hold"].status) == (True, "waiting")
    bench.done("brake/push_back")
    assert "hold/hold" not in bench.state().steps
    bench.say("wait_begun", step="hold/hold", minutes=15)
    bench.done("hold/hold", author=BO)
    assert lever not in bench.open()
    assert "hold/hold" in bench.state().done
    bench.done("brake/push_back")
    assert "hold/hold" in bench.state().done, "only a wait that still runs is broken"


def test_what_a_step_opens_is_open_when_its_wait_begins_and_its_end_opens_nothing_again():
    """The plug is out while the oil runs; refitted before the wait was ended, it stays tight."""
    bench = Bench()
    plug, step = "fastener/drain_plug/1", "drive_oil/drain"
    begun = bench.say("wait_begun", step=step, minutes=10)
    opened = {plug, "circuit/drive/filled", "renewal/drain_ring", "walk round", f"wait/{step}"}
    assert opened <= bench.open()
    assert step not in bench.state().done
    bench.tight("drain_plug", 1, clicked=True, set_nm=25.0)
    bench.done(step, began=begun.id)
    assert {plug, f"wait/{step}"} & bench.open() == set()
    assert step in bench.state().done


def test_an_end_whose_beginning_was_taken_back_opens_what_its_step_opens():
    bench = Bench()
    begun = bench.say("wait_begun", step="drive_oil/drain", minutes=10)
    bench.done("drive_oil/drain", began=begun.id)
    bench.say("corrected", entry=begun.id)
    assert "fastener/drain_plug/1" in bench.open()


def test_an_end_taken_back_leaves_the_wait_running_and_a_beginning_taken_back_leaves_none():
    bench = Bench()
    begun = bench.say("wait_begun", step="drive_oil/drain", minutes=10)
    end = bench.done("drive_oil/drain", began=begun.id)
    bench.say("corrected", entry=end.id)
    assert bench.open("wait") == {"wait/drive_oil/drain"}
    bench.say("corrected", entry=begun.id)
    assert bench.open() == set()


def test_a_wait_broken_off_shows_nothing_and_what_it_opened_stays_open():
    """It is no longer waited for, and the step is still to be done; an end the other tablet did not see conflicts."""
    bench = Bench()
    begun = bench.say("wait_begun", step="drive_oil/drain", minutes=10)
    bench.say("wait_stopped", step="drive_oil/drain", because="tray full")
    state = bench.state()
    assert (state.steps["drive_oil/drain"].status, state.done) == ("stopped", ())
    assert (bench.open("wait"), "fastener/drain_plug/1" in bench.open()) == (set(), True)
    bench.say("done", device="other", blind=True, step="drive_oil/drain", began=begun.id)
    assert bench.state().steps["drive_oil/drain"].status == "in conflict"


def test_whoever_began_a_wait_does_not_look_at_that_work_a_second_time():
    book = BOOK.model_dump(mode="json")
    book["jobs"]["drive_oil"]["operations"]["drain"]["second_look"] = True
    table = effects(Book.model_validate(book), list(BOOK.jobs))
    bench = Bench()
    begun = bench.say("wait_begun", step="drive_oil/drain", minutes=10, author=ANN)
    bench.done("drive_oil/drain", began=begun.id, author=BO)
    look = "second look/step/drive_oil/drain"
    bench.say("looked", items=[look], author=ANN)
    assert look in visit_state(bench.entries, table).items


def test_a_mark_made_before_the_wait_begins_stands_when_it_is_over():
    """Loosened, made tight and then left to settle: the marks of the attended part count, and none before it."""
    book = BOOK.model_dump(mode="json")
    book["jobs"]["covers"]["operations"]["turn"]["unattended"] = 5
    table = effects(Book.model_validate(book), list(BOOK.jobs))
    bench = Bench()

    def nut() -> bool:
        return "fastener/nut/1" in visit_state(bench.entries, table).items

    for _ in range(2):
        bench.tight("nut", 1, clicked=True, set_nm=25.0, step="covers/turn")
        begun = bench.say("wait_begun", step="covers/turn", minutes=5)
        assert not nut()
        bench.done("covers/turn", began=begun.id)
        assert not nut()
    begun = bench.say("wait_begun", step="covers/turn", minutes=5)
    assert nut(), "begun again without a mark: loosened again"
    bench.done("covers/turn", began=begun.id)
    assert nut()


# ---------------------------------------------------------------- gates passed by


@pytest.mark.parametrize(
    "body",
    [
        {"gate": "starter", "open": ["walk round"]},
        {"gate": "wheels on the ground", "because": "in a hurry"},
        {"gate": "road test", "open": ["walk round"], "because": "in a hurry"},
        {"gate": "hand-back", "because": "in a hurry"},
    ],
)
def test_only_starter_and_wheels_are_passed_by_and_only_for_a_reason(body):
    with pytest.raises(EntryErrors, match="passed by"):
        Bench().say("gate_passed", **body)


def test_a_gate_with_nothing_open_is_passed_without_a_reason():
    bench = Bench()
    for name in ("starter", "wheels on the ground", "road test", "hand-back"):
        bench.say("gate_passed", gate=name)
    assert [(passage.open, passage.void) for passage in bench.state().gates] == [((), False)] * 4


def test_a_gate_passed_by_is_told_and_what_was_open_stays_open(bench):
    bench.done("wheel_off")
    bench.done("wheel_on")
    held = [item.id for item in gate("wheels on the ground", bench.state()).blocking]
    bench.say("gate_passed", gate="wheels on the ground", open=held, because="lift is needed")
    state = bench.state()
    assert (state.gates[-1].because, len(held)) == ("lift is needed", 5)
    assert set(held) <= state.items.keys()
    assert state.history[-1].words == (
        "passed by: wheels on the ground, with 5 open, because: lift is needed"
    )


def test_every_step_of_the_table_says_whether_it_is_a_ride_and_what_asks_for_one():
    asks = {name for name, rule in TABLE.steps.items() if rule.asks_for_ride}
    assert {name for name, rule in TABLE.steps.items() if rule.proves_work} == {"ride/ride"}
    assert asks == {"wheel_off", "wheel_on", "drive_oil/drain", "brake/push_back", "linings/renew"}
    assert BOOK.circuits["drive"].safety, "closed without a ride: only its plug asks for one"
