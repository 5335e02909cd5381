"""Two independent readings of the planning model agree on sound and on broken plans.

One is the checker, which looks back over intervals in tenths of a minute. The other walks forward
through the clock minute by minute (``tests/outside/planning/exhaustive.py``) and knows no checker.
"""

from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st

from tests.outside.planning import answers, exhaustive, tiny
from tests.outside.planning.exhaustive import Listed
from witnessmark.planner import Problem, check_plan
from witnessmark.planner.check.check_plan import Rule

Draw = st.DrawFn
UNHURRIED = settings(
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


@st.composite
def solved(draw: Draw) -> tuple[Problem, exhaustive.Best]:
    """A tiny problem with a best plan of at least one step."""
    problem = draw(tiny.problems())
    best = exhaustive.best(problem)
    assume(best is not None and best.steps)
    return problem, best


@st.composite
def broken(draw: Draw) -> tuple[Problem, Listed, str]:
    """A best plan after something was done to it; by luck it may still be sound."""
    problem, best = draw(solved())
    steps = list(best.steps)
    at = draw(st.integers(0, len(steps) - 1))
    name, start, people = steps[at]
    how = draw(st.sampled_from(("swap", "shift", "shift all", "drop", "double", "hands", "add")))
    if how == "swap":
        other = (at + draw(st.integers(min(1, len(steps) - 1), len(steps) - 1))) % len(steps)
        steps[at], steps[other] = (
            (steps[other][0], start, people),
            (name, steps[other][1], steps[other][2]),
        )
    elif how == "shift":
        steps[at] = (name, max(0, start + draw(st.sampled_from((-1, 1, -2, 2, 3)))), people)
    elif how == "shift all":
        later = draw(st.integers(1, 6))
        steps[at:] = [(n, s + later, p) for n, s, p in steps[at:]]
    elif how == "drop":
        del steps[at]
    elif how == "double":
        steps.append((name, start + draw(st.integers(0, 8)), people))
    elif how == "hands":
        steps[at] = (name, start, tuple(draw(st.sampled_from(((), ("A",), ("B",), ("A", "B"))))))
    else:
        added = draw(st.sampled_from(problem.moves)).name if problem.moves else name
        steps.append((added, draw(st.integers(0, best.finish)), ("A",)))
    return problem, tuple(sorted(steps, key=lambda step: step[1])), how


@settings(UNHURRIED, max_examples=10)
@given(solved())
def test_the_best_plan_found_by_trying_everything_is_sound_with_all_its_figures(found):
    problem, best = found
    assert check_plan(problem, answers.answer(problem, best.steps, best.finish)) == []


@settings(UNHURRIED, max_examples=15)
@given(broken())
def test_a_broken_plan_is_refused_exactly_where_walking_through_it_fails(found):
    problem, steps, how = found
    finish = exhaustive.accepts(problem, steps)
    event(f"{how}: {'broken' if finish is None else 'still sound'}")
    stated = 0 if finish is None else finish
    faults = check_plan(problem, answers.answer(problem, steps, stated))
    if finish is None:
        assert any(fault.rule < Rule.FIGURE for fault in faults)
    else:
        assert faults == []


@settings(UNHURRIED, max_examples=10)
@given(solved(), st.data())
def test_a_wrong_figure_is_found(found, data):
    problem, best = found
    key = data.draw(st.sampled_from(("finish", "attended", "exposure")))
    off = data.draw(st.sampled_from((-1, -0.1, 0.1, 7)))
    expected = answers.answer(problem, best.steps, best.finish)
    stated = getattr(expected, f"{key}_minutes") + off
    faults = check_plan(problem, expected.model_copy(update={f"{key}_minutes": stated}))
    assert [fault.rule for fault in faults] == [Rule.FIGURE]
    assert f"{key}_minutes" in faults[0].words
