"""What is not solved yet is refused by name, never ignored."""

import pytest

from tests.planner.page_example import page_example, plain_example
from witnessmark.planner import NotYetSolvedError, plan, problem_from

OTHER = {"name": "B", "skills": []}


@pytest.mark.parametrize(
    ("change", "key", "place"),
    [
        ({"technicians": [{"name": "A"}, OTHER]}, "technicians", "$.technicians[1]"),
        ({"technicians": [{"name": "A", "skills": ["x"]}]}, "skills", "$.technicians[0].skills"),
        (
            {"technicians": [{"name": "A", "shifts": [[0, 60]]}]},
            "shifts",
            "$.technicians[0].shifts",
        ),
        ({"now": {}}, "now", "$.now"),
    ],
)
def test_a_key_not_solved_yet_is_named(change, key, place):
    with pytest.raises(NotYetSolvedError) as caught:
        plan(problem_from(plain_example() | change))
    assert (caught.value.key, caught.value.place) == (key, place)


@pytest.mark.parametrize(
    ("key", "value"), [("release", 5), ("uses", {"lift": 1}), ("skills", ["brakes"])]
)
def test_a_key_of_a_step_not_solved_yet_is_named(key, value):
    data = plain_example()
    data["operations"][2][key] = value
    with pytest.raises(NotYetSolvedError) as caught:
        plan(problem_from(data))
    assert (caught.value.key, caught.value.place) == (key, f"$.operations[2].{key}")


def test_the_whole_example_is_refused_for_its_lapse():
    with pytest.raises(NotYetSolvedError, match="lapse"):
        plan(problem_from(page_example()))
