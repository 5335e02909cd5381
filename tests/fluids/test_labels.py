"""What is printed on bottles: read, refused in words, never a traceback and never a silent guess."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.fluids import Bottle, FluidError, Wanted, brake, clutch, grades, judge
from witnessmark.fluids.bottle import faults

FAMILIES = ["engine oil", "gear oil", "fork oil", "glycol brake fluid", "silicone brake fluid",
            "mineral clutch oil", "coolant", "chain lubricant"]  # fmt: skip
PIECES = ["SAE", "10W-40", "10W", "-", "40", " ", "80W-90", "DOT", "5.1", "5,1", "6", "JASO", "MA2", "MB", "MX",
          "GL-5", "silicone", "glycol", "mineral", "non-silicone", "wet clutch", "٤٠", "\u00a0", "∞", "-7", "10 000",
          "class 5-1", "ILSAC GF-6", "0W", "99999"]  # fmt: skip
LABELS = st.text(max_size=40) | st.lists(st.sampled_from(PIECES), max_size=6).map(" ".join)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("10W-40", "SAE 10W-40"),
        ("SAE 80W-90", "SAE 80W-90"),
        ("sae 10w40", "SAE 10W-40"),
        ("SAE 10W\u00a0–\u00a040, API SN", "SAE 10W-40"),
        ("SAE ١٠W-٤٠", "SAE 10W-40"),  # Arabic digits
        ("SAE 30", "SAE 30"),
        ("SAE 5W fork oil", "SAE 5W"),
        ("75W-90 GL-4", "SAE 75W-90"),
    ],
)
def test_a_grade_is_read_as_printed(text, words):
    assert [grade.words for grade in grades.grades_in(text)] == [words]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("10W-45", "grades of SAE J300 are"),
        ("11W-40", "winter grades of SAE J300 are"),
        ("80W-91", "grades of SAE J306 are"),
        ("SAE 45", "grades of SAE J300 are"),
    ],
)
def test_what_is_no_grade_is_told_with_the_grades_there_are(text, expected):
    with pytest.raises(FluidError) as caught:
        grades.grades_in(text)
    assert expected in caught.value.expected


@pytest.mark.parametrize(
    ("text", "name", "base"),
    [
        ("DOT 5.1", "DOT 5.1", "glycol"),
        ("dot5,1 brake fluid", "DOT 5.1", "glycol"),
        ("DOT 5", "DOT 5", "silicone"),
        ("DOT 4 LV, ISO 4925 class 6", "ISO 4925 class 6", "glycol"),
        ("DOT 3/4", "DOT 4", "glycol"),
        ("DOT 4/3", "DOT 4", "glycol"),
        ("DOT 3 & DOT 4", "DOT 4", "glycol"),
        ("DOT 4 / 5.1", "DOT 5.1", "glycol"),
        ("DOT 4 - 500 mL", "DOT 4", "glycol"),
        ("DOT 4 class 6", "ISO 4925 class 6", "glycol"),
        ("DOT 4 glycol", "DOT 4", "glycol"),
        ("DOT 5.1, non-silicone", "DOT 5.1", "glycol"),
    ],
)
def test_a_brake_fluid_class_is_read_with_its_base(text, name, base):
    assert (brake.read_class(text), brake.base_in(text)) == (name, base)


@pytest.mark.parametrize("text", ["DOT 6", "DOT 41", "DOT 0", "DOT 5-1", "ISO 4925 class 9"])
def test_a_class_that_does_not_exist_is_refused(text):
    with pytest.raises(FluidError) as caught:
        brake.read_class(text)
    assert caught.value.expected


def test_a_label_of_two_bases_is_not_believed():
    with pytest.raises(FluidError, match="never mix"):
        brake.base_in("DOT 4, silicone")
    with pytest.raises(FluidError, match="never mix"):
        brake.read_class("DOT 4/5")


@given(LABELS, LABELS)
def test_any_label_is_read_or_told_why_not(one, two):
    """Each parser answers or raises FluidError with all its parts; judging never raises at all."""
    for read in (grades.grades_in, grades.gear_classes_in, clutch.printed,
                 brake.classes_in, brake.read_class, brake.base_in):  # fmt: skip
        try:
            read(one)
        except FluidError as error:
            said = error.as_dict()
            assert all(said.values())
    for family in FAMILIES:
        bottle = Bottle(family, one, two)
        verdict = judge(Wanted(family, two or None, wet_clutch=True), bottle)
        assert verdict.why or verdict.standing == "allowed"
        assert all(faults(bottle)) or not faults(bottle)


@given(
    st.sampled_from(sorted(grades.J300_COLD)),
    st.sampled_from(sorted(grades.J300_WARM)),
    st.text(" ,;()ab", max_size=9),
)
def test_every_engine_grade_is_found_in_any_words_around_it(cold, warm, around):
    for written in (f"{cold}-{warm}", f"SAE {cold} {warm}", f"{cold}{warm}".lower()):
        assert grades.grades_in(f"{around} {written} {around}") == (
            grades.Grade("SAE J300", cold, warm),
        )


# ---------------------------------------------------------------- which bottle is allowed

OIL = Wanted("engine oil", "SAE 10W-40, rated for a wet clutch", wet_clutch=True)


@pytest.mark.parametrize(
    ("wanted", "bottle", "standing", "why"),
    [
        (OIL, Bottle("engine oil", "SAE 10W-40", "JASO MA2"), "allowed", ""),
        (OIL, Bottle("engine oil", "SAE 10W-40", "rated for a wet clutch"), "allowed", ""),
        (OIL, Bottle("engine oil", "SAE 10W-40", "API SN"), "refused", "no clutch rating on it: the clutch may slip"),
        (OIL, Bottle("engine oil", "SAE 10W-40", "JASO MB"), "refused", "made for dry clutches: the clutch may slip"),
        (OIL, Bottle("engine oil", "SAE 10W-40", "JASO MA2, ILSAC GF-6"), "refused", "friction modifiers"),
        (OIL, Bottle("engine oil", "SAE 20W-50", "JASO MA"), "refused", "SAE 20W-50, and the book allows SAE 10W-40"),
        (OIL, Bottle("engine oil", "", "JASO MA"), "not known", "look at the label"),
        (OIL, Bottle("gear oil", "SAE 80W-90"), "never", "gear oil, and this takes engine oil"),
        (Wanted("engine oil", "SAE 10W-30"), Bottle("engine oil", "SAE 10W-30"), "allowed", ""),
        (Wanted("engine oil", "10W-40 JASO MA2", wet_clutch=True), Bottle("engine oil", "10W-40", "JASO MA"), "refused",
         "JASO MA, and the book asks for JASO MA2"),
        (Wanted("engine oil", None), Bottle("engine oil", "SAE 10W-30"), "not known", "grade is missing"),
        (Wanted("glycol brake fluid", "DOT 4 glycol"), Bottle("glycol brake fluid", "DOT 4"), "allowed", ""),
        (Wanted("glycol brake fluid", "DOT 4"), Bottle("glycol brake fluid", "DOT 3"), "refused", "at 140 °C wet"),
        (Wanted("glycol brake fluid", "DOT 4"), Bottle("glycol brake fluid", "DOT 5.1"), "refused", "does not name it"),
        (Wanted("glycol brake fluid", "DOT 4"), Bottle("glycol brake fluid", "DOT 5"), "never", "silicone never mixes"),
        (Wanted("glycol brake fluid", "DOT 4"), Bottle("silicone brake fluid"), "never", "silicone never mixes"),
        (Wanted("mineral clutch oil", "Mineral"), Bottle("glycol brake fluid", "DOT 4"), "never", "destroys the seals"),
        (Wanted("gear oil", "SAE 80W-90, GL-4"), Bottle("gear oil", "80W-90", "API GL-5"), "refused", "API GL-5"),
        (Wanted("gear oil", "80W-90 GL-4 (not GL-5)"), Bottle("gear oil", "80W-90 GL-5"), "refused", "book excludes"),
        (Wanted("gear oil", "80W-90 GL-4, never GL-5"), Bottle("gear oil", "80W-90 GL-4/GL-5"), "refused",
         "GL-5, which"),
        (Wanted("glycol brake fluid", "DOT 4 (not DOT 5.1)"), Bottle("glycol brake fluid", "DOT 5.1"), "refused",
         "DOT 5.1, which the book excludes"),
        (Wanted("glycol brake fluid", "not lower than DOT 4"), Bottle("glycol brake fluid", "DOT 4"), "allowed", ""),
        (Wanted("engine oil", "10W-40, no MB"), Bottle("engine oil", "10W-40 MB"), "refused", "JASO MB, which"),
        (Wanted("engine oil", "10w40 ma2"), Bottle("engine oil", "10W-40 MB"), "refused", "dry clutches"),
        (Wanted("engine oil", "10W-40 JASO MA2"), Bottle("engine oil", "10W-40 JASO MA-2"), "allowed", ""),
        (Wanted("engine oil", "10W-40 API SG"), Bottle("engine oil", "10W-40 API SC"), "allowed",
         "the book also says SG, which is not compared"),
        (Wanted("engine oil", "20W-50 mineral"), Bottle("engine oil", "20W-50 fully synthetic"), "allowed",
         "says mineral"),
        (Wanted("engine oil", "10W-40 synthetic"), Bottle("engine oil", "10W-40 semi-synthetic"), "allowed",
         "says synthetic, which is not compared"),
        (Wanted("coolant", "Ethylene glycol"), Bottle("coolant", "Propylene glycol"), "refused", "propylene glycol"),
        (Wanted("coolant", "Ethylene glycol"), Bottle("coolant", "Ethylene glycol"), "allowed", ""),
        (Wanted("fork oil", "SAE 10W fork oil"), Bottle("fork oil", "SAE 10W"), "allowed", "mm²/s"),
    ],
)  # fmt: skip
def test_a_bottle_is_allowed_or_refused_in_words(wanted, bottle, standing, why):
    """Common practice and the classes' own limits; the book's words decide what is asked for."""
    verdict = judge(wanted, bottle)
    assert verdict.standing == standing
    assert why in verdict.words


@pytest.mark.parametrize(
    ("bottle", "why"),
    [
        (Bottle("engine oil", "SAE 10W-45"), "no SAE grade"),
        (Bottle("engine oil", "SAE 80W-90"), "a grade of SAE J306"),
        (Bottle("glycol brake fluid", "DOT 5"), "is silicone"),
        (Bottle("engine oil", "10W-40", "JASO MC"), "no JASO class"),
        (Bottle("gear oil", "SAE 80W-90"), None),
        (Bottle("engine oil", "SAE 10W-40", "JASO MA2"), None),
    ],
)
def test_what_is_odd_about_a_pack_on_the_shelf_is_said(bottle, why):
    found = faults(bottle)
    assert (why is None and found == ()) or (why is not None and why in found[0])
