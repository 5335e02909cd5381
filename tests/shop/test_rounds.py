"""Rounds at the bench: every bolt to its stage, then every one on; what shows that it lasts; read once more."""

import re
from io import BytesIO

import pytest
from pypdf import PdfReader

from tests.fixtures.shop import new_machine
from tests.ledger.test_rounds import BOOK
from witnessmark.book.model import Book
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.work.visit import read

CARD = "job/do"
BUTTON = re.compile(r'name="(tight|shown)" value="([^"]+)"')


@pytest.fixture
def visit(desk):
    said = BOOK.model_dump() | {"machine": {"maker": "Brannock", "model": "Rounds"}}
    stored = content_store.keep_book(desk.shop, Book.model_validate(said))
    machine = new_machine(desk.shop, "12-RO-01", "Owner (invented)", stored)
    visit = store.open_visit(desk, machine)
    acts = [
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id)}),
        ("book_pinned", {"revision": stored.current.sha256}),
        ("job_taken", {"job": "job"}),
        ("done", {"step": "job/undo"}),
    ]
    store.record_all(desk, visit, store.Ticket(str(new_id())), acts)
    return visit


def page(client, visit) -> str:
    html = client.get(f"/visits/{visit.pk}/bench/", {"card": CARD}).content.decode()
    return " ".join(html.split())


def tap(client, visit, **fields):
    seen = store.write_seen(store.heads(visit))
    form = {"card": CARD, "entry_id": store.ledger.new_entry_id(), "seen": seen}
    return client.post(f"/visits/{visit.pk}/bench/confirm/", form | fields)


def tap_all(client, visit) -> list[str]:
    """Tap what the page offers first, over and over, until nothing is left to tap; in what order."""
    order = []
    while (offered := BUTTON.search(page(client, visit))) and len(order) < 40:
        name, value = offered.groups()
        order.append(value)
        assert tap(client, visit, **{name: value, "reading-slack-1": "30"}).status_code == 303
    return order


def test_the_bench_asks_round_by_round_and_for_what_shows_that_it_lasts(
    visit, technician, client_of
):
    client = client_of(technician)
    first = page(client, visit)
    assert "head bolt, 2 · in a star · round 1 of 3" in first
    assert "head, first" in first
    assert "alternately until none moves" in first

    order = tap_all(client, visit)
    assert order[:6] == ["head/1/1", "head/2/1", "head/1/2", "head/2/2", "head/1/3", "head/2/3"]
    assert {"still/pinch", "secured/head"} < set(order)
    marks = [e.body for e in read(visit).entries if e.kind == "tightened"]
    assert [(m["round"], m["figure"], m["angle_deg"]) for m in marks[:6:2]] == [
        (1, "first", None), (2, "second", None), (3, "angle", 90.0)]  # fmt: skip
    left = {
        item for item in read(visit).state.items if item.startswith(("round", "still", "secured"))
    }
    assert left == set()


def test_a_card_is_not_done_by_itself_while_a_round_or_a_reading_is_owed(
    visit, technician, client_of
):
    """The axle was the last mark: what is read after it is asked for once more, and the card waits."""
    client = client_of(technician)
    tap(client, visit, **{"reading-slack-1": "30"})
    heads = [f"head/{place}/{number}" for number in (1, 2, 3) for place in (1, 2)]
    for value in [*heads, "axle/1/0", "pinch/1/0", "pinch/2/0"]:
        tap(client, visit, tight=value)
    tap(client, visit, shown="still/pinch")
    tap(client, visit, shown="secured/head")
    state = read(visit).state
    assert "reading/job/do/slack" in state.items
    assert CARD not in state.done
    tap(client, visit, **{"reading-slack-1": "29"})
    state = read(visit).state
    assert CARD in state.done
    assert {i for i in state.items if i.split("/")[0] in ("fastener", "reading")} == set()


def test_gone_on_with_fasteners_not_tight_is_never_told_as_done(visit, technician, client_of):
    """The card is confirmed with one head bolt left: words, card, order and record say so, until it is tight."""
    client = client_of(technician)
    heads = [f"head/{place}/{number}" for number in (1, 2, 3) for place in (1, 2)]
    for value in [*heads[:-1], "axle/1/0", "pinch/1/0", "pinch/2/0"]:
        tap(client, visit, tight=value)
    assert "Go on, 3 not tight" in page(
        client, visit
    )  # a bolt, and what shows that two groups last
    tap(client, visit, done="1", **{"reading-slack-1": "30"})

    said = page(client, visit)
    assert "gone on, not tight: head bolt, 2 of 2" in said
    assert "done: do" not in said
    assert "Go on, 3 not tight" in said
    assert "Done. Tap to do it again." not in said
    record = client.get(f"/visits/{visit.pk}/papers/service-record.pdf").content
    assert "Not tight: do" in PdfReader(BytesIO(record)).pages[0].extract_text()

    tap(client, visit, tight=heads[-1])
    for value in ("still/pinch", "secured/head"):
        tap(client, visit, shown=value)
    assert "Done. Tap to do it again." in page(client, visit)
    assert not [one for one in read(visit).state.items if one.startswith(("fastener", "round"))]
    entry = next(e for e in read(visit).entries if e.kind == "done" and e.body["step"] == CARD)
    assert entry.body["not_tight"] == ["head bolt, 2 of 2"]  # as it was then
