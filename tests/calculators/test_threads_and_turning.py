"""Calculators of torque and angle, ranges of torque, inch and pipe threads, and wire inserts."""

import pytest

from witnessmark.calculators import CALCULATORS, CalculationErrors, evaluate
from witnessmark.calculators.turning import read_tightening


def said(name, **typed):
    return evaluate(CALCULATORS[name], typed)


def refused(name, **typed):
    with pytest.raises(CalculationErrors) as told:
        said(name, **typed)
    (error,) = told.value.errors
    return error


# ---------------------------------------------------------------- a torque as a range


def test_both_ends_of_a_range_are_checked_and_its_middle_is_to_set():
    found = said("torque-check", torque="45–55 Nm", thread="M10", **{"class": "8.8"})
    assert found.said.startswith("No slip to be seen")
    assert found.said.endswith("Set the middle, 50 N·m.")
    high = said("torque-check", torque="20 to 250 Nm", thread="M10", **{"class": "8.8"})
    assert high.said.startswith("250 N·m would break")
    assert "Set" not in high.said
    low = said("torque-check", torque="1–50 Nm", thread="M10", **{"class": "8.8"})
    assert low.said.startswith("1 N·m would hardly clamp")
    both = said("torque-check", torque="1–250 Nm", thread="M10", **{"class": "8.8"})
    assert "1 N·m would hardly clamp" in both.said
    assert "250 N·m would break" in both.said


def test_a_wrench_is_set_to_the_middle_and_a_preload_spans_both_ends():
    middle = said("crow-foot", torque="45–55 Nm", reach="80 mm", arm="400 mm")
    assert middle.said == said("crow-foot", torque="50 Nm", reach="80 mm", arm="400 mm").said
    wide = dict(said("preload", torque="45–55 Nm", thread="M10", treated="oiled").lines)
    least = dict(said("preload", torque="45 Nm", thread="M10", treated="oiled").lines)
    most = dict(said("preload", torque="55 Nm", thread="M10", treated="oiled").lines)
    assert wide["friction 0.16"] == least["friction 0.16"]
    assert wide["friction 0.08"] == most["friction 0.08"]
    fits = said("which-wrench", torques="45-55\n20 N·m", wrenches="Large: 20 to 100 N·m by 1")
    assert dict(fits.lines)["45 to 55 N·m"] == "Large, set 50 N·m"


def test_a_range_in_another_unit_keeps_both_ends_and_a_scale_is_set_to_its_middle():
    """45 and 55 N·m are 33.19 and 40.57 lbf·ft (NIST SP 811 App. B.8); half of the range is what it may be off."""
    found = said("convert", quantity="45–55 Nm", to="lbf·ft")
    assert found.said == "45 to 55 N·m is 33.2 lbf·ft to 40.6 lbf·ft."
    fine = said("convert", quantity="45–55 Nm", to="lbf·ft", step="1")
    assert fine.said == "45 to 55 N·m: set 37 lbf·ft."
    coarse = said("convert", quantity="45–47 Nm", to="lbf·ft", step="10")
    assert "cannot be set within the tolerance" in coarse.warnings[0]
    assert dict(said("convert", quantity="45–55 Nm").lines)["in kgf·m"].startswith("4.58")
    assert (
        said("convert", quantity="2.0-2.5 bar", to="psi").said
        == "2 to 2.5 bar is 29 psi to 36.3 psi."
    )
    assert "no unit" in refused("convert", quantity="2.0-2.5").problem


# ---------------------------------------------------------------- torque and angle


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("40 Nm + 90°", "40 N·m, then 90°"),
        ("40Nm+90°", "40 N·m, then 90°"),
        ("40 Nm 90°", "40 N·m, then 90°"),
        ("40 nm then 90 deg then 90 deg", "40 N·m, then 90°, then 90°"),
        ("40 Nm + 2 x 90°", "40 N·m, then 90°, then 90°"),
        ("40 Nm + 90° x 2", "40 N·m, then 90°, then 90°"),
        ("20 Nm, 40 Nm, 90°", "40 N·m, then 90°"),
        ("35-45 Nm + 90°", "35 to 45 N·m, then 90°"),
        ("1/4 turn", "90°"),
        ("22,5°", "22.5°"),
        ("30 lbf·ft and 90°", "30 lbf·ft, then 90°"),
    ],
)
def test_a_tightening_is_read_as_manuals_write_it(typed, words):
    assert read_tightening(typed).words == words


@pytest.mark.parametrize(
    ("typed", "problem"),
    [
        ("40 Nm", "no angle is given"),
        ("40 Nm + 90", "has no unit"),
        ("90° + 40 Nm", "a torque, 40 N·m, after an angle"),
        ("2 x 40 Nm + 90°", "several times"),
        ("40 Nm + 900 turns", "more than anything here"),
        ("720° + 720°", "more than 3 turns"),
        ("-90°", "no angle to turn by"),
        ("M10 + 90°", "does not start with a number"),
    ],
)
def test_what_is_no_tightening_is_told(typed, problem):
    error = refused("torque-angle", tightening=typed, thread="M10", grip="60 mm")
    assert error.place == "tightening"
    assert problem in error.problem
    assert error.expected


def test_an_angle_that_takes_the_bolt_past_its_yield_is_told_so_and_one_that_does_not():
    """By VDI 2230 an M10 10.9 yields near 50 kN; 180° on a stiff joint add far more, 10° far less."""
    typed = {"thread": "M10", "grip": "60 mm", "class": "10.9", "treated": "oiled"}
    far = said("torque-angle", tightening="30 Nm + 180°", **typed)
    near = said("torque-angle", tightening="20 Nm + 10°", **typed)
    assert "past its yield" in far.said
    assert "within its elastic range" in near.said
    assert "may take" in said("torque-angle", tightening="30 Nm + 50°", **typed).said
    assert all("usually renewed" in found.warnings[0] for found in (far, near))


def test_a_longer_grip_and_a_softer_part_take_less_from_the_same_angle():
    def adds(**typed):
        found = said("torque-angle", tightening="90°", thread="M8", **typed)
        return dict(found.lines)["the angle adds, if all stays elastic"]

    assert adds(grip="40 mm") != adds(grip="80 mm")
    assert float(adds(grip="40 mm").split()[0]) > 1.6 * float(adds(grip="80 mm").split()[0])
    assert float(adds(grip="40 mm", parts="aluminium").split()[0]) < float(
        adds(grip="40 mm").split()[0]
    )


def test_a_grip_that_cannot_be_is_asked_about():
    error = refused("torque-angle", tightening="90°", thread="M10", grip="60 cm")
    assert (error.place, "no grip of an M10" in error.problem) == ("grip", True)


# ---------------------------------------------------------------- inch and pipe threads


def test_a_grade_gives_its_loads_and_below_its_standard_promises_nothing():
    """3/8-16, grade 5: 85 ksi on 0.0775 in² are 6590 lbf of proof load (SAE J429)."""
    found = said("inch-thread", thread="3/8-16", grade="5")
    pounds = dict(found.lines)["proof load, grade 5"].split(", ")[1].removesuffix(" lbf")
    assert float(pounds) == pytest.approx(6590, rel=0.002)
    small = said("inch-thread", thread="#10-32", grade="8")
    assert "promises nothing" in small.warnings[0]


def test_what_was_measured_tells_whether_it_is_the_thread():
    def told(across):
        found = said("pipe-thread", thread="G1/4", across=across)
        return dict(found.lines)["measured"], found.warnings[0]

    assert told("13.0 mm")[0] == "the size of G 1/4"
    assert told("13.6 mm")[0] == "not G 1/4; it may be 1/4-18 NPT"
    assert told("14.8 mm")[1] == "Measured: not G 1/4; it is none of these."
    assert refused("pipe-thread", thread="G1/4", across="1/2 mm").place == "across"


@pytest.mark.parametrize(
    ("typed", "problem", "where"),
    [("3/8-16", "3/8-16 UNC is no metric thread", "inch-thread"), ("G 1/8", "G 1/8 is no metric", "pipe-thread")],
)  # fmt: skip
def test_a_thread_of_another_system_is_sent_to_its_own_calculator(typed, problem, where):
    error = refused("torque-check", torque="20 Nm", thread=typed)
    assert problem in error.problem
    assert where in error.expected


# ---------------------------------------------------------------- inserts


def test_an_insert_holds_more_than_a_plain_thread_of_the_same_length_and_longer_ones_hold_more():
    """What is sheared is a larger circle of the softer metal; steel on steel it hardly matters."""
    found = said("thread-insert", thread="M8", into="aluminium casting", **{"class": "8.8"})
    torn = [
        [float(word) for word in text.replace("kN", "").split() if word.replace(".", "").isdigit()]
        for label, text in found.lines
        if " d, " in label
    ]
    assert len(torn) == 4
    assert all(insert > plain for insert, plain, *_ in torn)
    assert [row[0] for row in torn] == sorted(row[0] for row in torn)
    breaks = float(dict(found.lines)["the bolt breaks at no less than"].split()[0])
    from_d = float(found.said.split("from ")[1].split(" d")[0])
    holds = dict(zip((1.0, 1.5, 2.0, 2.5), (row[0] for row in torn), strict=True))
    assert holds[from_d] >= breaks
    assert all(force <= breaks for times, force in holds.items() if times < from_d)


def test_no_length_of_insert_holds_the_strongest_bolt_in_the_softest_metal():
    found = said("thread-insert", thread="M10x1", into="magnesium casting", **{"class": "12.9"})
    assert "no insert up to 2.5 d" in found.said
