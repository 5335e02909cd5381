"""Whatever order entries come in, and whatever devices are called, the same is open."""

import random
from datetime import datetime

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ledger.bench import (
    ANN,
    BO,
    BOOK,
    ESTIMATE,
    OWNER,
    SHOP,
    TABLE,
    VISIT,
    WRENCH,
    ZONE,
    name,
)  # fmt: skip
from witnessmark.book.select import steps
from witnessmark.ledger.causal import Causal
from witnessmark.ledger.entry import Entry, compose
from witnessmark.ledger.fold import visit_state

STEPS = sorted(steps(BOOK))
DEVICES = ["tablet", "phone", "desk"]
LOOKS = sorted(i for i in TABLE.items if i.startswith("second look/"))
ALONE = {
    "apart": "break", "minutes": 15, "other_order": True, "looked_again": True,
    "not_ridden_because": "no plate",
}  # fmt: skip


def _marks(fastener: str, count: int):
    return st.builds(
        lambda i, nm, outcome, proven, step: (
            "tightened",
            {
                "fastener": fastener, "index": i, "value_nm": nm, "outcome": outcome,
                "wrench": WRENCH, "wrench_proven": proven, "step": step,
            },
        ),
        st.integers(1, count),
        st.sampled_from([25.0, 25.0, 60.0, 60.0, 90.0]),
        st.sampled_from(["ok", "ok", "ok", "kept turning"]),
        st.booleans(),
        st.sampled_from([None, "covers/turn", "drive_oil/wheel_tight"]),
    )  # fmt: skip


def _figure(figure: str, values: list[str]):
    return st.builds(
        lambda value, source: ("figure_set", {"figure": figure, "value": value, "source": source}),
        st.sampled_from(values),
        st.sampled_from(["", "p. 3"]),
    )


def _answer(line: str):
    body = {"estimate": ESTIMATE, "line": line, "by": OWNER, "how": "in person"}
    return st.sampled_from(["yes", "no"]).map(lambda v: ("answered", body | {"verdict": v}))


STEP = st.sampled_from(STEPS)
SAYINGS = st.one_of(
    st.builds(
        lambda s, along: ("done", {"step": s, "along": along}),
        STEP,
        st.lists(st.sampled_from(sorted(BOOK.access)), max_size=1),
    ),
    STEP.map(lambda s: ("done", {"step": s})),
    _marks("nut", 1),
    _marks("wheel_bolts", 2),
    st.just(("judged", {"fastener": "nut", "index": 1, "verdict": "repaired", "text": "insert"})),
    STEP.map(lambda s: ("skipped", {"step": s, "reason": "no time"})),
    STEP.map(lambda s: ("wont", {"step": s, "what": "stuck", "safe_now": "yes"})),
    _figure("wheel_torque", ["60 Nm", "50 Nm", "90 Nm"]),
    _figure("drive_fill", ["180 ml", "200 ml"]),
    _answer("brake"),
    st.sampled_from(["chips", "clean"]).map(
        lambda w: ("read", {"reading": "magnet", "step": "drive_oil/drain", "words": w})
    ),
    st.sampled_from([1.0, 3.0]).map(
        lambda v: ("read", {"reading": "pad", "step": "brake/push_back", "value": v})
    ),
    st.just(("found", {"text": "chips", "reading": "magnet"})),
    st.just(("states_found", {"states": {"wheel": "off", "pannier": "off"}})),
    st.just(("walked_round", {})),
    st.builds(
        lambda items, alone: ("looked", {"items": items, "fallback": alone}),
        st.lists(st.sampled_from(LOOKS), min_size=1, max_size=2),
        st.sampled_from([None, ALONE]),
    ),
    st.sampled_from(sorted(TABLE.items)).map(lambda i: ("confirmed", {"items": [i]})),
    st.just(("job_taken", {"job": "brake"})),
    st.just(("job_left", {"job": "brake"})),
    st.just(("gate_passed", {"gate": "road test"})),
    st.integers(0, 10**6).map(lambda n: ("corrected", {"entry": n})),
    st.integers(0, 10**6).map(
        lambda n: ("settled", {"entry": n, "how": ["put right", "told and declined"][n % 2]})
    ),
)
# who, at which device, having seen which others, says what
MOMENTS = st.lists(
    st.tuples(
        st.sampled_from(DEVICES), st.sampled_from([ANN, BO]), st.sets(st.sampled_from(DEVICES)),
        SAYINGS,
    ),
    max_size=14,
)  # fmt: skip


def entries_of(moments, called=lambda device: device) -> list[Entry]:
    """Make the entries; a number stands for an earlier entry, whichever device made it."""
    entries: list[Entry] = []
    last: dict[str, Entry] = {}
    for n, (device, author, sees, (kind, body)) in enumerate(moments, 1):
        if isinstance(body.get("entry"), int):
            if not entries:
                continue
            body = body | {"entry": entries[body["entry"] % len(entries)].id}  # noqa: PLW2901
        mine = last.get(device)
        seen = dict(mine.seen) if mine else {}
        seen |= {name(called(d)): last[d].seq for d in sees if d in last and d != device}
        entry = compose(
            kind,
            body,
            shop=SHOP,
            visit=VISIT,
            device=name(called(device)),
            author=author,
            at=datetime(2026, 5, 4, 9, tzinfo=ZONE),
            previous=mine,
            seen=seen,
            entry_id=f"018f0000-0000-7000-8000-{n:012x}",
        )
        entries.append(entry)
        last[device] = entry
    return entries


@given(MOMENTS, st.randoms(use_true_random=False))
@settings(max_examples=150, deadline=None)
def test_every_order_of_arrival_gives_the_same_state(moments, chance: random.Random):
    entries = entries_of(moments)
    shuffled = entries + entries[:3]  # sent twice, too
    chance.shuffle(shuffled)
    assert visit_state(shuffled, TABLE) == visit_state(entries, TABLE)


@given(MOMENTS, st.permutations(DEVICES))
@settings(max_examples=150, deadline=None)
def test_what_devices_are_called_decides_nothing(moments, names):
    """Where entries did not see each other some order is picked to list them; it opens and closes nothing."""
    called = dict(zip(DEVICES, names, strict=True))
    one = visit_state(entries_of(moments), TABLE)
    other = visit_state(entries_of(moments, called.__getitem__), TABLE)
    assert _what_is_open(one) == _what_is_open(other)
    assert (set(one.done), set(one.agreed), set(one.taken)) == (
        set(other.done), set(other.agreed), set(other.taken),
    )  # fmt: skip


def _what_is_open(state):
    return {(i.id, i.stands == "conflict", i.safety, i.gate) for i in state.items.values()}


@given(MOMENTS)
@settings(max_examples=300, deadline=None)
def test_an_open_item_never_disappears_without_an_entry_that_closes_it(moments):
    """What closes what is read from the book here, not from the compiled table."""
    entries = entries_of(moments)
    before = set()
    for n in range(len(entries)):
        after = set(visit_state(entries[: n + 1], TABLE).items)
        gone = before - after
        strange = {item for item in gone if not _may_close(entries[n], item, entries[:n])}
        assert not strange, f"{entries[n].kind} {entries[n].body} closed {strange}"
        before = after


def _may_close(entry: Entry, item: str, earlier: list[Entry]) -> bool:
    kind, _, rest = item.partition("/")
    closes = CLOSES.get(entry.kind)
    return closes is not None and closes(entry.body, item, kind, rest, earlier)


def _wont_of(steps_, kind: str, rest: str, earlier: list[Entry]) -> bool:
    return kind == "wont" and next(e for e in earlier if e.id == rest).body["step"] in steps_


def _figure_closes(body, item, kind, rest, _earlier):
    """A figure raised to what was reached takes back that the thread went past it."""
    by_it = {f for f, x in BOOK.fasteners.items() if x.figure == body["figure"]}
    return item == f"figure/{body['figure']}" or (kind == "thread" and rest.split("/")[0] in by_it)


def _done_closes(body, _item, kind, rest, earlier):
    names = {body["step"], *body["along"]}
    done = [steps(BOOK)[s] for s in names]
    first, _, second = rest.partition("/")
    match kind:
        case "fastener":
            by_card = BOOK.fasteners[first].grade != "proven"
            return by_card and any(first in s.tightens for s in done)
        case "circuit":
            return any({second, "all"} & set(s.closes.get(first, [])) for s in done)
        case "renewal":
            return any(rest in s.renews for s in done)
        case "condition":
            return any(rest in s.sets for s in done)
        case "job":
            return any(s.startswith(f"{rest}/") for s in names)
        case _:
            return _wont_of(names, kind, rest, earlier) or rest.removeprefix("step/") in names


CLOSES = {
    "corrected": lambda *_: True,
    "done": _done_closes,
    "tightened": lambda b, item, *_: (
        item == f"fastener/{b['fastener']}/{b['index']}" and b["outcome"] == "ok"
    ),
    "judged": lambda b, item, *_: item == f"thread/{b['fastener']}/{b['index']}",
    "read": lambda b, item, *_: (
        item in (f"reading/{b['step']}/{b['reading']}", f"outside/{b['reading']}/1")
    ),
    "found": lambda b, item, *_: item == f"outside/{b['reading']}/1",
    "figure_set": _figure_closes,
    "skipped": lambda b, item, kind, rest, earlier: (
        item in (f"conflict/step/{b['step']}", "job/" + b["step"].split("/")[0])
        or _wont_of({b["step"]}, kind, rest, earlier)
    ),
    "wont": lambda b, item, *_: item == f"conflict/step/{b['step']}",
    "settled": lambda b, _item, kind, rest, _e: kind in ("finding", "wont") and rest == b["entry"],
    "answered": lambda b, item, *_: item in (f"conflict/answer/{b['line']}", f"job/{b['line']}"),
    "states_found": lambda _b, _item, kind, *_: kind == "condition",
    "job_left": lambda b, item, *_: item == f"job/{b['job']}",
    "looked": lambda b, item, *_: item in b["items"],
    "confirmed": lambda b, item, *_: item in b["items"],
    "walked_round": lambda _b, item, *_: item == "walk round",
}


def _told(device: str, seq: int, n: int, **seen: int) -> Entry:
    """An entry that says it has seen so much, true or not."""
    made = compose(
        "noted", {"text": "x"}, shop=SHOP, visit=VISIT, device=name(device), author=ANN,
        at=datetime(2026, 5, 4, 9, tzinfo=ZONE), previous=None,
        seen={name(d): seq for d, seq in seen.items()}, entry_id=f"018f0000-0000-7000-8000-{n:012x}",
    )  # fmt: skip
    return made.model_copy(update={"seq": seq})


def test_what_was_seen_by_way_of_another_was_seen():
    first, second, third = _told("a", 1, 1), _told("b", 1, 2, a=1), _told("c", 1, 3, b=1)
    causal = Causal([third, first, second])
    assert causal.before(first, third)
    assert not causal.before(third, first)
    assert causal.newest([first, second, third], lambda entry: entry) == [third]


def test_in_a_ring_of_claims_nobody_came_first():
    """Forged: each says it has seen the next. What each had seen is followed all the way round."""
    devices = "abcdef"
    ring = [
        _told(one, 1, n, **{after: 1})
        for n, (one, after) in enumerate(zip(devices, devices[1:] + "a", strict=True))
    ]
    for entries in (ring, ring[::-1]):
        causal = Causal(entries)
        assert not any(causal.before(x, y) for x in ring for y in ring)


def test_of_entries_seen_and_not_come_in_the_first_twenty_are_named():
    """Those below one that is here count, too; a forged claim of a thousand fills no list."""
    claim = _told("a", 1, 1, b=1000, c=3)
    missing = Causal([claim, _told("b", 1, 2), _told("b", 3, 3), _told("d", 2, 4)]).unreported()
    assert missing == {
        name("b"): (2, *range(4, 23)),
        name("c"): (1, 2, 3),
        name("d"): (1,),
    }
