"""The checker on changes of machine: sound changes pass, each broken one is found; by pencil."""

import pytest

from witnessmark.planner import Answer, check_plan, problem_from
from witnessmark.planner.check.check_plan import Rule

PROBLEM = {
    "conditions": {
        "plug": {
            "states": ["in", "out"],
            "start": "in",
            "finish": "in",
            "exposed": ["out"],
            "lapse": {"out": {"after": 100, "to": "in"}},
        }
    },
    "operations": [
        {
            "name": "drain",
            "machine": "one",
            "minutes": 2,
            "unattended": 10,
            "needs": {"plug": ["in"]},
            "sets": {"plug": "out"},
        },
        {
            "name": "close",
            "machine": "one",
            "minutes": 2,
            "unattended": 1,
            "needs": {"plug": ["out"]},
            "sets": {"plug": "in"},
        },
        {"name": "lights", "machine": "two", "minutes": 5},
        {"name": "sweep", "minutes": 3},
    ],
    "technicians": [{"name": "A"}, {"name": "B"}],
    "change_minutes": 2,
}
LENGTHS = {"drain": (2, 10), "close": (2, 1), "lights": (5, 0), "sweep": (3, 0)}


def _faults(*work, **changed):
    """Faults of rule 4 in a plan of (name, start, who); figures are left aside."""
    steps = [
        {
            "name": name,
            "kind": "operation",
            "start": start,
            "end": start + LENGTHS[name][0],
            "tail_end": start + sum(LENGTHS[name]),
            "technicians": [who],
        }
        for name, start, who in sorted(work, key=lambda one: one[1])
    ]
    answer = Answer.model_validate({"status": "feasible", "steps": steps})
    found = check_plan(problem_from(PROBLEM | changed), answer)
    return [fault.words for fault in found if fault.rule == Rule.PEOPLE]


ALONE = (("drain", 0, "A"), ("close", 12, "A"))


@pytest.mark.parametrize(
    "work",
    [
        (*ALONE, ("lights", 17, "A"), ("sweep", 22, "A")),  # closed at 15, two minutes to change
        (*ALONE, ("lights", 0, "B"), ("sweep", 5, "B")),  # he opened nothing and changes nothing
        (*ALONE, ("sweep", 2, "A"), ("lights", 17, "A")),  # sweeping is no machine
        (("lights", 0, "A"), ("drain", 7, "A"), ("close", 19, "A"), ("sweep", 0, "B")),
        (("drain", 0, "B"), ("close", 12, "A"), ("lights", 0, "A"), ("sweep", 5, "A")),
    ],
)
def test_sound_changes_pass(work):
    assert _faults(*work) == []


def test_a_change_takes_its_minutes():
    work = (("lights", 0, "A"), ("drain", 6, "A"), ("close", 18, "A"), ("sweep", 0, "B"))
    (words,) = _faults(*work)
    assert "goes from lights to drain in 1 minutes; another machine takes 2" in words
    assert _faults(*work, change_minutes=1) == []


def test_nobody_leaves_what_he_opened():
    """A drains on machine one and goes to machine two while the oil runs."""
    work = (("drain", 0, "A"), ("lights", 4, "A"), ("close", 12, "A"), ("sweep", 0, "B"))
    assert any("plug, opened by drain, is not closed" in words for words in _faults(*work))
    assert _faults(*work, change_minutes=None) == []


def test_that_somebody_else_closes_it_does_not_free_him_before_it_is_closed():
    work = (("drain", 0, "A"), ("close", 12, "B"), ("lights", 16, "A"), ("sweep", 0, "B"))
    (words,) = _faults(*work)
    assert "not closed 2 minutes before" in words


def test_what_lapses_is_closed():
    """The plug closes by itself after a hundred minutes: 12 + 100, and two to change."""
    steps = (("drain", 0, "A"), ("sweep", 0, "B"))
    late, early = (*steps, ("lights", 114, "A")), (*steps, ("lights", 113, "A"))
    assert _faults(*late) == []
    assert len(_faults(*early)) == 1


def test_a_machine_is_late_by_its_last_access_step_too():
    problem = problem_from(
        {
            "conditions": {"seat": {"states": ["on", "off"], "start": "on", "finish": "on"}},
            "moves": [
                {
                    "name": n,
                    "machine": "one",
                    "minutes": 1,
                    "needs": {"seat": [a]},
                    "sets": {"seat": b},
                }
                for n, a, b in (("off", "on", "off"), ("on", "off", "on"))
            ],
            "operations": [
                {"name": "look", "machine": "one", "minutes": 2, "needs": {"seat": ["off"]}}
            ],
            "due_by": {"one": 3},
        }
    )
    steps = [
        {"name": name, "kind": kind, "start": at, "end": end, "tail_end": end, "technicians": ["A"]}
        for name, kind, at, end in (
            ("off", "move", 0, 1),
            ("look", "operation", 1, 3),
            ("on", "move", 3, 4),
        )
    ]
    figures = {"finish_minutes": 4, "attended_minutes": 4, "exposure_minutes": 0, "walks": 0}
    answer = {"status": "feasible", "steps": steps, "late": {"one": 1}} | figures
    assert check_plan(problem, Answer.model_validate(answer)) == []
    assert len(check_plan(problem, Answer.model_validate(answer | {"late": {}}))) == 1
