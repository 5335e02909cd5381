"""Again from here: the rest of a proven plan is proven by it, in its order, at every place on its way."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.books import BOOKS
from benchmarks.tourer import tourer, with_brought
from tests.outside.planning import tiny
from tests.planner.page_example import plain_example
from witnessmark.book import load_book, selection
from witnessmark.planner import (
    Answer,
    Now,
    Problem,
    check_plan,
    compile_problem,
    continued,
    plan,
    problem_from,
    snapshot_at,
    solve,
)
from witnessmark.planner.problem.model import Running


def after_step(problem: Problem, answer: Answer, place: int, *, tails: bool) -> Problem:
    """The problem at the end of a step's attended part; ``tails``: what runs unattended runs on."""
    minute = answer.steps[place].end
    states = {name: problem.start_state(name) for name in problem.conditions}
    done, running = list(problem.now.done if problem.now else ()), []
    for number, step in enumerate(answer.steps):
        if number > place and (step.start >= minute or step.end > minute):
            continue
        if (tails and step.tail_end > minute) or step.end > minute:
            people = step.technicians if step.end > minute else ()
            left = max(0.0, round(step.end - minute, 1))
            tail = round(step.tail_end - max(minute, step.end), 1)
            running.append(
                Running(name=step.name, minutes=left, unattended=tail, technicians=people)
            )
            continue
        states |= problem.step(step.name).sets
        done += [step.name] if step.kind == "operation" else []
    now = Now(states=states, done=tuple(done), running=tuple(running))
    return problem_from(problem.model_copy(update={"now": now}).model_dump())


@pytest.mark.parametrize("tails", [True, False])
@pytest.mark.parametrize("objective", ["finish", "attended"])
def test_the_rest_of_the_example_is_the_best_from_every_step(objective, tails):
    """Held against the same question asked with no previous plan."""
    problem = problem_from(plain_example())
    whole = plan(problem, objective=objective)
    for place in range(len(whole.steps) - 1):
        here = after_step(problem, whole, place, tails=tails)
        again = plan(here, objective=objective, previous=whole, earlier=problem)
        anew = plan(here, objective=objective)
        assert again.status == anew.status == "optimal"
        assert again.finish_minutes == anew.finish_minutes
        assert again.attended_minutes == anew.attended_minutes


def test_after_any_step_of_the_whole_book_the_rest_is_proven_without_a_search_in_its_order():
    problem = problem_from(tourer())
    whole = plan(problem)
    for place in range(0, len(whole.steps) - 1, 4):
        here = after_step(problem, whole, place, tails=True)
        again = continued(here, problem, whole)
        assert again is not None
        assert (again.status, again.deviation) == ("optimal", 0)
        names = [step.name for step in again.steps]
        assert names == [step.name for step in whole.steps if step.start >= whole.steps[place].end]
        assert check_plan(here, again, names) == []


@settings(max_examples=40, deadline=None, derandomize=True)
@given(tiny.problems(plain=True), st.sampled_from(("finish", "attended")), st.data())
def test_what_is_said_to_be_the_best_rest_is_the_best(problem, objective, data):
    """Random problems, at a random step; where the rest is handed out as proven, solving anew finds no better."""
    problem = problem.model_copy(update={"horizon": None})
    whole = solve(problem, objective=objective, deterministic_limit=0.3)
    if len(whole.steps) < 2:
        return
    place = data.draw(st.integers(0, len(whole.steps) - 2))
    here = after_step(problem, whole, place, tails=data.draw(st.booleans()))
    again = continued(here, problem, whole, objective)
    if again is None:
        return
    assert check_plan(here, again, [step.name for step in again.steps]) == []
    anew = solve(here, objective=objective, deterministic_limit=0.3)
    if anew.status == "optimal":
        assert (again.finish_minutes, again.attended_minutes) == (
            anew.finish_minutes,
            anew.attended_minutes,
        )


def goes_on(problem: Problem, whole: Answer, minute: float, *, known: bool) -> None:
    """Planned again at a minute of its plan, and checked: no later than the rest of that plan."""
    here = snapshot_at(problem, whole.steps, minute).problem
    before = {"previous": whole, "earlier": problem} if known else {}
    again = plan(here, deterministic_limit=0.3, **before)
    assert again.finish_minutes is not None
    assert again.finish_minutes <= whole.finish_minutes - minute + 1e-6


@settings(max_examples=16, deadline=None, derandomize=True)
@given(tiny.problems(), st.booleans())
def test_a_plan_goes_on_from_every_minute(problem, known):
    whole = plan(problem, deterministic_limit=0.3)
    for minute in range(1, int(whole.finish_minutes or 0)):
        goes_on(problem, whole, minute, known=known)


def five_jobs(book: str) -> Problem:
    """Every so many-th job of a shipped book."""
    shipped = load_book(BOOKS / f"{book}.toml")
    jobs = sorted(shipped.jobs)
    return compile_problem(shipped, selection(shipped, jobs[:: -(-len(jobs) // 5)]))


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize(
    "problem",
    [
        problem_from(tourer(with_brought({"rear tyre", "front brake", "battery"}))),
        five_jobs("oldermoss_900"),
        five_jobs("pobbin_50"),
    ],
    ids=["tourer", "oldermoss_900", "pobbin_50"],
)
def test_a_plan_goes_on_in_the_midst_of_steps(problem, known):
    """In the attended part of a step and in what goes on by itself after it, access steps and operations."""
    whole = plan(problem)
    for step in whole.steps[:: len(whole.steps) // 5]:
        for begin, end in ((step.start, step.end), (step.end, step.tail_end)):
            minute = round((begin + end) / 2, 1)
            if begin < minute < end and minute < whole.finish_minutes:
                goes_on(problem, whole, minute, known=known)


def test_a_move_under_way_is_not_begun_anew_where_it_is_done_once_more_later():
    """The engine cools for half an hour, and after the ride again; both times there is work enough meanwhile."""
    cool = {"minutes": 0, "hands": 0, "unattended": 30, "sets": {"engine": "cold"}}
    problem = problem_from({
        "conditions": {"engine": {"states": ["hot", "cold"], "start": "hot"}},
        "moves": [{"name": "cool", "needs": {"engine": ["hot"]}, **cool}],
        "operations": [
            {"name": "clean", "minutes": 40},
            {"name": "valves", "minutes": 5, "needs": {"engine": ["cold"]}},
            {"name": "ride", "minutes": 10, "sets": {"engine": "hot"}, "after": ["valves"]},
            {"name": "polish", "minutes": 40, "after": ["ride"]},
            {"name": "valves again", "minutes": 5, "needs": {"engine": ["cold"]}, "after": ["ride"]},
        ],
    })  # fmt: skip
    whole = plan(problem)
    assert whole.finish_minutes == whole.attended_minutes == 100
    here = snapshot_at(problem, whole.steps, 10).problem
    assert {one.name for one in here.now.running} == {"clean", "cool"}
    again = plan(here)
    assert [step.name for step in again.steps].count("cool") == 1
    assert (again.status, again.finish_minutes) == ("optimal", 90)


def test_somewhere_else_the_rest_is_not_taken_over():
    """The drain plug is out though the plan did not come to that yet."""
    problem = problem_from(plain_example())
    whole = plan(problem)
    here = problem_from(plain_example() | {"now": {"states": {"drain_plug": "out"}}})
    assert continued(here, problem, whole) is None
