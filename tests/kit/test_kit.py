"""What must lie ready for a plan: parts, fluids with their packs, tools, in order of first use."""

import pytest

from tests.kit.trial import BOOK, GEAR, OIL_1, OIL_4, plan
from witnessmark.kit import Missing, Pack, kit
from witnessmark.kit.lay_out import KitError
from witnessmark.kit.wording import refused_in_words
from witnessmark.planner import Answer

ALL = plan(
    "pan_under",
    "engine_oil/drain",
    "drive_oil/fill",
    "pan_under",
    "engine_oil/close",
    "engine_oil/fill",
    "engine_oil/top",
)


def test_parts_come_in_order_of_first_use_with_their_sums():
    """A step done twice uses its parts twice; a renewal takes one part, unless the step lists it."""
    found = kit(BOOK, ALL)
    assert [(part.part, part.quantity, part.step, part.start) for part in found.parts] == [
        ("rag", 2, "pan_under", 0),
        ("ring", 3, "engine_oil/drain", 10),
        ("filter", 1, "engine_oil/close", 40),
    ]


def test_the_order_is_that_of_the_plan_not_of_the_book():
    planned = plan("engine_oil/drain", "engine_oil/close").steps
    backwards = [step.model_copy(update={"start": 90 - step.start}) for step in planned]
    found = kit(BOOK, Answer(status="optimal", steps=backwards))
    assert [part.part for part in found.parts] == ["ring", "filter"]
    assert [part.step for part in found.parts] == ["engine_oil/close", "engine_oil/close"]


def test_tools_and_instruments_are_named_once_at_first_use():
    assert [(tool.text, tool.step) for tool in kit(BOOK, ALL).tools] == [
        ("Drain pan", "pan_under"),
        ("Hex key 8", "engine_oil/drain"),
        ("Dipstick", "engine_oil/top"),
    ]


def test_a_staged_fill_is_poured_in_its_stages_and_covered_as_one():
    """Common practice, no source: 4.5 L is 3.5 L, run, then 1 L; from a 4 L and a 1 L pack."""
    oil = next(need for need in kit(BOOK, ALL, [OIL_1, OIL_4]).fluids if need.fluid == "oil")
    assert [(pour.step, pour.stage, pour.volume_ml) for pour in oil.pours] == [
        ("engine_oil/fill", "first", 3500),
        ("engine_oil/top", "top up", 1000),
    ]
    assert (oil.volume_ml, oil.grade, oil.whole) == (4500, "SAE 10W-40, for wet clutches", True)
    assert [(need.pack.name, need.count, need.missing) for need in oil.packs] == [
        ("Oil 4 L", 1, 0),
        ("Oil 1 L", 1, 0),
    ]
    assert oil.containers.left_over_ml == 500


def test_a_syringe_fill_says_how_many_strokes_and_that_the_figure_is_unproven():
    """Common practice, no source: about 180 mL by a 60 mL syringe is three strokes."""
    gear = kit(BOOK, ALL, [GEAR]).fluids[0]
    assert (gear.fluid, gear.pours[0].strokes.words, gear.pours[0].proven) == (
        "gear",
        "3 × 60 mL",
        False,
    )


@pytest.mark.parametrize(
    ("stock", "packs"),
    [
        ([Pack("oil", 1000, in_stock=9), Pack("oil", 4000, in_stock=0)], [(1000, 5, 0)]),
        (
            [Pack("oil", 1000, in_stock=2), Pack("oil", 4000, in_stock=0)],
            [(4000, 1, 1), (1000, 1, 0)],
        ),
        ([Pack("oil", 5000), Pack("oil", 1000, in_stock=0)], [(5000, 1, 0)]),
        (
            [Pack("oil", 1000, "a", in_stock=2), Pack("oil", 1000, "b", in_stock=4)],
            [(1000, 2, 0), (1000, 3, 0)],
        ),
    ],
)
def test_packs_are_opened_from_stock_where_it_suffices_and_otherwise_what_is_missing_is_said(
    stock, packs
):
    oil = kit(BOOK, plan("engine_oil/fill", "engine_oil/top"), stock).fluids[0]
    assert [(need.pack.size_ml, need.count, need.missing) for need in oil.packs] == packs


def test_what_is_missing_is_named():
    found = kit(
        BOOK,
        plan("fork/fill", "engine_oil/close", "drive_oil/fill"),
        [],
        parts_at_hand={"ring": 1, "filter": 1},
    )
    assert found.missing == (
        Missing(
            "figure",
            "fork_oil",
            "Fork, filling: figure missing, so how much is needed is not known",
        ),
        Missing("part", "ring", "Sealing ring: 1 piece missing"),
        Missing("fluid", "gear", "Gear oil: 180 mL needed, and no bottle or can of it is listed"),
    )
    assert found.fluids[0].whole is False


def test_a_plan_of_another_book_is_refused():
    with pytest.raises(KitError, match="is not in the book trial"):
        kit(BOOK, plan("gearbox/drain"))


def test_no_work_needs_nothing():
    assert kit(BOOK, Answer(status="optimal")) == kit(BOOK, plan())
    assert kit(BOOK, plan()).parts == ()


def test_a_bottle_the_machine_does_not_allow_is_not_opened_and_is_told_with_its_reason():
    """A wet clutch: the cheap pack that would cover it alone has no clutch rating."""
    problem = Pack("oil", 5000, "Car oil 5 L", 2000, grade="SAE 10W-40", rating="API SN")
    expected = Pack("oil", 1000, "Oil 1 L", 1200, grade="SAE 10W-40", rating="JASO MA2")
    need = next(need for need in kit(BOOK, ALL, [problem, expected]).fluids if need.fluid == "oil")
    assert [(one.pack.name, one.count) for one in need.packs] == [("Oil 1 L", 5)]
    assert list(refused_in_words(need)) == [
        "Car oil 5 L: no clutch rating on it: the clutch may slip"
    ]


def test_a_shelf_of_refused_bottles_is_missing_and_not_mistaken_for_an_empty_one():
    problem = Pack("oil", 5000, "Car oil 5 L", grade="SAE 10W-40", rating="API SN")
    missing = [one.words for one in kit(BOOK, ALL, [problem]).missing if one.name == "oil"]
    assert missing == ["Engine oil: 4.5 L needed, and every bottle on the shelf is refused"]
