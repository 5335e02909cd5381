"""Calculators of fluids and shims: facts of the trade, and what they warn of."""

import pytest

from witnessmark.calculators import CALCULATORS, CalculationErrors, evaluate


def answer(name, **texts):
    return evaluate(CALCULATORS[name], texts)


def test_four_and_a_half_litres_are_about_4_76_us_quarts_in_two_stages():
    """Common practice, no source: 3.5 L, run, then 1 L to the mark."""
    found = answer("stages", volume="4.5 L", held_back="1 L")
    assert found.said.startswith("First 3.5 L; run the engine")
    assert dict(found.lines)["the whole in US quarts"].startswith("4.75")


def test_three_strokes_of_a_60_ml_syringe_are_180_ml():
    """Common practice, no source: a final drive filled by syringe."""
    assert "3 × 60 mL" in answer("strokes", volume="180 ml", syringe="60 ml").said


def test_an_oil_without_a_clutch_rating_is_refused_in_words():
    found = answer(
        "bottle",
        family="engine oil",
        wanted="SAE 10W-40",
        bottle="SAE 10W-40, API SN",
        clutch="in the oil",
    )
    assert found.said == "Refused: no clutch rating on it: the clutch may slip."


def test_a_mineral_clutch_never_gets_brake_fluid():
    found = answer("bottle", family="mineral clutch oil", wanted="mineral oil", bottle="DOT 4")
    assert (
        found.said == "Never: DOT 4: brake fluid destroys the seals of a circuit for mineral oil."
    )


def test_a_water_test_says_flush_or_lets_the_interval_stand_and_that_age_says_little():
    wet, dry = (answer("brake-fluid", label="DOT 4", water=water) for water in ("3.2 %", "0.5"))
    assert "flush now" in wet.said
    assert "the interval stands" in dry.said
    assert any("Age alone predicts little" in words for words in dry.warnings)


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        ({"label": "DOT 5.1", "water": "2"},
         ("With 2 % of water DOT 3 fluid boils at about 154 to 160 °C, below the 180 °C that DOT 5.1 keeps wet: "
         "flush now.")),
        ({"label": "DOT 5.1", "boils": "157 °C"},
         "It boils at 157 °C, below the 180 °C that DOT 5.1 keeps wet: flush now."),
        ({"label": "DOT 4", "water": "2.9"},
         "With 2.9 % of water DOT 3 fluid boils at about 146 °C, below the 155 °C that DOT 4 keeps wet: flush now."),
        ({"label": "DOT 4", "water": "0.5", "boils": "150 °C"},
         ("With 0.5 % of water DOT 3 fluid boils at about 206 °C, above the 155 °C that DOT 4 keeps wet; it boils at "
         "150 °C, below the 155 °C that DOT 4 keeps wet: flush now.")),
        ({"label": "DOT 3/4", "boils": "150 °C"},
         "It boils at 150 °C, below the 155 °C that DOT 4 keeps wet: flush now."),
    ],
)  # fmt: skip
def test_brake_fluid_is_judged_by_one_rule_the_safer(texts, said):
    found = answer("brake-fluid", **texts)
    assert found.said == said
    assert ("the curve of water" in dict(found.lines)) is ("water" in texts)


@pytest.mark.parametrize(
    ("now", "problem"),
    [
        ("0,5", "0.5 % is next to nothing"),
        ("60/40", "may be a mix or a fraction"),
        ("1/2", "a fraction"),
    ],
)
def test_a_share_of_coolant_that_can_hardly_be_meant_is_asked_about(now, problem):
    with pytest.raises(CalculationErrors, match=problem) as refused:
        answer("coolant", glycol="ethylene glycol", whole="2.2 L", now=now, wanted="-30 °C")
    assert [error.place for error in refused.value.errors] == ["now"]


def test_half_and_half_is_half():
    found = answer("coolant", glycol="ethylene glycol", whole="2.2 L", now="50/50", wanted="-30 °C")
    assert found.said == "Leave it: 50 % of ethylene glycol is good for that."
    assert dict(found.put_in)["Glycol in it now, by volume"] == "“50/50” is 50 %"


def test_beyond_the_tables_nothing_is_claimed():
    found = answer(
        "coolant",
        glycol="ethylene glycol",
        whole="2.2 L",
        now="70",
        wanted="-30 °C",
        concentrate="0",
    )
    assert dict(found.lines)["freezes now at"] == "not known: the tables kept here end at 60 %"


def test_coolant_warns_of_animals_and_of_a_hot_system():
    found = answer("coolant", glycol="ethylene glycol", whole="2.2 L", now="30", wanted="-30 °C")
    assert "kills animals" in CALCULATORS["coolant"].caution
    assert found.said.startswith("Drain 460 mL and fill as much of 100 % coolant")


@pytest.mark.parametrize(
    ("name", "texts", "field"),
    [
        (
            "bottle",
            {"family": "engine oil", "wanted": "SAE 10W-40", "bottle": "SAE 10W-45"},
            "bottle",
        ),
        (
            "bottle",
            {"family": "engine oil", "wanted": "SAE 10W-45", "bottle": "SAE 10W-40"},
            "wanted",
        ),
        ("brake-fluid", {"label": "DOT 6"}, "label"),
        ("brake-fluid", {"label": "DOT 5", "water": "3"}, "water"),
        ("stages", {"volume": "4.5 L", "held_back": "5 L"}, "held_back"),
        (
            "fork-oil-blend",
            {"wanted": "60", "first": "22", "second": "46", "volume": "1 L"},
            "wanted",
        ),
        ("shims", {"valves": "inlet 1: 0.05", "least": "0.1 mm", "most": "0.15 mm"}, "valves"),
        (
            "crow-foot",
            {"torque": "60 Nm", "reach": "80 mm", "arm": "400 mm", "step": "1000"},
            "step",
        ),
        ("crow-foot", {"torque": "60 Nm", "reach": "80 mm", "arm": "400 mm", "step": "0"}, "step"),
        ("chain-wear", {"chain": "520", "links": "20", "length": "32 mm"}, "length"),
        ("compression", {"pressures": "170\n150"}, "pressures"),
    ],
)
def test_a_fault_stands_at_its_own_field(name, texts, field):
    with pytest.raises(CalculationErrors) as refused:
        answer(name, **texts)
    assert [error.place for error in refused.value.errors] == [field]
