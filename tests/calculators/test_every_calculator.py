"""What holds of every calculator there is: the pages and the command line rest on it."""

import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from witnessmark.calculators import (
    CALCULATORS,
    SUBJECTS,
    Calculated,
    CalculationError,
    CalculationErrors,
    evaluate,
    find,
)
from witnessmark.errors import WitnessError
from witnessmark.units import QUANTITIES

EVERY = pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
SVG = "{http://www.w3.org/2000/svg}"


def examples(calculator, *, needed_only=False):
    return {a.name: a.example for a in calculator.asked if not (needed_only and a.optional)}


def sound(answer: Calculated) -> None:
    """A sentence, its formula, what was understood, its source; a picture that stands as XML."""
    assert answer.said.strip().endswith((".", "?"))
    assert answer.formula.strip()
    assert answer.source.strip()
    assert all(label and text for label, text in (*answer.lines, *answer.put_in))
    ours = " ".join([answer.said, *(text for _, text in answer.lines)])
    ours = re.sub(r"“[^”]*”", "", ours)  # what was typed may say anything
    assert not re.search(r"\b(nan|inf|None)\b", ours), ours
    if answer.picture is not None:
        root = ET.fromstring(answer.picture)
        assert root.tag == f"{SVG}svg"
        assert root.find(f"{SVG}title").text
        allowed = {"svg", "title", "g", "line", "path", "rect", "circle", "polygon", "polyline", "text",
                   "tspan", "ellipse", "desc"}  # fmt: skip
        assert {one.tag.removeprefix(SVG) for one in root.iter()} <= allowed
        assert not any("style" in one.attrib for one in root.iter())


@EVERY
def test_it_answers_its_own_example(calculator):
    """With everything put in, and with what may be left out left out."""
    sound(evaluate(calculator, examples(calculator)))
    sound(evaluate(calculator, examples(calculator, needed_only=True)))


@EVERY
def test_it_is_described_so_that_a_form_can_be_made_of_it(calculator):
    assert re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", calculator.name)
    assert calculator.title
    assert calculator.text.endswith(".")
    names = [asked.name for asked in calculator.asked]
    assert len(set(names)) == len(names)
    for asked in calculator.asked:
        assert re.fullmatch(r"[a-z][a-z0-9_]*", asked.name)
        assert asked.kind in {*QUANTITIES, "words", "number", "choice", "lines"}
        assert (asked.kind == "choice") == bool(asked.choices)
        assert asked.kind == "number" or not asked.unit


@EVERY
def test_nothing_put_in_is_told_at_every_field_that_needs_something(calculator):
    needed = {asked.name for asked in calculator.asked if not asked.optional}
    if not needed:
        pytest.skip("it answers without anything")
    with pytest.raises(CalculationErrors) as refused:
        evaluate(calculator, {})
    assert {error.place for error in refused.value.errors} == needed


def test_names_are_unlike_and_each_is_found():
    every = [one.name for subject in SUBJECTS.values() for one in subject]
    assert len(every) == len(set(every))
    for name in every:
        assert find(name).name == name


def test_an_unknown_name_is_told_with_the_nearest():
    with pytest.raises(CalculationError) as refused:
        find("convrt")
    assert refused.value.expected == 'did you mean "convert"?'


# ---------------------------------------------------------------- bad input

TYPED = st.one_of(
    st.text(max_size=60),
    st.text(st.sampled_from("0123456789.,'/ -+%½\u00a0\u2009−\n;:#ABCDEFx"), max_size=24),
    st.sampled_from([
        "0", "-1", "1e9", "1e308", "9" * 25, "0 mm", "-5 °C", "0.0001 mm", "1 N·m", "0 V", "100 %", "inf",
        "nan", "1,234 mm", "٣ mm", "12\u00a0mm", "18\u202f000 km", "<script>alert(1)</script>", "]]>", "\x00",
    ]),
)  # fmt: skip


def told(errors, texts):
    """Each at a field of the form, with what is wrong and what would be right."""
    assert errors
    for error in errors:
        assert isinstance(error, WitnessError)
        assert error.place in texts, error
        assert error.problem
        assert error.expected


def typed_for(asked):
    """Its example, cut, changed or replaced; for choices mostly one that there is."""
    return st.one_of(
        st.just(asked.example),
        st.sampled_from(asked.choices) if asked.choices else TYPED,
        st.tuples(st.text(st.sampled_from("0123456789.-"), min_size=1, max_size=5), st.just(asked.example)).map(
            lambda pair: pair[0] + re.sub(r"^[\d.,]+", "", pair[1])
        ),
        st.integers(0, max(len(asked.example), 1)).map(lambda n: asked.example[:n]),
        TYPED,
    )  # fmt: skip


@EVERY
@given(data=st.data())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_whatever_is_typed_it_answers_or_says_what_it_could_not_read(calculator, data):
    """Never a traceback: an answer that is whole, or faults with place, what is wrong and what is right."""
    texts = {a.name: data.draw(typed_for(a), label=a.name) for a in calculator.asked}
    try:
        answer = evaluate(calculator, texts)
    except CalculationErrors as refused:
        told(refused.errors, texts)
        return
    sound(answer)


@pytest.mark.parametrize(
    ("field", "typed", "expected"),
    [
        ("class", "A2", 'did you mean "A2-50", "A2-70" or "A2-80"?'),
        ("into", "aluminium", 'did you mean "aluminium casting" or "wrought aluminium"?'),
        ("class", "12.8", "choose one of"),
        ("treated", "oil", 'did you mean "oiled"?'),
    ],
)
def test_a_choice_is_suggested_only_where_it_is_the_one_that_can_be_meant(field, typed, expected):
    texts = {"torque": "20 N·m", "thread": "M8", field: typed}
    with pytest.raises(CalculationErrors) as refused:
        evaluate(CALCULATORS["torque-check"], texts)
    assert refused.value.errors[0].expected.startswith(expected)
