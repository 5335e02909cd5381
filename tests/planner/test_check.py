"""The checker against plans made by pencil: sound ones pass, and every planted fault is found."""

import json
from copy import deepcopy

import pytest

from witnessmark.planner import Answer, check_plan, problem_from
from witnessmark.planner.check.check_plan import Rule

SHOP = {
    "conditions": {
        "wheel": {"states": ["fitted", "off"], "start": "fitted", "finish": "fitted"},
        "plug": {
            "states": ["tight", "out"],
            "start": "tight",
            "finish": "tight",
            "exposed": ["out"],
        },
        "engine": {
            "states": ["cold", "warm"],
            "start": "cold",
            "finish": "cold",
            "lapse": {"warm": {"after": 30, "to": "cold"}},
        },
        "one stands": {
            "states": ["floor", "lift"],
            "start": "floor",
            "finish": "floor",
            "holds": {"lift": {"lift": 1}},
        },
        "two stands": {
            "states": ["floor", "lift"],
            "start": "floor",
            "finish": "floor",
            "holds": {"lift": {"lift": 1}},
        },
    },
    "never": [{"wheel": ["off"], "one stands": ["floor"]}],
    "moves": [
        {"name": "one up", "minutes": 3, "sets": {"one stands": "lift"}},
        {"name": "one down", "minutes": 3, "sets": {"one stands": "floor"}},
        {"name": "two up", "minutes": 3, "sets": {"two stands": "lift"}},
        {"name": "two down", "minutes": 3, "sets": {"two stands": "floor"}},
        {"name": "warm up", "minutes": 5, "sets": {"engine": "warm"}},
        {
            "name": "wheel off",
            "minutes": 6,
            "needs": {"wheel": ["fitted"], "one stands": ["lift"]},
            "sets": {"wheel": "off"},
        },
        {
            "name": "wheel on",
            "minutes": 4,
            "hands": 2,
            "needs": {"wheel": ["off"]},
            "sets": {"wheel": "fitted"},
        },
    ],
    "operations": [
        {
            "name": "drain",
            "minutes": 2,
            "unattended": 10,
            "needs": {"engine": ["warm"], "plug": ["tight"]},
            "sets": {"plug": "out"},
            "job": "oil",
        },
        {
            "name": "close",
            "minutes": 2,
            "needs": {"plug": ["out"]},
            "sets": {"plug": "tight"},
            "after": ["drain"],
            "job": "oil",
        },
        {
            "name": "pads",
            "minutes": 8,
            "needs": {"wheel": ["off"]},
            "skills": ["brakes"],
            "job": "brakes",
        },
        {"name": "battery", "minutes": 3, "uses": {"tester": 1}, "job": "electrics"},
        {
            "name": "codes",
            "minutes": 4,
            "uses": {"tester": 1},
            "after": ["battery"],
            "release": 24,
            "job": "electrics",
        },
        {"name": "charge", "minutes": 0, "unattended": 20, "hands": 0},
        {
            "name": "chain",
            "minutes": 5,
            "needs": {"two stands": ["lift"]},
            "machine": "two",
            "job": "chain",
        },
    ],
    "technicians": [
        {"name": "A", "shifts": [[0, 120], [1440, 1560]]},
        {"name": "B", "skills": ["oil"], "shifts": [[0, 120], [1440, 1560]]},
    ],
    "resources": {"lift": 1, "tester": 1},
    "horizon": 2000,
    "due_by": {"two": 36},
}

# name, start, end, over, by whom; written down by pencil from the problem above
PENCIL = [
    ("one up", 0, 3, 3, "A"),
    ("warm up", 0, 5, 5, "B"),
    ("wheel off", 3, 9, 9, "A"),
    ("charge", 4, 4, 24, ""),
    ("drain", 5, 7, 17, "B"),
    ("battery", 7, 10, 10, "B"),
    ("pads", 9, 17, 17, "A"),
    ("close", 17, 19, 19, "B"),
    ("wheel on", 19, 23, 23, "AB"),
    ("one down", 23, 26, 26, "A"),
    ("codes", 26, 30, 30, "A"),
    ("two up", 30, 33, 33, "A"),
    ("chain", 33, 38, 38, "A"),
    ("two down", 38, 41, 41, "A"),
]
FIGURES = {
    "status": "feasible",
    "finish_minutes": 41,
    "finish_bound": 40,
    "attended_minutes": 55,
    "attended_bound": 50,
    "exposure_minutes": 14,  # the plug is out, or on its way, from 5 to 19
    "walks": 2,  # B goes from the oil to the battery and back
    "late": {"two": 2},
}


def plan(steps: list[tuple] = PENCIL, **figures) -> dict:
    """An answer as plain data, with steps as written above."""
    operations = {operation["name"] for operation in SHOP["operations"]}
    listed = [
        {
            "name": name,
            "kind": "operation" if name in operations else "move",
            "start": start,
            "end": end,
            "tail_end": over,
            "technicians": list(people),
            "for": [],
        }
        for name, start, end, over, people in steps
    ]
    return FIGURES | {"steps": listed} | figures


def faults_of(problem: dict, answer: dict, previous: list[str] | None = None) -> list:
    return check_plan(problem_from(problem), Answer.model_validate(answer), previous)


def test_a_sound_plan_of_the_whole_model_has_no_fault():
    assert faults_of(SHOP, plan()) == []


def moved(answer: dict, name: str, start: float, **changes) -> None:
    """Put a step to another start, its ends with it, the list kept in order of starts."""
    [step] = [step for step in answer["steps"] if step["name"] == name]
    later = start - step["start"]
    for key in ("start", "end", "tail_end"):
        step[key] += later
    step.update(changes)
    answer["steps"].sort(key=lambda step: step["start"])


def by_name(answer: dict, name: str) -> dict:
    return next(step for step in answer["steps"] if step["name"] == name)


def without(answer: dict, name: str) -> None:
    answer["steps"].remove(by_name(answer, name))


def twice(answer: dict, name: str, start: float) -> None:
    answer["steps"].append(deepcopy(by_name(answer, name)))
    moved({"steps": answer["steps"][-1:]}, name, start)


def listed_first(answer: dict, name: str) -> None:
    step = by_name(answer, name)
    answer["steps"].remove(step)
    answer["steps"].insert(0, step)


def renamed(answer: dict, name: str, new: str) -> None:
    by_name(answer, name)["name"] = new


def stated(answer: dict, name: str, **changes) -> None:
    by_name(answer, name).update(changes)


def figure(answer: dict, **changes) -> None:
    answer.update(changes)


PLANTED = {
    # the list
    "steps out of order": (listed_first, ["pads"], {}, Rule.FORM, "starts before"),
    "an operation forgotten": (without, ["codes"], {}, Rule.FORM, "codes is missing"),
    "an operation twice": (twice, ["battery", 50], {}, Rule.FORM, "battery is done 2 times"),
    "a step nobody knows": (renamed, ["warm up", "cool"], {}, Rule.FORM, "cool is no step"),
    "an end too early": (stated, ["pads"], {"end": 16}, Rule.FORM, "pads ends at 17"),
    "a tail cut": (stated, ["drain"], {"tail_end": 9}, Rule.FORM, "drain is over at 17"),
    "a time too fine": (stated, ["codes"], {"start": 26.05}, Rule.FORM, "finer than a tenth"),
    "a start before now": (moved, ["one up", -1], {}, Rule.FORM, "before minute 0"),
    "a move called an operation": (
        stated,
        ["one up"],
        {"kind": "operation"},
        Rule.FORM,
        "is a move in the problem",
    ),
    # conditions
    "two steps change one condition": (
        moved,
        ["one down", 2],
        {},
        Rule.OCCUPATION,
        "both change one stands",
    ),
    "needed while it is changed": (
        moved,
        ["wheel off", 2],
        {},
        Rule.OCCUPATION,
        "needs one stands while one up changes it",
    ),
    "changed before the tail is over": (
        moved,
        ["close", 15],
        {},
        Rule.OCCUPATION,
        "both change plug",
    ),
    "a state not reached": (without, ["wheel off"], {}, Rule.NEED, "pads needs wheel off"),
    "warm oil gone cold": (moved, ["drain", 35], {}, Rule.NEED, "needs engine warm"),
    # order
    "before what it comes after": (
        moved,
        ["battery", 28],
        {},
        Rule.ORDER,
        "before battery is over",
    ),
    "left on the lift": (without, ["two down"], {}, Rule.ORDER, "two stands is left lift"),
    # people
    "a hand short": (stated, ["wheel on"], {"technicians": ["A"]}, Rule.PEOPLE, "takes 2"),
    "one man for two": (
        stated,
        ["wheel on"],
        {"technicians": ["A", "A"]},
        Rule.PEOPLE,
        "names a technician twice",
    ),
    "without the skill": (stated, ["pads"], {"technicians": ["B"]}, Rule.PEOPLE, "takes brakes"),
    "a stranger": (stated, ["codes"], {"technicians": ["C"]}, Rule.PEOPLE, "no technician C"),
    "at two things at once": (moved, ["codes", 24], {}, Rule.PEOPLE, "A is at one down and at"),
    "over the end of the shift": (moved, ["two down", 119], {}, Rule.PEOPLE, "no one shift of A"),
    "at night": (moved, ["two down", 500], {}, Rule.PEOPLE, "no one shift of A"),
    "nobody needed, one sent": (
        stated,
        ["charge"],
        {"technicians": ["A"]},
        Rule.PEOPLE,
        "takes 0",
    ),
    # limits
    "one tester, two uses": (moved, ["battery", 27], {}, Rule.LIMIT, "tester: 2 taken"),
    "one lift, two machines": (moved, ["two up", 25], {}, Rule.LIMIT, "lift: 2 taken"),
    "let down without a wheel": (moved, ["one down", 16], {}, Rule.LIMIT, "never wheel off"),
    "let down while the wheel goes on": (
        moved,
        ["one down", 20],
        {},
        Rule.LIMIT,
        "never wheel off with one stands floor",
    ),
    "left open over night": (moved, ["close", 1450], {}, Rule.LIMIT, "plug is left out over"),
    # times
    "before its release": (moved, ["codes", 11], {}, Rule.TIME, "released only at 24"),
    "beyond the horizon": (moved, ["two down", 1998], {}, Rule.TIME, "beyond the last minute"),
    # figures
    "a finish too early": (figure, [], {"finish_minutes": 38}, Rule.FIGURE, "finish_minutes is 41"),
    "a hand not counted": (figure, [], {"attended_minutes": 51}, Rule.FIGURE, "attended_minutes"),
    "exposure of the open time only": (
        figure,
        [],
        {"exposure_minutes": 0},
        Rule.FIGURE,
        "exposure_minutes is 14",
    ),
    "a figure left out": (figure, [], {"exposure_minutes": None}, Rule.FIGURE, "says nothing"),
    "a walk denied": (figure, [], {"walks": 1}, Rule.FIGURE, "walks is 2"),
    "lateness denied": (figure, [], {"late": {}}, Rule.FIGURE, "late two is 2"),
    "a bound above the plan": (figure, [], {"finish_bound": 42}, Rule.FIGURE, "finish_bound 42"),
    "optimal with a gap": (figure, [], {"status": "optimal"}, Rule.FIGURE, "status optimal"),
    "impossible with a plan": (figure, [], {"status": "impossible"}, Rule.FIGURE, "steps is given"),
    "a deviation from nothing": (figure, [], {"deviation": 0}, Rule.FIGURE, "no previous plan"),
    "for something unknown": (stated, ["one up"], {"for": ["tea"]}, Rule.FIGURE, "for tea"),
}


@pytest.mark.parametrize("how", PLANTED)
def test_a_planted_fault_is_found_under_its_rule(how):
    plant, places, changes, rule, words = PLANTED[how]
    answer = deepcopy(plan())
    plant(answer, *places, **changes)
    found = [str(fault) for fault in faults_of(SHOP, answer) if fault.rule is rule]
    assert any(words in sentence for sentence in found), found


def test_the_rules_have_the_numbers_of_the_planning_model():
    assert [(rule.name, rule.value) for rule in Rule] == [
        ("FORM", 0), ("OCCUPATION", 1), ("NEED", 2), ("ORDER", 3), ("PEOPLE", 4), ("LIMIT", 5), ("TIME", 6),
        ("FIGURE", 7),
    ]  # fmt: skip


def test_a_plan_of_nothing_is_over_at_once():
    assert faults_of({"operations": []}, short([], 0)) == []


def test_a_machine_in_time_may_be_left_out_of_the_late_ones():
    assert faults_of(SHOP | {"due_by": {"two": 41}}, plan(late={})) == []
    assert faults_of(SHOP | {"due_by": {"two": 41}}, plan(late={"two": 0})) == []


def test_what_comes_after_something_done_may_begin_at_once_and_what_runs_was_released():
    operations = [{"name": "o1", "minutes": 2}, {"name": "o2", "minutes": 4, "after": ["o1"]}]
    problem = {"operations": operations, "technicians": [{"name": "A"}], "now": {"done": ["o1"]}}
    assert faults_of(problem, short([("o2", 0, 4)], 4)) == []
    operations[0] |= {"release": 5}
    running = {"name": "o1", "minutes": 1, "technicians": ["A"]}
    problem["now"] = {"running": [running]}
    assert faults_of(problem, short([("o2", 1, 5)], 5)) == []
    early = faults_of(problem, short([("o2", 0.9, 4.9)], 4.9))
    assert {fault.rule for fault in early} == {Rule.ORDER, Rule.PEOPLE}


def test_a_fault_names_its_steps_and_its_minute():
    answer = deepcopy(plan())
    moved(answer, "battery", 27)
    [fault] = [fault for fault in faults_of(SHOP, answer) if fault.rule is Rule.LIMIT]
    assert (fault.steps, fault.minute) == (("battery",), 27)
    answer = deepcopy(plan())
    moved(answer, "two up", 25)
    [fault] = [fault for fault in faults_of(SHOP, answer) if fault.rule is Rule.LIMIT]
    assert (fault.steps, fault.minute) == (("two up",), 25), "who takes it, not who still holds it"


def test_a_need_that_fails_on_the_way_is_told_at_the_minute_it_fails():
    answer = short([("run", 0, 2), ("o", 9, 13)], 13)
    [fault] = faults_of(lapsing(needs=["hot"]), answer)
    assert (fault.rule, fault.steps, fault.minute) == (Rule.NEED, ("o",), 12)


# ------------------------------------------------------------------ states that lapse


def lapsing(finish: str | None = None, needs: list[str] | None = None, **lapse) -> dict:
    """An engine that is hot after a run of 2 minutes, then warm, then cold; and one thing to do."""
    engine = {"states": ["cold", "hot", "warm"], "start": "cold"}
    engine["lapse"] = {
        "hot": {"after": 10, "to": "warm"},
        "warm": {"after": 20, "to": "cold"},
    }
    operation = {"name": "o", "minutes": 4, "needs": {"engine": needs} if needs else {}}
    return {
        "conditions": {"engine": engine | ({"finish": finish} if finish else {}) | lapse},
        "moves": [{"name": "run", "minutes": 2, "sets": {"engine": "hot"}}],
        "operations": [operation],
    }


def short(steps: list[tuple[str, float, float]], finish: float, **figures) -> dict:
    listed = [
        {
            "name": name,
            "kind": "operation" if name.startswith("o") else "move",
            "start": start,
            "end": end,
            "tail_end": end,
            "technicians": ["A"],
        }
        for name, start, end in steps
    ]
    attended = round(sum(end - start for _, start, end in steps), 1)
    known = {"status": "feasible", "attended_minutes": attended, "exposure_minutes": 0, "walks": 0}
    return known | {"steps": listed, "finish_minutes": finish} | figures


@pytest.mark.parametrize(
    ("needs", "start", "sound"),
    [
        (["hot"], 2, True),
        (["hot"], 8, True),  # hot during [2, 12): over at 12
        (["hot"], 9, False),
        (["hot", "warm"], 9, True),  # both are allowed
        (["warm"], 11, False),
        (["warm"], 12, True),  # a lapse due at the very start has happened
        (["warm", "cold"], 28, True),
        (["cold"], 31, False),
        (["cold"], 32, True),
    ],
)
def test_a_need_holds_through_the_lapses_at_their_very_minutes(needs, start, sound):
    answer = short([("run", 0, 2), ("o", start, start + 4)], start + 4)
    assert (faults_of(lapsing(needs=needs), answer) == []) is sound


def test_a_state_that_is_being_changed_does_not_lapse():
    """The second run begins at 11, before the heat is gone at 12, and starts the clock again."""
    answer = short([("run", 0, 2), ("run", 11, 13), ("o", 19, 23)], 23)
    assert faults_of(lapsing(needs=["hot"]), answer) == []


@pytest.mark.parametrize(("finish", "at"), [("hot", 6), ("warm", 12), ("cold", 32)])
def test_waiting_for_a_state_to_lapse_counts_in_the_finish(finish, at):
    answer = short([("run", 0, 2), ("o", 2, 6)], at)
    assert faults_of(lapsing(finish), answer) == []
    assert faults_of(lapsing(finish) | {"horizon": at}, answer) == []
    beyond = faults_of(lapsing(finish) | {"horizon": at - 0.1}, answer)
    assert [fault.rule for fault in beyond] == [Rule.TIME]


def test_a_finish_state_that_has_lapsed_is_missed():
    answer = short([("run", 0, 2), ("o", 9, 13)], 13)
    assert [fault.rule for fault in faults_of(lapsing("hot"), answer)] == [Rule.ORDER]


def test_the_age_of_the_start_state_counts():
    problem = lapsing(needs=["hot"], start="hot", age=4)
    assert faults_of(problem, short([("o", 2, 6)], 6)) == []
    assert [f.rule for f in faults_of(problem, short([("o", 2.1, 6.1)], 6.1))] == [Rule.NEED]


def test_two_finish_states_must_hold_at_one_instant():
    """One is cold at 32 for good; the other is warm only from 12 to 32."""
    problem = lapsing("cold")
    problem["conditions"]["oil"] = problem["conditions"]["engine"] | {"finish": "warm"}
    problem["moves"][0]["sets"]["oil"] = "hot"
    [fault] = faults_of(problem, short([("run", 0, 2), ("o", 2, 6)], 6))
    assert (fault.rule, fault.words) == (
        Rule.ORDER,
        "oil is left cold at the end; it must finish warm",
    )


# ------------------------------------------------------------------ the end of a day

TAP = {"states": ["shut", "open"], "start": "shut", "exposed": ["open"]}


@pytest.mark.parametrize(
    ("shifts", "found"),
    [
        ([[[0, 60]], [[0, 60]]], True),
        ([[[0, 60]], [[0, 90]]], False),  # the day's last shift ends later
        ([[[0, 60]], [[70, 90]]], False),
        ([[[0, 60]], None], False),  # somebody is always there
        ([[[0, 60]], [[1440, 1500]]], True),  # another day
    ],
)
def test_a_day_ends_with_the_last_shift_of_any_technician(shifts, found):
    people = [
        {"name": name, "shifts": worked} if worked else {"name": name}
        for name, worked in zip("AB", shifts, strict=True)
    ]
    problem = {
        "conditions": {"tap": TAP | {"lapse": {"open": {"after": 5, "to": "shut"}}}},
        "operations": [
            {"name": "o", "minutes": 5, "unattended": 20, "sets": {"tap": "open"}},
        ],
        "technicians": people,
    }
    answer = short([("o", 50, 55)], 75, exposure_minutes=25)
    answer["steps"][0]["tail_end"] = 75
    assert [fault.rule for fault in faults_of(problem, answer)] == [Rule.LIMIT] * found


def test_what_stands_open_over_two_nights_is_told_at_the_first():
    answer = deepcopy(plan())
    moved(answer, "close", 1570)
    [fault] = [fault for fault in faults_of(SHOP, answer) if fault.rule is Rule.LIMIT]
    assert (fault.steps, fault.minute) == (("drain",), 120)


def test_what_stands_exposed_at_the_finish_stands_so_over_the_night():
    """Over at 20; the day ends at 60, and nobody shuts the tap before, unless it falls shut."""
    tap = dict(TAP)
    problem = {
        "conditions": {"tap": tap},
        "operations": [{"name": "o", "minutes": 5, "sets": {"tap": "open"}}],
        "technicians": [{"name": "A", "shifts": [[0, 60]]}],
    }
    answer = short([("o", 15, 20)], 20, exposure_minutes=5)
    [fault] = faults_of(problem, answer)
    assert (fault.rule, fault.steps, fault.minute) == (Rule.LIMIT, ("o",), 60)
    tap["lapse"] = {"open": {"after": 40, "to": "shut"}}
    assert faults_of(problem, answer) == []
    tap["lapse"] = {"open": {"after": 40.1, "to": "shut"}}
    assert [fault.minute for fault in faults_of(problem, answer)] == [60]


# ------------------------------------------------------------------ from the middle of the work


def resumed(**now) -> dict:
    return SHOP | {
        "now": {"states": {"one stands": "lift", "wheel": "off", "engine": "warm"}} | now
    }


REST = [
    ("close", 6, 8, 8, "B"),
    ("wheel on", 8, 12, 12, "AB"),
    ("one down", 12, 15, 15, "A"),
    ("codes", 24, 28, 28, "A"),
    ("two up", 28, 31, 31, "A"),
    ("chain", 31, 36, 36, "A"),
    ("two down", 36, 39, 39, "A"),
]
MIDWAY = {
    "done": ["pads", "charge", "battery"],
    "running": [{"name": "drain", "minutes": 1, "unattended": 5, "technicians": ["B"]}],
}
LEFT = {
    "finish_minutes": 39,
    "finish_bound": 0,
    "attended_minutes": 28,
    "attended_bound": 0,
    "exposure_minutes": 8,
    "walks": 0,
    "late": {},
}


def test_what_is_done_or_under_way_is_counted_where_work_stands():
    assert faults_of(resumed(**MIDWAY), plan(REST, **LEFT)) == []


@pytest.mark.parametrize(
    ("steps", "rule", "words"),
    [
        ([("pads", 0, 8, 8, "A"), *REST], Rule.FORM, "pads is already done"),
        ([("drain", 0, 2, 12, "B"), *REST], Rule.FORM, "drain is already under way"),
        ([("close", 5, 7, 7, "B"), *REST[1:]], Rule.OCCUPATION, "drain and close both change plug"),
        ([("warm up", 0, 5, 5, "B"), *REST], Rule.PEOPLE, "B is at drain and at warm up"),
        ([("wheel off", 0, 6, 6, "A"), *REST], Rule.NEED, "wheel off needs wheel fitted"),
    ],
)
def test_a_plan_that_overlooks_where_work_stands_is_refused(steps, rule, words):
    faults = faults_of(resumed(**MIDWAY), plan(steps, **LEFT))
    assert any(fault.rule is rule and words in fault.words for fault in faults), faults


def test_a_state_given_for_now_is_fresh_unless_its_age_is_given():
    fresh = {"engine": "warm"}
    operation = {"name": "o", "minutes": 1, "needs": {"engine": ["warm"]}}
    engine = SHOP["conditions"]["engine"] | {"finish": "warm", "age": 29}
    problem = {"conditions": {"engine": engine}, "operations": [operation]}
    answer = short([("o", 29, 30)], 30)
    late = short([("o", 28, 29)], 29)
    assert [f.rule for f in faults_of(problem | {"now": {"states": fresh}}, answer)] == [Rule.ORDER]
    assert faults_of(problem | {"now": {"states": fresh}}, late) == []
    aged = problem | {"now": {"states": fresh, "ages": {"engine": 2}}}
    assert {f.rule for f in faults_of(aged, late)} == {Rule.NEED, Rule.ORDER}


# ------------------------------------------------------------------ people


@pytest.mark.parametrize(("people", "sound"), [([], False), (["A"], True), (["A", "B"], False)])
def test_minutes_of_work_are_of_as_many_as_the_step_takes(people, sound):
    problem = {
        "operations": [{"name": "o", "minutes": 4}],
        "technicians": [{"name": "A"}, {"name": "B"}],
    }
    answer = short([("o", 0, 4)], 4, attended_minutes=4)
    answer["steps"][0]["technicians"] = people
    found = [fault.words for fault in faults_of(problem, answer) if fault.rule is Rule.PEOPLE]
    assert found == ([] if sound else [f"o takes 1 technicians, {len(people)} are named"])


@pytest.mark.parametrize(
    ("people", "sound"), [([], True), (["A"], True), (["B"], False), (["A", "B"], False)]
)
def test_an_attended_part_of_no_length_may_name_nobody_or_those_who_can_do_it(people, sound):
    """A is meanwhile at the other operation: no part of no length keeps him from it."""
    problem = {
        "operations": [
            {"name": "o1", "minutes": 4},
            {"name": "o2", "minutes": 0, "unattended": 2, "skills": ["brakes"]},
        ],
        "technicians": [{"name": "A"}, {"name": "B", "skills": []}],
    }
    answer = short([("o1", 0, 4), ("o2", 2, 2)], 4)
    answer["steps"][1] |= {"tail_end": 4, "technicians": people}
    assert (faults_of(problem, answer) == []) is sound


@pytest.mark.parametrize(("start", "sound"), [(10, True), (16, True), (9, False), (17, False)])
def test_an_attended_part_may_fill_its_shift_to_both_ends(start, sound):
    problem = {
        "operations": [{"name": "o", "minutes": 4, "unattended": 9}],
        "technicians": [{"name": "A", "shifts": [[10, 20]]}],
    }
    answer = short([("o", start, start + 4)], start + 13)
    answer["steps"][0]["tail_end"] = start + 13
    assert [f.rule for f in faults_of(problem, answer)] == ([] if sound else [Rule.PEOPLE])


# ------------------------------------------------------------------ figures


@pytest.mark.parametrize(
    ("previous", "deviation"),
    [
        (["one up", "warm up", "drain", "pads", "close"], 0),
        (["pads", "drain"], 1),
        (["close", "pads", "drain"], 3),
        (["tea", "pads"], 0),
        ([name for name, *_ in reversed(PENCIL)], 91),  # every one of 14 · 13 / 2 pairs
    ],
)
def test_deviation_counts_pairs_the_other_way_round(previous, deviation):
    assert faults_of(SHOP, plan(deviation=deviation), previous) == []
    [fault] = faults_of(SHOP, plan(deviation=deviation + 1), previous)
    assert fault.words.startswith(f"deviation is {deviation} ")


def test_a_plan_without_status_optimal_may_leave_its_bounds_open():
    assert faults_of(SHOP, plan(finish_bound=None, attended_bound=None)) == []


def test_an_answer_without_plan_is_sound_if_it_states_none():
    nothing = {"status": "impossible", "conflict": [{"kind": "operation", "name": "pads"}]}
    assert faults_of(SHOP, nothing) == []
    assert [f.rule for f in faults_of(SHOP, nothing | {"walks": 0})] == [Rule.FIGURE]
    told = [f.words for f in faults_of(SHOP, plan() | {"status": "unknown"})]
    assert told == [
        f"status unknown, yet {key} is given"
        for key in ("steps", "finish_minutes", "attended_minutes", "exposure_minutes", "walks")
    ]


def test_tenths_of_a_minute_are_not_rounded_apart():
    """0.1 + 0.2 is 0.3 here, though not in binary fractions."""
    problem = {
        "operations": [{"name": f"o{n}", "minutes": 0.1, "unattended": 0.2} for n in range(30)]
    }
    steps, at = [], 0.0
    for n in range(30):
        steps.append((f"o{n}", at, at + 0.1))
        at += 0.1 + 0.2
    answer = short(steps, at)
    for step in answer["steps"]:
        step["tail_end"] = step["end"] + 0.2
    assert faults_of(problem, answer) == []


def test_the_larger_of_old_and_new_is_held_while_a_condition_changes():
    stand = {
        "states": ["floor", "low", "high"],
        "start": "low",
        "holds": {"low": {"lift": 1}, "high": {"lift": 1}},
    }
    raising = {"name": "o", "minutes": 1, "sets": {"stand": "high"}}
    problem = {
        "conditions": {"stand": stand},
        "operations": [raising],
        "resources": {"lift": 1},
    }
    assert faults_of(problem, short([("o", 0, 1)], 1)) == []
    [fault] = faults_of(problem | {"resources": {"lift": 0}}, short([("o", 0, 1)], 1))
    assert fault.words == "lift: 1 taken at minute 0, there are 0"


def test_too_much_is_told_of_those_that_take_it_and_not_of_who_lets_go_at_that_minute():
    stand = {"states": ["floor", "high"], "start": "high", "holds": {"high": {"lift": 1}}}
    uses = {"minutes": 2, "uses": {"lift": 1}}
    problem = {
        "conditions": {"stand": stand},
        "operations": [uses | {"name": name} for name in ("o first", "o second", "o third")],
        "resources": {"lift": 2},
        "technicians": [{"name": "A"}, {"name": "B"}],
    }
    answer = short([("o first", 0, 2), ("o second", 2, 4), ("o third", 2, 4)], 4)
    answer["steps"][2]["technicians"] = ["B"]
    [fault] = [one for one in faults_of(problem, answer) if one.rule is Rule.LIMIT]
    assert (fault.steps, fault.minute) == (("o second", "o third"), 2)
    none = faults_of(problem | {"resources": {"lift": 0}}, answer)
    assert [one.steps for one in none if one.rule is Rule.LIMIT] == [("o first",)]


@pytest.mark.parametrize(
    "never", [{"tap": ["on"], "flame": ["on"]}, {"flame": ["on"], "tap": ["on"]}]
)
def test_what_must_never_be_is_told_each_time_it_comes_about(never):
    """The tap is on all the while; the flame is lit, and put out, three times. While it changes, both states hold."""
    states = {"states": ["off", "on"]}
    problem = {
        "conditions": {"tap": states | {"start": "on"}, "flame": states | {"start": "off"}},
        "moves": [
            {"name": "light", "minutes": 1, "sets": {"flame": "on"}},
            {"name": "put out", "minutes": 1, "sets": {"flame": "off"}},
        ],
        "operations": [{"name": "o", "minutes": 1}],
        "never": [never],
    }
    steps = [("light", at, at + 1) for at in (0, 4, 8)]
    steps = sorted(
        steps + [("put out", at + 2, at + 3) for at in (0, 4, 8)], key=lambda one: one[1]
    )
    found = faults_of(problem, short([*steps, ("o", 11, 12)], 12))
    assert [fault.minute for fault in found if fault.rule is Rule.LIMIT] == [0, 4, 8]


def test_a_lapse_at_the_very_finish_may_not_bring_about_what_must_never_be():
    problem = lapsing("warm") | {"never": [{"engine": ["warm"]}]}
    found = faults_of(problem, short([("run", 0, 2), ("o", 2, 6)], 12))
    assert [(fault.rule, fault.minute) for fault in found] == [(Rule.LIMIT, 12)]
    before = lapsing("hot") | {"never": [{"engine": ["warm"]}]}
    assert faults_of(before, short([("run", 0, 2), ("o", 7.9, 11.9)], 11.9)) == []


# ------------------------------------------------------------------ the example of the model


def test_the_worked_example_of_the_planning_model_is_sound():
    """The plan of 42 minutes calculated by pencil beside the model's example problem."""
    problem = json.loads(EXAMPLE)
    steps = [
        ("onto lift", 0, 3, 3),
        ("engage gear", 3, 3.5, 3.5),
        ("wheel off", 3.5, 9.5, 9.5),
        ("neutral", 9.5, 10, 10),
        ("crack fill plug", 10, 12, 12),
        ("drain", 12, 14, 24),
        ("engage gear", 14, 14.5, 14.5),
        ("drain plug in", 24, 26, 26),
        ("fill and close", 26, 32, 32),
        ("wheel on", 32, 39, 39),
        ("off lift", 39, 42, 42),
    ]
    operations = {one["name"] for one in problem["operations"]}
    listed = [
        {
            "name": name,
            "kind": "operation" if name in operations else "move",
            "start": start,
            "end": end,
            "tail_end": over,
            "technicians": ["A"],
        }
        for name, start, end, over in steps
    ]
    answer = {
        "status": "optimal",
        "finish_minutes": 42.0,
        "finish_bound": 42.0,
        "attended_minutes": 32.5,
        "attended_bound": 32.5,
        "exposure_minutes": 14.0,
        "walks": 0,
        "steps": listed,
    }
    assert faults_of(problem, answer) == []


EXAMPLE = """
{"conditions": {
   "rear_wheel": {"states": ["fitted", "off"], "start": "fitted", "finish": "fitted"},
   "gear":       {"states": ["neutral", "engaged"], "start": "neutral"},
   "fill_plug":  {"states": ["tight", "out"], "start": "tight", "finish": "tight"},
   "drain_plug": {"states": ["tight", "out"], "start": "tight", "finish": "tight",
                  "exposed": ["out"]},
   "engine":     {"states": ["cold", "warm"], "start": "cold",
                  "lapse": {"warm": {"after": 40, "to": "cold"}}},
   "place":      {"states": ["floor", "lift"], "start": "floor", "finish": "floor",
                  "holds": {"lift": {"lift": 1}}}},
 "never": [{"rear_wheel": ["off"], "place": ["floor"]}],
 "moves": [
   {"name": "onto lift", "minutes": 3, "needs": {"place": ["floor"]}, "sets": {"place": "lift"}},
   {"name": "off lift", "minutes": 3, "needs": {"place": ["lift"]}, "sets": {"place": "floor"}},
   {"name": "engage gear", "minutes": 0.5, "needs": {"gear": ["neutral"]},
    "sets": {"gear": "engaged"}},
   {"name": "neutral", "minutes": 0.5, "needs": {"gear": ["engaged"]}, "sets": {"gear": "neutral"}},
   {"name": "wheel off", "minutes": 6,
    "needs": {"rear_wheel": ["fitted"], "gear": ["engaged"], "place": ["lift"]},
    "sets": {"rear_wheel": "off"}},
   {"name": "wheel on", "minutes": 7, "needs": {"rear_wheel": ["off"], "gear": ["engaged"]},
    "sets": {"rear_wheel": "fitted"}}],
 "operations": [
   {"name": "crack fill plug", "minutes": 2,
    "needs": {"rear_wheel": ["off"], "gear": ["neutral"], "fill_plug": ["tight"]},
    "sets": {"fill_plug": "out"}, "after": [], "job": "final drive oil"},
   {"name": "drain", "minutes": 2, "unattended": 10,
    "needs": {"rear_wheel": ["off"], "drain_plug": ["tight"]}, "sets": {"drain_plug": "out"},
    "after": ["crack fill plug"], "job": "final drive oil"},
   {"name": "drain plug in", "minutes": 2, "needs": {"drain_plug": ["out"]},
    "sets": {"drain_plug": "tight"}, "after": ["drain"], "job": "final drive oil"},
   {"name": "fill and close", "minutes": 6,
    "needs": {"fill_plug": ["out"], "drain_plug": ["tight"]}, "sets": {"fill_plug": "tight"},
    "after": ["drain plug in"], "job": "final drive oil"}],
 "technicians": [{"name": "A", "skills": []}], "resources": {"lift": 1}}
"""
