"""Calculators of torque wrenches."""

from witnessmark.calculators import CALCULATORS, evaluate


def test_a_range_in_lbf_ft_is_that_of_the_scale_and_its_low_end_has_the_same_unit():
    """By arithmetic: 20 lbf·ft are 27.1 N·m, so 21 N·m is below it; 100 N·m are 73.76 lbf·ft."""
    texts = {"torques": "21 N·m\n100 N·m", "wrenches": "Large: 20 to 100 lbf·ft by 1"}
    found = evaluate(CALCULATORS["which-wrench"], texts)
    assert found.said == "No wrench for 21 N·m."
    assert dict(found.lines)["100 N·m"] == "Large, set 74 lbf·ft"
