"""Changing one thing of a book in its text: only what differs is written, and it can be taken away again."""

import tomllib
from functools import cache

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from witnessmark.book import BookErrors, load_book_text
from witnessmark.book import build as sheet
from witnessmark.book.differences import differences
from witnessmark.book.edit import (
    Standing,
    as_the_block_says,
    edited,
    id_of,
    in_order,
    job_left_out,
    left_out,
    otherwise,
    says,
    standing,
)
from witnessmark.book.figures_form import figures_sheet
from witnessmark.book.select import in_turn
from witnessmark.book.text_edit import GONE, with_changes

CHAIN = ("jobs", "chain", "operations")


LEAST = {slot.name: {"is": next(iter(slot.blocks))} for slot in sheet.asked() if slot.needed} | {
    "engine": {"is": "four_stroke"}
}


@cache
def sheet_of(build: str) -> Standing:
    """A model of that archetype's build, its figures sheet empty; "least": no more than every machine has."""
    choices = sheet.starting_points()[build][1] if build != "least" else sheet.whole(LEAST)
    text = figures_sheet(
        sheet.book_built(choices), build=choices, name="m", maker="Orlo", model="200"
    )
    return standing(text, load_book_text(text))


def after(now: Standing, changes) -> Standing:
    made = edited(now, changes)
    return standing(made.text, made.book)


# ---------------------------------------------------------------- the text

TEXT = """\
# head
format = 1
name = "m"   # id

[jobs.chain.operations.oil]
# mine
minutes = 4 # measured
does = [
  "a",  # first
  "b",
]
# about figures
[figures]
a = { value = "1", source = "ü" } # why
b.value = "3"

[jobs.chain]
operations.read.minutes = 3
"""
OIL = (*CHAIN, "oil")
OILED = TEXT[TEXT.index("\n[jobs.chain.op") : TEXT.index("# about")]
THREE = "minutes = 3\n"
PLACES = {
    "a value in its place": ({(*OIL, "minutes"): 5.5}, "minutes = 4 ", "minutes = 5.5 "),
    "a key behind the others of its table": ({(*OIL, "text"): "Öl"}, '  "b",\n]\n', '  "b",\n]\ntext = "Öl"\n'),
    "a key less, its comment kept": ({(*OIL, "minutes"): GONE}, "minutes = 4 # measured", "# measured"),
    "into a table of one line": ({("figures", "a", "low"): "2"}, '"ü" }', '"ü", low = "2" }'),
    "out of a table of one line": ({("figures", "a", "value"): GONE}, 'value = "1", ', ""),
    "beside what dots have made": ({(*CHAIN, "read", "does"): ["x"]}, THREE, THREE + 'operations.read.does = ["x"]\n'),
    "a table that is not there": ({("cautions", "x", "text"): "Hot"}, THREE, THREE + '\n[cautions.x]\ntext = "Hot"\n'),
    "a list in the head": ({("remove",): ["jobs.x"]}, "# id\n", '# id\nremove = ["jobs.x"]\n'),
    "a table whole, comments kept": ({OIL: GONE}, OILED, "# mine\n# measured\n"),
}  # fmt: skip


@pytest.mark.parametrize(("changes", "old", "new"), PLACES.values(), ids=PLACES)
def test_one_thing_is_changed_where_it_stands_and_no_other_letter(changes, old, new):
    assert TEXT.count(old) == 1
    assert with_changes(TEXT, changes) == TEXT.replace(old, new)


VALUES = st.one_of(
    st.text(max_size=8), st.integers(0, 99), st.floats(0, 9).map(lambda x: round(x, 1)),
    st.lists(st.text(max_size=5), max_size=3),
)  # fmt: skip
KEYS = st.sampled_from(["a", "b", "minutes", "oil x", "ü", "chain"])
PATHS = st.one_of(
    st.tuples(st.just("figures"), KEYS, KEYS),
    st.tuples(st.just("jobs"), st.just("chain"), st.just("operations"), KEYS, KEYS),
    st.tuples(st.just("cautions"), KEYS, KEYS),
)


@given(st.lists(st.tuples(PATHS, st.one_of(VALUES, st.just(GONE))), max_size=6))
def test_whatever_is_written_is_what_the_text_then_says(changes):
    """Against the plain tables that the same changes are made to; every comment is still there."""
    text = TEXT
    for path, value in changes:
        try:
            text = with_changes(text, {path: value})
        except BookErrors:
            assert path[:3] == ("figures", "b", "value") or len(path) > 3
            continue
        here = tomllib.loads(text)
        for key in path:
            here = here.get(key, {}) if isinstance(here, dict) else {}
        assert here == ({} if value is GONE else value)
    assert [one for one in ("# head", "# mine", "# measured", "# why") if one not in text] == []


# ---------------------------------------------------------------- the edits


def test_minutes_are_an_override_and_the_blocks_own_minutes_are_none():
    now = sheet_of("naked_four")
    five = after(now, says(now, OIL, {"minutes": 5.0}))
    assert five.text == now.text + "\n[jobs.chain.operations.oil]\nminutes = 5\n"
    (one,) = otherwise(five)
    assert (one.thing, one.what, one.was, one.now) == (
        "Chain: clean, slack, oil, Oil the chain",
        "minutes",
        "2",
        "5",
    )
    assert after(five, says(five, OIL, {"minutes": 2.0})).text == now.text


def test_what_a_block_says_can_be_said_not_to_be_so_and_comes_back():
    """A limit that the manual does not give: the reading has none, until it has the block's again."""
    now = sheet_of("naked_four")
    path = ("readings", "chain_slack")
    low = now.book.readings["chain_slack"].low
    without = after(now, says(now, path, {"low": None}))
    assert without.book.readings["chain_slack"].low is None
    assert 'remove = ["readings.chain_slack.low"]' in without.text
    assert after(without, says(without, path, {"low": low})).text == now.text
    assert after(without, as_the_block_says(without, path)).text == now.text


def whole(*rows: str) -> Standing:
    """A book that extends nothing: one job of four steps, each after the one before."""
    head = 'format = 1\nname = "w"\ntitle = "W"\narchetype = true\n[jobs.hose]\ntext = "Hose"\n'
    step = '[jobs.hose.operations.{}]\ntext = "{}"\nminutes = 2\nafter = [{}]\n'
    text = head + "".join(
        step.format(name, name.upper(), f'"{ahead}"' if ahead else "")
        for ahead, name in zip(["", "a", "b", "c"], "abcd", strict=True)
    )
    text += "\n".join(rows)
    return standing(text, load_book_text(text))


def test_a_step_moved_earlier_turns_round_two_and_what_came_after_both_still_does():
    now = whole()
    moved = after(now, in_order(now, "hose", ["a", "c", "b", "d"]))
    said = {name: one.after for name, one in moved.book.jobs["hose"].operations.items()}
    assert said == {"a": [], "c": ["a"], "b": ["c"], "d": ["b"]}
    assert after(moved, in_order(moved, "hose", ["a", "b", "c", "d"])).book == now.book
    assert in_order(now, "hose", ["a", "b", "c", "d"]) == {}
    assert (now.beneath, otherwise(now)) == (None, [])


def test_only_the_step_that_is_turned_round_is_written():
    """Of two steps that no block puts in an order, one now waits for the other; the rest is as the block says."""
    now, front = sheet_of("naked_four"), ("jobs", "brake_wear", "operations", "front")
    shown = in_turn(now.book, "brake_wear")
    turned = [{"front": "rear", "rear": "front"}.get(one, one) for one in shown]
    moved = after(now, in_order(now, "brake_wear", turned))
    assert in_turn(moved.book, "brake_wear") == turned
    assert [one.path for one in otherwise(moved)] == [(*front, "after")]
    assert "ride_before/ride" in moved.book.jobs["brake_wear"].operations["front"].after
    assert after(moved, as_the_block_says(moved, front)).text == now.text


def test_a_step_that_another_must_wait_for_is_told_where_it_is_turned_round():
    """Refitted before it was taken off: the conditions do not allow it, whatever `after` says."""
    now = sheet_of("naked_four")
    with pytest.raises(BookErrors) as refused:
        edited(now, in_order(now, "engine_oil", in_turn(now.book, "engine_oil")[::-1]))
    assert "engine_oil" in str(refused.value)


def test_a_step_left_out_hands_on_what_it_came_after_and_comes_back():
    now = sheet_of("naked_four")
    less = after(now, left_out(now, "chain", ["guide"]))
    assert 'remove = ["jobs.chain.operations.guide"]' in less.text
    assert after(less, left_out(less, "chain", [])).text == now.text
    made = after(whole(), left_out(whole(), "hose", ["b", "c"]))
    assert made.book.jobs["hose"].operations["d"].after == ["a"]
    assert "operations.b" not in made.text


def test_what_came_after_a_step_left_out_comes_after_it_again_though_it_was_changed_meanwhile():
    now = sheet_of("moped")
    job, step, last = next(
        (job, a, b)
        for job, one in now.book.jobs.items()
        for b, op in one.operations.items()
        for a in op.after
        if a in one.operations and not is_needed(now, job, a)
    )
    less = after(now, left_out(now, job, [step]))
    less = after(less, says(less, ("jobs", job, "operations", last), {"minutes": 33.0}))
    back = after(less, left_out(less, job, []))
    assert [one.what for one in otherwise(back)] == ["minutes"]


def is_needed(now: Standing, job: str, step: str) -> bool:
    try:
        edited(now, left_out(now, job, [step]))
    except BookErrors:
        return True
    return False


def test_a_step_that_another_needs_is_told_with_the_one_that_needs_it():
    now = sheet_of("naked_four")
    with pytest.raises(BookErrors) as refused:
        edited(now, left_out(now, "chain", ["read_again"]))
    assert refused.value.errors[0].path[:4] == (*CHAIN, "adjust")


def test_a_job_left_out_goes_out_of_the_services_too_and_comes_back():
    now = sheet_of("naked_four")
    job = "look_over"
    less = after(now, job_left_out(now, job))
    assert job not in less.book.jobs
    assert all(job not in one.jobs for one in less.book.services.values())
    assert after(less, as_the_block_says(less, ("jobs", job))).text == now.text


def test_a_translation_of_words_that_are_gone_is_kept_aside():
    now = sheet_of("naked_four")
    text = now.text + '\n[translations.de]\n"Oil the chain" = "Kette ölen"\n'
    own = standing(text, load_book_text(text))
    made = edited(own, says(own, OIL, {"text": "Wax the chain"}))
    assert '#~ "Oil the chain" = "Kette ölen"' in made.text


def test_a_rule_of_the_trade_newly_broken_is_told_and_an_older_one_is_not():
    """Common practice, no source: the usual caution where hot oil runs out."""
    now = sheet_of("naked_four")
    path = ("jobs", "engine_oil", "operations", "drain")
    made = edited(now, says(now, path, {"cautions": []}))
    assert [one.rule.name for one in made.broken] == ["cautioned"]
    again = standing(made.text, made.book)
    assert edited(again, says(again, OIL, {"minutes": 3.0})).broken == []


def test_a_table_with_tables_of_one_line_goes_pair_by_pair_and_its_comments_stay():
    text = "[a.b]\n# kept\nx = { y = 1, z = { w = 2 } } # too\nv = 3\n[c]\nd = 1\n"
    assert with_changes(text, {("a",): GONE}) == "# kept\n# too\n[c]\nd = 1\n"


def test_ids_are_made_of_words():
    assert id_of("Hot brake disc!", []) == "hot_brake_disc"
    assert id_of("Öl, heiß", ["ol_hei"]) == "ol_hei_2"
    assert id_of("12 V", []) == "own_12_v"
    assert id_of("…", []) == "own"


def test_a_job_as_the_block_says_still_brings_nothing_that_is_left_out():
    now = sheet_of("least")
    job = next(name for name, one in now.book.jobs.items() if "wheel_line" in one.brings)
    less = after(now, job_left_out(now, "wheel_line"))
    again = after(less, as_the_block_says(less, ("jobs", job)))
    assert again.book == less.book
    assert after(again, as_the_block_says(again, ("jobs", "wheel_line"))).text == now.text


# ---------------------------------------------------------------- any sequence of them


@st.composite
def edits(draw, now: Standing):
    """One change of a job, by chance: what it is called, and the changes of the text."""
    there = sorted(now.book.jobs)
    job = draw(st.sampled_from(there))
    names = in_turn(now.book, job)
    path = ("jobs", job, "operations", draw(st.sampled_from(names)))
    below = sorted(now.beneath.jobs)
    made = {
        "minutes": lambda: says(now, path, {"minutes": draw(st.integers(1, 90)) / 2}),
        "words": lambda: says(now, path, {"does": [draw(st.text("abc ü\"'", max_size=9)) + "."]}),
        "cautions": lambda: says(now, path, {"cautions": draw(some(now.book.cautions))}),
        "order": lambda: in_order(now, job, draw(st.permutations(names))),
        "steps": lambda: left_out(now, job, draw(some(now.beneath.jobs[job].operations))),
        "job": lambda: job_left_out(now, job),
        "back": lambda: as_the_block_says(now, ("jobs", draw(st.sampled_from(below)))),
    }
    return made[draw(st.sampled_from(sorted(made)))]()


def some(names):
    """A few of them, each once."""
    return st.lists(st.sampled_from(sorted(names)), unique=True, max_size=3)


@settings(max_examples=6, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(st.data())
def test_after_any_changes_as_the_block_says_gives_the_book_back(data):
    """Sound after each that is taken; then job by job back to the blocks: the same book, the same text."""
    first = now = sheet_of("least")
    for _ in range(data.draw(st.integers(1, 5))):
        try:
            now = after(now, data.draw(edits(now)))
        except BookErrors:
            continue
    touched = {one.path[1] for one in otherwise(now) if one.path[0] == "jobs"}
    for job in data.draw(st.permutations(sorted(touched))):
        now = after(now, as_the_block_says(now, ("jobs", job)))
    assert list(differences(first.book, now.book)) == []
    assert now.book == first.book
    assert now.text == first.text
