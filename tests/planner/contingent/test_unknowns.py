"""What cannot be planned is refused: where, what is wrong, what would be right."""

import pytest

from tests.planner.contingent.drive_oil import worn_tyre
from witnessmark.planner import ProblemError, contingent_problem_from, plan_tree


def _unknown(data, **changes):
    data["unknowns"]["tyre worn"] |= changes


def _ring(data):
    data["operations"][-2]["only_if"] = ["tyre worn"]


def _ring_of_two(data):
    data["unknowns"]["rim bent"] = {"revealed_by": "change tyre", "yes": 0.5}
    data["operations"][-2]["only_if"] = ["rim bent"]


def _after_what_it_tells(data):
    data["operations"][-2]["after"] = ["change tyre"]


def _nine(data):
    for number in range(9):
        data["unknowns"][f"u{number}"] = {"revealed_by": "drain", "yes": 0.1 + number / 20}


def _no_end(data):
    data["moves"] = [move for move in data["moves"] if move["name"] != "neutral"]
    data["conditions"]["gear"]["start"] = "engaged"
    data["operations"][-1]["needs"]["gear"] = ["neutral"]
    data["operations"][0]["needs"]["gear"] = ["engaged"]


def _joint(data, **yes):
    del data["unknowns"]["tyre worn"]["yes"]
    data["joint"] = {"yes": {name.replace("_", " "): p for name, p in yes.items()}}


BAD = {
    "a probability above 1": (
        lambda data: _unknown(data, yes=1.3),
        ("$.unknowns['tyre worn'].yes", "1.3 is no probability", "from 0 to 1"),
    ),
    "a probability below 0": (
        lambda data: _unknown(data, yes=-0.1),
        ("$.unknowns['tyre worn'].yes", "-0.1 is no probability", "from 0 to 1"),
    ),
    "a reading that nothing does": (
        lambda data: _unknown(data, revealed_by="read tred"),
        ("$.unknowns['tyre worn'].revealed_by", '"read tred" is no operation', '"read tread"'),
    ),
    "a reading that is a move": (
        lambda data: _unknown(data, revealed_by="wheel off"),
        ("$.unknowns['tyre worn'].revealed_by", '"wheel off" is a move', "operations are"),
    ),
    "a reading that depends on itself": (_ring, ("$.unknowns['tyre worn']", "waits", "let one")),
    "two that wait for each other": (
        _ring_of_two,
        ("$.unknowns['tyre worn']", "read tread → change tyre", "let one"),
    ),
    "a reading after what it decides": (
        _after_what_it_tells,
        ("$.unknowns['tyre worn']", "waits", "let one"),
    ),
    "more than eight": (_nine, ("$.unknowns", "10 are open", "at most 8", "u0")),
    "no probability": (
        lambda data: data["unknowns"]["tyre worn"].pop("yes"),
        ("$.unknowns['tyre worn']", "how probable", "yes"),
    ),
    "told twice": (
        lambda data: data.update(joint={"yes": {"tyre worn": 0.5}}),
        ("$.unknowns['tyre worn'].yes", "joint", "keep one"),
    ),
    "a table beyond 1": (
        lambda data: (
            _joint(data, tyre_worn=0.7),
            data["unknowns"].update(b={"revealed_by": "drain"}),
            data["joint"]["yes"].update(b=0.7),
        ),
        ("$.joint.yes", "come to 1.4", "1 or less"),
    ),
    "a table of what is not there": (
        lambda data: _joint(data, tyre_warn=0.2),
        ("$.unknowns['tyre worn']", "how probable", "yes"),
    ),
    "an unknown that is not there": (
        lambda data: data["operations"][-1].update(only_if=["tyre torn"]),
        ("$.operations[5].only_if[0]", 'no unknown "tyre torn"', '"tyre worn"'),
    ),
    "yes and no at once": (
        lambda data: data["operations"][-1].update(only_if=["tyre worn", "!tyre worn"]),
        ("$.operations[5].only_if[0]", "both yes and no", "keep one"),
    ),
    "an answer that is missing": (
        lambda data: data.update(now={"states": {"place": "lift"}, "done": ["read tread"]}),
        ("$.now.answers", '"read tread" is done', '"tyre worn": true or false'),
    ),
    "a misspelt key": (
        lambda data: _unknown(data, reveald_by="drain"),
        ("$.unknowns['tyre worn'].reveald_by", "unknown key", '"revealed_by"'),
    ),
    "a branch that can never end": (
        _no_end,
        ("$.unknowns", "can never end: tyre worn yes", "change tyre"),
    ),
}


@pytest.mark.parametrize("what", BAD)
def test_what_cannot_be_planned_is_refused_in_words(what):
    spoil, said = BAD[what]
    data = worn_tyre()
    spoil(data)
    with pytest.raises(ProblemError) as refused:
        plan_tree(contingent_problem_from(data))
    assert [part for part in said if part not in str(refused.value)] == []
