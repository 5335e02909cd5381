"""A job of one's own: into the tables and the text of a book and back, and what it is refused for."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.book import load_book, load_book_text, refer
from witnessmark.book.model import (
    Circuit,
    Fastener,
    Figure,
    Fluid,
    FluidUse,
    Part,
    Reading,
    Renewal,
)
from witnessmark.book.model_step import OnlyIf
from witnessmark.book.own_job import OwnJob, OwnStep, beside, own_job_of, prefixed
from witnessmark.book.own_job_judged import broken_rules, faults
from witnessmark.book.own_job_text import with_job
from witnessmark.book.select import in_turn
from witnessmark.planner import compile_problem, plan

SMALL = Path("tests/fixtures/small_book.toml").read_text(encoding="utf-8")
BOOK = load_book_text(SMALL)


def step(name: str, **more) -> OwnStep:
    return OwnStep(
        name=name, **{"text": name.replace("_", " ").capitalize(), "minutes": 5.0} | more
    )


def leak(**more) -> OwnJob:
    """A leaking fuel tap: all figures are invented."""
    said = {
        "text": "Fuel tap leaks",
        "steps": [
            step("hose_off", opens={"hose": ["all"]}),
            step("tap_off", loosens=["tap_screws"], disturbs=["tap_ring"]),
            step("tap_on", parts={"ring": 1.0}, renews=["tap_ring"], tightens=["tap_screws"]),
            step("hose_on", closes={"hose": ["all"]}),
        ],
        "figures": {"tap_torque": Figure(text="Tap screws", quantity="torque", value="8 N·m")},
        "fasteners": {"tap_screws": Fastener(text="Tap screw", count=2, figure="tap_torque")},
        "circuits": {"hose": Circuit(text="Fuel hose", closed_by={"on": {"text": "on"}})},
        "renewals": {"tap_ring": Renewal(text="Ring of the tap", part="ring")},
        "parts": {"ring": Part(text="Ring")},
    }
    return OwnJob(**said | more)


def told(job: OwnJob, book=BOOK) -> dict[tuple, str]:
    return {fault.path: fault.problem for fault in faults(book, job)}


# ---------------------------------------------------------------- whatever job


words = st.text('abc “”ä"\\\n#=[]', min_size=1, max_size=12).filter(str.strip).map(str.strip)


@st.composite
def sound_jobs(draw) -> OwnJob:
    """Jobs in which each step may open fasteners, circuits and rings of its own, and a later one closes them."""
    count = draw(st.integers(1, 4))
    steps = [
        {
            "name": f"s{n}",
            "text": draw(words),
            "minutes": draw(st.integers(1, 99)) / 10,
            "place": draw(words),
        }
        for n in range(count)
    ]
    job: dict = {
        "figures": {},
        "fasteners": {},
        "circuits": {},
        "renewals": {},
        "parts": {},
        "fluids": {},
    }
    for n in range(draw(st.integers(0, 4))):
        first = draw(st.integers(0, count - 1))
        last = draw(st.integers(first, count - 1))
        match draw(st.sampled_from(["fastener", "circuit", "renewal", "fluid"])):
            case "fastener":
                job["figures"][f"t{n}"] = Figure(
                    text=draw(words), quantity="torque", value="8 N·m", source=draw(words)
                )
                job["fasteners"][f"f{n}"] = Fastener(
                    text=draw(words), count=draw(st.integers(1, 9)), figure=f"t{n}"
                )
                opens, closes = ("loosens", [f"f{n}"]), ("tightens", [f"f{n}"])
            case "circuit":
                job["circuits"][f"c{n}"] = Circuit(
                    text=draw(words), closed_by={"on": {"text": draw(words)}}
                )
                opens, closes = ("opens", {f"c{n}": ["all"]}), ("closes", {f"c{n}": ["on"]})
            case "renewal":
                job["parts"][f"p{n}"] = Part(text=draw(words))
                job["renewals"][f"r{n}"] = Renewal(text=draw(words), part=f"p{n}")
                opens, closes = ("disturbs", [f"r{n}"]), ("renews", [f"r{n}"])
            case _:
                job["figures"][f"v{n}"] = Figure(text=draw(words), quantity="volume", value="1 L")
                job["fluids"][f"o{n}"] = Fluid(text=draw(words), family="engine oil")
                opens, closes = (
                    ("does", [draw(words)]),
                    ("fluids", {f"o{n}": FluidUse(figure=f"v{n}")}),
                )
        for place, (key, value) in ((first, opens), (last, closes)):
            had = steps[place].get(key, type(value)())
            steps[place][key] = had + value if isinstance(value, list) else had | value
    return OwnJob(
        text=draw(words),
        why=draw(st.sampled_from(["", "it leaks"])),
        steps=[OwnStep(**s) for s in steps],
        **job,
    )


@given(sound_jobs())
def test_a_job_comes_back_from_the_text_of_a_book_as_it_went_in(job):
    assert faults(BOOK, job) == []
    text = with_job(SMALL, BOOK, job, "own")
    assert text.startswith(SMALL.rstrip())
    book = load_book_text(text)
    assert own_job_of(book, "own") == job
    assert in_turn(book, "own") == [one.name for one in job.steps]
    assert book.model_copy(update={"jobs": BOOK.jobs}).jobs == BOOK.jobs


@given(sound_jobs())
def test_what_a_step_undoes_and_none_after_it_closes_is_told_at_that_step(job):
    for place, one in enumerate(job.steps):
        for name in one.loosens:
            without = [
                other.model_copy(update={"tightens": [f for f in other.tightens if f != name]})
                for other in job.steps
            ]
            paths = told(job.model_copy(update={"steps": without}))
            assert ("steps", one.name, "loosens", one.loosens.index(name)) in paths
            assert place < len(job.steps)


@given(sound_jobs())
def test_beside_a_book_every_id_is_new_and_nothing_of_the_book_is_changed(job):
    whole = beside(BOOK, {"own_1": job, "own_2": job})
    assert list(refer.faults(whole)) == []
    assert {name: whole.jobs[name] for name in BOOK.jobs} == BOOK.jobs
    assert BOOK.fasteners.items() <= whole.fasteners.items()
    for table, ids in prefixed(job, "own_1").items():
        assert all(getattr(whole, table)[ids[own]] for own in ids)


# ---------------------------------------------------------------- one by one


def test_it_names_what_the_book_has_and_is_planned_among_its_jobs():
    job = leak(
        steps=[
            step("undo", needs={"rear_wheel": ["off"]}, loosens=["tap_screws"]),
            step("do_up", tightens=["tap_screws"]),
        ],
        circuits={}, renewals={}, parts={},
    )  # fmt: skip
    assert faults(BOOK, job) == []
    whole = beside(BOOK, {"own_1": job})
    answer = plan(compile_problem(whole, ["tyre", "own_1"]))
    names = [one.name for one in answer.steps]
    assert answer.status == "optimal"
    assert names.count("wheel_off") == 1  # once for both
    assert names.index("own_1/undo") < names.index("own_1/do_up")
    assert answer.attended_minutes == 6 + 30 + 5 + 5 + 8


def test_what_decides_about_a_step_keeps_its_name_in_every_book():
    read = step("look", readings=["gap"])
    ring_only_if = OnlyIf(reading="gap", above="widest")
    job = leak(
        steps=[read, *leak().steps[:-1], step("tell", only_if=ring_only_if, likely=0.3), leak().steps[-1]],
        readings={"gap": Reading(text="Gap", quantity="length", unit="mm")},
        figures={**leak().figures, "widest": Figure(text="Widest gap", quantity="length", value="0.2 mm")},
    )  # fmt: skip
    assert faults(BOOK, job) == []
    assert own_job_of(load_book_text(with_job(SMALL, BOOK, job, "own")), "own") == job
    decides = beside(BOOK, {"own_1": job}).jobs["own_1"].operations["tell"].only_if
    assert decides == OnlyIf(reading="own_1_gap", above="own_1_widest")
    elsewhere = job.model_copy(update={"readings": {}, "steps": job.steps[1:]})
    always = beside(BOOK, {"own_1": elsewhere}).jobs["own_1"].operations["tell"]
    assert (always.only_if, always.likely) == (None, None)  # nothing of that book reads it


def test_a_taken_id_gets_a_number_and_a_taken_name_is_refused():
    job = leak(figures={"wheel_bolts": Figure(text="x", quantity="torque", value="8 N·m")},
               fasteners={"tap_screws": Fastener(text="Tap screw", figure="wheel_bolts")})  # fmt: skip
    book = load_book_text(with_job(SMALL, BOOK, job, "fuel_tap"))
    assert book.fasteners["tap_screws"].figure == "wheel_bolts_2"
    assert book.figures["wheel_bolts"] == BOOK.figures["wheel_bolts"]
    with pytest.raises(ValueError, match='there is a "tyre" already'):
        with_job(SMALL, BOOK, job, "tyre")


def test_a_text_with_its_tables_in_one_line_takes_it_too():
    text = 'format = 1\nname = "x"\ntitle = "X"\narchetype = true\nparts = { nut = { text = "Nut" } }\n'
    made = with_job(text, load_book_text(text), leak(), "fuel_tap")
    assert tomllib.loads(made)["parts"] == {"nut": {"text": "Nut"}, "ring": {"text": "Ring"}}
    assert own_job_of(load_book_text(made), "fuel_tap") == leak()


@pytest.mark.parametrize(
    ("change", "path", "problem"),
    [
        ({"steps": [step("a", loosens=["nut"])]}, ("steps", "a", "loosens", 0), 'no fastener "nut"'),
        ({"steps": [step("a", needs={"tank": ["off"]})]}, ("steps", "a", "needs", "tank"), 'no condition "tank"'),
        ({"steps": [step("a", after=["b"]), step("b")]}, ("steps", "a", "after"), 'no earlier step "b"'),
        ({"steps": [step("a", minutes=0.0)]}, ("steps", "a", "minutes"), "the step takes no time"),
        ({"brings": ["paint"]}, ("brings",), 'no job "paint"'),
        (
            {"figures": {"tap_torque": Figure(text="x", quantity="torque", value="8 mm")}},
            ("figures", "tap_torque", "value"),
            "“8 mm” is a length, not a torque",
        ),
        (
            {"fasteners": {"tap_screws": Fastener(text="Tap screw")}},
            ("fasteners", "tap_screws"),
            'grade "proven" without a figure',
        ),
        (
            {
                "steps": [
                    *leak().steps[::3],
                    step("on", tightens=["tap_screws"]),
                    step("off", loosens=["tap_screws"]),
                ]
            },
            ("steps", "off", "loosens", 0),
            "“Tap screw” is loosened here, and closed only by a step before",
        ),
    ],
)  # fmt: skip
def test_a_fault_is_told_at_its_field(change, path, problem):
    assert told(leak(**change)).get(path) == problem, told(leak(**change))


def test_the_rules_of_the_trade_speak_of_it():
    job = leak(fasteners={"tap_screws": Fastener(text="Tap screw", safety=True, grade="counted")})
    found = {(rule.name, fault.path) for rule, fault in broken_rules(BOOK, job)}
    assert ("safety_at_a_figure", ("fasteners", "tap_screws", "grade")) in found, found


def test_a_job_of_a_shipped_book_is_its_own_pattern():
    """Read out of its book and laid beside it once more, each job is as sound as it was there."""
    book = load_book(Path("src/witnessmark/demo/books/quandle_t9.toml"))
    for name in book.jobs:
        pattern = own_job_of(book, name)
        assert faults(book, pattern) == [], name
        assert pattern.minutes == round(
            sum(o.minutes for o in book.jobs[name].operations.values()), 1
        )
