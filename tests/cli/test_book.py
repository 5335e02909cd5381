"""`witnessmark book`, as it is called: what it prints, where, and its exit code."""

import json
import re
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from witnessmark.book import archetypes, build, load_book, revision
from witnessmark.cli import build_sheet
from witnessmark.cli.book import app

BOOKS = Path(__file__).parents[1] / "book" / "books"
T9 = str(BOOKS / "t9.toml")
START = ["new", "--name", "m"]
FOUR_STROKE = ["--build", "engine=four_stroke"]


def run(*arguments):
    return CliRunner().invoke(app, list(arguments), env={"COLUMNS": "200"})


def test_sound_books_are_checked_and_counted():
    ran = run("check", T9, str(BOOKS / "shaft.toml"))
    assert (ran.exit_code, ran.stderr) == (1, "")  # the small books break rules of the trade
    assert f"{T9}: sound; 2 jobs; figures: 3 missing, 1 unproven" in ran.stdout
    assert revision(load_book(Path(T9))) in ran.stdout


def test_a_rule_that_is_broken_is_told_with_its_line_and_how_to_answer_it(tmp_path):
    """Exit 1 until the book answers it; then 0, and told as answered."""
    mine = tmp_path / "mine.toml"
    text = (
        'format = 1\nname = "mine"\ntitle = "Mine"\nextends = "naked_four"\narchetype = true\n'
        "[access.onto_lift]\ntools = []\n"
    )
    mine.write_text(text)
    ran = run("check", str(mine))
    assert ran.exit_code == 1
    place = f"{mine}:7 access.onto_lift.tools"
    assert f"{place}: nothing holds it on the lift" in ran.stdout
    for part in (
        "rule strapped_on_the_lift: On a lift",
        "source: common practice, no source",
        "[answers.strapped",
    ):
        assert part in ran.stdout
    answer = '[answers.strapped_on_the_lift]\nbecause = "clamped"\nby = "Edda"\n'
    mine.write_text(text + answer)
    told = run("check", str(mine))
    assert told.exit_code == 0
    assert "answered by Edda: clamped" in told.stdout
    [rule] = json.loads(run("check", str(mine), "--json").stdout)[0]["rules"]
    assert (rule["place"], rule["answer"]["because"]) == (place, "clamped")


def test_a_malformed_book_is_told_on_stderr_beside_sound_ones(tmp_path):
    """Exit 2; the answer for the sound one is there all the same."""
    bad = tmp_path / "bad.toml"
    bad.write_text('format = 1\nname = "bad"\ntitle = "Bad"\narchetype = true\n[tool]\n')
    ran = run("check", str(bad), T9, "--json")
    assert ran.exit_code == 2
    told = f'{bad}:5 tool: unknown key "tool"; did you mean "tools"?'
    assert ran.stderr == told + "\n"
    first, second = json.loads(ran.stdout)
    assert first == {
        "file": str(bad),
        "errors": [
            {
                "place": f"{bad}:5 tool",
                "problem": 'unknown key "tool"',
                "expected": 'did you mean "tools"?',
            }
        ],
    }
    assert (second["name"], second["missing"], second["unproven"]) == ("t9", 3, 1)


def test_figures_missing_and_unproven_are_printed_apart():
    ran = run("figures", T9, "annual", "--json")
    assert ran.exit_code == 1
    found = json.loads(ran.stdout)
    assert found["jobs"] == ["final_drive_oil", "ride"]
    assert [use["id"] for use in found["unproven"]] == ["fill_plug_torque"]
    assert found["missing"][1] == {
        "id": "drive_oil_grade",
        "text": "Final drive oil, grade",
        "quantity": "words",
        "where": ["final_drive_oil/fill"],
    }
    words = run("figures", T9, "annual").stdout
    assert words.index("3 missing") < words.index("1 unproven") < words.index("fill_plug_torque")


def test_nothing_missing_exits_with_nothing_to_say():
    ran = run("figures", T9, "ride")
    assert (ran.exit_code, ran.stdout) == (0, "")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["figures", T9, "anual"], 't9: no job or service "anual"; did you mean "annual"?'),
        (["show", "shaft_drive_tourr"], 'did you mean "shaft_drive_tourer"?'),
        (["show", "nowhere.toml"], "nowhere.toml: cannot be read: No such file or directory"),
        (["new", "--extends", "shaft_drive_tourer", "--name", "My T9"], '--name: "My T9" will not'),
        ([*START, "--from", "naked_for"], '--from: no archetype "naked_for" that is a choice of blocks; did you mean'),
        ([*START, "--from", "moped", "--extends", "moped"], "--from: stands beside --extends; keep one of the two"),
        ([*START, "--from", "moped", "--build", "final_drive=chian"], 'no block "chian"; did you mean "chain"?'),
        (START + FOUR_STROKE + ["--build", "engine=electric"], 'chosen twice, "four_stroke" and "electric"'),
        (START + FOUR_STROKE, '--build rear_wheel: Rear wheel: nothing is chosen; choose "axle", "bolts"'),
        ([*START, "--extends", "moped", "--build", "engin=x"], 'no slot "engin"; did you mean "engine"?'),
        (["blocks", "final_driv"], 'final_driv: no such slot; did you mean "final_drive"?'),
    ],
    ids=["job", "archetype", "file", "name", "from", "both", "block", "twice", "nothing", "slot", "slots"],
)  # fmt: skip
def test_what_cannot_be_used_exits_2_with_what_would_be_right(arguments, told):
    ran = run(*arguments)
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert told in ran.stderr


def test_show_prints_the_whole_book_in_words_or_as_json():
    ran = run("show", T9)
    assert ran.exit_code == 0
    for text in ("Invented T9 (t9), invented", "60 Nm ± 10 %", "fill_plug_torque", "unproven"):
        assert text in ran.stdout
    shown = json.loads(run("show", T9, "--json").stdout)
    assert shown["revision"] == revision(load_book(Path(T9)))
    assert shown["book"]["fasteners"]["wheel_bolts"]["count"] == 5


@pytest.mark.parametrize("archetype", archetypes())
def test_a_new_model_starts_from_each_archetype(tmp_path, archetype):
    """The printed sheet is a sound book as soon as it has a name for the machine."""
    ran = run("new", "--extends", archetype, "--name", "mine", "--maker", "M", "--model", "1")
    assert (ran.exit_code, ran.stderr) == (0, "")
    (tmp_path / "mine.toml").write_text(ran.stdout)
    checked = run("check", str(tmp_path / "mine.toml"), "--json")
    assert checked.exit_code == 0, checked.stderr
    sheet = tomllib.loads(ran.stdout)
    empty = [name for name, figure in sheet["figures"].items() if figure]
    assert json.loads(checked.stdout)[0]["missing"] <= len(empty)


def test_archetypes_and_schema_are_printed():
    listed = json.loads(run("archetypes", "--json").stdout)
    assert [entry["name"] for entry in listed] == list(archetypes())
    assert json.loads(run("schema").stdout)["properties"]["extends"]["type"] == ["string", "array"]


CHOICES = ["--build", "engine=four_stroke", "--build", "engine.built=V-twin", "--build", "stand=stands",
           "--build", "front_wheel=axle", "--build", "rear_wheel=axle"]  # fmt: skip


def test_a_model_is_started_from_choices_alone_and_shows_them(tmp_path):
    """A document of its own; what was not chosen is not known, and says so."""
    about = ["--name", "mine", "--maker", "M", "--model", "1", "--years", "1999"]
    ran = run("new", *CHOICES, *about)
    assert (ran.exit_code, ran.stderr) == (0, "")
    sheet = tomllib.loads(ran.stdout)
    assert sheet["build"]["engine"] == {"is": "four_stroke", "built": "V-twin"}
    assert (sheet["build"]["final_drive"], "extends" in sheet) == ("not known", False)
    file = tmp_path / "mine.toml"
    file.write_text(ran.stdout)
    assert run("check", str(file)).exit_code == 0
    shown = run("show", str(file)).stdout
    assert re.search(r"Engine +Four-stroke +V-twin", shown)
    assert re.search(r"Final drive +not known yet", shown)


def test_a_model_begins_with_an_archetype_or_extends_it_and_says_what_differs():
    about = ["--name", "mine", "--maker", "M", "--model", "1"]
    clip = ["--build", "final_drive.link=clip"]
    own = tomllib.loads(run("new", "--from", "naked_four", *clip, *about).stdout)
    over = tomllib.loads(run("new", "--extends", "naked_four", *clip, *about).stdout)
    assert own["build"]["final_drive"] == {"is": "chain", "link": "clip"}
    assert own["build"]["engine"]["built"] == "four in line"
    assert (over["extends"], over["build"]) == ("naked_four", {"final_drive": {"link": "clip"}})
    assert over["figures"] == own["figures"]


def test_a_terminal_is_asked_for_what_is_lacking_until_it_can_be(monkeypatch):
    """Somebody who mistypes, chooses what does not go together, and names the book wrongly, loses no answer."""
    monkeypatch.setattr(build_sheet.sys, "stdin", Terminal())
    answers = {
        "Engine": ["four_strok", "four_stroke"],
        "How it is built": ["V-twin"],
        "Clutch": ["plates", "centrifugal"],
        "Gearbox oil": ["separate"],
        "Final drive": ["v_belt"],
        "id of the book (a-z, 0-9, _)": ["My own", "mine"],
        "maker of the machine": ["Orlo"],
        "model of the machine": ["2"],
    }
    said = []
    monkeypatch.setattr(build_sheet.typer, "echo", lambda words, err: said.append(words.strip()))

    def prompt(question, default=None, err=False):
        asked = [one for one in said if one in texts][-1] if question == "choose" else question
        return answers[asked].pop(0) if answers.get(asked) else default

    texts = {
        option.text
        for slot in build.asked()
        for block in build.blocks_of(slot)
        for option in block.options
    }
    texts |= {slot.text for slot in build.asked()}
    monkeypatch.setattr(build_sheet.typer, "prompt", prompt)
    given = ["stand=stands", "front_wheel=axle", "rear_wheel=axle"]
    about = {"name": "", "maker": "", "model": "", "years": ""}
    made = tomllib.loads(build_sheet.new_sheet(given, "", "", about))
    assert made["build"]["engine"] == {"is": "four_stroke", "built": "V-twin"}
    assert (made["build"]["clutch"], made["build"]["cooling"]) == ("centrifugal", "not known")
    assert (made["name"], made["title"]) == ("mine", "Orlo 2")
    for told in (
        'did you mean "four_stroke"?',
        '"plates" does not go with final drive "v_belt"',
        '"My own" will not do',
    ):
        assert any(told in one for one in said), told
    assert not any(answers.values())


class Terminal:
    def isatty(self):
        return True


def test_blocks_are_listed_in_words_with_their_options():
    words = " ".join(run("blocks").stdout.split())  # the table breaks where the terminal ends
    for text in (
        'final_drive: Final drive, or "not known"',
        "Toothed belt",
        "final_drive.link: How the chain is closed: riveted, clip",
    ):
        assert text in words
    (drive,) = json.loads(run("blocks", "final_drive", "--json").stdout)
    chain = next(block for block in drive["blocks"] if block["name"] == "chain")
    assert chain["options"][0]["choices"]["clip"] == "A link with a clip"
