"""What goes beyond the book: what each thing and line adds to the table, and the cards that close it."""

import pytest

from tests.ledger.bench import BOOK, TABLE, Bench
from witnessmark.ledger.beyond_book import book_with_own, own_book, with_own

ADDED = {  # what was opened, the items it may leave open, the steps of its cards
    "two bolts": (
        {"what": "fastener", "words": "bracket bolt", "count": 2},
        {"fastener/OWN/1", "fastener/OWN/2", "thread/OWN/1", "thread/OWN/2"},
        ("tighten", "open"),
    ),
    "one with a torque that matters": (
        {"what": "fastener", "words": "caliper bolt", "safety": True, "grade": "proven", "torque": "30 Nm"},
        {"fastener/OWN/1", "thread/OWN/1", "figure/OWN_torque", "second look/fastener/OWN"},
        ("tighten", "open"),
    ),
    "one that matters, seen by eye": (
        {"what": "fastener", "words": "peg bolt", "safety": True},
        {"fastener/OWN/1", "thread/OWN/1", "second look/fastener/OWN"},
        ("tighten", "open"),
    ),
    "one to be proven by a torque nobody knows": (
        {"what": "fastener", "words": "caliper bolt", "grade": "proven"},
        {"fastener/OWN/1", "thread/OWN/1", "figure/OWN_torque"},
        ("tighten", "open"),
    ),
    "one pipe": ({"what": "pipe", "words": "breather"}, {"circuit/OWN/refitted"}, ("refit", "open")),
    "three connectors": (
        {"what": "connector", "words": "plug", "count": 3, "safety": True},
        {"circuit/OWN/refitted_1", "circuit/OWN/refitted_2", "circuit/OWN/refitted_3", "second look/circuit/OWN"},
        ("refit", "open"),
    ),
    "a circuit": (
        {"what": "circuit", "words": "cooling"}, {"circuit/OWN/close", "circuit/OWN/leaks"},
        ("close", "leaks", "open"),
    ),
    "a circuit to be bled": (
        {"what": "circuit", "words": "clutch line", "bleed": True},
        {"circuit/OWN/close", "circuit/OWN/bleed", "circuit/OWN/leaks"},
        ("close", "bleed", "leaks", "open"),
    ),
}  # fmt: skip
LINE = {
    "words": "renew the grips", "why": "torn", "where": "handlebar", "minutes": 12.34, "safety": True,
    "parts": [{"text": "grip", "quantity": 2, "each_minor": 900}, {"text": "glue", "each_minor": 300}],
}  # fmt: skip


def own(bench: Bench) -> str:
    return f"own_{bench.entries[0].id[-12:]}"


@pytest.mark.parametrize("what", ADDED)
def test_a_thing_opened_is_open_from_then_on_and_closed_by_the_cards_it_brings(what):
    said, items, steps = ADDED[what]
    bench = Bench()
    entry = bench.say("added", where="left side", **said)
    name = own(bench)
    table = with_own(TABLE, bench.entries)
    assert {i.replace("OWN", name) for i in items} == table.items.keys() - TABLE.items.keys()
    assert tuple(f"{name}/{step}" for step in steps) == table.operations(name)
    assert table.items.keys() >= TABLE.items.keys()
    assert {table.steps[f"{name}/{step}"].safety for step in steps} == {said.get("safety", False)}
    assert {table.steps[f"{name}/{step}"].where for step in steps} == {"left side"}
    assert table.steps["wheel_off"] == TABLE.steps["wheel_off"]

    to_close = {i.replace("OWN", name) for i in items if i.startswith(("fastener", "circuit"))}
    looks = {i.replace("OWN", name) for i in items if i.startswith("second look")}
    assert to_close <= bench.open() <= to_close | looks | {"walk round", f"figure/{name}_torque"}
    for i in range(1, said.get("count", 1) + 1):
        if said.get("grade") == "proven":
            bench.tight(name, i, value_nm=30.0)
    for step in steps[:-1]:
        bench.done(f"{name}/{step}")
    assert bench.open("fastener", "circuit", "thread", "second look") == looks
    bench.done(f"{name}/open")
    assert to_close <= bench.open()
    bench.say("corrected", entry=entry.id)
    assert (bench.state().own[name].struck, bench.state().added) == (True, {})


def test_what_is_opened_is_named_by_its_words_and_each_card_by_what_it_does():
    told = {}
    for what, (said, *_) in ADDED.items():
        bench = Bench()
        bench.say("added", **said)
        table, name = with_own(TABLE, bench.entries), own(bench)
        told[what] = [table.steps[step].words for step in table.operations(name)]
        told[what] += [table.items[i].words for i in table.items if i.startswith("circuit/own")]
    assert told["two bolts"] == ["Make tight: bracket bolt", "Opened again: bracket bolt"]
    assert told["one pipe"] == ["Refit: breather", "Opened again: breather", "breather: refitted"]
    assert told["three connectors"] == [
        "Reconnect: plug", "Opened again: plug",
        "plug: 1 of 3 refitted", "plug: 2 of 3 refitted", "plug: 3 of 3 refitted",
    ]  # fmt: skip
    assert told["a circuit to be bled"] == [
        "Close and fill: clutch line", "Bleed: clutch line", "Look for leaks: clutch line", "Opened again: clutch line",
        "clutch line: closed, and filled to its level", "clutch line: bled", "clutch line: no leak",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("bleed", "turn"), [(True, ["close", "bleed", "leaks"]), (False, ["close", "leaks"])]
)
def test_a_circuit_is_closed_bled_and_looked_at_in_this_order(bleed, turn):
    bench = Bench()
    bench.say("added", what="circuit", words="clutch line", bleed=bleed)
    operations = own_book({own(bench): bench.entries[0].said}).jobs[own(bench)].operations
    told = {step: operation.after for step, operation in operations.items()}
    before = [[], *([step] for step in turn)]
    assert told == dict(zip(turn, before, strict=False)) | {"open": []}
    assert {operation.minutes for operation in operations.values()} == {0}, "nobody knows how long"


def test_a_line_of_ones_own_is_one_card_and_one_item_once_it_is_agreed():
    bench = Bench()
    bench.say("line_written", **LINE)
    name = own(bench)
    table = with_own(TABLE, bench.entries)
    assert table.items.keys() - TABLE.items.keys() == {f"job/{name}"}
    item = table.items[f"job/{name}"]
    assert (item.words, item.where, item.gate, item.safety, item.closed_by) == (
        "renew the grips", "handlebar", "road test", True, (f"{name}/work",),
    )  # fmt: skip
    assert table.steps[f"{name}/work"].safety
    book = own_book({name: bench.entries[0].said})
    work = book.jobs[name].operations["work"]
    assert (book.jobs[name].text, book.jobs[name].why) == ("renew the grips", "torn")
    assert (work.text, work.minutes, work.place) == ("renew the grips", 12.3, "handlebar")
    assert work.does == ["grip × 2", "glue"]
    assert work.parts == {f"{name}_1": 2, f"{name}_2": 1}
    assert {part: book.parts[part].text for part in work.parts} == {
        f"{name}_1": "grip", f"{name}_2": "glue",
    }  # fmt: skip
    assert (set(bench.state().lines), bench.state().added) == ({name}, {})
    bench.say("corrected", entry=bench.entries[0].id)
    assert (bench.state().lines, bench.state().own[name].struck) == ({}, True)
    light = Bench()
    light.say("line_written", words="wash it")
    item = with_own(TABLE, light.entries).items[f"job/{own(light)}"]
    assert (item.gate, item.safety) == ("hand-back", False)
    work = own_book({own(light): light.entries[0].said}).jobs[own(light)].operations["work"]
    assert work.minutes == 0


def test_what_is_added_brings_no_second_item_for_trouble_codes():
    """A book may have a circuit for them."""
    bench = Bench()
    bench.say("added", **ADDED["one pipe"][0])
    items = {name: item for name, item in TABLE.items.items() if name != "codes"}
    events = dict.fromkeys(TABLE.events, ())
    table = with_own(TABLE.model_copy(update={"items": items, "events": events}), bench.entries)
    assert "codes" not in table.items
    assert table.items["walk round"] == TABLE.items["walk round"]


def test_a_visit_that_adds_nothing_has_the_table_of_its_book_and_the_books_own_jobs_stay():
    bench = Bench()
    bench.done("wheel_off")
    assert with_own(TABLE, bench.entries) is TABLE
    bench.say("added", what="fastener", words="bracket bolt", torque="9 Nm", source="p. 2")
    name = f"own_{bench.entries[1].id[-12:]}"
    whole = book_with_own(BOOK, own_book({name: bench.entries[1].said}))
    assert whole.jobs == BOOK.jobs
    assert whole.fasteners.keys() - BOOK.fasteners.keys() == {name}
    figure = whole.figures[f"{name}_torque"]
    assert (figure.text, figure.value, figure.source) == ("bracket bolt: torque", "9 Nm", "p. 2")
