"""The wrenches of a plan: laid out with their settings, and what none can prove said before the work starts."""

from datetime import date, timedelta

from tests.kit.trial import plan
from tests.ledger.bench import BOOK
from witnessmark.kit import kit
from witnessmark.wrenches import Check, TorqueTool

DAY = date(2026, 3, 2)
GOOD = (Check(DAY - timedelta(days=30)),)
SMALL = TorqueTool("Small", 25.0, 5.0, step=0.5, history=GOOD, key="s")
LARGE = TorqueTool("Large", 100.0, 20.0, step=1.0, history=GOOD, key="l")
PLAN = plan("drive_oil/fill", "drive_oil/wheel_tight", "covers/turn")


def laid(*wrenches):
    return kit(BOOK, PLAN, wrenches=wrenches, on=DAY)


def unproven(found):
    return [one.words for one in found.missing if one.kind == "wrench"]


def test_each_wrench_comes_with_its_settings_in_order_of_first_use():
    found = laid(LARGE, SMALL).wrenches
    assert [(one.name, one.settings, one.step) for one in found] == [
        ("Small", (("25 N·m", ("drain plug", "cover nut")),), "drive_oil/fill"),
        ("Large", (("60 N·m", ("wheel bolt",)),), "drive_oil/wheel_tight"),
    ]
    assert unproven(laid(LARGE, SMALL)) == []


def test_a_figure_that_no_wrench_proves_is_said_with_the_nearest_reasons():
    assert unproven(laid(SMALL)) == [
        "wheel bolt, 60 N·m: no wrench proves it. Small: ends at 25 N·m, 60 N·m to be set"
    ]
    assert unproven(laid())[0].endswith("no wrench to prove it")


def test_nothing_is_said_of_wrenches_where_the_shop_is_not_known():
    assert unproven(kit(BOOK, PLAN)) == []
    assert kit(BOOK, PLAN).wrenches == ()
