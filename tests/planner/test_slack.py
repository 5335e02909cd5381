"""Slack: what is said of earliest and latest starts can be had, all steps at once, in the checker's eyes."""

import pytest

from tests.planner.generator import timed_problem
from tests.planner.page_example import page_example
from witnessmark.planner import check_plan, plan, problem_from, slack
from witnessmark.planner.check.check_plan import Rule

FEATURES = [
    ("lapse",),
    ("release", "resources"),
    ("crew", "resources"),
    ("shifts",),
    ("crew", "release"),
]


def faults_with(problem, answer, starts):
    """Faults of the plan with other starts; what its figures were is left aside."""
    moved = [
        step.model_copy(update={
            "start": start,
            "end": round(start + step.end - step.start, 1),
            "tail_end": round(start + step.tail_end - step.start, 1),
        })
        for step, start in zip(answer.steps, starts, strict=True)
    ]  # fmt: skip
    again = answer.model_copy(update={"steps": tuple(sorted(moved, key=lambda s: s.start))})
    return [fault for fault in check_plan(problem, again) if fault.rule is not Rule.FIGURE]


def random_cases():
    for seed, features in enumerate(FEATURES * 3):
        yield timed_problem(seed, *features)


@pytest.mark.parametrize("data", [page_example(), *random_cases()])
def test_all_as_early_or_all_as_late_as_said_is_a_sound_plan(data):
    data = {key: value for key, value in data.items() if key != "timed"}
    problem = problem_from(data)
    answer = plan(problem, deterministic_limit=2)
    if not answer.steps:
        return
    found = slack(problem, answer)
    for step, within in zip(answer.steps, found, strict=True):
        assert within.earliest <= step.start <= within.latest, step.name
    assert faults_with(problem, answer, [one.earliest for one in found]) == []
    assert faults_with(problem, answer, [one.latest for one in found]) == []
