"""The build sheet: what is chosen, what it brings, and another build for a book that is filled in already."""

import tomllib

import pytest

from tests.book.test_blocks import random_builds
from witnessmark.book import BookErrors, load_book_text
from witnessmark.book import build as sheet
from witnessmark.book.compose import build_over
from witnessmark.book.figures import figure_state
from witnessmark.book.figures_form import figures_sheet
from witnessmark.book.rebuild import ASIDE, kept_aside, rebuilt
from witnessmark.book.vocabulary import NOT_KNOWN

FOUR = sheet.starting_points()["naked_four"][1]
OWN = """
[services.mine]
text = "Service of mine"
jobs = ["engine_oil", "chain", "valves"]

[jobs.chain.operations.oil]
minutes = 99

[jobs.hoses]
text = "Chain case of mine"
[jobs.hoses.operations.look]
text = "Look at it"
minutes = 3
needs = { place = ["floor"] }
figures = ["chain_lubricant"]
"""
MANY = 'remove = ["jobs.chain.every_distance", "jobs.engine_oil.every_time"]\n\n[build]'


def filled(build=FOUR) -> str:
    """The sheet of a model with a source for every figure: what somebody typed."""
    text = figures_sheet(sheet.book_built(build), build=build, name="m", maker="Orlo", model="200")
    return text.replace('source = ""', 'source = "page 7"')


def typed_in(text: str) -> set[str]:
    """The figures that a text says anything of."""
    return {name for name, one in tomllib.loads(text).get("figures", {}).items() if one}


# ---------------------------------------------------------------- choices


@pytest.mark.parametrize(
    ("choices", "told"),
    [
        (["engine"], "--build engine: not a choice; write slot=block or slot.option=choice"),
        (["engine=four_stroke", "engine=electric"], '--build engine: chosen twice, "four_stroke" and "electric"'),
        (["engin=four_stroke"], '--build engin: no slot "engin"; did you mean "engine"?'),
        (["engine=four_strok"], 'no block "four_strok"; did you mean "four_stroke"?'),
        (["engine=four_stroke", "engine.bilt=V-twin"], 'no option "bilt"; did you mean "built"?'),
        (["engine=four_stroke", "engine.built=twin"], 'did you mean "parallel twin", "V-twin" or "flat twin"?'),
        (["common=common"], "--build common: every machine has it"),
        (["final_drive=chain", "rear_wheel=bolts"], '"bolts" does not go with final drive "chain"; choose "axle"'),
    ],
)  # fmt: skip
def test_a_choice_that_cannot_be_is_told_with_what_would_be_right(choices, told):
    with pytest.raises(BookErrors) as refused:
        sheet.refuse_unknown(sheet.written(choices))
    assert told in str(refused.value)


def test_choices_as_written_make_the_build_and_what_is_missing_is_named():
    build = sheet.written(["engine=four_stroke", "engine.built=V-twin", "stand = stands"])
    assert build == {"engine": {"is": "four_stroke", "built": "V-twin"}, "stand": {"is": "stands"}}
    sheet.refuse_unknown(build)
    assert sheet.missing(build) == ["front_wheel", "rear_wheel"]
    whole = sheet.whole(build)
    assert (whole["final_drive"], whole["stand"]["upright"]) == ({"is": NOT_KNOWN}, "rear stand")
    assert set(whole) == {slot.name for slot in sheet.asked()}


@pytest.mark.parametrize("slot", [one.name for one in sheet.asked() if not one.always])
def test_what_is_not_known_yet_is_an_answer_for_every_slot_that_a_machine_may_lack(slot):
    """Its jobs are not there; the rest is a sound book."""
    lacking = FOUR | {slot: {"is": NOT_KNOWN}}
    book = sheet.book_built(lacking)
    assert set(book.jobs) <= set(sheet.brings(FOUR).jobs)
    assert book.build[slot] == {"is": NOT_KNOWN}


def test_what_a_choice_brings_is_what_the_books_differ_by():
    shaft = FOUR | {"final_drive": {"is": "shaft", "plugs": "no"}}
    change = sheet.change(sheet.brings(FOUR), sheet.brings(shaft))
    before, after = sheet.book_built(FOUR), sheet.book_built(shaft)
    assert set(change.jobs_come) == {
        after.jobs[n].text for n in after.jobs.keys() - before.jobs.keys()
    }
    assert set(change.figures_go) == {
        before.figures[n].text for n in before.figures.keys() - after.figures.keys()
    }
    assert "Final drive oil" in change.jobs_come
    clip = FOUR | {"final_drive": {"is": "chain", "link": "clip"}}
    otherwise = [list(sheet.built_otherwise(FOUR, one)) for one in (shaft, clip, FOUR)]
    assert otherwise == [
        [("Final drive", "Chain", "Shaft")],
        [("Final drive", "A riveted link", "A link with a clip")],
        [],
    ]


def test_a_number_or_a_no_stands_with_its_question():
    """Alone it would tell nobody what there are two of."""
    chosen = {slot: more for slot, _block, more in sheet.in_words(FOUR)}
    assert "Drain plugs: one" in chosen["Engine oil"]
    assert "Is it in the way of the rear wheel? no" in chosen["Exhaust"]
    words = {one.lower() for more in chosen.values() for one in more}
    assert not words & {"none", "no", "yes", "one", "two", "three", "four", "six"}


def test_the_sheet_of_a_build_is_a_book_of_its_own():
    text = filled()
    book = load_book_text(text)
    assert "extends" not in tomllib.loads(text)
    assert sheet.whole(book.build) == FOUR
    assert book.machine.years == ""


# ---------------------------------------------------------------- another build

OTHERS = [
    {"final_drive": {"is": "shaft", "plugs": "no"}},
    {"front_brake": {"is": "drum", "worked": "cable", "plate": "slot"}},
    {"cooling": {"is": "air", "oil_cooler": "none"}},
    {"valve_gear": {"is": "screws", "valves": "eight", "inlet_caps": "cover"}},
    {"front_end": {"is": NOT_KNOWN}, "rear_end": {"is": NOT_KNOWN}, "clutch": {"is": NOT_KNOWN}},
]


@pytest.mark.parametrize("other", OTHERS, ids="+".join)
def test_another_build_loses_no_figure_and_the_way_back_brings_each_back(other):
    text = filled()
    made = rebuilt(text, other, "m")
    assert all(one.items() <= made.book.build[slot].items() for slot, one in other.items())
    aside = {path[1] for path, _ in kept_aside(made.text) if path[0] == "figures"}
    assert aside, "the build asks for other figures"
    assert typed_in(made.text) | aside == typed_in(text)
    assert not typed_in(made.text) & aside
    assert set(made.set_aside) == {path for path, _ in kept_aside(made.text)}

    back = rebuilt(made.text, {slot: FOUR[slot] for slot in other}, "m")
    assert set(back.taken_back) == set(made.set_aside)
    assert tomllib.loads(back.text) == tomllib.loads(text)
    assert back.book == load_book_text(text)


def test_builds_by_chance_lose_no_figure_to_one_another():
    builds = [sheet.whole(build) for build in random_builds(seed=7, count=6)]
    for before, after in zip(builds[::2], builds[1::2], strict=True):
        text = filled(before)
        made = rebuilt(text, after, "m")
        aside = {path[1] for path, _ in kept_aside(made.text) if path[0] == "figures"}
        assert typed_in(made.text) | aside == typed_in(text)
        assert sheet.whole(made.book.build) == after
        assert tomllib.loads(rebuilt(made.text, before, "m").text) == tomllib.loads(text)


def test_only_the_choice_is_written_and_only_what_has_no_place_becomes_a_comment():
    text = filled()
    lines, made = text.split("\n"), rebuilt(text, OTHERS[0], "m").text.split("\n")
    changed = [(old, new) for old, new in zip(lines, made, strict=True) if old != new]
    assert [new for _, new in changed if not new.startswith(ASIDE)] == [
        'final_drive = { is = "shaft", plugs = "no" }'
    ]
    assert all(new == ASIDE + old for old, new in changed if new.startswith(ASIDE))


def test_changes_of_ones_own_that_the_new_build_cannot_have_are_kept_whole():
    """A step of mine that speaks of the chain goes with its job; a list loses the one entry; the rest stays."""
    text = filled().replace("[build]", MANY) + OWN
    load_book_text(text)
    made = rebuilt(text, OTHERS[0], "m")
    assert "hoses" not in made.book.jobs
    assert made.book.services["mine"].jobs == ["engine_oil", "valves"]
    assert made.book.jobs["engine_oil"].every_time is None
    for line in OWN.split("\n"):
        for word in line.replace("[", " ").replace("]", " ").split():
            assert word in made.text
    assert ("jobs", "chain", "operations", "oil") in [path[:4] for path in made.set_aside]

    back = rebuilt(made.text, {"final_drive": FOUR["final_drive"]}, "m")
    assert tomllib.loads(back.text) == tomllib.loads(text)


def test_a_figure_kept_aside_that_was_entered_anew_meanwhile_stays_beside_it():
    made = rebuilt(filled(), OTHERS[0], "m")
    text = (
        made.text
        + '\n[figures.chain_lubricant]\nvalue = "wax"\ntext = "mine"\nquantity = "words"\n'
    )
    back = rebuilt(text, {"final_drive": FOUR["final_drive"]}, "m")
    assert back.book.figures["chain_lubricant"].value == "wax"
    assert ("figures", "chain_lubricant") in [path for path, _ in kept_aside(back.text)]
    assert figure_state(back.book.figures["chain_slack_least"]) == "missing"
    assert back.book.figures["chain_slack_least"].source == "page 7"


def test_a_book_that_extends_an_archetype_writes_only_the_choice_that_differs():
    head = 'format = 1\nname = "m"\ntitle = "M"\nextends = "naked_four"\n'
    head += '\n# my machine\n[machine]\nmaker = "M"\nmodel = "1"\n'
    made = rebuilt(head, {"cooling": {"is": "air", "oil_cooler": "fitted"}}, "m")
    assert tomllib.loads(made.text)["build"] == {"cooling": {"is": "air", "oil_cooler": "fitted"}}
    assert "# my machine\n[machine]" in made.text
    assert sheet.whole(made.book.build) == build_over(
        FOUR, {"cooling": {"is": "air", "oil_cooler": "fitted"}}
    )


def test_blocks_that_do_not_go_together_are_refused_and_not_kept_aside():
    with pytest.raises(BookErrors) as refused:
        rebuilt(filled(), {"rear_wheel": {"is": "bolts"}}, "m")
    assert 'Rear wheel "bolts" does not go with final drive "chain"' in str(refused.value)
