"""The trade's rules: each is broken by one slip, told where it was made, and answered by name and reason."""

import tomllib
from pathlib import Path

import pytest

from tests.shipped_books.planned import archetype
from witnessmark.book import BookErrors, archetypes, load_book_text
from witnessmark.book.figures_form import figures_sheet
from witnessmark.book.load import load_text_placed
from witnessmark.book.rules import RULES, answered, findings

HEAD = 'format = 1\nname = "slipped"\ntitle = "Slipped"\narchetype = true\nextends = "{}"\n'
SLIPS = tomllib.loads((Path(__file__).parent / "slips.toml").read_text())["slip"]


def text(archetype, says="", remove=()):
    """A document over an archetype."""
    return f"{HEAD.format(archetype)}remove = {[*remove]}\n{says}"


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: f"{slip['rule']}-{slip['where']}")
def test_a_slip_breaks_its_rule_and_is_told_where_it_stands(slip):
    says, remove = slip.get("says", ""), slip.get("remove", ())
    placed = load_text_placed(text(slip["archetype"], says, remove))
    told = [placed.place(fault.path) for fault in RULES[slip["rule"]].broken(placed.book)]
    found = [place for place in told if place.endswith(f" {slip['where']}")]
    assert found, told
    said = says.splitlines()
    if said and said[0] == f"[{slip['where'].rpartition('.')[0]}]" and not remove:
        assert {place.partition(" ")[0] for place in found} == {"pasted:8"}  # the key that says so


def test_every_rule_has_a_slip_that_breaks_it_and_says_why_it_is_one():
    assert {slip["rule"] for slip in SLIPS} == set(RULES)
    for rule in RULES.values():
        assert all(words.endswith(".") for words in (rule.holds, rule.because)), rule.name
        assert rule.source.startswith("common practice, no source")


@pytest.mark.parametrize("name", archetypes())
def test_every_archetype_keeps_the_rules(name):
    assert findings(archetype(name)) == []


ANSWERED = text("naked_four", "[access.onto_lift]\ntools = []\n") + (
    '[answers.strapped_on_the_lift]\nbecause = "a lift with a clamp for the wheel"\nby = "head of the shop"\n'
)


def test_an_answer_is_told_beside_the_finding_and_on_the_figures_sheet():
    book = load_book_text(ANSWERED)
    [found] = findings(book)
    assert found.answer.because == "a lift with a clamp for the wheel"
    assert list(answered(book, ["front_tyre"])) == ["strapped_on_the_lift"]
    assert answered(book, ["look_over"]) == {}  # no lift in that work
    sheet = figures_sheet(book, name="mine")
    assert "head of the shop: a lift with a clamp for the wheel" in sheet
    assert "# Rule strapped_on_the_lift: On a lift the machine is strapped." in sheet


def test_an_answer_to_a_rule_that_is_kept_says_nothing():
    book = load_book_text(ANSWERED.replace("tools = []", 'tools = ["straps"]'))
    assert findings(book) == []
    assert answered(book, book.jobs) == {}


def test_an_answer_to_no_rule_is_refused_with_the_nearest():
    with pytest.raises(BookErrors) as refused:
        load_book_text(
            ANSWERED.replace("answers.strapped_on_the_lift", "answers.straped_on_the_lift")
        )
    [error] = refused.value.errors
    assert error.place == "pasted:9 answers.straped_on_the_lift"
    assert 'no rule "straped_on_the_lift"; did you mean "strapped_on_the_lift"?' in str(error)


def test_an_answer_without_a_reason_or_a_name_is_refused():
    for key in ("because", "by"):
        kept = "\n".join(line for line in ANSWERED.splitlines() if not line.startswith(key))
        with pytest.raises(BookErrors) as refused:
            load_book_text(kept)
        assert f'"{key}" is missing' in str(refused.value)
