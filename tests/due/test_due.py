"""What is due: distance or time, whichever first; unknown is due; a word counts, but less."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.book.model import Book
from witnessmark.due import NextVisit, next_likely_visit, what_is_due
from witnessmark.facts import LastDone, Odometer, Riding, add_months

TODAY = date(2026, 5, 2)
HERE = Odometer(TODAY, 30_000.0)
IN_A_YEAR = NextVisit(date(2027, 5, 2), 36_000.0)
OPERATION = {"do": {"text": "do it", "minutes": 5}}


def book(every_distance=None, every_time=None, source="Manual p. 1"):
    figures = {
        "far": {
            "text": "Interval, distance",
            "quantity": "distance",
            "value": every_distance,
            "source": source,
        },
        "long": {
            "text": "Interval, time",
            "quantity": "duration",
            "value": every_time,
            "source": source,
        },
    }
    job = {"text": "Oil", "operations": OPERATION, "every_distance": "far", "every_time": "long"}
    return Book(format=1, name="trial", title="Trial", figures=figures, jobs={"oil": job})


def without(key, trial):
    job = trial.jobs["oil"].model_copy(update={key: None})
    return trial.model_copy(update={"jobs": {"oil": job}})


BOTH = book("10000 km", "12 months")
DISTANCE = without("every_time", BOTH)
TIME = without("every_distance", BOTH)


def stand(trial, last=None, *, odometer=HERE, next_visit=IN_A_YEAR, **kwargs):
    last_done = {"oil": last} if last else {}
    return what_is_due(trial, odometer, TODAY, last_done, next_visit, **kwargs)[0]


def done(km=None, on=None, known="record", source=""):
    return LastDone("oil", known, km, date.fromisoformat(on) if on else None, source)


@pytest.mark.parametrize(
    ("last", "state", "by", "km_left", "days_left"),
    [
        (done(20_000, "2026-03-01"), "due", "distance", 0, 303),
        (done(19_000, "2026-03-01"), "due", "distance", -1000, 303),
        (done(29_000, "2025-05-02"), "due", "time", 9000, 0),
        (done(29_000, "2025-04-01"), "due", "time", 9000, -31),
        (done(19_900, "2024-05-02"), "due", "time", -100, -365),  # both over: the one further over
        (done(15_000, "2025-04-02"), "due", "distance", -5000, -30),  # by shares of each, not days
        (done(25_999, "2026-05-02"), "due before the next likely visit", "distance", 5999, 365),
        (done(26_000, "2026-05-02"), "not due", "distance", 6000, 365),
        (done(26_000, "2026-05-01"), "due before the next likely visit", "time", 6000, 364),
    ],
)
def test_whichever_comes_first_decides(last, state, by, km_left, days_left):
    found = stand(BOTH, last)
    assert (found.state, found.by, found.distance_left_km, found.days_left) == (
        state,
        by,
        km_left,
        days_left,
    )


def test_the_reason_has_the_figures_behind_it():
    found = stand(BOTH, done(19_000, "2026-03-01", source="stamp in the booklet"))
    assert found.why == (
        "by record (stamp in the booklet); every 10\u202f000 km: done at 19\u202f000 km, 1000 km over; "
        "every 12 months: done on 1 Mar 2026, 303 days left"
    )
    assert (found.due_km, found.due_on) == (29_000, date(2027, 3, 1))


def test_the_reason_is_in_the_unit_of_the_instrument():
    assert (
        "every 6214 mi: done at 11\u202f806 mi"
        in stand(BOTH, done(19_000, "2026-03-01"), system="us").why
    )


NO_KM, NOTHING = book(None, "12 months"), book("0 km", "12 months")


@pytest.mark.parametrize(
    ("trial", "last", "why"),
    [
        (BOTH, None, "never known to be done; every 10 000 km; every 12 months"),
        (DISTANCE, None, "never known to be done; every 10 000 km"),
        (
            TIME,
            done(29_000),
            "by record; every 12 months: on which day it was last done is not known",
        ),
        (
            DISTANCE,
            done(on="2026-05-01"),
            "by record; every 10 000 km: at what distance it was last done is not known",
        ),
        (
            DISTANCE,
            done(40_000),
            "by record; every 10 000 km: said to be done at 40 000 km, but the odometer reads 30 000 km",
        ),
        (
            TIME,
            done(on="2026-05-03"),
            "by record; every 12 months: said to be done on 3 May 2026, which is yet to come",
        ),
        (
            NO_KM,
            done(29_000, "2026-05-01"),
            (
                "by record; interval not known: figure missing (Interval, distance); "
                "every 12 months: done on 1 May 2026, 364 days left"
            ),
        ),
        (
            NOTHING,
            done(29_000, "2026-05-01"),
            (
                "by record; interval not known: figure is nothing (Interval, distance); "
                "every 12 months: done on 1 May 2026, 364 days left"
            ),
        ),
    ],
)
def test_unknown_is_due_and_says_why(trial, last, why):
    found = stand(trial, last)
    assert (found.state, found.by, found.why.replace("\u202f", " ")) == ("due", "unknown", why)


def test_an_odometer_not_read_yet_leaves_distance_unknown():
    found = stand(DISTANCE, done(29_000), odometer=None)
    assert (found.state, found.why.split(": ")[-1]) == ("due", "the odometer is not read yet")


def test_an_interval_known_to_be_over_decides_before_a_missing_figure():
    found = stand(book(None, "12 months"), done(29_000, "2025-01-01"))
    assert (found.state, found.by) == ("due", "time")


def test_what_was_never_done_is_open_while_the_machine_itself_is_newer_than_the_interval():
    new = Odometer(TODAY, 3_000.0)
    found = stand(
        BOTH, odometer=new, new_on=date(2026, 3, 2), next_visit=NextVisit(date(2026, 9, 1), 6_000.0)
    )
    assert (found.state, found.distance_left_km, found.days_left) == ("not due", 7000, 304)
    assert "the machine has run 3000 km since new, 7000 km left" in found.why
    assert stand(BOTH, odometer=new).by == "unknown"  # its age is not known


def test_a_day_on_the_road_still_to_come_and_a_source_of_nothing_tell_nothing():
    new = Odometer(TODAY, 3_000.0)
    assert stand(TIME, odometer=new, new_on=TODAY + timedelta(days=1)).by == "unknown"
    assert stand(TIME, odometer=new, new_on=TODAY).by == "time"
    found = stand(DISTANCE, done(known="never", source="somebody"))
    assert found.why == "never known to be done; every 10\u202f000 km"


def test_an_unproven_interval_is_used_and_called_so():
    assert (
        "every 10\u202f000 km (unproven figure): done at"
        in stand(book("10000 km", "1 year", None), done(29_000, "2026-05-01")).why
    )


def test_a_job_without_interval_is_done_when_found():
    found = stand(without("every_time", TIME))
    assert (found.state, found.by) == ("not due", "no interval")


def test_where_riding_is_not_known_an_open_distance_is_not_trusted_to_last():
    found = stand(DISTANCE, done(29_999), next_visit=NextVisit(date(2027, 5, 2), None))
    assert found.state == "due before the next likely visit"
    assert found.why.endswith("9999 km left, but how much it is ridden is not known")


@pytest.mark.parametrize(
    ("km", "on", "by_record", "by_word"),
    [
        (29_900, "2026-05-02", "not due", "due before the next likely visit"),
        (25_000, "2026-05-02", "due before the next likely visit", "due"),
        (10_000, "2026-05-02", "due", "due"),
    ],
)
def test_a_word_counts_one_step_less_than_a_record(km, on, by_record, by_word):
    assert stand(BOTH, done(km, on)).state == by_record
    told = stand(BOTH, done(km, on, known="word", source="the owner"))
    assert told.state == by_word
    assert told.why.startswith("owner says (the owner); ")
    assert (told.by == "word") == (by_record != by_word)


def test_due_jobs_come_first_and_otherwise_the_order_of_the_book_stays():
    jobs = {
        name: {"text": name, "operations": OPERATION, "every_distance": "far"}
        for name in ("a", "b", "c", "d")
    }
    trial = BOTH.model_copy(update={"jobs": Book(**{**BOTH.model_dump(), "jobs": jobs}).jobs})
    last = {
        name: LastDone(name, "record", km)
        for name, km in (("a", 29_000), ("b", 10_000), ("d", 9_000))
    }
    found = what_is_due(trial, HERE, TODAY, last, IN_A_YEAR)
    assert [each.job for each in found] == ["b", "c", "d", "a"]


SEVERITY = ["due", "due before the next likely visit", "not due"]
LAST = st.builds(
    lambda km, days: LastDone(
        "oil", "record", km, None if days is None else TODAY - timedelta(days=days)
    ),
    st.none() | st.floats(0, 40_000),
    st.none() | st.integers(-10, 900),
)


@given(LAST, st.sampled_from([BOTH, DISTANCE, TIME]), st.floats(0, 20_000))
def test_riding_further_never_makes_a_job_less_due_nor_does_knowing_less(last, trial, more):
    """A higher odometer, or the same words without a record, only ever bring work nearer."""
    now = SEVERITY.index(stand(trial, last).state)
    if last.km is None or last.km <= HERE.km:
        odometer, visit = Odometer(TODAY, HERE.km + more), NextVisit(IN_A_YEAR.on, 36_000 + more)
        further = stand(trial, last, odometer=odometer, next_visit=visit)
        assert SEVERITY.index(further.state) <= now
    by_word = LastDone("oil", "word", last.km, last.on)
    assert SEVERITY.index(stand(trial, by_word).state) <= now
    if last.km is None or last.km <= HERE.km:
        assert SEVERITY.index(stand(trial).state) <= now


@given(LAST, st.sampled_from([BOTH, DISTANCE, TIME]))
def test_a_job_not_due_has_something_left_of_every_interval_until_the_next_visit(last, trial):
    found = stand(trial, last)
    if found.state == "not due":
        assert found.due_km is None or found.due_km >= IN_A_YEAR.km
        assert found.due_on is None or found.due_on >= IN_A_YEAR.on


@given(st.dates(date(1990, 1, 1), date(2100, 1, 1)), st.integers(0, 400))
def test_months_later_is_the_same_day_or_the_last_of_its_month(start, months):
    end = add_months(start, months)
    assert (end.year * 12 + end.month) - (start.year * 12 + start.month) == months
    assert end.day == start.day or (end.day < start.day and (end + timedelta(days=1)).day == 1)


def ago(*days):
    return [TODAY - timedelta(days=each) for each in days]


@pytest.mark.parametrize(
    ("visits", "days"),
    [
        ([], 365),
        (ago(200), 365),
        (ago(200, 400), 200),
        (ago(200, 190, 400), 200),  # two visits within days are one
        (ago(3000, 6000), 3 * 365),
        (ago(0, 0), 365),
        (ago(-300, 400), 365),  # what is yet to come is no visit
    ],
)
def test_the_next_likely_visit_is_in_a_year_or_after_the_usual_gap(visits, days):
    found = next_likely_visit(Riding(10.0), HERE, TODAY, visits)
    assert (found.on, found.km) == (TODAY + timedelta(days=days), 30_000 + 10.0 * days)


@pytest.mark.parametrize(("apart", "days"), [(60, 60), (59, 365)])
def test_visits_less_than_sixty_days_apart_are_one_job_in_parts(apart, days):
    """Judged by us."""
    found = next_likely_visit(Riding(0.0), HERE, TODAY, ago(apart, 2 * apart))
    assert (found.on, found.km) == (TODAY + timedelta(days=days), 30_000)


def test_the_next_likely_visit_says_when_why_and_at_about_what_distance():
    def why(riding, *visits):
        return next_likely_visit(Riding(riding), HERE, TODAY, ago(*visits)).why.replace(
            "\u202f", " "
        )

    assert (
        why(10.3, 200, 400) == "in 200 days, the usual time between visits, then at about 32 100 km"
    )
    assert why(10.0) == "in a year, then at about 33 600 km"


@pytest.mark.parametrize(
    ("on", "km", "told"),
    [
        ("2025-05-03", 29_000, ("9000 km left", "1 day left")),
        ("2025-05-01", 19_999, ("1 km over", "1 day over")),
        ("2025-05-02", 20_000, ("just reached", "just reached")),
        ("2025-05-04", 20_001, ("1 km left", "2 days left")),
    ],
)
def test_what_is_left_or_over_is_told_in_its_words(on, km, told):
    for trial, words in ((DISTANCE, told[0]), (TIME, told[1])):
        assert stand(trial, done(km, on)).why.endswith(f", {words}")


def test_the_next_likely_visit_has_no_distance_where_riding_is_not_known():
    found = next_likely_visit(Riding(None), HERE, TODAY)
    assert (found.km, found.why) == (None, "in a year; how much it is ridden is not known")


def test_an_interval_of_less_than_a_day_is_over_at_once():
    found = stand(book("10000 km", "0.01 months"), done(29_000, "2026-05-02"))
    assert (found.state, found.by, found.days_left) == ("due", "time", 0)


def test_what_is_known_under_a_name_of_old_counts_until_the_name_of_now_is_known():
    """A job that was split or renamed goes on from its record; nothing proposes it anew for want of knowledge."""
    once = without("every_time", book("10000 km", "12 months"))
    job = once.jobs["oil"].model_copy(update={"once": ["fluids"]})
    once = once.model_copy(update={"jobs": {"oil": job}})
    old, new = done(25_000), done(29_000)
    known = [{"fluids": old}, {"fluids": old, "oil": new}]
    left = [what_is_due(once, HERE, TODAY, one, IN_A_YEAR)[0].distance_left_km for one in known]
    assert left == [5_000, 9_000]
