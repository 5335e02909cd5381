"""The rows that follow from a visit's entries: each from entries made here, beside what it should be."""

from datetime import UTC, date, datetime
from uuid import UUID

import pytest

from tests.ledger.bench import BO, BOOK, ESTIMATE, OWNER, WRENCH, Bench, name
from tests.ledger.test_rounds import BOOK as ROUNDS
from tests.ledger.test_rounds import head
from witnessmark.book.model import Book
from witnessmark.ledger.effects import effects
from witnessmark.ledger.gates import alike
from witnessmark.shop.models import (
    DeclinedLine,
    LastDoneRow,
    Machine,
    OpenItemRow,
    ReadingRow,
    Visit,
    VisitSummary,
    WasteRow,
    WrenchMark,
)
from witnessmark.shop.projections import Source, arrival, rows, stage

SEALED = datetime(2026, 5, 4, 12, tzinfo=UTC)
DAY = date(2026, 5, 4)
MACHINE = UUID(name("machine"))
LATER = "d" * 64  # another estimate
COVERS = ("covers/off", "covers/on", "covers/turn")


@pytest.fixture
def bench():
    return Bench()


def arrived(bench: Bench, **more) -> None:
    bench.say("arrived", machine=str(MACHINE), owner=OWNER, complaint="soft brake", **more)


def offer(bench: Bench, *lines: str, estimate=ESTIMATE) -> None:
    bench.say("offered", estimate=estimate, lines=list(lines))


def answer(bench: Bench, line: str, verdict: str, estimate=ESTIMATE):
    how = {"by": OWNER, "how": "by telephone"}
    return bench.say("answered", estimate=estimate, line=line, verdict=verdict, **how)


def state_of(bench: Bench, book: Book = BOOK):
    return bench.state(effects(book, list(book.jobs)))


def made(bench: Bench, model, book: Book = BOOK, lines=None) -> list:
    """The rows of one table."""
    visit = Visit(
        pk=UUID(name("visit")), shop_id=UUID(name("shop")), machine=Machine(pk=MACHINE), number=1
    )
    source = Source(visit, bench.entries, state_of(bench, book), book, SEALED, lines or {})
    found = [row for row in rows(source) if type(row) is model]
    assert all((row.visit_id, row.shop_id) == (visit.pk, visit.shop_id) for row in found)
    assert len({row.pk for row in found}) == len(found)
    return found


# ---------------------------------------------------------------- what was done last


def test_only_a_job_done_whole_is_done_and_only_once_the_machine_is_back(bench):
    bench.say("odometer", km=48210.0, text="48210 km")
    for job in ("covers", "linings"):
        bench.say("job_taken", job=job)
    for step in COVERS:
        bench.done(step)
    bench.done("linings/measure")  # one of its two
    assert made(bench, LastDoneRow) == []
    bench.say("returned", keys=1)
    [row] = made(bench, LastDoneRow)
    told = (row.job, row.on, row.km, row.machine_id)
    assert told == ("covers", DAY, 48210.0, MACHINE)
    bench.done("linings/renew")
    assert [row.job for row in made(bench, LastDoneRow)] == ["covers", "linings"]


def test_a_job_skipped_in_part_or_unknown_to_the_book_is_not_done(bench):
    for job in ("covers", "nowhere"):
        bench.say("job_taken", job=job)
    for step in COVERS[:2]:
        bench.done(step)
    bench.say("skipped", step=COVERS[2], reason="next time")
    bench.say("returned", keys=1)
    assert made(bench, LastDoneRow) == []


# ---------------------------------------------------------------- the visit in one row


def test_a_summary_tells_the_visit_in_one_row(bench):
    arrived(bench, wanted_by="2026-05-08")
    bench.say("odometer", km=48210.0, text="48210 km")
    bench.say("book_pinned", revision="e" * 64)
    bench.say("job_taken", job="covers")
    bench.done("wheel_off")
    [row] = made(bench, VisitSummary)
    assert (row.machine_id, row.stage, row.jobs, row.entries) == (MACHINE, "price", ["covers"], 5)
    assert (row.arrived_at, row.arrived_on) == (bench.entries[0].instant, DAY)
    assert (row.handed_back_at, row.last_at, row.wanted_by) == (None, SEALED, date(2026, 5, 8))
    assert (row.complaint, row.odometer_km, row.book_revision) == ("soft brake", 48210.0, "e" * 64)
    items = state_of(bench).items.values()
    assert row.open_items == len(alike(items)) == len(items) - 4, "five bolts stand on one line"
    assert row.open_safety == 1, "the wheel's bolts"
    assert row.call_back == 0


def test_a_corrected_arrival_speaks_for_what_was_said_and_the_first_for_when(bench):
    arrived(bench)
    first = bench.entries[0]
    bench.say("corrected", entry=first.id)
    assert arrival(bench.entries, state_of(bench)) is None
    [row] = made(bench, VisitSummary)
    assert (row.arrived_at, row.arrived_on, row.complaint, row.wanted_by) == (None, None, "", None)
    bench.say("arrived", machine=str(MACHINE), owner=OWNER, complaint="hard brake")
    assert arrival(bench.entries, state_of(bench)) is bench.entries[2]
    [row] = made(bench, VisitSummary)
    assert (row.arrived_at, row.complaint) == (first.instant, "hard brake")


def test_a_machine_arrived_when_its_arrival_was_written_down_and_not_with_the_first_entry(bench):
    bench.say("noted", text="keys in the box")
    arrived(bench)
    [row] = made(bench, VisitSummary)
    assert row.arrived_at == bench.entries[1].instant


def test_a_machine_is_called_back_for_what_was_not_known_when_it_left(bench):
    bench.done("pannier_off")
    bench.done("covers/off")
    [row] = made(bench, VisitSummary)
    assert row.call_back == 0, "it is here"
    for item in state_of(bench).items:
        bench.say("overridden", item=item, reason="fetched", person=bench.entries[0].author,
                  paper="not to be ridden", signature="c" * 64)  # fmt: skip
    returned = bench.say("returned", keys=1)
    [row] = made(bench, VisitSummary)
    assert (row.call_back, row.handed_back_at) == (0, returned.instant)
    assert row.open_items > 0, "let go by name"
    bench.done("wheel_off", device="phone", author=BO)
    [row] = made(bench, VisitSummary)
    state = state_of(bench)
    assert state.recalls
    left = [item for item in state.items.values() if item.override is None]
    assert row.call_back == len(alike(left)) < len(left)


def test_a_visit_goes_on_at_the_first_page_with_work(bench):
    def now():
        return stage(state_of(bench), BOOK)

    found = [now()]
    arrived(bench)
    found.append(now())
    bench.say("job_taken", job="covers")
    found.append(now())
    offer(bench, "covers")
    found.append(now())
    answer(bench, "covers", "yes")
    found.append(now())
    bench.say("plan_taken", plan="a" * 64)
    found.append(now())
    for step in COVERS[:2]:
        bench.done(step)
    found.append(now())
    bench.say("skipped", step=COVERS[2], reason="next time")
    found.append(now())
    bench.say("returned", keys=1)
    found.append(now())
    assert found == [
        "arrival", "needs", "price", "price", "order", "bench", "bench", "handback", "papers",
    ]  # fmt: skip


def test_own_work_alone_needs_no_order_and_is_work_until_its_card(bench):
    arrived(bench)
    bench.say("line_written", words="new hose", minutes=30)
    line = f"own_{bench.entries[-1].id[-12:]}"
    assert stage(state_of(bench), BOOK) == "price"
    offer(bench, line)
    answer(bench, line, "yes")
    state = state_of(bench)
    assert stage(state, BOOK) == "bench"
    [step] = {s for item in state.items.values() for s in item.closed_by if s.startswith(line)}
    bench.done(step)
    assert stage(state_of(bench), BOOK) == "handback"


# ---------------------------------------------------------------- what is open, what was declined


def test_each_open_item_has_its_row(bench):
    bench.done("wheel_off")
    found = {row.item: row for row in made(bench, OpenItemRow)}
    items = state_of(bench).items
    assert set(found) == set(items)
    for key, row in found.items():
        item = items[key]
        told = (row.words, row.where, row.gate, row.safety, row.opened_by)
        assert told == (item.words, item.where, item.gate, item.safety, list(item.opened_by))


def test_a_declined_line_is_told_with_the_last_estimate_that_was_refused(bench):
    offer(bench, "covers", "brake")
    answer(bench, "covers", "no")
    answer(bench, "brake", "yes")
    offer(bench, "covers", estimate=LATER)
    answer(bench, "covers", "no", LATER)
    assert answer(bench, "brake", "no").kind == "answered"
    found = made(bench, DeclinedLine, lines={"covers": "Covers off and on"})
    assert {(r.line, r.words, r.estimate) for r in found} == {
        ("covers", "Covers off and on", LATER),
        ("brake", "a line of the estimate", ESTIMATE),
    }
    assert all((row.on, row.machine_id) == (DAY, MACHINE) for row in found)
    answer(bench, "brake", "yes")
    assert [row.line for row in made(bench, DeclinedLine)] == ["covers"]


# ---------------------------------------------------------------- readings and waste


def test_a_reading_is_kept_with_its_quantity_and_one_the_book_has_not_in_words(bench):
    bench.say("odometer", km=48210.0, text="48210 km")
    pad = bench.say(
        "read", reading="pad", step="brake/push_back", value=1.5, text="1.5 mm", index=2
    )
    bench.say("read", reading="magnet", step="drive_oil/drain", words="chips")
    without = BOOK.model_copy(update={"readings": {"pad": BOOK.readings["pad"]}})
    thin, chips = made(bench, ReadingRow)
    assert (thin.reading, thin.step, thin.place) == ("pad", "brake/push_back", 2)
    assert (thin.quantity, thin.value, thin.words, thin.text) == ("length", 1.5, "", "1.5 mm")
    assert (thin.verdict, thin.on, thin.km, thin.entry) == ("low", DAY, 48210.0, UUID(pad.id))
    assert (chips.quantity, chips.value, chips.words, chips.verdict) == ("words", None, "chips", "bad")  # fmt: skip
    source = Source(
        Visit(pk=UUID(name("visit")), shop_id=UUID(name("shop")), machine=Machine(pk=MACHINE)),
        bench.entries, state_of(bench), without, SEALED, {},
    )  # fmt: skip
    told = [r.quantity for r in rows(source) if type(r) is ReadingRow]
    assert told == ["length", "words"]


def test_what_was_drained_is_waste_with_or_without_a_container(bench):
    drum, said = name("drum"), {"fluid": "gear_oil", "family": "gear oil"}
    entry = bench.done("drive_oil/drain", drained=[
        said | {"volume_ml": 180.0, "container": drum, "into": "Drum"},
        {"fluid": "other_oil", "family": "f" * 50, "volume_ml": 20.0, "into": "w" * 500},
    ])  # fmt: skip
    first, second = made(bench, WasteRow)
    assert (first.container, first.into) == (UUID(drum), "Drum")
    assert (first.fluid, first.family) == ("gear_oil", "gear oil")
    assert (first.volume_ml, first.on, first.step) == (180.0, DAY, "drive_oil/drain")
    assert first.entry == UUID(entry.id)
    assert (second.container, second.into, second.family) == (None, "w" * 400, "f" * 40)


# ---------------------------------------------------------------- marks of wrenches


def test_a_mark_says_what_the_wrench_showed_and_what_the_fastener_got(bench):
    wheel = bench.tight("wheel_bolts", 3, set_nm=60.0, clicked=True, step="drive_oil/wheel_tight")
    bench.tight("nut", value_nm=25.0)
    longer = {"reach_mm": 100.0, "angle_deg": 0.0, "arm_mm": 400.0}
    bench.tight("drain_plug", value_nm=25.0, set_nm=20.0, clicked=True, adapter=longer)
    bench.tight("nut", wrench=None, wrench_proven=False, value_nm=25.0)
    bench.tight("screws", 1, outcome="kept turning")
    bolt, nut, plug = made(bench, WrenchMark)
    assert (bolt.wrench, bolt.entry, bolt.at) == (UUID(WRENCH), UUID(wheel.id), wheel.instant)
    assert (bolt.fastener, bolt.place, bolt.words) == ("wheel_bolts", 3, "wheel bolt, 3 of 5")
    assert (bolt.safety, bolt.on, bolt.figure_nm) == (True, DAY, 60.0)
    assert (bolt.low_nm, bolt.high_nm) == pytest.approx((56.4, 63.6))
    assert (bolt.shown_nm, bolt.got_nm, bolt.stands) == (60.0, 60.0, True)
    assert (nut.words, nut.safety, nut.shown_nm, nut.got_nm) == ("cover nut", False, 25.0, 25.0)
    assert (plug.words, plug.shown_nm, plug.got_nm) == ("drain plug", 20.0, 25.0)
    assert not nut.stands, "made again since, with no wrench named"


def test_a_mark_taken_back_is_none_and_one_short_of_its_figure_keeps_nothing_closed(bench):
    first = bench.tight("nut", value_nm=25.0)
    bench.tight("wheel_bolts", 1, value_nm=50.0)
    assert [row.stands for row in made(bench, WrenchMark)] == [True, False]
    bench.say("corrected", entry=first.id)
    assert [row.fastener for row in made(bench, WrenchMark)] == ["wheel_bolts"]


def test_a_fastener_or_figure_the_book_has_not_is_told_by_its_name(bench):
    bench.tight("nut", value_nm=25.0)
    bench.tight("unknown", value_nm=10.0, figure="nowhere")
    bench.tight("unknown", 2, value_nm=10.0)
    known, unknown, _ = made(bench, WrenchMark)
    assert known.figure_nm == 25.0
    assert (unknown.words, unknown.safety) == ("unknown", False)
    assert (unknown.figure_nm, unknown.low_nm, unknown.high_nm) == (None, None, None)
    assert not unknown.stands


def test_the_torque_before_a_turn_stands_with_the_turn_and_the_stage_before_it_does_not(bench):
    """Of three rounds the second's torque carries the angle; the first one's proves nothing any more."""
    bench.done("job/undo")
    head(bench, 1, 2)
    assert {row.stands for row in made(bench, WrenchMark, ROUNDS)} == {False}, "not turned yet"
    head(bench, 3)
    found = made(bench, WrenchMark, ROUNDS)
    assert [(r.place, r.got_nm, r.stands) for r in found] == [
        (1, 20.0, False), (2, 20.0, False), (1, 40.0, True), (2, 40.0, True),
    ]  # fmt: skip


def test_a_torque_before_a_turn_that_must_be_made_again_does_not_stand(bench):
    bench.done("job/undo")
    head(bench, 1)
    bench.tight("head", 1, round=2, step="job/do", value_nm=40.0)
    bench.tight("head", 1, round=2, step="job/do", value_nm=41.0)
    turned = {"angle_deg": 90.0, "wrench": None, "wrench_proven": False}
    for i in (1, 2):
        bench.tight("head", i, round=3, step="job/do", **turned)
    found = [(r.place, r.got_nm) for r in made(bench, WrenchMark, ROUNDS) if r.stands]
    assert found == [(1, 41.0)], "the newest; the other bolt was turned without its torque"
    bench.say("figure_set", figure="second", value="60 Nm", source="manual p. 9")
    assert not any(r.stands for r in made(bench, WrenchMark, ROUNDS))
