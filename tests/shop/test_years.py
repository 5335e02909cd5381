"""A store of many years: what is kept in sums follows its rows, lists come in pages, no page reads all there is."""

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.fixtures.shop import new_machine
from tests.fixtures.tour import bolts, put
from tests.shop.test_verify import verify
from tests.shop.test_wrenches import day, found_wrong, new_wrench
from witnessmark.facts import add_months
from witnessmark.shop import store, sums
from witnessmark.shop.models import (
    DoubtfulMark,
    WasteContainer,
    WasteLevel,
    WasteMove,
    WrenchDay,
    WrenchEvent,
)
from witnessmark.shop.work import doubtful, waste
from witnessmark.shop.work.wrenches import shelf

pytestmark = pytest.mark.postgres  # and on SQLite, as everything

LONG = ("entry", "seal", "visit", "visitsummary", "wrenchmark", "wasterow", "wastemove", "machine")


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


@pytest.fixture
def drum(shop):
    return WasteContainer.objects.create(
        shop=shop, name="Drum", stream="used oil", capacity_ml=60_000
    )


def moved(drum, on: date, volume: float = 900.0, kind: str = "put in", **more) -> WasteMove:
    return WasteMove.objects.create(
        shop=drum.shop, container=drum, kind=kind, volume_ml=volume, on=on, **more
    )


def follows(shop) -> bool:
    """Whether every sum, and every fastener to be made tight again, is what its rows say."""
    return [*sums.differing(shop), *doubtful.differing(shop)] == []


def newest_of(visit, kind: str) -> str:
    return next(e.id for e in reversed(store.entries(visit)) if e.kind == kind)


# ---------------------------------------------------------------- sums


def test_the_cycles_of_a_wrench_follow_its_marks_also_those_taken_back(desk, worked_on):
    """Five bolts, one of them taken back, on the day they were made tight."""
    assert follows(desk.shop)
    assert [row.marks for row in WrenchDay.objects.all()] == [5]
    put(desk, worked_on, ("corrected", {"entry": newest_of(worked_on, "tightened")}))
    assert [row.marks for row in WrenchDay.objects.all()] == [4]
    assert follows(desk.shop)


def test_a_level_is_exact_in_whatever_order_it_was_filled(drum):
    """A tenth three times is three tenths; floats added make 0.30000000000000004."""
    every = [moved(drum, date(2026, 1, 10), 0.1) for _ in range(3)]
    assert waste.level_of(drum) == 0.3
    moved(drum, date(2026, 1, 11), 0.2, "collected")
    assert waste.level_of(drum) == 0.1
    every[0].delete()
    assert waste.level_of(drum) == 0
    assert follows(drum.shop)


@pytest.mark.parametrize(
    ("table", "spoil"),
    [
        ("wrenchday", lambda: WrenchDay.objects.update(marks=7)),
        ("wrenchday", lambda: WrenchDay.objects.all().delete()),
        ("wastelevel", lambda: WasteLevel.objects.update(moved_nl=1)),
        ("doubtfulmark", lambda: DoubtfulMark.objects.all()[:1].get().delete()),
    ],
)
def test_what_no_longer_follows_is_found_and_made_again(
    tab, desk, worked_on, wrench, drum, table, spoil
):
    moved(drum, date(2026, 1, 10))
    found_wrong(tab, wrench)
    place = f"its rows in shop_{table}"
    assert place not in verify()[1]
    spoil()
    code, said = verify()
    assert code == 1
    assert place in said
    list(store.rebuild())
    assert follows(desk.shop)


# ---------------------------------------------------------------- to be made tight again


def test_what_is_to_be_made_tight_again_follows_each_thing_that_happens(
    tab, desk, shop, worked_on, wrench
):
    """Whatever bears on it in turn: the check, another wrench, taking that back, a doubt, taking the check back."""

    def left() -> int:
        assert follows(shop)
        return DoubtfulMark.objects.count()

    assert left() == 0
    address = found_wrong(tab, wrench)
    assert left() == 5
    put(desk, worked_on, *bolts(new_wrench(shop, "Other"), 2))
    assert left() == 4
    put(desk, worked_on, ("corrected", {"entry": newest_of(worked_on, "tightened")}))
    assert left() == 5
    mark = str(DoubtfulMark.objects.order_by("pk")[0].entry)
    event = WrenchEvent.objects.get(wrench=wrench, on=day(0))
    said = {"wrench": str(wrench.pk), "check": str(event.pk), "marks": [mark], "found": 0.11}
    put(desk, worked_on, ("wrench_doubted", {**said, "since": None}))
    assert left() == 4
    put(desk, worked_on, ("corrected", {"entry": newest_of(worked_on, "wrench_doubted")}))
    assert left() == 5
    wrench.deviation_percent = 20  # so it was not wrong at all
    wrench.save()
    assert left() == 0
    wrench.deviation_percent = None
    wrench.save()
    assert left() == 5
    tab.post(reverse("wrench-event-take-back", args=[event.pk]))
    assert left() == 0
    assert tab.get(address).status_code == 400


# ---------------------------------------------------------------- pages


def test_the_log_comes_in_whole_days_and_no_line_is_lost_either_way(tab, drum):
    """180 lines, 70 of them on one day; through all of it from the newest, and back from the oldest."""
    first = date(2026, 1, 1)
    for n in range(180):
        on = first + timedelta(days=40 if n % 18 < 7 else n // 2)
        moved(drum, on, note=f"line {n}.")
    every = sorted(f"line {n}." for n in range(180))
    for address in (reverse("waste"), reverse("waste-container", args=[drum.pk])):
        for way, start in (("before", ""), ("after", "?after=0001-01-01")):
            page, seen, pages = start, [], 0
            while page is not None:
                text = tab.get(address + page).content.decode()
                seen += re.findall(r"line \d+\.", text)
                on = re.search(rf'href="(\?{way}=(?!0001)[\d-]+)"', text)
                page, pages = (on[1] if on else None), pages + 1
            assert sorted(seen) == every
            assert pages >= 3


@pytest.mark.parametrize(
    "query", ["?before=0001-01-01", "?after=9999-12-31", "?before=x", "?after="]
)
def test_where_the_log_has_nothing_its_newest_page_is_shown(tab, drum, query):
    moved(drum, date(2026, 1, 1), note="line 0.")
    assert "line 0." in tab.get(reverse("waste") + query).content.decode()


@pytest.mark.parametrize("page", ["2", "0", "-1", "x", "99999999999999999999", "²"])
def test_a_page_of_machines_in_doubt_that_is_not_there_leads_back(tab, worked_on, wrench, page):
    answer = tab.get(f"{found_wrong(tab, wrench)}?page={page}")
    assert answer.status_code == 200
    assert ("First page" in answer.content.decode()) == (
        page.isdigit() and page > "1" and page != "²"
    )


def test_a_list_of_machines_asks_as_often_for_many_as_for_one(tab, visit, shop, small_book):
    def asked(address: str) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert tab.get(address).status_code == 200
        return len(queries)

    addresses = [reverse("machines"), reverse("arrive")]
    before = [asked(address) for address in addresses]
    for n in range(12):
        new_machine(shop, f"{n}-AB-12", "Ines Calder", small_book)
    assert [asked(address) for address in addresses] == before


@pytest.mark.parametrize("first", [0, 3], ids=["checked this year", "checked three years ago"])
def test_how_a_wrench_stands_follows_from_its_last_events_as_from_all(shop, first):
    """Calibrated once a year for twelve years; then found wrong, put right, dropped, checked in half its range."""
    today = timezone.localdate()
    wrench = new_wrench(shop, "Old", checked=40 + 366 * first)
    for years in range(first, 12):
        happened(wrench, add_months(today, -12 * years - 1), "laboratory")
    more = (
        ("lever", {"points": [[20, 30], [80, 95]]}), ("laboratory", {"adjusted": True}), ("dropped", {}),
        ("lever", {"points": [[20, 20.1]]}),
    )  # fmt: skip
    for n in range(len(more) + 1):
        few, every = shelf(shop), shelf(shop, history=True)
        assert [one.standing for one in few] == [one.standing for one in every]
        assert len(few[0].events) <= (12 if first and n < 2 else 3 + n)
        for kind, told in more[n : n + 1]:
            happened(wrench, today - timedelta(days=9 - n), kind, **told)


def happened(wrench, on: date, kind: str, **told) -> None:
    WrenchEvent.objects.create(shop=wrench.shop, wrench=wrench, kind=kind, on=on, **told)


def test_a_tap_asks_as_often_late_in_a_visit_as_early(tab, desk, worked_on):
    """Nor does the bench: what the visit says is folded from its newest entries alone."""

    def asked() -> list[int]:
        with CaptureQueriesContext(connection) as queries:
            put(desk, worked_on, ("noted", {"text": "looked at"}))
            tapped = len(queries)
            assert tab.get(reverse("bench", args=[worked_on.pk])).status_code == 200
        return [tapped, len(queries) - tapped]

    asked()
    early = asked()
    put(desk, worked_on, *[("noted", {"text": f"line {n}"}) for n in range(40)])
    assert asked() == early
    assert early[0] <= 12
    assert early[1] <= 12


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="PostgreSQL plans by statistics")
def test_no_page_of_every_day_reads_a_table_of_years_from_end_to_end(tab, worked_on, wrench, drum):
    """By SQLite's own account of how it will run each query: https://sqlite.org/eqp.html, a SCAN without an index."""
    moved(drum, date(2026, 1, 10))
    pages = [
        reverse("today"), reverse("machines"), reverse("waste"), reverse("wrenches"),
        f"{reverse('machines')}?q=calder", f"{reverse('arrive')}?q=qx81",
        reverse("waste-container", args=[drum.pk]), reverse("bench", args=[worked_on.pk]),
        reverse("machine", args=[worked_on.machine_id]), found_wrong(tab, wrench),
    ]  # fmt: skip
    long = re.compile(rf"^SCAN shop_({'|'.join(LONG)})$")
    for page in pages:
        with CaptureQueriesContext(connection) as queries:
            assert tab.get(page).status_code == 200
        with connection.cursor() as cursor:
            for query in queries.captured_queries:
                if query["sql"].startswith("SELECT"):
                    cursor.execute(f"EXPLAIN QUERY PLAN {query['sql']}")
                    steps = [row[3] for row in cursor.fetchall()]
                    assert not [step for step in steps if long.match(step)], (page, query["sql"])
