"""Cut short, the planner gives the best plan so far, and says no more than it has proven."""

from benchmarks.tourer import tourer
from witnessmark.planner import Technician, check_plan, plan, problem_from


def hard():
    """The whole book with shifts, so that the clock decides and the search is long."""
    people = (
        Technician(name="A", shifts=((0, 240), (300, 480), (1440, 1920))),
        Technician(name="B", skills=(), shifts=((60, 200), (1500, 1900))),
    )
    return problem_from(tourer()).model_copy(update={"technicians": people})


def test_a_time_limit_gives_a_sound_plan_or_says_that_it_has_none():
    problem = hard()
    answer = plan(problem, time_limit=2.0)
    assert answer.status in {"optimal", "feasible", "unknown"}
    if answer.steps:
        assert check_plan(problem, answer) == []
        assert answer.finish_bound <= answer.finish_minutes
        assert answer.attended_bound <= answer.attended_minutes
