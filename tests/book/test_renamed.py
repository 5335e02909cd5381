"""A book goes on loading when what it extends has changed its names."""

import tomllib

import pytest

from witnessmark.book import BookErrors, archetypes, load_book, load_book_text

BASE = """
format = 1
name = "base"
title = "Base"
archetype = true

[build]
engine = "electric"
final_drive = "belt"
stand = "stands"
front_wheel = "axle"
rear_wheel = "axle"
front_brake = "disc"
rear_brake = "disc"
front_end = "telescopic"
rear_end = { is = "swinging_arm", dampers = "two" }
body = "motorcycle"
electrics = "battery"

[renamed]
"figures.axle_torque" = "figures.rear_axle_torque"
"fasteners.big_nut" = "fasteners.rear_axle"
"access.onto_rear_stand" = "access.onto_stand"
"conditions.stand.states.rear" = "conditions.stand.states.upright"
"jobs.tyres.operations.read" = "jobs.tyres.operations.read_front"
"""
OLD = """
format = 1
name = "model"
title = "Model"
extends = "base.toml"

[machine]
maker = "Invented"
model = "1"

[figures]
axle_torque = { value = "90 Nm", source = "invented, p. 1" }

[fasteners.big_nut]
thread = "M16x1.5"

[jobs.tyres.operations.read]
minutes = 9

[jobs.mine]
text = "Mine"

[jobs.mine.operations.look]
text = "Look at it, on its stand"
minutes = 1
needs = { stand = ["rear"] }
after = ["tyres/read"]
figures = ["axle_torque"]
"""


@pytest.fixture
def model(tmp_path):
    (tmp_path / "base.toml").write_text(BASE)

    def loaded(text):
        path = tmp_path / "model.toml"
        path.write_text(text)
        return load_book(path)

    return loaded


def test_names_of_old_mean_what_they_are_called_now(model):
    """As key of a table, as name in another step, and as a state."""
    book = model(OLD)
    assert book.figures["rear_axle_torque"].value == "90 Nm"
    assert book.fasteners["rear_axle"].thread == "M16x1.5"
    assert book.jobs["tyres"].operations["read_front"].minutes == 9
    look = book.jobs["mine"].operations["look"]
    assert look.needs == {"stand": ["upright"]}
    assert look.after == ["tyres/read_front"]
    assert look.figures == ["rear_axle_torque"]
    assert "axle_torque" not in book.figures
    assert "read" not in book.jobs["tyres"].operations


def test_it_is_the_book_that_says_the_new_names(model):
    now = OLD
    for old, new in {
        "axle_torque": "rear_axle_torque", "big_nut": "rear_axle", "operations.read]": "operations.read_front]",
        "tyres/read": "tyres/read_front", '["rear"]': '["upright"]',
    }.items():  # fmt: skip
        now = now.replace(old, new)
    assert model(OLD) == model(now)


def test_a_removal_may_name_what_was(model):
    """What is taken away is the step under its new name."""
    text = OLD.replace("[machine]", 'remove = ["access.onto_rear_stand.cautions"]\n\n[machine]', 1)
    assert model(text).access["onto_stand"].cautions == []


def test_where_both_are_said_the_new_name_counts(model):
    said = 'rear_axle_torque = { value = "95 Nm" }\n[fasteners.big_nut]'
    book = model(OLD.replace("[fasteners.big_nut]", said))
    figure = book.figures["rear_axle_torque"]
    assert (figure.value, figure.source) == ("95 Nm", "invented, p. 1")


def test_a_mark_on_the_value_of_old_is_none_on_a_new_one(model):
    """Corrected on the page, which writes the name of now: who compared the old value did not see this one."""
    old = OLD.replace('p. 1" }', 'p. 1", checked = { by = "A. Orlan", on = 2026-01-31 } }')
    assert model(old).figures["rear_axle_torque"].checked
    now = old.replace(
        "[fasteners.big_nut]", 'rear_axle_torque.value = "95 Nm"\n[fasteners.big_nut]'
    )
    assert model(now).figures["rear_axle_torque"].checked is None


def test_a_fault_is_told_at_the_line_of_the_text(model):
    text = OLD.replace('"90 Nm"', '"90"')
    line = 1 + text.splitlines().index('axle_torque = { value = "90", source = "invented, p. 1" }')
    with pytest.raises(BookErrors) as told:
        model(text)
    assert f"model.toml:{line} figures.rear_axle_torque.value" in str(told.value)


def test_what_is_no_renaming_is_told():
    text = BASE + '"figures.a" = "fasteners.b"\n'
    with pytest.raises(BookErrors) as told:
        load_book_text(text)
    assert "not two names of one table" in str(told.value)


def test_no_name_of_old_is_a_name_of_now_in_a_shipped_archetype():
    """Else a new book could not say it; and what an old book says is there under its new name."""
    renamed = 0
    for file in archetypes().values():
        book = load_book(file).model_dump()
        for old, new in tomllib.loads(file.read_text(encoding="utf-8")).get("renamed", {}).items():
            assert (standing(book, old), standing(book, new)) == (False, True), old
            renamed += 1
    assert renamed


def standing(book, path):
    *tables, name = path.split(".")
    for table in tables:
        book = book.get(table, {})
    return name in book


def test_a_book_of_the_single_as_it_was_written_still_loads():
    """Every name that the archetype of then had and that of now has not; invented values."""
    book = load_book_text(
        """
format = 1
name = "old"
title = "Old"
extends = "chain_drive_single"

[machine]
maker = "Invented"
model = "1"

[figures]
filter_cover_torque = { value = "9 Nm", source = "invented, p. 1" }
chain_guard_torque = { value = "6 Nm", source = "invented, p. 1" }

[fasteners]
filter_cover = { thread = "M6" }
front_bleeder = { thread = "M8" }
rear_bleeder = { thread = "M8" }
spark_plug = { thread = "M10x1" }

[access]
onto_rear_stand = { minutes = 2, needs = { stand = ["side"], rear_wheel = ["pinned", "tight"] } }
off_rear_stand = { minutes = 2 }
pump_lever = { minutes = 2 }
pump_pedal = { minutes = 2 }

[jobs.brake_fluid.operations]
front = { minutes = 11 }
rear = { minutes = 12 }
hold = { minutes = 13, after = ["front", "rear"] }

[jobs.fork_oil.operations]
legs_out = { minutes = 14 }
legs_in = { minutes = 15 }

[jobs.look_over.operations]
battery = { minutes = 16 }
steering = { minutes = 17 }

[jobs.tyres.operations]
read = { minutes = 18 }
"""
    )
    assert book.fasteners["oil_filter"].thread == "M6"
    assert book.access["onto_stand"].needs["rear_wheel"] == ["tight"]
    front, rear = (book.jobs[f"{end}_brake_fluid"].operations for end in ("front", "rear"))
    assert front["hold"].after == ["flush", "rear_brake_fluid/flush"]
    assert (front["flush"].minutes, rear["flush"].minutes) == (11, 12)
    assert book.jobs["battery"].operations["test"].minutes == 16


@pytest.mark.parametrize("name", ["belt_drive_scooter", "shaft_drive_tourer"])
def test_every_name_that_an_archetype_had_may_still_be_said(name):
    """Minutes for each step of then, a thread for each fastener, a value for each figure; invented."""
    renamed = tomllib.loads(archetypes()[name].read_text(encoding="utf-8"))["renamed"]
    lines = {"access": "minutes = 7", "fasteners": 'thread = "M8"', "figures": 'source = "p. 1"'}
    said = [
        f"[{old}]\n{lines.get(table, 'minutes = 7')}\n"
        for old in renamed
        if (table := old.split(".")[0]) in lines or ".operations." in old
    ]
    head = f'format = 1\nname = "old"\ntitle = "Old"\nextends = "{name}"\ninvented = true\n'
    machine = '[machine]\nmaker = "Invented"\nmodel = "1"\n'
    book = load_book_text(head + machine + "\n".join(said)).model_dump()
    for old, new in renamed.items():
        entry = book
        for part in new.split("."):
            entry = entry[part] if isinstance(entry, dict) else part
        key, _, value = lines.get(old.split(".")[0], "minutes = 7").partition(" = ")
        if old.split(".")[0] in lines or ".operations." in old:
            assert str(entry[key]) in (value.strip('"'), f"{value}.0"), old
