"""What readings decide, told in a service book."""

from pathlib import Path

import pytest

from tests.fixtures.shop import SMALL_BOOK
from witnessmark.book import load_book
from witnessmark.errors import WitnessError
from witnessmark.planner import compile_problem, compile_undecided, plan_tree

TREAD = """
[jobs.round]
text = "Walk round"

[jobs.round.operations.tread]
text = "Read the tread"
minutes = 2
readings = ["tread"]

[jobs.round.operations.pump]
text = "Set the pressure"
minutes = 3
after = ["tread"]
only_if = { reading = "tread", outside = false }
likely = 0.7

[jobs.round.operations.mark]
text = "Mark the tyre"
minutes = 1
after = ["tread"]
only_if = { reading = "tread", below = "tread_least" }
likely = 0.3
"""


def _book(tmp_path: Path, *changes: tuple[str, str]):
    text = SMALL_BOOK.read_text(encoding="utf-8") + TREAD
    text = text.replace(
        'every_time = "tyre_time"', 'every_time = "tyre_time"\nearly = ["tread"]\nlikely = 0.3'
    )
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    file = tmp_path / "book.toml"
    file.write_text(text, encoding="utf-8")
    return load_book(file)


def test_a_reading_of_the_book_decides_about_steps_and_about_the_job_it_brings(tmp_path):
    """By pencil: 2 to read; in three cases of ten 6 + 30 + 8 for the tyre and 1 to mark it, else 3 to pump."""
    book = _book(tmp_path)
    found = compile_undecided(book, ["round"], perhaps=["tyre", "lights"])
    assert found.left_out == ()
    unknowns = found.problem.unknowns
    assert {name: (u.revealed_by, round(u.yes, 9)) for name, u in unknowns.items()} == {
        "tread outside": ("round/tread", 0.3),
        "tread below tread_least": ("round/tread", 0.3),
    }
    tree = plan_tree(found.problem)
    expected = 2 + 0.3 * (6 + 30 + 8) + 0.3 * 1 + 0.7 * 3
    assert tree.expected_attended_minutes == pytest.approx(expected)


def test_the_shops_own_figure_replaces_the_books(tmp_path):
    found = compile_undecided(
        _book(tmp_path), ["round"], perhaps=["tyre"], likely={"tread outside": 0.05}
    )
    assert found.problem.unknowns["tread outside"].yes == 0.05


def test_what_was_read_is_decided(tmp_path):
    """Read and outside: the tyre is changed, and nothing is asked of the tread any more."""
    known = {"tread outside": True, "tread below tread_least": True}
    found = compile_undecided(
        _book(tmp_path), ["round"], perhaps=["tyre"], answers=known, done=["round/tread"]
    )
    assert found.problem.unknowns == {}
    names = [operation.name for operation in found.problem.operations]
    assert names == ["round/mark", "tyre/swap"]


def test_what_nobody_reads_on_this_visit_decides_nothing(tmp_path):
    """The job is taken on by itself, and lights read nothing: no tyre is perhaps needed."""
    book = _book(tmp_path)
    found = compile_undecided(book, ["lights"], perhaps=["tyre"])
    assert found.problem.union == compile_problem(book, ["lights"])


def test_more_than_can_be_told_apart_are_planned_as_no_and_named(tmp_path):
    more = "".join(
        f'\n[jobs.round.operations.step{n}]\ntext = "Step {n}"\nminutes = 1\nafter = ["tread"]\n'
        f'only_if = {{ reading = "tread{n}", outside = true }}\nlikely = 0.{n}\n'
        f'\n[jobs.round.operations.read{n}]\ntext = "Read {n}"\nminutes = 1\nreadings = ["tread{n}"]\n'
        f'\n[readings.tread{n}]\ntext = "Tread {n}"\nquantity = "length"\nunit = "mm"\nlow = "tread_least"\n'
        for n in range(1, 8)
    )
    book = _book(tmp_path, (TREAD, TREAD + more))
    found = compile_undecided(book, ["round"])
    assert len(found.problem.unknowns) == 8
    assert found.left_out == ("tread1 outside",)
    assert "round/step1" not in [operation.name for operation in found.problem.operations]


EITHER = TREAD.replace('readings = ["tread"]', 'readings = ["tread", "other"]').replace(
    'reading = "tread", below = "tread_least" }\nlikely = 0.3',
    'reading = "tread", or_reading = ["other"], below = "tread_least" }\nlikely = 0.36\nalways_with = ["lights"]',
) + '\n[readings.other]\ntext = "The other"\nquantity = "length"\nunit = "mm"\nlow = "tread_least"\n'  # fmt: skip


def test_one_of_two_readings_will_do(tmp_path):
    """By pencil: each below with 0.2, one of them with 1 - 0.8 * 0.8 = 0.36: 2 to read, 1 to mark, 3 to pump."""
    found = compile_undecided(_book(tmp_path, (TREAD, EITHER)), ["round"])
    told = {o.name: o.only_if for o in found.problem.operations if o.only_if}
    assert told["round/mark"] == ("tread below tread_least|other below tread_least",)
    tree = plan_tree(found.problem)
    assert tree.expected_attended_minutes == pytest.approx(2 + 0.36 * 1 + 0.7 * 3)
    known = {"tread below tread_least": False, "other below tread_least": True}
    found = compile_undecided(_book(tmp_path, (TREAD, EITHER)), ["round"], answers=known)
    assert "round/mark" in [o.name for o in found.problem.operations]


def test_what_is_always_done_with_a_job_waits_for_no_reading(tmp_path):
    """Also where a reading brings that job: then its answer will do as well."""
    change = ('likely = 0.36\nalways_with = ["lights"]', 'likely = 0.36\nalways_with = ["tyre"]')
    book = _book(tmp_path, (TREAD, EITHER.replace(*change)))
    found = compile_undecided(book, ["round", "tyre"])
    assert "round/mark" not in {o.name for o in found.problem.operations if o.only_if}
    found = compile_undecided(book, ["round"], perhaps=["tyre"])
    told = {o.name: o.only_if for o in found.problem.operations}
    rows = "tread below tread_least|other below tread_least|tread outside"
    assert told["round/mark"] == (rows,)
    assert told["tyre/swap"] == ("tread outside",)


BAD = {
    "a reading that is not there": (
        ('{ reading = "tread", outside', '{ reading = "tred", outside'),
        ("only_if.reading", 'no reading "tred"', '"tread"'),
    ),
    "a figure that is not there": (
        ('below = "tread_least"', 'below = "tread_lest"'),
        ("only_if.below", 'no figure "tread_lest"', '"tread_least"'),
    ),
    "two things at once": (
        ('below = "tread_least"', 'below = "tread_least", outside = true'),
        ("only_if", "not one thing", "give one of"),
    ),
    "another reading that is not there": (
        ('"tread", below', '"tread", or_reading = ["tred"], below'),
        ("only_if.or_reading", 'no reading "tred"', '"tread"'),
    ),
    "always with a job that is not there": (
        ("likely = 0.7", 'likely = 0.7\nalways_with = ["tyres"]'),
        ("always_with", 'no job "tyres"', '"tyre"'),
    ),
    "always with a job, and always done": (
        ('text = "Read the tread"', 'text = "Read the tread"\nalways_with = ["tyre"]'),
        ("always_with", "always done", "only_if"),
    ),
    "how likely is missing": (("likely = 0.7\n", ""), ("only_if", '"likely"', "give")),
    "how likely, and of what": (
        ('only_if = { reading = "tread", outside = false }\n', ""),
        ("likely", '"only_if"', "give"),
    ),
    "more likely than certain": (("likely = 0.7", "likely = 1.7"), ("likely", "1.7", "1")),
    "a job that nothing brings": (
        ('early = ["tread"]\n', ""),
        ("jobs.tyre.likely", "could bring it", "early"),
    ),
}


@pytest.mark.parametrize("what", BAD)
def test_a_book_that_says_it_wrongly_is_refused_in_words(what, tmp_path):
    change, said = BAD[what]
    with pytest.raises(WitnessError) as refused:
        _book(tmp_path, change)
    assert [part for part in said if part not in str(refused.value)] == []


def test_a_step_cannot_wait_for_what_it_reads_itself(tmp_path):
    change = ('only_if = { reading = "tread", below', 'only_if = { reading = "gap", below')
    more = '\n[readings.gap]\ntext = "Gap"\nquantity = "length"\nunit = "mm"\nlow = "tread_least"\n'
    with pytest.raises(WitnessError, match='no other step reads "gap"'):
        _book(tmp_path, change, (TREAD.replace(*change), TREAD.replace(*change) + more))


def test_what_is_opened_is_closed_whatever_was_read(tmp_path):
    """A nut loosened always and made tight only where the tread is low would stay loose where it is not."""
    text = TREAD.replace(
        'text = "Set the pressure"', 'text = "Set the pressure"\nloosens = ["axle_nut"]'
    )
    tight = text.replace(
        'text = "Mark the tyre"', 'text = "Mark the tyre"\ntightens = ["axle_nut"]'
    )
    nut = '\n[fasteners.axle_nut]\ntext = "Nut"\ngrade = "counted"\n'
    with pytest.raises(WitnessError, match='done without "round/mark"'):
        _book(tmp_path, (TREAD, tight + nut))
    same = tight.replace(
        'reading = "tread", below = "tread_least"', 'reading = "tread", outside = false'
    )
    assert _book(tmp_path, (TREAD, same + nut))


def test_more_readings_about_one_job_than_can_be_gone_through_are_refused(tmp_path):
    more = "".join(
        f'\n[jobs.round.operations.step{n}]\ntext = "Step {n}"\nminutes = 1\nafter = ["tread"]\n'
        f'only_if = {{ reading = "tread{n}", outside = true }}\nlikely = 0.1\n'
        f'\n[jobs.round.operations.read{n}]\ntext = "Read {n}"\nminutes = 1\nreadings = ["tread{n}"]\n'
        f'\n[readings.tread{n}]\ntext = "Tread {n}"\nquantity = "length"\nunit = "mm"\nlow = "tread_least"\n'
        for n in range(1, 10)
    )
    with pytest.raises(WitnessError, match="readings decide about its steps"):
        _book(tmp_path, (TREAD, TREAD + more))
