"""What is to be done, what is left of the order followed, and why it can no longer be followed."""

import pytest

from tests.ledger.bench import BOOK, ESTIMATE, OWNER, TABLE, Bench
from witnessmark.book.model import Book
from witnessmark.ledger.effects import effects
from witnessmark.ledger.stuck import stuck
from witnessmark.ledger.work_left import (
    asked_by_ride,
    for_nothing,
    lapses_to,
    left_of,
    misfits,
    steps_left,
    steps_that_free,
    to_do,
)
from witnessmark.planner import PlanStep, compile_problem

SAYS = {"estimate": ESTIMATE, "by": OWNER, "how": "in person"}
COVERS = ("covers/off", "covers/on", "covers/turn")


def changed(**of_jobs) -> Book:
    """The bench's book with its jobs changed: ``covers__on={"after": …}`` for an operation."""
    said = BOOK.model_dump()
    for name, update in of_jobs.items():
        job, _, operation = name.partition("__")
        place = said["jobs"][job]
        (place["operations"][operation] if operation else place).update(update)
    return Book.model_validate(said)


IN_TURN = changed(
    covers__on={"after": ["off"]},
    covers__turn={"after": ["on"]},
    brake__pump={"after": ["covers/turn"]},
)


@pytest.fixture
def bench():
    return Bench()


def take(bench: Bench, *jobs: str) -> None:
    for job in jobs:
        bench.say("job_taken", job=job)


def order(*names: str) -> tuple[PlanStep, ...]:
    return tuple(
        PlanStep(name=name, kind="operation" if "/" in name else "move", start=n, end=n, tail_end=n)
        for n, name in enumerate(names)
    )


def names(steps) -> list[str]:
    return [step.name for step in steps]


# ---------------------------------------------------------------- what is to be done


def test_before_any_offer_all_that_was_taken_on_is_to_be_done_and_after_it_what_was_agreed(bench):
    take(bench, "covers", "brake", "nowhere")
    assert to_do(BOOK, bench.state()) == ["covers", "brake"]
    bench.say("offered", estimate=ESTIMATE, lines=["covers", "brake"])
    assert to_do(BOOK, bench.state()) == []
    bench.say("answered", line="brake", verdict="yes", **SAYS)
    bench.say("answered", line="linings", verdict="yes", **SAYS)
    assert to_do(BOOK, bench.state()) == ["brake"], "linings were not taken on"
    brings = changed(brake={"brings": ["covers"]})
    assert to_do(brings, bench.state()) == ["covers", "brake"]
    bench.say("answered", line="covers", verdict="no", **SAYS)
    assert to_do(brings, bench.state()) == ["brake"]


def test_a_ride_made_void_is_to_be_done_though_its_job_was_left(bench):
    take(bench, "ride")
    bench.done("ride/ride")
    bench.done("wheel_off")
    assert to_do(BOOK, bench.state()) == ["ride"], "named once"
    bench.say("job_left", job="ride")
    assert to_do(BOOK, bench.state()) == ["ride"]
    bench.done("ride/ride")
    assert to_do(BOOK, bench.state()) == []


# ---------------------------------------------------------------- what would not go


def test_a_step_that_would_not_go_holds_what_comes_after_it_until_it_has_an_answer(bench):
    jobs = ["covers", "brake"]
    assert stuck(IN_TURN, bench.state(), jobs) == set()
    wont = bench.say("wont", step="covers/on", what="stuck", safe_now="off")
    assert stuck(IN_TURN, bench.state(), jobs) == {"covers/on", "covers/turn", "brake/pump"}
    assert stuck(IN_TURN, bench.state(), ["covers"]) == {"covers/on", "covers/turn"}
    assert stuck(IN_TURN, bench.state(), ["brake"]) == set()
    found = bench.say("found", text="rust", step="covers/off")
    assert "covers/off" not in stuck(IN_TURN, bench.state(), jobs), "a finding holds nothing"
    bench.say("settled", entry=wont.id, how="put right")
    bench.say("settled", entry=found.id, how="put right")
    assert stuck(IN_TURN, bench.state(), jobs) == set()


def test_an_access_step_that_failed_stops_the_jobs_it_was_said_to_stop_until_it_has_an_answer(
    bench,
):
    jobs = ["covers", "brake"]
    take(bench, *jobs)
    failed = {"step": "wheel_on", "what": "stuck", "safe_now": "off"}
    one = bench.say("wont", **failed, jobs=["covers"], for_others=True)
    assert stuck(BOOK, bench.state(), jobs) == {*COVERS}
    bench.say("corrected", entry=one.id)
    bench.done("wheel_off")
    followed = order("wheel_on", *COVERS, "brake/pump")
    assert names(steps_left(BOOK, bench.state(), bench.entries, jobs, followed)) == names(followed)
    wont = bench.say("wont", **failed, jobs=["covers"])
    assert stuck(BOOK, bench.state(), jobs) == {"wheel_on", *COVERS}
    assert "wheel_on" not in names(steps_left(BOOK, bench.state(), bench.entries, jobs, followed))
    left = left_of(BOOK, bench.state(), jobs)
    assert "wheel_on" not in {move.name for move in left.compiled(left.states, ()).moves}
    assert "wheel_on" in {move.name for move in left.compiled(left.states, ["wheel_on"]).moves}
    bench.say("settled", entry=wont.id, how="put right")
    assert stuck(BOOK, bench.state(), jobs) == set()


# ---------------------------------------------------------------- what a ride asks for


def test_a_ride_to_come_asks_for_what_alone_closes_what_is_open_before_it(bench):
    jobs = ["brake", "hold", "ride"]
    for step in ("brake/push_back", "brake/pump"):
        bench.done(step)
    assert asked_by_ride(BOOK, bench.state(), jobs) == []
    bench.done("brake/push_back")
    assert "circuit/rear_brake/lever_firm" in bench.open()
    assert asked_by_ride(BOOK, bench.state(), jobs) == [], "to hold it is still to come"
    bench.done("hold/hold")
    bench.done("brake/push_back")
    assert asked_by_ride(BOOK, bench.state(), jobs) == ["brake/pump"]
    assert asked_by_ride(BOOK, bench.state(), ["brake", "ride"]) == [], "another job would close it"
    assert asked_by_ride(BOOK, bench.state(), ["brake", "hold"]) == [], "no ride is to come"
    assert left_of(BOOK, bench.state(), jobs).over == {"hold/hold", "brake/push_back"}
    bench.done("ride/ride")
    assert asked_by_ride(BOOK, bench.state(), jobs) == [], "it was ridden"


def test_of_several_that_close_it_one_that_was_done_is_taken_again(bench):
    take(bench, "brake", "hold", "ride")
    bench.say("skipped", step="brake/pump", reason="held overnight")
    bench.done("hold/hold")
    bench.done("brake/push_back")
    assert asked_by_ride(BOOK, bench.state(), ["brake", "hold", "ride"]) == ["hold/hold"]
    bench.say("skipped", step="hold/hold", reason="no time")
    assert asked_by_ride(BOOK, bench.state(), ["brake", "hold", "ride"]) == ["brake/pump"]
    over = left_of(BOOK, bench.state(), ["brake", "hold", "ride"]).over
    assert {"brake/pump", "hold/hold"} <= over, "what was left out is not taken unasked"


def test_a_fastener_or_what_no_ride_waits_for_is_not_asked_for_again(bench):
    """A fastener is made tight any time; the nut's ring and the pad's reading are no affair of the ride."""
    bench.done("brake/push_back")
    bench.done("covers/on")
    bench.done("covers/off")
    bench.done("drive_oil/fill")
    bench.done("drive_oil/wheel_tight")
    bench.done("wheel_off")
    state = bench.state()
    assert {"reading", "renewal", "fastener"} & {item.kind for item in state.items.values()}
    assert asked_by_ride(BOOK, state, list(BOOK.jobs)) == []


# ---------------------------------------------------------------- what is left


def test_of_an_order_what_was_done_or_left_out_is_over_and_moves_are_used_up_since_it_was_taken(
    bench,
):
    taken = order("wheel_off", "covers/off", "wheel_on", "covers/on", "wheel_off", "covers/turn")

    def left():
        return names(steps_left(BOOK, bench.state(), bench.entries, ["covers"], taken))

    take(bench, "covers")
    bench.done("wheel_off")
    bench.say("plan_taken", plan="a" * 64)
    assert left() == names(taken), "what was done before is none of it"
    bench.done("wheel_off")
    bench.done("covers/off", along=["wheel_on"])
    assert left() == ["covers/on", "wheel_off", "covers/turn"]
    undone = bench.done("wheel_off")
    bench.say("corrected", entry=undone.id)
    bench.say("skipped", step="covers/on", reason="no time")
    assert left() == ["wheel_off", "covers/turn"]
    bench.say("wont", step="covers/turn", what="stuck", safe_now="on")
    assert left() == ["wheel_off"]


def test_an_order_holds_once_more_only_what_a_ride_asks_for(bench):
    """Ridden, then worked on: the new order has ride and look again; covers that it has by mistake are over."""
    book = changed(brake__after_ride={"after": ["ride/ride"]})
    table = effects(book, list(book.jobs))
    for step in ("ride/ride", "brake/after_ride", "covers/off", "wheel_off"):
        bench.done(step)
    bench.say("plan_taken", plan="a" * 64)
    again = order("wheel_on", "covers/off", "ride/ride", "brake/after_ride")

    def left():
        jobs = ["brake", "covers", "ride"]
        return names(steps_left(book, bench.state(table), bench.entries, jobs, again))

    assert left() == ["wheel_on", "ride/ride", "brake/after_ride"]
    bench.done("ride/ride")
    assert left() == ["wheel_on", "brake/after_ride"]
    bench.done("brake/after_ride")
    assert left() == ["wheel_on"]


def test_a_ride_is_still_to_come_once_more_where_work_is_left_that_it_has_to_prove(bench):
    bench.done("ride/ride")
    assert left_of(BOOK, bench.state(), ["covers", "ride"]).over == {"ride/ride"}
    left = left_of(BOOK, bench.state(), ["drive_oil", "ride"])
    assert (left.over, left.waiting) == (set(), set())
    assert "ride/ride" in {step.name for step in left.compiled(left.states, ()).operations}


def test_one_machine_alone_needs_no_room_kept_for_others(bench):
    said = BOOK.model_dump()
    said["conditions"]["wheel"]["holds"] = {"off": {"lift": 1}}
    said["jobs"]["covers"]["operations"]["on"]["needs"] = {"wheel": ["off"]}
    book = Book.model_validate(said)

    def held(**more):
        left = left_of(book, bench.state(), ["covers"], resources={"lift": 1}, **more)
        return left.compiled(left.states, ()).conditions["wheel"].holds

    assert held() == held(among_others=False) == {}
    assert held(among_others=True) == {"off": {"lift": 1}}


def test_what_is_left_begins_where_the_machine_stands(bench):
    bench.say("states_found", states={"pannier": "off", "engine": "glowing"})
    bench.done("wheel_off")
    bench.done("covers/off")
    wont = bench.say("wont", step="covers/turn", what="stuck", safe_now="on")
    book = changed(covers__on={"needs": {"pannier": ["on"]}})
    left = left_of(book, bench.state(), ["covers"])
    assert left.states == {"wheel": "off", "pannier": "off", "engine": "cold"}
    assert (left.over, left.waiting) == ({"covers/off"}, {"covers/turn"})
    problem = left.compiled(left.states, ())
    assert {step.name for step in problem.operations} == {"covers/on"}
    assert problem.conditions["pannier"].finish == "off", "as it came in"
    bench.say("settled", entry=wont.id, how="put right")
    assert left_of(BOOK, bench.state(), ["covers"]).waiting == set()


# ---------------------------------------------------------------- why it does not fit


def test_an_order_of_other_jobs_than_those_to_be_done_does_not_fit(bench):
    take(bench, "covers", "brake")
    state, made = bench.state(), compile_problem(BOOK, ["covers"])
    whole = order(*COVERS)
    told = ["“rear brake” is to be done and is not in this order"]
    assert misfits(BOOK, state, whole, made, ["covers"]) == told
    assert misfits(BOOK, state, whole, made, ["covers"], later=["brake"]) == []
    assert misfits(BOOK, state, (), made, ["covers"], later=["brake"])[:1] == told
    bench.say("job_left", job="covers")
    bench.say("job_left", job="brake")
    told = ["“covers” is in this order and is no longer to be done"]
    assert misfits(BOOK, bench.state(), whole, made, ["covers"]) == told
    assert misfits(BOOK, bench.state(), order("warm_up"), made, ["covers"]) == []


def test_an_order_that_lacks_a_step_of_its_jobs_does_not_fit_unless_one_waits_for_its_answer(bench):
    take(bench, "covers")
    made, rest = compile_problem(BOOK, ["covers"]), order("covers/on")
    bench.say("skipped", step="covers/off", reason="they are off")
    told = ["“loosen and tighten the nut” is to be done and is not in this order"]
    assert misfits(BOOK, bench.state(), rest, made, ["covers"]) == told
    bench.say("wont", step="covers/on", what="stuck", safe_now="off")
    assert misfits(BOOK, bench.state(), rest, made, ["covers"]) == []


def test_an_order_without_what_the_ride_asks_for_again_does_not_fit(bench):
    jobs = ["brake", "hold", "ride"]
    take(bench, *jobs)
    for step in ("brake/push_back", "brake/pump", "hold/hold", "brake/push_back"):
        bench.done(step)
    made, rest = compile_problem(BOOK, jobs), order("ride/ride", "brake/after_ride")
    told = ["the ride waits for “pump the lever firm”, which is to be done again"]
    assert misfits(BOOK, bench.state(), rest, made, jobs) == told
    with_it = order("brake/pump", "ride/ride", "brake/after_ride")
    assert misfits(BOOK, bench.state(), with_it, made, jobs) == []


@pytest.mark.parametrize(
    ("steps", "told"),
    [
        (COVERS, []),
        (("warm_up", "wheel_off", "wheel_on", *COVERS), []),  # warm, it gets cold by itself
        (
            ("wheel_on", *COVERS),
            ["“put the rear wheel on” needs rear wheel: off; it is now fitted"],
        ),
        (("wheel_off", *COVERS), ["rear wheel: off would be left so"]),
        (("pannier_off", *COVERS), ["pannier: off would be left so"]),
    ],
)
def test_an_order_fits_that_can_be_walked_from_here_and_leaves_the_machine_as_it_must_be(
    bench, steps, told
):
    take(bench, "covers")
    made = compile_problem(BOOK, ["covers"])
    assert misfits(BOOK, bench.state(), order(*steps), made, ["covers"]) == told


def test_where_a_step_failed_that_is_the_reason_and_not_the_state_it_left(bench):
    take(bench, "covers")
    made = compile_problem(BOOK, ["covers"])
    bench.done("wheel_off")
    state = ["rear wheel: off would be left so"]
    assert misfits(BOOK, bench.state(), order(*COVERS), made, ["covers"]) == state
    bench.say("wont", step="wheel_on", what="stuck", safe_now="off", text="bent axle")
    told = ["“put the rear wheel on” cannot be done: stuck: bent axle"]
    assert misfits(BOOK, bench.state(), order(*COVERS), made, ["covers"]) == told
    bench.say("plan_taken", plan="0" * 64)
    assert misfits(BOOK, bench.state(), order(*COVERS), made, ["covers"]) == state


def test_of_a_job_left_nothing_is_asked_for_any_more_nor_access_that_is_for_it_alone(bench):
    take(bench, "covers", "brake")
    both = {"for_": ("covers/on", "brake/pump")}
    left = (
        *(one.model_copy(update={"for_": ("covers/on",)}) for one in order("wheel_off")),
        *order("covers/on", "brake/pump"),
        *(one.model_copy(update=both) for one in order("warm_up")),
        *order("wheel_on"),
    )
    assert for_nothing(BOOK, bench.state(), left, ["covers", "brake"]) == []
    bench.say("job_left", job="covers")
    idle = for_nothing(BOOK, bench.state(), left, ["covers", "brake"])
    assert names(idle) == ["wheel_off", "covers/on"]


def test_a_finish_that_the_order_gave_up_on_purpose_is_not_missed(bench):
    take(bench, "covers")
    made = compile_problem(changed(covers__on={"needs": {"wheel": ["off"]}}), ["covers"])
    steps = order("wheel_off", *COVERS)
    assert misfits(BOOK, bench.state(), steps, made, ["covers"]) != []
    free = {name: c.model_copy(update={"finish": None}) for name, c in made.conditions.items()}
    given_up = made.model_copy(update={"conditions": free})
    assert misfits(BOOK, bench.state(), steps, given_up, ["covers"]) == []


def test_a_need_is_met_by_a_state_that_comes_by_itself_and_an_operation_by_the_one_before_it(bench):
    take(bench, "covers")
    made = compile_problem(IN_TURN, ["covers"])
    backward = order("covers/off", "covers/turn", "covers/on")
    told = ["“loosen and tighten the nut” comes after “covers on”, which is to be done again"]
    assert misfits(IN_TURN, bench.state(), backward, made, ["covers"]) == told
    assert misfits(IN_TURN, bench.state(), order(*COVERS), made, ["covers"]) == []
    bench.say("skipped", step="covers/on", reason="later")
    rest = order("covers/off", "covers/turn")
    assert misfits(IN_TURN, bench.state(), rest, made, ["covers"]) == []
    cold = changed(covers__on={"needs": {"engine": ["cold"]}})
    warm = Bench()
    take(warm, "covers")
    warm.done("warm_up")
    assert misfits(cold, warm.state(), order(*COVERS), made, ["covers"]) == []
    hot = changed(covers__on={"needs": {"engine": ["warm"]}})
    assert misfits(hot, Bench().state(), order("covers/on"), made, []) == [
        "“covers on” needs engine: warm; it is now cold"
    ]


def test_a_state_that_the_book_does_not_require_may_be_left(bench):
    said = BOOK.model_dump()
    said["conditions"]["wheel"]["finish"] = None
    book = Book.model_validate(said)
    take(bench, "covers")
    made = compile_problem(book, ["covers"])
    assert misfits(book, bench.state(), order("wheel_off", *COVERS), made, ["covers"]) == []
    bench.done("wheel_off")
    assert steps_that_free(book, bench.state(), ()) == []
    assert steps_that_free(book, bench.state(), order("wheel_off")) == ["wheel_off", "wheel_on"]


def test_all_that_the_ride_asks_for_is_told_in_the_order_of_its_steps(bench):
    jobs = ["brake", "hold", "drive_oil", "ride"]
    take(bench, *jobs)
    for step in ("drive_oil/fill", "brake/push_back", "brake/pump", "hold/hold", "brake/push_back",
                 "drive_oil/drain", "drive_oil/wheel_tight"):  # fmt: skip
        bench.done(step)
    made, rest = compile_problem(BOOK, jobs), order("ride/ride", "brake/after_ride")
    assert misfits(BOOK, bench.state(), rest, made, jobs) == [
        f"the ride waits for “{step}”, which is to be done again"
        for step in ("pump the lever firm", "fill the drive")
    ]


def test_the_other_jobs_operations_do_not_hold_an_order_of_these_jobs(bench):
    take(bench, "brake")
    made = compile_problem(IN_TURN, ["brake"])
    whole = order("brake/push_back", "brake/pump", "brake/after_ride")
    assert misfits(IN_TURN, bench.state(), whole, made, ["brake"]) == []


def test_what_frees_the_way_sets_what_is_not_as_the_next_step_or_the_end_wants_it(bench):
    assert steps_that_free(BOOK, bench.state(), order("wheel_off")) == []
    assert steps_that_free(BOOK, bench.state(), order("wheel_on")) == ["wheel_off", "wheel_on"]
    bench.done("pannier_off")
    assert steps_that_free(BOOK, bench.state(), ()) == ["pannier_off", "pannier_on"]
    bench.done("warm_up")
    assert "warm_up" in steps_that_free(BOOK, bench.state(), ())


def test_a_state_lapses_to_every_one_on_its_way_and_to_no_other():
    said = BOOK.model_dump()
    said["conditions"]["engine"] |= {
        "states": ["cold", "warm", "hot"],
        "lapse": {"hot": {"after": 9, "to": "warm"}, "warm": {"after": 9, "to": "cold"}},
    }
    book = Book.model_validate(said)
    told = {
        (state, wanted): lapses_to(book, "engine", state, [wanted])
        for state in ("hot", "warm", "cold")
        for wanted in ("hot", "warm", "cold")
    }
    assert {pair for pair, lapses in told.items() if lapses} == {
        ("hot", "warm"), ("hot", "cold"), ("warm", "cold"),
    }  # fmt: skip


def test_the_table_of_a_book_in_turn_knows_what_each_job_brings():
    brings = effects(changed(brake={"brings": ["covers"]}), list(BOOK.jobs)).brought
    assert (brings["brake"], brings["covers"]) == (("covers",), ())
    assert TABLE.brought["brake"] == ()
