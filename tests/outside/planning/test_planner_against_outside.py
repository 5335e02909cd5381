"""Our planner against answers from outside: a classical planner's optima, and trying everything."""

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from benchmarks.instances import problems
from tests.outside.planning import answers, exhaustive, generator, remake, tiny, tourer
from tests.outside.planning.test_outside_answers import OPTIMA, TIMED, TOURER, case, title
from witnessmark.planner import Problem, check_plan, plan, problem_from


@pytest.mark.parametrize("line", OPTIMA, ids=title)
def test_the_least_attended_minutes_are_the_classical_planners_optimum(line):
    """Outside source: Fast Downward by way of Unified Planning, see ``classical.py``."""
    problem = problem_from(generator.make(line["family"], line["seed"]))
    answer = plan(problem, objective="attended")
    assert answer.attended_minutes == line["attended_minutes"]
    assert answer.status == ("impossible" if line["attended_minutes"] is None else "optimal")
    assert check_plan(problem, answer) == []


@pytest.mark.parametrize("line", TOURER, ids=lambda line: line["case"])
def test_the_tourers_least_attended_minutes_are_the_classical_planners_optimum(line):
    """Outside source: Fast Downward, and SymK for the look over, see ``classical.py``."""
    problem = tourer.problem(line["case"])
    answer = plan(problem, objective="attended")
    assert (answer.status, answer.attended_minutes) == ("optimal", line["attended_minutes"])
    assert check_plan(problem, answer) == []


@pytest.mark.parametrize("line", TIMED, ids=case)
def test_our_finish_is_no_later_than_the_temporal_planners_best(line):
    """And its plan passes our checker: two readings of one form agree where time is modelled."""
    problem = dict(problems())[line["case"]]
    assert remake.digest(problem) == line["problem"]
    ours = plan(problem)
    assert ours.status == "optimal"
    assert round(ours.finish_minutes * 10) <= line["finish_tenths"]
    assert theirs_faults(problem, line) == []


def test_the_temporal_planner_reaches_our_finish_in_most_cases():
    reached = [
        round(plan(dict(problems())[line["case"]]).finish_minutes * 10) == line["finish_tenths"]
        for line in TIMED
    ]
    assert sum(reached) >= 8
    assert len(TIMED) == 9


def test_the_temporal_planner_finds_its_committed_finish_again():
    line = next(line for line in TIMED if line["case"] == "codes")
    assert (
        remake.timed_case("codes", 60, line["finish_tenths"])["finish_tenths"]
        == (line["finish_tenths"])
    )


def theirs_faults(problem: Problem, line: dict) -> list:
    """What our checker finds at the temporal planner's plan, but the exposure, which nobody asked it for."""
    people = {False: (), True: (problem.technicians[0].name,)}
    steps = [
        (name, start / 10, people[problem.step(name).effort_tenths > 0])
        for name, start in line["steps"]
    ]
    stated = answers.answer(problem, steps, line["finish_tenths"] / 10, exposure_minutes=0.0)
    return [
        fault
        for fault in check_plan(problem, stated)
        if not fault.words.startswith("exposure_minutes")
    ]


UNHURRIED = settings(
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
OBJECTIVES = st.sampled_from(("finish", "attended"))


@settings(UNHURRIED, max_examples=25, derandomize=True)
@given(tiny.problems(plain=True), OBJECTIVES)
def test_no_plan_is_better_than_ours_when_everything_is_tried(problem, objective):
    assert_nothing_is_better(problem, objective)


@settings(UNHURRIED, max_examples=25, derandomize=True)
@given(tiny.problems(), OBJECTIVES)
def test_nor_with_clocks_people_resources_and_work_begun(problem, objective):
    assert_nothing_is_better(problem, objective)


@pytest.mark.long
@settings(UNHURRIED, max_examples=2000)
@given(tiny.problems(), OBJECTIVES)
def test_nor_in_thousands_of_problems_never_seen_before(problem, objective):
    assert_nothing_is_better(problem, objective)


def assert_nothing_is_better(problem: Problem, objective: str) -> None:
    """Ours is sound and reaches the optimum of trying everything, or says impossible where it does."""
    answer = plan(problem, objective=objective)
    assert check_plan(problem, answer) == []
    event(f"{objective}: {answer.status}")
    best = exhaustive.best(problem, objective)
    if best is None:
        assert answer.status == "impossible"
    else:
        assert answer.status == "optimal"
        found = (answer.finish_minutes, answer.attended_minutes)
        assert found == (best.finish, best.attended)
