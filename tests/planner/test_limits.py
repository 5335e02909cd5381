"""Cut short, the planner gives the best plan so far, and says no more than it has proven."""

from benchmarks.tourer import tourer
from tests.shipped_books.planned import archetype
from witnessmark.book import selection
from witnessmark.planner import Technician, check_plan, compile_problem, plan, problem_from


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


def test_every_job_of_a_large_book_has_a_plan_and_a_gap_within_hardly_any_limit():
    book = archetype("naked_four")
    answer = plan(compile_problem(book, selection(book, book.jobs)), deterministic_limit=0.01)
    assert answer.status == "feasible"
    assert 0 < answer.attended_bound < answer.attended_minutes
    assert answer.attended_minutes < 1.1 * 1683.7  # the least, proven with a longer limit
