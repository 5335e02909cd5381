"""There is always a way on: from wherever a bad day leads, what the bench offers ends in a hand-back."""

import pytest

from tests.ledger.walks import Walk, walks
from tests.shipped_books.planned import BOOKS, book
from witnessmark.ledger.work_left import left_of
from witnessmark.planner import remedies, repeated_operations
from witnessmark.planner.explain.recovery import recovery_order

EACH = 1_700  # of six books: more than ten thousand


@pytest.mark.parametrize("name", sorted(BOOKS))
def test_short_bad_days_come_home(name):
    for walk in walks(book(name), range(15), most_jobs=1, most_acts=6):
        walk.way_home()


@pytest.mark.long
@pytest.mark.parametrize("tenth", range(10))
@pytest.mark.parametrize("name", sorted(BOOKS))
def test_ten_thousand_bad_days_come_home(name, tenth):
    seeds = range(1_000_000 + tenth * EACH // 10, 1_000_000 + (tenth + 1) * EACH // 10)
    for walk in walks(book(name), seeds, most_jobs=3, most_acts=14):
        walk.way_home()


@pytest.mark.parametrize(("name", "seed"), [("quandle_t9", 1_000_842), ("sistrel_m12", 1_001_214)])
def test_an_order_just_taken_fits(name, seed):
    """An access step that is also named in the order had counted as work to be done again: it never fitted."""
    for walk in walks(book(name), [seed], most_jobs=3, most_acts=14):
        walk.way_home()


def began(name: str, *jobs: str) -> Walk:
    walk = Walk(book(name), jobs, 0)
    walk.take_order()
    return walk


def do(walk: Walk, *cards: str) -> Walk:
    for card in cards:
        walk.card(card)
    return walk


def offered(walk: Walk) -> list[str]:
    """The order offered from here, in step ids; empty where there is none."""
    return [*recovery_order(left_of(walk.book, walk.state, walk.wanted))[1].order]


@pytest.mark.parametrize("name", sorted(BOOKS.keys() - {"pobbin_50"}))  # which has drums alone
def test_pads_pressed_back_with_the_reservoir_already_fresh_are_pumped_out_again(name):
    """The ring of old: to pump, the reservoir had to be closed; to close it, the lever had to be firm."""
    walk = began(name, "brake_wear")
    do(walk, "onto_lift", "onto_stand")
    do(walk, "open_front_reservoir", "fill_front_reservoir", "brake_wear/front")
    order = offered(walk)
    assert order.index("pump_front_lever") < order.index("close_front_reservoir")


def test_a_flush_given_up_leaves_an_order_that_closes_the_brake():
    walk = began("quandle_t9", "front_brake_fluid")
    do(walk, "onto_lift", "onto_stand", "open_front_reservoir", "fill_front_reservoir")
    do(walk, "front_brake_fluid/flush")
    for left_out in ("cycle", "bleed", "hold"):
        walk.say("skipped", step=f"front_brake_fluid/{left_out}", reason="no fluid left")
    order = offered(walk)
    assert order.index("close_front_reservoir") < order.index("off_lift")
    assert {"circuit/front_brake/lever", "circuit/front_brake/dry"} <= walk.state.items.keys()


def test_what_was_left_out_is_taken_again_where_nothing_else_leads_on():
    walk = began("quandle_t9", "engine_oil")
    do(walk, "onto_lift", "onto_stand", "engine_oil/drain")
    walk.say("skipped", step="engine_oil/close_up", reason="no ring")
    problem, found = recovery_order(left_of(walk.book, walk.state, walk.wanted))
    assert repeated_operations(problem) == ("engine_oil/close_up",)
    assert found.order.index("engine_oil/close_up") < found.order.index("engine_oil/fill_first")


def test_while_a_step_that_would_not_go_waits_the_rest_has_an_order():
    """The drain plug is stripped: the oil waits, the tyres do not."""
    walk = began("quandle_t9", "engine_oil", "tyres")
    do(walk, "onto_lift", "onto_stand", "engine_oil/drain")
    walk.say("wont", step="engine_oil/close_up", what="stripped", safe_now="tray under it")
    problem, found = recovery_order(left_of(walk.book, walk.state, walk.wanted))
    assert problem.conditions["engine_oil"].finish is None
    assert "tyres/pressure_rear" in found.order
    assert "condition/engine_oil" in walk.state.items


def test_what_must_never_be_is_left_by_a_step_or_by_saying_how_it_stands():
    """Pads pressed back on the floor; and a wheel said to be off there, which is a mistaken tap."""
    walk = do(began("quandle_t9", "brake_wear"), "brake_wear/front")
    assert offered(walk) == []
    first = next(remedies(left_of(walk.book, walk.state, walk.wanted)))
    assert (first.kind, first.name) == ("step", "pump_front_lever")
    walk = do(began("quandle_t9", "brake_wear"), "rear_wheel_out")
    said = {
        (r.name, r.state)
        for r in remedies(left_of(walk.book, walk.state, walk.wanted))
        if r.kind == "state"
    }
    assert {("rear_wheel", "tight"), ("place", "lift")} & said


def test_what_is_left_as_found_is_what_the_machine_came_in_with():
    """Panniers taken off on the way were planned to stay off."""
    walk = Walk(book("quandle_t9"), ["rear_pads"], 0, found={"panniers": "on"})
    walk.take_order()
    do(walk, "onto_lift", "onto_stand", "panniers_off")
    assert "panniers_on" in offered(walk)


def test_a_look_back_is_not_asked_for_while_its_ride_is_to_be_ridden_again():
    """Walks went round in a ring: the axle came loose after ride and look; the ride had to wait."""
    walk = do(Walk(book("bromeck_410"), ["chain", "ride_after"], 0), "ride_after/ride")
    walk.take_order()
    do(walk, "ride_after/look", "onto_lift", "onto_stand", "chain/read", "axle_loose")
    order = offered(walk)
    assert order.index("pin_in") < order.index("ride_after/ride") < order.index("ride_after/look")
    assert walk.way_home()

    walk = began("bromeck_410", "rear_brake_fluid", "ride_after")
    do(walk, "ride_after/look", "onto_lift", "onto_stand")
    walk.say("wont", step="rear_brake_fluid/flush", what="stuck", safe_now="as it was")
    assert not {"ride_after/ride", "ride_after/look"} & {*offered(walk)}
    assert walk.way_home()


def test_a_void_ride_is_ridden_again_also_where_its_job_was_left():
    """Walks went round in a ring: codes read after a ride that no order held, since its job had been left."""
    walk = do(began("quandle_t9", "codes", "ride_after"), "ride_after/ride")
    walk.say("job_left", job="ride_after")
    do(walk, "codes/copy")
    assert walk.wanted == ["codes", "ride_after"]
    order = offered(walk)
    assert order.index("ride_after/ride") < order.index("codes/read_after")
    assert walk.way_home()
    assert walk.wanted == ["codes"]
