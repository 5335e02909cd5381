"""Readings that bring a job forward: shorter, never longer."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.book.model import Book
from witnessmark.due import NextVisit, what_is_due
from witnessmark.facts import LastDone, Odometer, ReadingTaken

TODAY = date(2026, 5, 2)
WATER = ["under 1 %", "1 to 2 %", "3 % or more"]
STATES = ["not due", "due before the next likely visit", "due"]
BOOK = Book(
    format=1,
    name="trial",
    title="Trial",
    figures={
        "every": {"text": "Every", "quantity": "duration", "value": "24 months", "source": "p. 1"},
        "boils": {"text": "Boils", "quantity": "temperature", "value": "155 °C", "source": "p. 2"},
    },
    fluids={"fluid": {"text": "Brake fluid", "family": "glycol brake fluid"}},
    readings={
        "water": {"text": "Water", "quantity": "words", "choices": WATER, "bad": WATER[2:]},
        "boiling": {
            "text": "Boiling point",
            "quantity": "temperature",
            "unit": "°C",
            "low": "boils",
        },
    },
    jobs={
        "brake_fluid": {
            "text": "Brake fluid",
            "every_time": "every",
            "early": ["water", "boiling"],
            "disposal": ["fluid"],
            "operations": {"do": {"text": "do it", "minutes": 5}},
        }
    },
)


def stand(readings=(), months_ago=6, book=BOOK):
    last = LastDone("brake_fluid", "record", None, TODAY - timedelta(days=30 * months_ago), "paper")
    following = NextVisit(TODAY + timedelta(days=365), None)
    here = Odometer(TODAY, 1000.0)
    return what_is_due(book, here, TODAY, {"brake_fluid": last}, following, readings=readings)[0]


def water(words, days_ago=10):
    return ReadingTaken("water", None, "words", TODAY - timedelta(days=days_ago), words=words)


def boiling(celsius, days_ago=10):
    return ReadingTaken("boiling", celsius, "temperature", TODAY - timedelta(days=days_ago))


def test_too_much_water_makes_it_due_long_before_its_interval():
    found = stand([water("3 % or more")])
    assert (found.state, found.by) == ("due", "reading")
    assert "3 % or more on 22 Apr 2026, which is no longer good: due now" in found.why


def test_a_fluid_that_boils_too_early_makes_it_due():
    found = stand([boiling(150)])
    assert (found.state, found.by) == ("due", "reading")
    assert "150 °C on 22 Apr 2026, below 155 °C" in found.why


def test_what_was_read_before_the_change_says_nothing_of_the_fluid_that_is_in():
    assert stand([water("3 % or more", days_ago=200)]).state == stand().state == "not due"


def test_the_newest_test_counts():
    assert stand([water("3 % or more", 20), water("under 1 %", 10)]).state == "not due"


def test_a_reading_above_its_upper_limit_makes_it_due():
    """Up to the limit it does not."""
    reading = BOOK.readings["boiling"].model_copy(update={"low": None, "high": "boils"})
    book = BOOK.model_copy(update={"readings": BOOK.readings | {"boiling": reading}})
    assert stand([boiling(155)], book=book).state == "not due"
    found = stand([boiling(156)], book=book)
    assert (found.state, found.by) == ("due", "reading")
    assert "156 °C on 22 Apr 2026, above 155 °C" in found.why


def test_that_age_says_little_is_said_of_brake_fluid_with_a_test_alone():
    other = BOOK.fluids["fluid"].model_copy(update={"family": "engine oil"})
    untested = BOOK.jobs["brake_fluid"].model_copy(update={"early": []})
    for change in ({"fluids": {"fluid": other}}, {"jobs": {"brake_fluid": untested}}):
        assert "Age alone" not in stand(book=BOOK.model_copy(update=change)).why


def test_without_a_test_it_is_said_that_age_alone_predicts_little():
    """Transport and Road Research Laboratory, report LR903: no firm relationship of age and water."""
    assert "Age alone predicts little" in stand().why


READINGS = st.lists(
    st.builds(water, st.sampled_from(WATER), st.integers(0, 400))
    | st.builds(boiling, st.floats(90, 300), st.integers(0, 400)),
    max_size=4,
)


@given(READINGS, st.integers(0, 40))
def test_no_reading_ever_puts_it_off(readings, months):
    """Whatever was read, it is due as early as without a reading, or earlier."""
    assert STATES.index(stand(readings, months).state) >= STATES.index(stand((), months).state)
