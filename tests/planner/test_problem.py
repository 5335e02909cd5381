"""The form: what is refused, where, and what would be right."""

import json

import jsonschema
import pytest

from tests.planner.page_example import page_example
from witnessmark.planner import ProblemError, load_problem, plan, problem_from, problem_schema


def _refused(data):
    with pytest.raises(ProblemError) as caught:
        problem_from(data, file="p.json")
    return caught.value


def _changed(path, value):
    """The page's example with one value changed, added or (value None) taken out."""
    data = page_example()
    here = data
    for part in path[:-1]:
        here = here[part]
    if value is None:
        del here[path[-1]]
    else:
        here[path[-1]] = value
    return data


def test_the_whole_example_of_the_page_is_read():
    problem = problem_from(page_example())
    assert [len(problem.conditions), len(problem.moves), len(problem.operations)] == [6, 6, 4]
    assert problem.step("drain").tenths == 120


OP = ("operations", 1)


@pytest.mark.parametrize(
    ("path", "value", "place", "expected"),
    [
        ((*OP, "needs"), {"rear_wheel": ["of"]}, "$.operations[1].needs.rear_wheel[0]", '"off"'),
        ((*OP, "needs"), {"rear_weel": ["off"]}, "$.operations[1].needs", '"rear_wheel"'),
        ((*OP, "mintues"), 3, "$.operations[1].mintues", '"minutes"'),
        ((*OP, "minutes"), None, "$.operations[1].minutes", "minutes"),
        ((*OP, "minutes"), 0.25, "$.operations[1].minutes", "give 0.2"),
        ((*OP, "minutes"), -1, "$.operations[1].minutes", "0 or more"),
        ((*OP, "minutes"), True, "$.operations[1].minutes", "a number such as"),
        ((*OP, "minutes"), 1_000_000, "$.operations[1].minutes", "at most 100000"),
        ((*OP, "minutes"), 10**400, "$.operations[1].minutes", "at most 1000000"),
        ((*OP, "release"), 1_000_000, "$", "over within 1000000 minutes"),
        ((*OP, "unattended"), float("nan"), "$.operations[1].unattended", "a number such as"),
        ((*OP, "hands"), 2, "$.operations[1].hands", "at most 1"),
        ((*OP, "after"), ["dran"], "$.operations[1].after[0]", '"drain"'),
        ((*OP, "after"), ["wheel on"], "$.operations[1].after[0]", "operations only"),
        ((*OP, "after"), ["fill and close"], "$.operations[1].after", "drop one"),
        ((*OP, "uses"), {"lft": 1}, "$.operations[1].uses", '"lift"'),
        ((*OP, "name"), "wheel on", "$.operations[1].name", "a name of its own"),
        ((*OP, "name"), " ", "$.operations[1].name", "at least one letter"),
        ((*OP, "sets"), {"drain_plug": "tigth"}, "$.operations[1].sets.drain_plug", '"tight"'),
        (("conditions", "gear", "start"), "park", "$.conditions.gear.start", '"neutral"'),
        (("conditions", "gear", "states"), [], "$.conditions.gear.states", "at least 1"),
        (("conditions", "gear", "exposed"), ["in"], "$.conditions.gear.exposed[0]", "engaged"),
        (
            ("conditions", "engine", "lapse", "cold"),
            {"after": 5, "to": "warm"},
            "$.conditions.engine.lapse.warm",
            "let the last state stay",
        ),
        (("resources",), {}, "$.conditions.place.holds.lift", "no resource is declared"),
        (("technicians",), [], "$.technicians", "at least 1"),
        (("never", 0), {}, "$.never[0]", "at least 1"),
        (("horizon",), "soon", "$.horizon", "a number such as"),
        (("now",), {"done": ["drane"]}, "$.now.done[0]", '"drain"'),
        (("moves", 0), 7, "$.moves[0]", "in braces"),
    ],
)
def test_a_fault_is_told_with_its_place_and_what_would_be_right(path, value, place, expected):
    error = _refused(_changed(path, value))
    assert error.place == f"p.json {place}"
    assert expected in error.expected
    assert error.problem


def test_a_step_of_no_time_is_refused():
    data = page_example()
    data["moves"][0]["minutes"] = 0
    assert "no time" in _refused(data).problem


def test_too_many_operations_are_refused_at_once():
    data = page_example()
    data["operations"] = [{"name": f"o{n}", "minutes": 1} for n in range(10_001)]
    assert "at most 10000" in _refused(data).expected


@pytest.mark.parametrize(
    ("text", "place", "violation"),
    [
        ('{"horizon": 5, "horizon": 6}', "$.horizon", "twice"),
        ('{"operations": [{"name": "a", "minutes": NaN}]}', "$.operations[0].minutes", "nan"),
        ('{"horizon": 1e999}', "$.horizon", "inf"),
        ('{"horizon": 5', "$", "line 1, column 14"),
        ("[]", "$", "[]"),
        ("[" * 100_000, "$", "JSON"),
    ],
)
def test_text_that_is_no_problem_is_refused(text, place, violation):
    with pytest.raises(ProblemError) as caught:
        load_problem(text, file="p.json")
    assert caught.value.place == f"p.json {place}"
    assert violation in caught.value.problem


@pytest.mark.parametrize(
    ("text", "path"),
    [
        (r'{"operations": [{"name": "a\ud800", "minutes": 1}]}', "$.operations[0].name"),
        (r'{"conditions": {"\udfff": {}}}', "$.conditions"),
    ],
)
def test_half_a_letter_is_refused_where_it_stands(text, path):
    """JSON may escape half of a surrogate pair; no output could print it again."""
    with pytest.raises(ProblemError) as caught:
        load_problem(text)
    assert caught.value.place == f"problem {path}"


def test_a_plan_that_reaches_far_is_planned_and_checked():
    """The last that may be asked: a release of nearly two years, with a move after it."""
    data = {
        "conditions": {"c": {"states": ["x", "y"], "start": "x", "finish": "x"}},
        "moves": [{"name": "m", "minutes": 1, "release": 999_990, "needs": {"c": ["y"]}, "sets": {"c": "x"}}],
        "operations": [{"name": "a", "minutes": 1, "sets": {"c": "y"}}],
    }  # fmt: skip
    answer = plan(problem_from(data))
    assert (answer.status, answer.finish_minutes) == ("optimal", 999_991)


def test_the_schema_accepts_the_example_and_refuses_an_unknown_key():
    validator = jsonschema.Draft202012Validator(problem_schema())
    assert list(validator.iter_errors(json.loads(json.dumps(page_example())))) == []
    assert list(validator.iter_errors(_changed((*OP, "mintues"), 3)))


def test_a_changed_copy_knows_its_own_steps():
    problem = problem_from({"operations": [{"name": "o", "minutes": 1, "release": 5}]})
    assert problem.step("o").release == 5
    (operation,) = problem.operations
    now = problem.model_copy(
        update={"operations": (operation.model_copy(update={"release": 0.0}),)}
    )
    assert now.step("o").release == 0
