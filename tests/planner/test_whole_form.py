"""The rest of the form: lapses, crews, skills, shifts, resources, earliest starts, again from here."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.planner.by_the_minute import best_by_the_minute
from tests.planner.generator import timed_problem
from tests.planner.page_example import page_example, plain_example
from witnessmark.planner import plan, problem_from
from witnessmark.planner.sequence.model.waits import with_waits

SEEDS = st.integers(0, 10_000)


@pytest.mark.parametrize(
    "features",
    [
        ("lapse",),
        ("wait",),
        ("wait", "resources"),
        ("release",),
        ("resources",),
        ("shifts",),
        ("crew",),
        ("lapse", "resources", "crew"),
        ("lapse", "release", "shifts"),
    ],
    ids=" and ".join,
)
@settings(max_examples=3, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_the_plan_is_the_best_of_all_starts_at_every_minute(features, seed):
    """Against trying everything, minute by minute; what is not proven must not contradict it."""
    data = timed_problem(seed, *features)
    problem = problem_from({key: value for key, value in data.items() if key != "timed"})
    answer = plan(problem, deterministic_limit=0.5)
    latest = 60 if answer.finish_minutes is None else int(answer.finish_minutes) + 1
    if latest > 100:
        return  # over night: too many minutes to try
    best = best_by_the_minute(data, latest)
    if answer.status == "optimal":
        assert (answer.finish_minutes, answer.attended_minutes) == best
    elif answer.status == "feasible":
        assert best is None or answer.finish_bound <= best[0] <= answer.finish_minutes
    elif answer.status == "impossible":
        assert best is None


def test_the_whole_example_of_the_page_has_the_same_figures():
    answer = plan(problem_from(page_example()))
    assert (answer.status, answer.finish_minutes, answer.attended_minutes) == ("optimal", 42, 32.5)


def _cold_start(finish):
    return {
        "conditions": {
            "engine": {
                "states": ["cold", "warm"],
                "start": "warm",
                "age": 10,
                "finish": finish,
                "lapse": {"warm": {"after": 40, "to": "cold"}},
            }
        },
        "operations": [{"name": "valves", "minutes": 20, "needs": {"engine": ["cold"]}}],
    }


def test_a_lapse_is_waited_for():
    """Warm for ten minutes, cold after forty: the valves come after thirty more."""
    answer = plan(problem_from(_cold_start("cold")))
    assert [step.start for step in answer.steps] == [30.0]
    assert answer.finish_minutes == 50.0


def test_a_lapse_that_serves_everybody_is_proven_by_order_alone_and_is_no_step_of_the_plan():
    """The ride warms the engine; nothing else is to be done while it cools for forty minutes."""
    data = _cold_start(None) | {"moves": []}
    data["conditions"]["engine"] |= {"start": "cold", "age": 0}
    ride = {"name": "ride", "minutes": 10, "sets": {"engine": "warm"}}
    data["operations"] = [ride, data["operations"][0] | {"after": ["ride"]}]
    answer = plan(problem_from(data))
    assert [(step.name, step.start) for step in answer.steps] == [("ride", 0.0), ("valves", 50.0)]
    assert (answer.status, answer.finish_minutes) == ("optimal", 70.0)
    assert not with_waits(problem_from(data)).conditions["engine"].lapse


def test_a_finish_that_only_a_lapse_reaches_counts_in_the_finish():
    data = _cold_start("cold") | {"operations": [{"name": "wash", "minutes": 5}]}
    answer = plan(problem_from(data))
    assert (answer.finish_minutes, answer.attended_minutes) == (30.0, 5.0)


def test_two_machines_share_the_only_lift():
    """Each holds it while its wheel is out; the second starts when the first has let go."""
    conditions = {
        f"wheel {n}": {
            "states": ["on", "off"],
            "start": "on",
            "finish": "on",
            "holds": {"off": {"lift": 1}},
        }
        for n in (1, 2)
    }
    moves = [
        {
            "name": f"{n} {state}",
            "minutes": 5,
            "needs": {f"wheel {n}": [other]},
            "sets": {f"wheel {n}": state},
        }
        for n in (1, 2)
        for state, other in (("off", "on"), ("on", "off"))
    ]
    operations = [
        {"name": f"tyre {n}", "minutes": 10, "needs": {f"wheel {n}": ["off"]}} for n in (1, 2)
    ]
    data = {
        "conditions": conditions,
        "moves": moves,
        "operations": operations,
        "technicians": [{"name": "A"}, {"name": "B"}],
    }
    assert plan(problem_from(data | {"resources": {"lift": 1}})).finish_minutes == 40.0
    assert plan(problem_from(data | {"resources": {"lift": 2}})).finish_minutes == 20.0


def test_work_that_takes_two_waits_for_both():
    data = {
        "operations": [
            {"name": "lift the engine", "minutes": 10, "hands": 2},
            {"name": "brakes", "minutes": 8, "skills": ["brakes"]},
            {"name": "wash", "minutes": 5},
        ],
        "technicians": [{"name": "A", "skills": ["brakes"]}, {"name": "B", "skills": []}],
    }
    answer = plan(problem_from(data))
    assert (answer.finish_minutes, answer.attended_minutes) == (18.0, 33.0)
    crews = {step.name: step.technicians for step in answer.steps}
    assert (crews["brakes"], set(crews["lift the engine"])) == (("A",), {"A", "B"})


def test_attended_work_does_not_cross_the_end_of_a_shift_and_a_drain_does():
    data = {
        "operations": [
            {"name": "drain", "minutes": 10, "unattended": 60},
            {"name": "fill", "minutes": 10, "after": ["drain"]},
        ],
        "technicians": [{"name": "A", "shifts": [[0, 60], [90, 200]]}],
    }
    starts = {step.name: step.start for step in plan(problem_from(data)).steps}
    assert starts == {"drain": 0.0, "fill": 90.0}


@pytest.mark.parametrize(("clock", "morning"), [(0, 1440), (840, 1080)])
def test_nothing_exposed_stands_over_night(clock, morning):
    """Opening takes five minutes and closing ten: with twelve left today it waits for the morning.

    Begun at two in the afternoon, the morning is 18 hours away.
    """
    data = {
        "conditions": {
            "circuit": {
                "states": ["closed", "open"],
                "start": "closed",
                "finish": "closed",
                "exposed": ["open"],
            }
        },
        "operations": [
            {"name": "open", "minutes": 5, "sets": {"circuit": "open"}},
            {"name": "close", "minutes": 10, "sets": {"circuit": "closed"}, "after": ["open"]},
        ],
        "technicians": [{"name": "A", "shifts": [[0, 12], [morning, morning + 60]]}],
        "clock": clock,
    }
    found = [step.start for step in plan(problem_from(data)).steps]
    assert found == [morning, morning + 5]


def test_again_from_here_ends_when_the_plan_would_have():
    """Five minutes after the drain was opened, with the oil still running."""
    data = plain_example()
    now = {
        "states": {"rear_wheel": "off", "gear": "engaged", "fill_plug": "out", "place": "lift"},
        "done": ["crack fill plug"],
        "running": [{"name": "drain", "unattended": 5}],
    }
    answer = plan(problem_from(data | {"now": now}))
    assert (answer.status, answer.finish_minutes, answer.attended_minutes) == ("optimal", 23, 18)
    assert [step.start for step in answer.steps if step.name == "drain plug in"] == [5.0]
    assert answer.exposure_minutes == 7.0


def test_a_plan_is_kept_when_nothing_has_changed():
    first = plan(problem_from(page_example()))
    again = plan(problem_from(page_example()), previous=first)
    assert (again.deviation, again.steps) == (0, first.steps)


STAND = {
    "states": ["low", "high"],
    "start": "low",
    "holds": {"low": {"lift": 1}, "high": {"lift": 1}},
}


def test_going_from_one_holding_state_to_another_holds_the_larger_amount_once():
    """A stand raised on its one lift stays on it; one that takes two when high wants two lifts."""
    data = {
        "conditions": {"stand": STAND},
        "operations": [{"name": "raise", "minutes": 1, "sets": {"stand": "high"}}],
        "resources": {"lift": 1},
    }
    assert plan(problem_from(data)).status == "optimal"
    wide = STAND | {"holds": {"low": {"lift": 1}, "high": {"lift": 2}}}
    data["conditions"] = {"stand": wide}
    assert plan(problem_from(data)).status == "impossible"
    assert plan(problem_from(data | {"resources": {"lift": 2}})).status == "optimal"


def test_a_step_under_way_is_taken_as_it_is():
    """Whoever is at it goes on, with or without the skill the form asks of those who begin."""
    step = {"name": "weld", "minutes": 3, "sets": {"c": "b"}, "skills": ["welding"]}
    problem = problem_from(
        {
            "conditions": {"c": {"states": ["a", "b"], "start": "a", "finish": "b"}},
            "operations": [step],
            "technicians": [{"name": "A", "skills": []}],
            "now": {"running": [{"name": "weld", "minutes": 1, "technicians": ["A"]}]},
        }
    )
    assert plan(problem).status == "optimal"
