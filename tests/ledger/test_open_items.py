"""Row by row: what opens an item, what closes it, and what does not."""

from collections import Counter

import pytest
from pydantic import ValidationError

from tests.ledger.bench import (
    ANN,
    BO,
    BOOK,
    ESTIMATE,
    OWNER,
    TABLE,
    WRENCH,
    Bench,
    name,
)
from witnessmark.book.model import Book, Figure
from witnessmark.ledger.effects import effects, figure_rule
from witnessmark.ledger.entry import EntryErrors
from witnessmark.ledger.figures import book_with_overlay
from witnessmark.ledger.table import Table

WHEEL = {f"fastener/wheel_bolts/{i}" for i in range(1, 6)}
SET = {"set_nm": 60, "clicked": True, "step": "drive_oil/wheel_tight"}


@pytest.fixture
def bench():
    return Bench()


def test_an_untouched_machine_has_nothing_open(bench):
    assert bench.open() == set()


def test_a_table_that_does_not_list_what_an_event_opens_is_refused():
    said = TABLE.model_dump()
    del said["items"]["walk round"]
    with pytest.raises(ValidationError, match="walked_round names the item walk round"):
        Table.model_validate({**said, "events": {"walked_round": said["events"]["walked_round"]}})


# ---------------------------------------------------------------- fasteners


def test_an_open_item_that_its_table_does_not_list_is_never_left_out(bench):
    item = "fastener/nut/1"
    items = {name: one for name, one in TABLE.items.items() if name != item}
    bench.done("covers/off")
    assert item in bench.open()
    with pytest.raises(KeyError, match=item):
        bench.state(TABLE.model_copy(update={"items": items}))


def test_a_loosened_group_is_open_one_by_one_and_only_its_own_marks_close_it(bench):
    bench.done("wheel_off")
    assert bench.open("fastener") == WHEEL
    bench.done("wheel_on")
    assert bench.open("fastener") == WHEEL, "seated snug is not tight"
    bench.tight_wheel(1, 3, 5)
    bench.done("drive_oil/wheel_tight")
    assert bench.open("fastener") == {"fastener/wheel_bolts/2", "fastener/wheel_bolts/4"}
    bench.tight_wheel(4, 2)
    assert bench.open("fastener") == set()
    tally = bench.state().tallies["wheel_bolts"]
    assert (tally.order, tally.tight, tally.open) == ((1, 3, 5, 4, 2), (1, 2, 3, 4, 5), ())
    assert tally.marks[0].set_nm == 60


def test_a_wheel_taken_off_again_has_its_fasteners_open_again(bench):
    bench.done("wheel_off")
    bench.done("wheel_on")
    bench.tight_wheel()
    bench.done("drive_oil/wheel_tight")
    bench.done("wheel_off")
    assert bench.open("fastener") == WHEEL
    bench.done("wheel_on")
    bench.done("drive_oil/wheel_tight")
    assert bench.open("fastener") == WHEEL, "the old marks do not count again"


def test_the_card_that_makes_it_tight_opens_what_it_has_no_marks_for(bench):
    """Even where nobody recorded that it was loosened."""
    bench.done("drive_oil/wheel_tight")
    assert bench.open("fastener") == WHEEL


def test_a_card_made_tight_once_more_needs_new_marks(bench):
    bench.done("wheel_off")
    bench.tight_wheel()
    bench.done("drive_oil/wheel_tight", along=["wheel_on"])
    bench.done("drive_oil/wheel_tight")
    assert bench.open("fastener") == WHEEL, "those of the first time do not show the second"
    bench.tight_wheel()
    assert bench.open("fastener") == set()


def test_new_marks_before_the_card_show_its_second_time_and_marks_of_no_card_its_first(bench):
    for step in ("drive_oil/wheel_tight", "drive_oil/wheel_tight", None):
        bench.tight_wheel(step=step)
        bench.done("drive_oil/wheel_tight")
        assert bench.open("fastener") == (WHEEL if step is None else set())
    other = Bench()
    other.tight_wheel(step=None)
    other.done("drive_oil/wheel_tight")
    assert other.open("fastener") == set()


def test_what_nobody_touched_is_opened_by_no_confirming_and_by_no_new_figure(bench):
    bench.say("confirmed", items=["walk round", "fastener/nut/1", "finding/x"])
    bench.say("figure_set", figure="wheel_torque", value="90 Nm", source="p. 1")
    assert bench.open() == set()


def test_one_card_that_loosens_and_tightens_keeps_the_marks_made_on_it(bench):
    bench.tight("nut", set_nm=25, clicked=True, step="covers/turn")
    bench.done("covers/turn")
    assert bench.open("fastener") == set()
    bench.done("covers/turn")
    assert bench.open("fastener") == {"fastener/nut/1"}, "the second time it needs a new mark"


def test_a_mark_on_another_card_does_not_close_what_this_card_loosens(bench):
    bench.tight("nut", set_nm=25, clicked=True, step="covers/on")
    bench.done("covers/turn")
    assert bench.open("fastener") == {"fastener/nut/1"}


def test_marks_made_before_the_card_stand_though_the_wheel_went_on_along_with_it(bench):
    bench.done("wheel_off")
    bench.tight_wheel()
    bench.done("drive_oil/wheel_tight", along=["wheel_on"])
    assert bench.open("fastener", "condition") == set()


def test_by_table_and_counted_close_with_the_card(bench):
    bench.done("covers/off")
    bench.tight("nut", set_nm=25, clicked=True)
    assert len(bench.open("fastener")) == 6
    bench.done("covers/on")
    assert bench.open("fastener") == set()
    tallies = bench.state().tallies
    assert len(tallies["screws"].marks) == 4
    assert not any(mark.wrench_proven or mark.clicked for mark in tallies["screws"].marks)
    assert tallies["nut"].marks[0].wrench_proven


@pytest.mark.parametrize(
    ("how", "expected"),
    [
        ({"value_nm": 60.0}, set()),
        ({"value_nm": 50.0}, {"fastener/wheel_bolts/1"}),
        ({"set_nm": 50, "clicked": True}, {"fastener/wheel_bolts/1"}),
        ({"value_nm": 70.0}, {"fastener/wheel_bolts/1", "thread/wheel_bolts/1"}),
        ({"outcome": "kept turning"}, {"fastener/wheel_bolts/1", "thread/wheel_bolts/1"}),
    ],
)
def test_a_mark_counts_only_at_its_figure(bench, how, expected):
    bench.tight("wheel_bolts", 1, **how)
    assert bench.open("fastener", "thread") == expected


def test_a_lower_second_value_does_not_close_what_kept_turning(bench):
    """The thread is judged and put right first; then it is made tight again."""
    bench.done("wheel_off")
    bench.done("wheel_on")
    bench.tight_wheel(1, 2, 3, 4)
    bench.tight("wheel_bolts", 5, outcome="kept turning", step="drive_oil/wheel_tight")
    bench.tight_wheel(5)
    assert bench.open("fastener", "thread") == {"thread/wheel_bolts/5"}
    bench.say("judged", fastener="wheel_bolts", index=5, verdict="repaired", text="insert fitted")
    assert bench.open("fastener", "thread") == set()


def test_a_wrench_out_of_calibration_closes_as_that_unless_the_shop_refuses(bench):
    bench.tight("wheel_bolts", 1, wrench_proven=False, **SET)
    bench.tight("nut", wrench=None, wrench_proven=False)
    state = bench.state()
    assert state.tallies["wheel_bolts"].marks[0].status == "tight, wrench unproven"
    assert "fastener/wheel_bolts/1" not in state.items
    strict = bench.state(effects(BOOK, refuse_unproven_wrench=True))
    assert "fastener/wheel_bolts/1" in strict.items
    assert "fastener/nut/1" not in strict.items, "the choice is for what is safety-critical"


# ---------------------------------------------------------------- circuits, renewals, conditions


def test_a_circuit_is_open_in_every_way_until_each_is_shown(bench):
    bench.done("drive_oil/drain")
    assert bench.open("circuit") == {"circuit/drive/filled", "circuit/drive/level"}
    bench.done("brake/push_back")
    bench.done("brake/pump")
    bench.done("drive_oil/fill")
    assert bench.open("circuit") == {"circuit/rear_brake/heat"}
    bench.done("ride/ride")
    bench.done("brake/after_ride")
    assert bench.open("circuit") == set()


def test_a_spoiled_ring_needs_a_new_one_and_a_nut_may_be_used_again_where_the_book_allows(bench):
    bench.done("drive_oil/drain")
    bench.done("drive_oil/fill", reused=["drain_ring"])
    assert bench.open("renewal") == {"renewal/drain_ring"}
    bench.done("drive_oil/fill")
    assert bench.open("renewal") == set()
    bench.done("covers/on", reused=["lock_nut"])
    assert bench.open("renewal") == set()


def test_a_condition_is_open_until_it_is_as_the_book_or_the_arrival_wants_it(bench):
    bench.say("states_found", states={"pannier": "off"})
    assert bench.open("condition") == set(), "it came without"
    bench.done("warm_up")
    assert bench.open("condition") == set(), "it cools by itself"
    bench.done("pannier_on")
    bench.done("wheel_off")
    assert bench.open("condition") == {"condition/pannier", "condition/wheel"}
    bench.done("pannier_off")
    bench.done("wheel_on")
    state = bench.state()
    assert bench.open("condition") == set()
    assert state.states == {"pannier": "off", "wheel": "fitted", "engine": "warm"}
    assert state.found["pannier"] == "off"


def test_what_was_found_first_is_as_found_and_a_state_has_the_words_of_the_book(bench):
    said = BOOK.model_dump()
    said["conditions"]["pannier"]["state_words"] = {"off": "taken off", "on": "fitted"}
    table = effects(Book.model_validate(said), list(BOOK.jobs))
    bench.say("states_found", states={"pannier": "off"})
    bench.say("states_found", states={"pannier": "on", "nowhere": "on"})
    state = bench.state(table)
    assert (state.found["pannier"], state.states["pannier"]) == ("off", "on")
    assert (state.found["wheel"], "nowhere" in state.found) == ("fitted", False)
    assert state.items["condition/pannier"].words == "pannier: is fitted, must be taken off"
    assert state.history[1].words.startswith("found: pannier fitted, a condition")


def test_a_condition_says_what_it_is_and_what_it_must_be(bench):
    """The book's own state, or the one the machine came in with."""
    bench.say("states_found", states={"pannier": "off"})
    bench.done("pannier_on")
    bench.done("wheel_off")
    items = bench.state().items
    assert items["condition/pannier"].words == "pannier: is on, must be off"
    assert items["condition/wheel"].words == "rear wheel: is off, must be fitted"


def test_the_walk_round_is_due_after_anything_was_opened_and_again_after_more(bench):
    bench.done("pannier_off")
    assert bench.open("walk") == set()
    assert "walk round" in bench.open()
    bench.say("walked_round")
    assert "walk round" not in bench.open()
    bench.done("pannier_on")
    assert "walk round" not in bench.open(), "putting it back opens nothing"
    bench.done("drive_oil/drain")
    assert "walk round" in bench.open()


# ---------------------------------------------------------------- figures and readings


def test_an_unproven_figure_worked_by_is_open_until_it_has_value_and_source(bench):
    bench.done("drive_oil/fill")
    assert bench.open("figure") == {"figure/drive_fill"}
    bench.say("figure_set", figure="drive_fill", value="180 mL")
    assert bench.open("figure") == {"figure/drive_fill"}
    bench.say("figure_set", figure="drive_fill", value="180 mL", source="manual p. 88")
    assert bench.open("figure") == set()


def test_a_missing_figure_is_open_once_worked_by_and_proving_it_first_keeps_it_closed(bench):
    bench.done("covers/on")
    assert bench.open("figure") == {"figure/rack_torque"}
    bench.say("figure_set", figure="rack_torque", value="10 Nm", source="manual p. 12")
    assert bench.open("figure") == set()
    other = Bench()
    other.say("figure_set", figure="rack_torque", value="10 Nm", source="manual p. 12")
    other.done("covers/on")
    assert other.open("figure") == set()


def test_a_corrected_figure_voids_the_marks_that_rested_on_it(bench):
    bench.tight_wheel()
    bench.say("figure_set", figure="wheel_torque", value="55 N·m", source="manual p. 3")
    assert bench.open("fastener") == WHEEL
    bench.tight_wheel(1, 2, set_nm=55)
    assert bench.open("fastener") == WHEEL - {"fastener/wheel_bolts/1", "fastener/wheel_bolts/2"}
    overlay = book_with_overlay(BOOK, bench.state())
    wheel = overlay.figures["wheel_torque"]
    assert (wheel.value, wheel.source, wheel.vouched) == ("55 N·m", "manual p. 3", None)
    bench.say("figure_set", figure="wheel_torque", value="55 N·m", vouched="read twice")
    wheel = book_with_overlay(BOOK, bench.state()).figures["wheel_torque"]
    assert (wheel.source, wheel.vouched, wheel.checked) == (None, "read twice", None)
    assert overlay.figures["drain_torque"] == BOOK.figures["drain_torque"]


@pytest.mark.parametrize("written", ["60 N·m", "44 lbf·ft"])
def test_the_same_quantity_with_a_better_source_voids_nothing(bench, written):
    """44 lbf·ft is 59.7 N·m: what a handbook prints beside 60 N·m."""
    bench.tight_wheel()
    bench.say("figure_set", figure="wheel_torque", value=written, source="manual p. 3")
    assert bench.open("fastener", "figure") == set()


@pytest.mark.parametrize(("written", "voids"), [("60.5 Nm", False), ("60.65 Nm", True)])
def test_a_figure_within_a_hundredth_is_the_same_figure(bench, written, voids):
    """Judged by us: handbooks round when they print a torque in two units."""
    bench.tight_wheel()
    bench.say("figure_set", figure="wheel_torque", value=written, source="p. 3")
    assert bench.open("fastener") == (WHEEL if voids else set())


def test_what_nothing_bounds_is_noted_and_a_fastener_without_a_figure_is_tight(bench):
    said = BOOK.model_dump()
    said["readings"]["pad"]["low"] = None
    table = effects(Book.model_validate(said), list(BOOK.jobs))
    bench.say("read", reading="pad", step="brake/push_back", value=3.0)
    bench.say("read", reading="nowhere", step="brake/push_back", value=3.0)
    bench.say("read", reading="nowhere", step="brake/push_back", words="chips")
    bench.say("read", reading="magnet", step="drive_oil/drain", words="paste")
    assert [one.verdict for one in bench.state(table).readings] == ["noted"] * 4
    bench.tight("screws", 1, value_nm=99.0)
    spoke = bench.tight("spoke", round=1)
    assert f"unknown/{spoke.id}" in bench.open()
    assert bench.open("fastener") == set()
    assert bench.state().tallies["screws"].tight == (1,)


def test_a_reading_taken_several_times_is_judged_each_time(bench):
    said = BOOK.model_dump()
    said["readings"]["pad"]["repeat"] = 2
    table = effects(Book.model_validate(said), list(BOOK.jobs))
    assert {i for i in table.items if i.startswith("outside/pad")} == {
        "outside/pad/1",
        "outside/pad/2",
    }
    for index, value in ((1, 3.0), (2, 1.0)):
        bench.say("read", reading="pad", step="brake/push_back", value=value, index=index)
    assert set(bench.state(table).items) == {"outside/pad/2"}
    bench.say("read", reading="pad", step="brake/push_back", value=3.0, index=2)
    assert set(bench.state(table).items) == set()


def test_a_round_beyond_the_last_and_a_turn_are_held_against_the_last_figure(bench):
    bench.tight("nut", value_nm=25.0, round=9)
    assert bench.open("fastener") == set()
    bench.tight("nut", value_nm=20.0, round=9)
    assert bench.open("fastener") == {"fastener/nut/1"}


def test_a_range_written_again_voids_nothing_and_another_range_does(bench):
    first = {"low": "20 Nm", "high": "30 Nm"}
    bench.say("figure_set", figure="drain_torque", **first, source="p. 1")
    bench.tight("nut", value_nm=25.0)
    bench.say("figure_set", figure="drain_torque", **first, source="p. 2")
    assert bench.open("fastener") == set()
    bench.say("figure_set", figure="drain_torque", low="24 Nm", high="30 Nm", source="p. 2")
    assert bench.open("fastener") == {"fastener/nut/1"}


def test_a_corrected_filling_is_done_again(bench):
    bench.done("drive_oil/fill")
    bench.say("figure_set", figure="drive_fill", value="200 mL", source="manual p. 88")
    assert bench.open("circuit") == {"circuit/drive/filled", "circuit/drive/level"}


def test_a_card_closed_without_its_reading_leaves_the_reading_open(bench):
    bench.done("drive_oil/drain")
    assert "reading/drive_oil/drain/magnet" in bench.open()
    bench.say("read", reading="magnet", step="drive_oil/drain", words="clean")
    assert "reading/drive_oil/drain/magnet" not in bench.open()


@pytest.mark.parametrize(("value", "verdict"), [(3.0, "within"), (2.0, "within"), (1.9, "low")])
def test_a_reading_is_judged_by_its_figure_and_the_limit_itself_is_within(bench, value, verdict):
    bench.say("read", reading="pad", step="brake/push_back", value=value, text=f"{value} mm")
    assert bench.state().readings[0].verdict == verdict
    assert ("outside/pad/1" in bench.open()) == (verdict == "low")


def test_a_reading_is_within_its_limits_only_where_each_of_them_is_known(bench):
    """One known limit decides what lies beyond it; what lies within it is not known to be within the other."""
    limits = {"least": "2 mm", "most": "5 mm", "unknown": None}
    figures = BOOK.model_dump()["figures"] | {
        name: {"text": name, "quantity": "length", "value": value, "source": "p. 9"}
        for name, value in limits.items()
    }
    for low, high, expected in [
        ("least", "most", ["low", "within", "high"]),
        ("least", "unknown", ["low", "limits unknown", "limits unknown"]),
        ("unknown", "most", ["limits unknown", "limits unknown", "high"]),
        (None, "most", ["within", "within", "high"]),
        ("least", None, ["low", "within", "within"]),
        ("unknown", None, ["limits unknown"] * 3),
    ]:
        said = BOOK.model_dump() | {"figures": figures}
        said["readings"]["pad"] |= {"low": low, "high": high}
        table, made = effects(Book.model_validate(said), list(BOOK.jobs)), Bench()
        for value in (1.0, 3.0, 6.0):
            made.say("read", reading="pad", step="brake/push_back", value=value)
        found = [reading.verdict for reading in made.state(table).readings]
        assert (low, high, found) == (low, high, expected)


def test_a_reading_outside_its_limits_wants_a_finding_or_a_better_reading(bench):
    bench.done("covers/off")
    bench.say("read", reading="magnet", step="drive_oil/drain", words="chips")
    bench.say("found", text="noise", step="drive_oil/drain")
    assert "outside/magnet/1" in bench.open()
    finding = bench.say("found", text="chips on the magnet", reading="magnet", safety=True)
    assert "outside/magnet/1" not in bench.open()
    assert {f"finding/{finding.id}", "fastener/nut/1"} <= bench.open(), (
        "it speaks for the reading alone"
    )
    bench.say("read", reading="magnet", step="drive_oil/drain", words="chips")
    assert "outside/magnet/1" in bench.open(), "a new bad reading wants a new finding"
    bench.say("read", reading="magnet", step="drive_oil/drain", words="clean")
    assert "outside/magnet/1" not in bench.open()


# ---------------------------------------------------------------- second look

LOOK = "second look/fastener/wheel_bolts"
ALONE = {"apart": "other work", "minutes": 20, "other_order": True, "looked_again": True}


def test_a_second_look_by_the_doer_counts_for_nothing_and_by_another_closes_it(bench):
    bench.tight_wheel()
    assert bench.open("second look") == {LOOK}
    bench.say("looked", items=[LOOK], author=ANN)
    assert bench.open("second look") == {LOOK}
    bench.say("looked", items=[LOOK], author=BO)
    assert bench.open("second look") == set()
    bench.done("drive_oil/wheel_tight")
    assert bench.open("second look") == set(), "the card adds nothing to its marks"
    bench.tight_wheel(2)
    assert bench.open("second look") == {LOOK}, "what was made again is looked at again"


def test_a_circuit_wants_its_second_look_only_once_opened_and_after_it_was_closed(bench):
    brake = BOOK.circuits["rear_brake"].model_copy(update={"second_look": True})
    book = BOOK.model_copy(update={"circuits": BOOK.circuits | {"rear_brake": brake}})
    look, table = "second look/circuit/rear_brake", effects(book, list(book.jobs))

    bench.done("brake/pump")
    assert look not in bench.state(table).items, "nobody opened it"
    bench.done("brake/pump", along=["brake/push_back"])
    assert look in bench.state(table).items, "opened and closed by one tap"
    bench.say("looked", items=[look], author=BO)
    bench.done("brake/push_back")
    bench.say("looked", items=[look], author=BO)
    assert look not in bench.state(table).items
    bench.done("brake/pump")
    assert look in bench.state(table).items, "it was closed after the look"
    bench.say("looked", items=[look], author=BO)
    assert look not in bench.state(table).items


def test_a_look_closes_nothing_but_second_looks_and_by_another_is_no_fallback(bench):
    bench.done("covers/off")
    bench.done("brake/pump")
    look = "second look/step/brake/pump"
    nothing_done = "second look/fastener/wheel_bolts"
    bench.say(
        "looked",
        items=["fastener/nut/1", "walk round", look, nothing_done],
        fallback=ALONE,
        author=BO,
    )
    assert {"fastener/nut/1", "walk round"} <= bench.open()
    assert (bench.open("second look"), bench.state().fallbacks) == (set(), ())


def test_who_did_one_bolt_of_the_group_may_not_look_at_it(bench):
    bench.tight_wheel(1, 2, 3, 4)
    bench.tight_wheel(5, author=BO)
    bench.say("looked", items=[LOOK], author=BO)
    assert bench.open("second look") == {LOOK}


def test_a_lone_workers_fallback_counts_after_the_ride_and_is_kept_as_that(bench):
    bench.done("brake/pump")
    look = "second look/step/brake/pump"
    bench.say("looked", items=[look], fallback=ALONE)
    assert bench.open("second look") == {look}, "it was not ridden"
    bench.say("gate_passed", gate="road test")
    bench.say("looked", items=[look], fallback=ALONE)
    assert bench.open("second look") == {look}, "ready for the road is not ridden"
    bench.done("ride/ride")
    assert bench.open("second look") == {look}, "those looks came before the ride"
    looked = bench.say("looked", items=[look], fallback=ALONE)
    assert bench.open("second look") == set()
    assert [(f.entry, f.item) for f in bench.state().fallbacks] == [(looked.id, look)]
    bench.done("brake/pump")
    bench.say("looked", items=[look], fallback=ALONE)
    assert bench.open("second look") == {look}, "the ride came before this work"


def test_a_ride_between_two_works_does_not_let_a_lone_worker_look_at_the_second(bench):
    look = "second look/step/brake/pump"
    for step in ("brake/pump", "ride/ride", "brake/pump"):
        bench.done(step)
    bench.say("looked", items=[look], fallback=ALONE)
    assert bench.open("second look") == {look}
    bench.done("ride/ride")
    bench.say("looked", items=[look], fallback=ALONE)
    assert bench.open("second look") == set()


def test_a_look_at_what_only_the_ride_shows_wants_no_second_ride_of_a_lone_worker(bench):
    """Ridden, then discs and hub felt: that voids a look before it, and is no work to be ridden after; bleeding is."""
    brake = BOOK.circuits["rear_brake"].model_copy(update={"second_look": True})
    book = BOOK.model_copy(update={"circuits": BOOK.circuits | {"rear_brake": brake}})
    table, look = effects(book, list(book.jobs)), "second look/circuit/rear_brake"
    for step in ("brake/push_back", "brake/pump", "ride/ride", "brake/after_ride"):
        bench.done(step)
    assert bench.state(table).to_ride[look] == tuple(e.id for e in bench.entries[:2])
    bench.say("looked", items=[look], fallback=ALONE)
    assert look not in bench.state(table).items
    bench.done("brake/pump")
    bench.say("looked", items=[look], fallback=ALONE)
    assert look in bench.state(table).items


def test_a_machine_that_may_not_be_ridden_has_the_fallback_with_the_reason(bench):
    bench.done("brake/pump")
    because = {"not_ridden_because": "no plate"}
    bench.say("looked", items=["second look/step/brake/pump"], fallback=ALONE | because)
    assert bench.open("second look") == set()


# ---------------------------------------------------------------- what would not, findings, jobs


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("done", {"step": "brake/pump"}),
        ("skipped", {"step": "brake/pump", "reason": "next week"}),
        ("settled", {"entry": "IT", "how": "put right"}),
        ("job_taken", {"job": "covers", "finding": "IT"}),
        (
            "answered",
            {
                "estimate": ESTIMATE,
                "line": "covers",
                "verdict": "yes",
                "by": OWNER,
                "how": "by telephone",
                "finding": "IT",
            },
        ),
    ],
)
def test_a_step_that_would_not_is_open_until_it_has_an_answer(bench, kind, body):
    wont = bench.say("wont", step="brake/pump", what="stuck", safe_now="on its stand")
    assert bench.open("wont") == {f"wont/{wont.id}"}
    bench.done("wheel_off")
    assert bench.open("wont") == {f"wont/{wont.id}"}
    bench.say(kind, **{k: wont.id if v == "IT" else v for k, v in body.items()})
    assert bench.open("wont") == set()


def test_what_would_not_go_is_closed_by_its_own_card_and_a_finding_by_none(bench):
    wont = {
        "step": "brake/pump",
        "what": "stuck",
        "safe_now": "lever tied",
        "text": "since last year",
    }
    stuck = bench.say("wont", **wont)
    found = bench.say("found", text="hose cracked", step="brake/pump")
    items = bench.state().items
    assert items[f"wont/{stuck.id}"].closed_by == ("brake/pump",)
    assert items[f"finding/{found.id}"].closed_by == ()
    words = items[f"wont/{stuck.id}"].words
    assert "pump the lever firm, stuck: since last year (safe now: lever tied)" in words
    assert items[f"finding/{found.id}"].words.startswith("hose cracked")


def test_a_step_counts_each_time_it_is_done(bench):
    for _ in range(2):
        bench.done("brake/push_back")
    bench.done("brake/pump")
    steps = bench.state().steps
    assert (steps["brake/push_back"].times, steps["brake/pump"].times) == (2, 1)


def test_a_safety_critical_finding_is_not_closed_by_a_no(bench):
    grave = bench.say("found", text="pad worn to the metal", safety=True)
    light = bench.say("found", text="mirror scratched")
    for finding in (grave, light):
        bench.say("settled", entry=finding.id, how="told and declined")
    assert bench.open("finding") == {f"finding/{grave.id}"}


def test_a_skipped_step_leaves_open_what_it_would_have_closed_and_is_told(bench):
    bench.say("job_taken", job="drive_oil")
    bench.done("drive_oil/drain")
    bench.say("skipped", step="drive_oil/fill", reason="no oil here")
    assert {"circuit/drive/filled", "fastener/drain_plug/1"} <= bench.open()
    assert bench.state().not_done == {"drive_oil/fill": "no oil here"}


def test_an_agreed_job_is_open_until_each_step_is_done_or_skipped(bench):
    answer = {"estimate": ESTIMATE, "by": OWNER, "how": "in person"}
    bench.say("offered", estimate=ESTIMATE, lines=["brake", "covers", "drive_oil"])
    bench.say("answered", line="brake", verdict="yes", **answer)
    bench.say("answered", line="covers", verdict="no", **answer)
    state = bench.state()
    assert (state.agreed, state.declined, state.unanswered) == (
        ("brake",), ("covers",), ("drive_oil",),
    )  # fmt: skip
    for step in ("push_back", "pump"):
        bench.done(f"brake/{step}")
    assert bench.state().items["job/brake"].closed_by == ("brake/after_ride",)
    bench.say("skipped", step="brake/after_ride", reason="not ridden")
    assert bench.open("job") == set()


def test_what_the_book_does_not_have_is_shown_and_not_dropped(bench):
    strange = bench.tight("spoke", 1)
    assert bench.open() == {f"unknown/{strange.id}"}
    bench.say("corrected", entry=strange.id, why="wrong book")
    assert bench.open() == set()


# ---------------------------------------------------------------- corrections, and not having seen


def test_a_corrected_entry_counts_as_though_it_had_not_been_and_stays_in_the_history(bench):
    off = bench.done("wheel_off")
    undo = bench.say("corrected", entry=off.id)
    state = bench.state()
    assert state.items == {}
    assert state.states["wheel"] == "fitted"
    assert next(h for h in state.history if h.entry == off.id).undone == undo.id
    bench.say("corrected", entry=undo.id)
    assert bench.open("fastener") == WHEEL, "the undo was undone"


def test_undoing_a_mark_opens_its_fastener_again(bench):
    bench.done("wheel_off")
    bench.done("wheel_on")
    bench.tight_wheel(1, 2, 3, 4)
    last = bench.tight("wheel_bolts", 5, **SET)
    bench.say("corrected", entry=last.id)
    assert bench.open("fastener") == {"fastener/wheel_bolts/5"}


def test_two_marks_that_did_not_see_each_other_leave_it_open_until_somebody_confirms(bench):
    item = "fastener/nut/1"
    bench.done("covers/off")
    bench.tight("nut", device="tablet")
    bench.tight("nut", device="phone", blind=True)
    assert "did not see each other" in bench.state().items[item].words
    bench.say("confirmed", items=[item], device="desk")
    assert item not in bench.open()


def test_a_mark_that_a_card_did_not_know_of_does_not_speak_for_it(bench):
    item = "fastener/nut/1"
    bench.tight("nut", step="covers/turn", device="phone")
    bench.done("covers/turn", device="tablet", blind=True)
    assert bench.state().items[item].stands == "conflict"


def test_confirming_does_not_close_what_one_of_two_says_is_loose(bench):
    item = "fastener/nut/1"
    bench.done("covers/off", device="phone", author=BO)
    bench.tight("nut", device="tablet", blind=True)
    assert bench.state().items[item].stands == "conflict"
    bench.say("confirmed", items=[item], device="desk")
    assert bench.state().items[item].stands == "open"
    bench.tight("nut", device="desk")
    assert item not in bench.open()


def test_what_two_left_open_in_different_ways_is_told_by_the_one_who_had_seen_more(bench):
    """No conflict: both say that it is open. Confirming what a third says is closed leaves it so."""
    item = "fastener/nut/1"
    bench.done("covers/off", device="phone", blind=True)
    bench.say("noted", text="light on", device="tablet", blind=True)
    bench.tight("nut", value_nm=20.0, device="tablet", blind=True)
    stands = bench.state().items[item]
    assert (stands.stands, len(stands.opened_by)) == ("snug", 2)
    bench.tight("nut", value_nm=25.0, device="desk", blind=True)
    assert bench.state().items[item].stands == "conflict"
    bench.say("confirmed", items=[item], device="office")
    stands = bench.state().items[item]
    assert (stands.stands, len(stands.opened_by)) == ("snug", 3)


def test_states_set_by_two_who_did_not_see_each_other_are_open_until_one_says(bench):
    bench.done("pannier_off")
    bench.done("pannier_on")
    bench.done("pannier_off", device="phone", blind=True)
    assert bench.open("condition") == {"condition/pannier"}
    bench.say("states_found", states={"pannier": "on"}, device="desk")
    assert bench.open("condition") == set()


def test_a_figure_set_differently_by_two_is_proven_by_neither(bench):
    bench.tight_wheel()
    bench.say("figure_set", figure="wheel_torque", value="50 Nm", source="p. 1")
    bench.say("figure_set", figure="wheel_torque", value="55 Nm", source="p. 2",
              device="phone", blind=True)  # fmt: skip
    assert bench.state().items["figure/wheel_torque"].stands == "conflict"
    bench.say("figure_set", figure="wheel_torque", value="55 Nm", source="p. 2", device="desk")
    assert bench.open("figure") == set()


def test_a_figure_is_confirmed_by_another_than_who_typed_it_and_anew_once_it_changed(bench):
    def seen() -> dict[str, str]:
        return {name: one.author for name, one in bench.state().figures_seen_twice.items()}

    confirm = {"figure": "wheel_torque", "of": "55 Nm", "source": "p. 1"}
    bench.say("figure_set", figure="wheel_torque", value="55 Nm", source="p. 1")
    bench.say("figure_confirmed", **confirm)
    assert seen() == {}, "by who typed it"
    bench.say("figure_confirmed", **confirm, author=BO)
    assert seen() == {"wheel_torque": BO}
    bench.say("figure_set", figure="wheel_torque", value="55 Nm", tolerance="5 %", source="p. 1")
    assert seen() == {}, "its limits are others"
    bench.say("figure_set", figure="wheel_torque", value="55 Nm", source="p. 1")
    assert seen() == {}, "it was something else in between"
    bench.say("figure_confirmed", **confirm, author=BO)
    bench.say(
        "figure_set",
        figure="wheel_torque",
        value="50 Nm",
        source="p. 2",
        device="phone",
        blind=True,
    )
    assert seen() == {}, "two do not agree"
    bench.say(
        "figure_confirmed", figure="drain_torque", of="25 Nm", source="invented manual, page 1"
    )
    assert seen() == {"drain_torque": ANN}, "the pinned book's, as it stands there"


def test_done_by_one_and_skipped_by_another_is_in_conflict_until_one_who_saw_both_says(bench):
    bench.done("brake/pump")
    bench.say("skipped", step="brake/pump", reason="no time", device="phone", blind=True)
    assert bench.open("conflict") == {"conflict/step/brake/pump"}
    assert "brake/pump" not in bench.state().done
    bench.done("brake/pump", device="desk")
    assert bench.open("conflict") == set()


@pytest.mark.parametrize("verdicts", [("yes", "no"), ("no", "yes")])
def test_of_two_answers_that_did_not_meet_the_no_counts(bench, verdicts):
    answer = {"estimate": ESTIMATE, "line": "brake", "by": OWNER, "how": "by telephone"}
    bench.say("answered", verdict=verdicts[0], **answer)
    bench.say("answered", verdict=verdicts[1], device="phone", blind=True, **answer)
    assert bench.open("conflict") == {"conflict/answer/brake"}
    assert bench.state().declined == ("brake",)


def test_a_device_cannot_correct_what_it_has_not_seen(bench):
    mark = bench.tight("nut")
    bench.say("corrected", entry=mark.id, device="phone", blind=True)
    assert bench.state().tallies["nut"].tight == (1,)


# ---------------------------------------------------------------- the table


def test_the_table_survives_json_and_names_only_items_it_has():
    assert type(TABLE).model_validate_json(TABLE.model_dump_json()) == TABLE
    named = {effect.item for effects_ in TABLE.events.values() for effect in effects_}
    assert named <= set(TABLE.items)


def test_the_table_says_of_each_item_before_which_gate_how_grave_where_and_by_which_cards():
    """Written down from the book: a gate of its own, else the ride for what is safety-critical, else hand-back."""
    rear, side = "rear", "rear, right side"
    told = {
        "fastener/wheel_bolts/5": ("road test", True, False, rear, ["drive_oil/wheel_tight"]),
        "fastener/nut/1": ("hand-back", False, False, "", ["covers/on", "covers/turn"]),
        "thread/wheel_bolts/1": ("road test", True, False, rear, []),
        "circuit/drive/filled": ("starter", True, False, side, ["drive_oil/fill"]),
        "circuit/drive/level": ("road test", True, False, side, ["drive_oil/fill"]),
        "circuit/rear_brake/lever_firm": ("wheels on the ground", True, False, "", ["brake/pump", "hold/hold"]),
        "circuit/rear_brake/heat": ("hand-back", True, True, "", ["brake/after_ride"]),
        "renewal/drain_ring": ("hand-back", False, False, side, ["drive_oil/fill"]),
        "condition/wheel": ("hand-back", False, False, rear, ["wheel_on"]),
        "condition/pannier": ("hand-back", False, False, "", ["pannier_off", "pannier_on"]),
        "condition/engine": ("hand-back", False, False, "", []),
        "figure/wheel_torque": ("road test", True, False, "", []),
        "figure/rack_torque": ("hand-back", False, False, "", []),
        "reading/linings/measure/lining": ("road test", True, False, "", ["linings/measure"]),
        "reading/brake/push_back/pad": ("hand-back", False, False, "", ["brake/push_back"]),
        "outside/lining/1": ("road test", True, False, "", ["linings/measure", "linings/renew"]),
        "second look/fastener/wheel_bolts": ("hand-back", True, False, "", []),
        "second look/step/brake/pump": ("hand-back", True, False, "", []),
        "walk round": ("hand-back", False, False, "", []),
        "codes": ("hand-back", False, False, "", []),
    }  # fmt: skip
    for name_, expected in told.items():
        item = TABLE.items[name_]
        assert (item.gate, item.safety, item.ride, item.where, [*item.closed_by]) == expected, name_
        assert not item.own_gate
        several = name_.startswith(("fastener/wheel_bolts", "thread/wheel_bolts"))
        assert item.count == (5 if several else 1)
    assert Counter(item.partition("/")[0] for item in TABLE.items) == {
        "fastener": 13, "thread": 13, "circuit": 4, "renewal": 2, "condition": 3, "figure": 5, "reading": 4,
        "outside": 3, "second look": 2, "walk round": 1, "codes": 1,
    }  # fmt: skip
    assert {name_ for name_, step in TABLE.steps.items() if step.safety} == {
        "wheel_off", "wheel_on", "drive_oil/drain", "drive_oil/fill", "drive_oil/wheel_tight", "brake/push_back",
        "brake/pump", "brake/after_ride", "hold/hold", "linings/renew",
    }  # fmt: skip
    assert {step.job for name_, step in TABLE.steps.items() if "/" not in name_} == {None}
    assert TABLE.operations("covers") == ("covers/off", "covers/on", "covers/turn")


def test_the_card_that_closes_an_item_is_the_visits_own_where_it_has_one():
    two = BOOK.model_dump()
    two["jobs"]["other"] = {
        "text": "other",
        "operations": {"tight": {"text": "tight", "minutes": 1, "tightens": ["wheel_bolts"]}},
    }
    book = Book.model_validate(two)
    item = "fastener/wheel_bolts/1"
    assert effects(book, ["other"]).items[item].closed_by == ("other/tight",)
    assert len(effects(book, ["brake"]).items[item].closed_by) == 2
    two["access"]["wheel_on"]["tightens"] = ["wheel_bolts"]
    two["jobs"] = {"other": two["jobs"]["other"], **two["jobs"]}
    two["access"]["wheel_on"]["place"] = ""
    one = effects(Book.model_validate(two), ["other", "drive_oil"]).items[item]
    assert one.closed_by == ("wheel_on", "other/tight", "drive_oil/wheel_tight")
    assert one.where == "rear", "of the first card that says where"
    one = effects(Book.model_validate(two), ["other"]).items[item]
    assert one.closed_by == ("wheel_on", "other/tight"), "access steps are every visit's own"


def test_a_step_is_as_grave_as_the_gravest_that_it_works_on():
    said = BOOK.model_dump()
    said["circuits"]["rear_brake"]["safety"] = False
    said["jobs"]["covers"]["operations"]["off"]["loosens"] = ["screws", "wheel_bolts"]
    said["jobs"]["covers"]["operations"]["on"] |= {
        "tightens": ["screws"],
        "closes": {"rear_brake": ["lever_firm"], "drive": ["filled"]},
    }
    steps = effects(Book.model_validate(said), []).steps
    told = {step: steps[f"covers/{step}"].safety for step in ("off", "on", "turn")}
    assert told == {"off": True, "on": True, "turn": False}


def test_a_state_that_no_book_requires_leaves_nothing_to_walk_round_for(bench):
    said = BOOK.model_dump()
    said["conditions"]["engine"] |= {"finish": None}
    bench.done("warm_up")
    assert bench.state(effects(Book.model_validate(said), [])).items == {}
    assert "walk round" in bench.open(), "where it must be cold again"


def test_a_figure_is_written_as_the_book_has_it():
    def written(**said):
        return figure_rule(Figure(text="x", quantity="length", **said)).written

    assert written(value="2 mm", low="1 mm", high="3 mm") == "2 mm (1 mm to 3 mm)"
    assert written(low="1 mm", high="3 mm") == "1 mm to 3 mm"
    assert (written(low="1 mm"), written(high="3 mm")) == ("1 mm to …", "… to 3 mm")
    assert written() == ""


# ---------------------------------------------------------------- a wrench found wrong, an adapter


def doubt(bench, *marks):
    ids = [mark.id for mark in marks]
    return bench.say("wrench_doubted", wrench=WRENCH, check=name("check"), marks=ids, found=0.11)


def test_a_wrench_found_wrong_after_hand_back_calls_the_machine_back(bench):
    mark = bench.tight("nut", set_nm=25.0, clicked=True)
    bench.say("returned", keys=1)
    doubt(bench, mark)
    state = bench.state()
    assert bench.open() == {"fastener/nut/1"}
    assert state.items["fastener/nut/1"].words.endswith("make it tight again")
    assert "found wrong, +11 % at most" in state.recalls[0].words
    assert state.tallies["nut"].marks[0].status == "wrench found wrong"


def test_a_doubt_taken_back_leaves_the_mark_as_it_was(bench):
    mark = bench.tight("nut", set_nm=25.0, clicked=True)
    problem = doubt(bench, mark)
    bench.say("corrected", entry=problem.id)
    assert bench.open() == set()


def test_with_an_adapter_the_torque_at_the_fastener_counts(bench):
    """60 N·m are wanted: 48 on the wrench with a quarter more reach close it, 60 on the wrench do not."""
    adapter = {"reach_mm": 100.0, "angle_deg": 0.0, "arm_mm": 400.0}
    bench.tight("wheel_bolts", 1, set_nm=48.0, value_nm=60.0, clicked=True, adapter=adapter)
    bench.tight("wheel_bolts", 2, set_nm=60.0, value_nm=75.0, clicked=True, adapter=adapter)
    assert bench.open("fastener") == {"fastener/wheel_bolts/2"}
    assert "48 N·m on the wrench, 60 N·m at the fastener" in bench.state().history[0].words
    with pytest.raises(EntryErrors):
        bench.tight("wheel_bolts", 3, set_nm=48.0, clicked=True, adapter=adapter)


# ---------------------------------------------------------------- trouble codes

P0301 = [{"code": "P0301", "status": 0x2F}]


def _read(bench, moment, codes=(), **more):
    return bench.say("codes_read", moment=moment, pasted="as shown", codes=list(codes), **more)


def test_codes_found_or_cleared_are_open_until_read_after_the_work(bench):
    """A code only listed, its test not yet run (status 50), is not there; none found opens nothing."""
    _read(bench, "before the work", none=True)
    _read(bench, "before the work", [{"code": "P0301", "status": 0x50}])
    assert bench.open() == set()
    for there in ([*P0301, {"code": "P0302", "status": 0x50}], [{"code": "P0301"}]):
        other = Bench()
        _read(other, "before the work", there)
        assert other.open() == {"codes"}, "one of them is there, or nobody knows"
    _read(bench, "before the work", P0301)
    assert bench.open() == {"codes"}
    _read(bench, "after the work", P0301)
    assert bench.open() == set(), "what is still there is a finding of its own"
    cleared = bench.say("codes_cleared")
    assert bench.open() == {"codes"}
    bench.say("corrected", entry=cleared.id)
    assert bench.open() == set()


def test_a_book_with_a_circuit_for_codes_has_them_open_there(bench):
    """Only the card closes what needs a ride; what does not is closed by the reading itself."""
    told = {
        "ridden": {"text": "read after the ride", "ride": True},
        "still": {"text": "read again"},
    }
    circuit = {"text": "codes", "trouble_codes": True, "closed_by": told}
    raw = BOOK.model_dump() | {"circuits": BOOK.model_dump()["circuits"] | {"codes": circuit}}
    table = effects(Book.model_validate(raw), list(BOOK.jobs))
    _read(bench, "before the work", P0301)
    assert "codes" not in table.items
    assert set(bench.state(table).items) == {"circuit/codes/ridden", "circuit/codes/still"}
    _read(bench, "after the work", none=True)
    assert set(bench.state(table).items) == {"circuit/codes/ridden"}


@pytest.mark.parametrize(
    ("body", "place"),
    [
        ({"codes": []}, "codes_read"),
        ({"codes": [{"code": "P4301"}]}, "codes_read.codes.0.code"),
        ({"codes": [{"code": "P0301", "status": 256}]}, "codes_read.codes.0.status"),
        ({"none": True, "pasted": ""}, "codes_read.pasted"),
    ],
)
def test_a_reading_of_codes_that_tells_nothing_is_refused(bench, body, place):
    with pytest.raises(EntryErrors) as errors:
        bench.say("codes_read", **({"moment": "before the work", "pasted": "x"} | body))
    assert [error.place for error in errors.value] == [place]
