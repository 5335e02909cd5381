"""Books put together from blocks: every choice gives a sound book, and what cannot be is told with its place."""

import random
import re
from itertools import islice

import pytest

from tests.shipped_books.planned import archetype
from witnessmark.book import BookErrors, load_book_text, selection
from witnessmark.book import load as books
from witnessmark.book import vocabulary as words
from witnessmark.book.figures import figures_used
from witnessmark.book.rules import findings
from witnessmark.book.translate import texts
from witnessmark.planner import check_plan, compile_problem, plan

HEAD = 'format = 1\nname = "built"\ntitle = "Built"\narchetype = true\n\n[build]\n'
BASES = {  # a build that goes with a block
    "four_stroke": "naked_four",
    "two_stroke": "two_stroke_single",
    "electric": "electric",
    "v_belt": "scooter",
    "shaft": "faired_tourer",
    "bolts": "faired_tourer",
    "belt": "v_twin_belt",
    "centrifugal": "scooter",
    "separate": "faired_tourer",
}


def written(build):
    """A document that chooses these blocks."""
    lines = (
        f"{slot} = {{ {', '.join(f'{key} = {chr(34)}{value}{chr(34)}' for key, value in one.items())} }}"
        for slot, one in build.items()
    )
    return HEAD + "\n".join(lines) + "\n"


def choices():
    """Every block of every slot, with each choice of each of its options."""
    for slot in words.slots().values():
        if not slot.asked:
            continue
        for name in slot.blocks:
            options = words.block(slot.name, name).data.get("option", {})
            yield slot.name, {"is": name}
            for option, one in options.items():
                yield from ((slot.name, {"is": name, option: choice}) for choice in one["choices"])


@pytest.mark.parametrize(
    ("slot", "choice"),
    [
        pytest.param(*one, marks=[pytest.mark.long] if place % 4 else [])
        for place, one in enumerate(choices())
    ],
    ids=lambda part: part if isinstance(part, str) else ",".join(part.values()),
)
def test_every_choice_of_every_block_gives_a_sound_book_that_keeps_the_rules_without_idle_figures(
    slot, choice
):
    """One of four; all of them in the long run."""
    build = dict(archetype(BASES.get(choice["is"], "naked_four")).build)
    book = load_book_text(written(build | {slot: choice}))
    assert book.build[slot].items() >= choice.items()
    assert set(book.figures) == {use.id for use in figures_used(book, book.jobs)}
    assert findings(book) == []


def test_no_two_choices_of_an_option_say_the_same():
    """At most one of them says nothing beyond the block: what it leaves is what the block says."""
    for slot in words.slots().values():
        for name in slot.blocks:
            block = words.block(slot.name, name).data
            for option, one in block.get("option", {}).items():
                ways = [*block.get("when", {}).get(option, {}), *one.get("words", {})]
                said = [key.strip() for keys in ways for key in keys.split(",")]
                assert len(one["choices"].keys() - said) <= 1, (slot.name, name, option)


def random_builds(seed, count):
    """Whole builds by chance, of slots whose blocks go with each other."""
    chance = random.Random(seed)
    while count:
        build = {}
        for slot in words.slots().values():
            names = [*slot.blocks, *([] if slot.needed or slot.usual else ["none"])]
            if not slot.asked or (name := chance.choice(names)) == "none":
                continue
            options = words.block(slot.name, name).data.get("option", {})
            build[slot.name] = {"is": name} | {
                key: chance.choice(list(one["choices"])) for key, one in options.items()
            }
        if fits(build):
            count -= 1
            yield build


def fits(build):
    """Whether each block goes with what stands beside it; this reads the documents, not the program's answer."""
    return all(
        build.get(other, {"is": "none"})["is"] in fitting
        for slot, one in build.items()
        for other, fitting in words.block(slot, one["is"]).data.get("beside", {}).items()
    )


def sound(build):
    """The book of a build, looked at as a whole."""
    book = load_book_text(written(build))
    assert set(book.figures) == {use.id for use in figures_used(book, book.jobs)}, build
    closed = {name for step in steps_of(book) for name in step.tightens}
    assert {name for step in steps_of(book) for name in step.loosens} <= closed, build
    assert findings(book) == [], build
    return book


def steps_of(book):
    return [
        *book.access.values(),
        *(o for job in book.jobs.values() for o in job.operations.values()),
    ]


def test_random_builds_are_sound():
    for build in random_builds(1, 15):
        sound(build)


def test_the_papers_of_random_builds_are_complete_in_german():
    stand_ins = {word for slot in words.slots().values() for word in slot.words}
    for build in random_builds(4, 20):
        book = load_book_text(written(build))
        german = book.translations["de"]
        assert [text for text in texts(book) if text and text not in german] == [], book.build
        assert not [
            said for said in german.values() if stand_ins & set(re.findall("[A-Z_]+", said))
        ]


@pytest.mark.long
def test_two_thousand_random_builds_are_sound_and_can_be_planned():
    for n, build in enumerate(random_builds(2, 2000)):
        book = sound(build)
        if n % 20 == 0:
            planned(book, selection(book, ["annual"]))


@pytest.mark.parametrize("build", islice(random_builds(3, 3), 3), ids=range(3))
def test_the_annual_service_of_a_random_build_has_a_plan_that_the_checker_passes(build):
    book = sound(build)
    planned(book, selection(book, ["annual"]))


def planned(book, jobs):
    problem = compile_problem(book, jobs)
    found = plan(problem, objective="attended")
    assert found.status == "optimal"
    assert check_plan(problem, found) == []


@pytest.mark.parametrize("end", ["front", "rear"])
@pytest.mark.parametrize("work", [["pads"], ["brake_fluid", "brake_wear"]], ids=" ".join)
def test_pistons_are_pushed_back_over_a_reservoir_that_is_open_wherever_both_are_in_the_work(
    end, work
):
    """Common practice, no source."""
    book = archetype("naked_four")
    jobs = [job if job in book.jobs else f"{end}_{job}" for job in work]
    found = plan(compile_problem(book, selection(book, jobs)), objective="attended")
    order = [step.name for step in found.steps]
    assert order.index(f"open_{end}_reservoir") < order.index(f"brake_wear/{end}")
    assert "brake_fluid_grade" in {
        use.id for use in figures_used(book, selection(book, [f"{end}_pads"]))
    }


def test_with_a_new_rear_tyre_slider_and_pads_are_read_while_the_wheel_is_out_and_the_chain_oiled_before_the_ride():
    """Common practice, no source."""
    book = archetype("naked_four")
    jobs = selection(book, ["rear_tyre", "brake_wear"])
    order = [step.name for step in plan(compile_problem(book, jobs), objective="attended").steps]
    out, back = order.index("rear_wheel_out"), order.index("rear_wheel_in")
    assert out < order.index("chain/guide") < back
    assert out < order.index("brake_wear/rear") < back
    assert order.index("chain/adjust") < order.index("chain/oil") < order.index("ride_after/ride")


@pytest.mark.parametrize("name", ["naked_four", "chain_drive_single"])
def test_new_pads_go_in_caliper_by_caliper_are_pumped_firm_and_the_wheel_is_turned(name):
    """Common practice, no source."""
    book = archetype(name)
    two = book.build["front_brake"].get("discs") == "two"
    order = [
        step.name
        for step in plan(compile_problem(book, selection(book, ["front_pads"]))).steps
        if "front" in step.name
    ]
    fitted = ["front_pads/renew", *(["front_pads/renew_right"] if two else [])]
    wanted = [
        *("open_front_reservoir", "brake_wear/front", "front_caliper_off", *fitted),
        *("front_caliper_on", "pump_front_lever", "close_front_reservoir", "front_pads/free"),
    ]
    assert [name for name in order if name in wanted] == wanted
    assert order.index("front_pads/pins") < order.index("front_pads/free")
    work = book.jobs["front_pads"].operations
    assert all(work[name.partition("/")[2]].parts["front_pads"] == 1 for name in fitted)
    assert "front_wheel_free" in work["free"].readings


@pytest.mark.parametrize(
    ("name", "job", "turn"),
    [
        ("classic_twin", "fall_look", ["fall_look/leaks", "ignition_on"]),  # fuel before a spark
        ("classic_twin", "carburettor_clean", ["tank_off", "carburettors_off", "carburettors_on", "tank_on"]),
        ("belt_drive_scooter", "v_belt", ["onto_stand", "v_belt_out", "v_belt_in", "variator_cover_on", "off_stand"]),
        ("two_stroke_single", "brake_fluid_test", ["onto_stand", "brake_fluid_test/test", "off_stand"]),
        ("sport_four", "coolant_check", ["onto_stand", "coolant_check/read", "off_stand"]),
    ],
)  # fmt: skip
def test_a_job_of_an_archetype_is_done_in_the_order_of_the_trade(name, job, turn):
    """Common practice, no source."""
    book = archetype(name)
    found = plan(compile_problem(book, selection(book, [job])), objective="attended")
    assert [step.name for step in found.steps if step.name in turn] == turn


def test_two_discs_are_read_each_and_a_new_tyre_and_the_oil_level_are_written_down():
    book = archetype("naked_four")
    assert [book.readings[name].repeat for name in ("front_pads", "front_disc")] == [2, 2]
    assert [book.readings[name].repeat for name in ("rear_pads", "rear_disc")] == [1, 1]
    change = book.jobs["rear_tyre"].operations["change"]
    assert {"rear_tyre_make", "rear_tyre_date"} <= {*change.readings}
    assert book.jobs["engine_oil"].operations["level_after"].readings == ["engine_oil_level"]
    assert {"chain_slack_least", "chain_slack_most"} <= {
        *book.jobs["chain"].operations["adjust"].figures
    }


# ---------------------------------------------------------------- what cannot be is told


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('engin = "four_stroke"', 'pasted:8 build.engin: no slot "engin"; did you mean "engine"?'),
        ('engine = "four_strok"', 'Engine: no block "four_strok"; did you mean "four_stroke"?'),
        ('final_drive = { is = "chain", lnik = "clip" }', 'Final drive: no option "lnik"; did you mean "link"?'),
        (
            'final_drive = { is = "chain", link = "clipp" }',
            'How the chain is closed "clipp" is no choice; did you mean "clip"?',
        ),
        ("engine = 4", "not a choice of blocks"),
        ('engine = "not known"', "Engine: nothing is chosen"),
        ('valve_gear = "screws"', 'Valve gear "screws" does not go with engine "two_stroke"; choose "none"'),
    ],
)  # fmt: skip
def test_a_choice_that_cannot_be_is_told_with_its_line(line, told):
    base = "two_stroke_single"
    text = HEAD.replace("archetype = true", f'archetype = true\nextends = "{base}"') + line + "\n"
    with pytest.raises(BookErrors) as refused:
        load_book_text(text)
    assert told in str(refused.value)


def test_a_slot_that_is_not_known_yet_is_left_out_and_said_to_be():
    build = dict(archetype("naked_four").build) | {"final_drive": {"is": "not known"}}
    book = load_book_text(written(build))
    assert "chain" not in book.jobs
    assert book.build["final_drive"] == {"is": "not known"}


def test_a_model_changes_one_choice_of_its_archetype_and_keeps_the_rest():
    text = (
        'format = 1\nname = "mine"\ntitle = "Mine"\nextends = "naked_four"\n[machine]\nmaker = "M"\nmodel = "1"\n'
        '[build]\nfinal_drive = { link = "clip" }\n[figures]\nrear_axle_torque = { value = "95 Nm", source = "p. 1" }\n'
    )
    book = load_book_text(text)
    assert book.build["final_drive"] == {"is": "chain", "link": "clip"}
    assert book.build["engine"]["built"] == "four in line"
    assert "clip" in book.jobs["chain_kit"].operations["fit_chain"].text
    assert book.figures["rear_axle_torque"].value == "95 Nm"


# ---------------------------------------------------------------- blocks that are wrong


@pytest.fixture
def blocks(tmp_path, monkeypatch):
    """A vocabulary of three slots and a block for each; write to its files, then call `load`."""
    folder = tmp_path / "blocks"
    for name, text in {
        "vocabulary.toml": 'format = 1\nplaces = ["rear"]\n'
        '[slots.one]\ntext = "One"\n[slots.front]\ntext = "Front"\nkind = "end"\nwords = { END = "front" }\n'
        '[slots.rear]\ntext = "Rear"\nkind = "end"\nwords = { END = "rear" }\n'
        '[conditions.wheel]\nstates = { on = "on", off = "off" }\n',
        "one/a.toml": '[jobs.a]\ntext = "A"\n[jobs.a.operations.do]\ntext = "Do"\nminutes = 1\nplace = "rear"\n'
        'after = ["end_rear/do?"]\n',
        "end/b.toml": '[jobs.end_END]\ntext = "END end"\n[jobs.end_END.operations.do]\ntext = "Do"\nminutes = 1\n'
        '[add.jobs."a?".operations.do]\ndoes = ["Mind the END end"]\n',
    }.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)
    monkeypatch.setattr(words, "blocks_folder", lambda: folder)
    cached = (words._vocabulary, words.slots, words.block, books._sound)
    for one in cached:
        one.cache_clear()
    yield folder
    for one in cached:
        one.cache_clear()


def load(*lines):
    words.block.cache_clear()
    books._sound.cache_clear()
    return load_book_text(HEAD + "\n".join(lines) + "\n")


def refusal(*lines):
    with pytest.raises(BookErrors) as refused:
        load(*lines)
    return str(refused.value)


def test_a_block_serves_two_slots_and_what_is_not_there_falls_away(blocks):
    alone = load('one = "a"')
    assert alone.jobs["a"].operations["do"].after == []
    both = load('one = "a"', 'front = "b"', 'rear = "b"')
    assert both.jobs["end_front"].text == "Front end"
    assert both.jobs["a"].operations["do"].after == ["end_rear/do"]
    assert both.jobs["a"].operations["do"].does == ["Mind the front end", "Mind the rear end"]


def test_two_blocks_that_disagree_are_told_with_both_lines(blocks):
    (blocks / "end/b.toml").write_text('[jobs.a]\ntext = "Something else"\n')
    told = refusal('one = "a"', 'rear = "b"')
    assert "blocks/end/b.toml:2 jobs.a.text: blocks/one/a.toml:2 says otherwise" in told


def test_a_word_that_is_not_of_the_vocabulary_is_told_with_the_nearest(blocks):
    block = blocks / "one/a.toml"
    block.write_text(block.read_text().replace('place = "rear"', 'place = "raer"'))
    assert '"raer" is no place of the vocabulary; did you mean "rear"?' in refusal('one = "a"')
    block.write_text('[conditions.whel]\ntext = "W"\nstates = ["on", "off"]\nstart = "on"\n')
    assert '"whel" is no condition of the vocabulary; did you mean "wheel"?' in refusal('one = "a"')
    block.write_text('[conditions.wheel]\ntext = "W"\nstates = ["on", "of"]\nstart = "on"\n')
    assert '"of" is no state of "wheel" in the vocabulary; did you mean "off"?' in refusal(
        'one = "a"'
    )


def test_a_name_that_no_block_has_is_told_where_it_stands_unless_it_may_fall_away(blocks):
    block = blocks / "one/a.toml"
    block.write_text(block.read_text().replace('"end_rear/do?"', '"end_rear/do"'))
    assert (
        'blocks/one/a.toml:7 jobs.a.operations.do.after[0]: no operation "end_rear/do"'
        in refusal('one = "a"')
    )


def test_what_is_added_to_something_missing_is_told(blocks):
    block = blocks / "end/b.toml"
    block.write_text(block.read_text().replace('"a?"', "a"))
    assert 'nothing to add to at "jobs.a"; write "a?" if it may be missing' in refusal('rear = "b"')


def test_a_block_extends_another_less_what_it_removes_and_a_fault_is_told_where_it_is_said(blocks):
    base = (
        blocks / "one/a.toml"
    ).read_text() + '[jobs.b]\ntext = "B"\n[jobs.b.operations.do]\ntext = "Do"\nminutes = 1\n'
    german = '[translations.de]\nA = "Ah"\nB = "Beh"\n'
    (blocks / "one/a.toml").write_text(base + german)
    other = blocks / "one/c.toml"
    other.write_text('extends = "a"\nremove = ["jobs.b"]\n[jobs.a.operations.do]\nminutes = 5\n')
    words.slots.cache_clear()
    book = load('one = "c"')
    assert list(book.jobs) == ["a"]
    assert book.jobs["a"].operations["do"].minutes == 5
    assert book.translations["de"] == {"A": "Ah"}
    other.write_text('extends = "a"\nremove = ["jobs.x"]\n')
    assert 'blocks/one/c.toml:2: nothing to remove at "jobs.x"' in refusal('one = "c"')
    (blocks / "one/a.toml").write_text(base.replace('place = "rear"', 'place = "raer"'))
    other.write_text('extends = "a"\n')
    assert "blocks/one/a.toml:6 jobs.a.operations.do.place" in refusal('one = "c"')


def test_the_front_wheel_goes_back_into_a_fork_that_is_in_and_the_charger_on_after_the_fuel():
    """Common practice, no source: a wheel needs its legs; vapour and a charger do not meet."""
    scooter = archetype("scooter")
    steering = plan(compile_problem(scooter, selection(scooter, ["steering_grease"])))
    order = [step.name for step in steering.steps]
    assert order.index("fork_in") < order.index("front_wheel_in")

    laid_up = plan(compile_problem(scooter, selection(scooter, ["storage"])))
    order = [step.name for step in laid_up.steps]
    assert order.index("storage/fuel") < order.index("storage/run") < order.index("storage/battery")
