"""How much an entry takes: the first and the last value of each bound, and the next one beyond. Judged by us."""

import pytest

from tests.ledger.bench import ANN, OWNER, PLAN, WRENCH, Bench
from witnessmark.ledger.entry import EntryErrors, read_body, read_entry

CODE = {"code": "P0301"}
DRAINED = {"fluid": "oil", "family": "engine oil", "volume_ml": 1.0}
POURED = {"fluid": "oil", "bottle": "Oil"}
FALLBACK = {"apart": "break", "minutes": 15, "other_order": True, "looked_again": True}
SHIM = {"valve": "in 1", "measured_mm": 0.1, "was_mm": 2.0, "now_mm": 2.0, "source": "stays"}
PART = {"text": "grip", "each_minor": 0}
ADAPTER = {"reach_mm": 0, "angle_deg": 0, "arm_mm": 1}
WHOLE = {  # a body of each kind with bounds, to be changed at one place
    "arrived": {"machine": OWNER, "owner": OWNER},
    "odometer": {"km": 1, "text": "1 km"},
    "codes_read": {"moment": "before the work", "pasted": "x", "codes": [CODE]},
    "done": {"step": "a/b", "drained": [DRAINED], "poured": [POURED]},
    "wait_begun": {"step": "a/b", "minutes": 1},
    "tightened": {"fastener": "nut", "set_nm": 1, "value_nm": 1, "adapter": ADAPTER},
    "read": {"reading": "pad", "step": "a/b", "value": 1},
    "not_read": {"reading": "pad", "step": "a/b", "because": "x"},
    "let_be": {"entry": ANN, "reading": "pad", "step": "a/b", "words": "x"},
    "shims_fitted": {"step": "a/b", "valves": [SHIM]},
    "added": {"what": "circuit", "words": "x"},
    "line_written": {"words": "x", "parts": [PART]},
    "limit_given": {"minor": 1, "currency": "EUR", "by": OWNER, "how": "in person"},
    "looked": {"items": ["x"], "fallback": FALLBACK},
    "confirmed": {"items": ["x"]},
    "offered": {"estimate": PLAN, "lines": ["x"]},
    "states_found": {"states": {"a": "b"}},
    "wrench_doubted": {"wrench": WRENCH, "check": OWNER, "marks": [OWNER], "found": 0},
    "returned": {},
    "noted": {"text": "x"},
    "added fastener": {"what": "fastener", "words": "x"},
}
BOUNDS = [  # kind, place, values taken, values refused
    ("arrived", "number", [1], [0]),
    ("arrived", "keys", [0, 100], [-1, 101]),
    ("odometer", "km", [0, 10_000_000], [-0.1, 10_000_000.1, float("inf")]),
    ("codes_read", "pasted", ["x", "x" * 20_000], ["", "x" * 20_001]),
    ("codes_read", "codes", [[CODE] * 500], [[CODE] * 501]),
    ("codes_read", "codes.0.status", [0, 255], [-1, 256]),
    ("codes_read", "codes.0.unit", ["x" * 120], ["x" * 121]),
    ("done", "step", ["a", "a" * 60 + "/" + "b" * 60], ["", "a" * 60 + "/" + "b" * 61]),
    ("done", "drained.0.volume_ml", [0.1, 250_000], [0, 250_000.1, float("nan")]),
    ("done", "poured.0.volume_ml", [0.1, 250_000], [0, 250_000.1, float("nan")]),
    ("wait_begun", "minutes", [0.1, 100_000], [0, 100_000.1, float("nan")]),
    ("tightened", "index", [1, 60], [0, 61]),
    ("tightened", "value_nm", [0.1, 9_999.9], [0, 10_000, float("nan")]),
    ("tightened", "round", [0, 12], [-1, 13]),
    ("tightened", "angle_deg", [0.1, 36_000], [0, 36_000.1, float("nan")]),
    ("tightened", "adapter.reach_mm", [0, 2_000], [-0.1, 2_000.1, float("nan")]),
    ("tightened", "adapter.angle_deg", [-360, 360], [-360.1, 360.1, float("nan")]),
    ("tightened", "adapter.arm_mm", [0.1, 5_000], [0, 5_000.1, float("nan")]),
    ("read", "index", [1, 8], [0, 9]),
    ("not_read", "index", [1, 8], [0, 9]),
    ("let_be", "index", [1, 8], [0, 9]),
    ("shims_fitted", "valves", [[SHIM] * 64], [[], [SHIM] * 65]),
    ("shims_fitted", "valves.0.measured_mm", [0, 2], [-0.01, 2.01]),
    ("shims_fitted", "valves.0.was_mm", [0.5, 6], [0.49, 6.01]),
    ("shims_fitted", "valves.0.now_mm", [0.5, 6], [0.49, 6.01]),
    ("added", "words", ["x" * 300], ["", "x" * 301]),
    ("added", "where", ["x" * 200], ["x" * 201]),
    ("added fastener", "torque", ["9" + " " * 56 + "N·m"], ["9" + " " * 57 + "N·m"]),
    ("added", "source", ["x" * 300], ["x" * 301]),
    ("line_written", "why", ["x" * 1000], ["x" * 1001]),
    ("line_written", "where", ["x" * 200], ["x" * 201]),
    ("line_written", "minutes", [0, 10_000], [-1, 10_000.1, float("nan")]),
    ("line_written", "fixed_minor", [0, 10**12], [-1, 10**12 + 1]),
    ("line_written", "parts", [[], [PART] * 50], [[PART] * 51]),
    ("line_written", "parts.0.quantity", [0.1, 1000], [0, 1000.1, float("nan")]),
    ("limit_given", "minor", [0, 10**12], [-1, 10**12 + 1]),
    ("looked", "fallback.minutes", [15, 100_000], [14, 100_001]),
    ("confirmed", "items", [["x" * 240]], [[], [""], ["x" * 241]]),
    ("looked", "items", [["x"]], [[]]),
    ("offered", "lines", [["x"]], [[]]),
    ("states_found", "states", [{"a": "b"}], [{}]),
    ("wrench_doubted", "found", [-0.99, 9.99], [-1, 10, float("nan")]),
    ("wrench_doubted", "marks", [[OWNER]], [[]]),
    ("returned", "fobs", [0, 100], [-1, 101]),
    ("noted", "text", ["x" * 4000], ["", "x" * 4001]),
    ("returned", "text", ["", "x" * 4000], ["x" * 4001]),
]  # fmt: skip


def put(body, place: str, value):
    """A copy with one value set at a place such as ``codes.0.status``."""
    head, _, rest = place.partition(".")
    key = int(head) if head.isdigit() else head
    copy = list(body) if isinstance(body, list) else dict(body)
    copy[key] = put(copy[key], rest, value) if rest else value
    return copy


@pytest.mark.parametrize(("kind", "place", "taken", "refused"), BOUNDS)
def test_a_bound_takes_its_last_value_and_no_more(kind, place, taken, refused):
    said, kind = WHOLE[kind], kind.partition(" ")[0]
    for value in taken:
        read_body(kind, put(said, place, value))
    for value in refused:
        with pytest.raises(EntryErrors) as told:
            read_body(kind, put(said, place, value))
        assert all(one.place.startswith(f"{kind}.{place}") for one in told.value)


@pytest.mark.parametrize("kind", ["entry.seq", "entry.at"])
def test_the_frame_of_an_entry_takes_what_fits_and_no_more(kind):
    """Numbers that JSON keeps whole (RFC 8259 section 6: below 2^53); time to the millionth of a second."""
    first = Bench().say("noted", text="x").model_dump(mode="json")
    later = first | {"prev": PLAN, "seq": 2**53 - 1}
    for said, right in {
        "entry.seq": [(later, True), (later | {"seq": 2**53}, False), (later | {"seq": 0}, False)],
        "entry.at": [
            (first | {"at": "2026-05-04T09:00:00.123456+02:00"}, True),
            (first | {"at": "2026-05-04T09:00:00.1234567+02:00"}, False),
            (first | {"at": "2026-05-04T09:00:00Z"}, False),
        ],
    }[kind]:
        if right:
            assert read_entry(said).kind == "noted"
            continue
        with pytest.raises(EntryErrors) as told:
            read_entry(said)
        assert kind in {one.place for one in told.value}


def test_what_is_left_unsaid_claims_nothing():
    """No click, no proven wrench, nothing safety-critical, no key, no answer to a question nobody asked."""
    bare = {
        "arrived": {"machine": OWNER, "owner": OWNER}, "returned": {}, "codes_cleared": {},
        "tightened": {"fastener": "nut"}, "read": {"reading": "pad", "step": "a/b", "value": 1},
        "found": {"text": "x"}, "added": {"what": "cover", "words": "x"}, "line_written": {"words": "x"},
        "codes_read": {"moment": "before the work", "pasted": "x", "none": True},
        "overridden": {"item": "x", "reason": "y", "person": ANN},
        "not_read": {"reading": "pad", "step": "a/b", "because": "x"},
        "judged": {"fastener": "nut", "verdict": "sound", "text": "x"},
    }  # fmt: skip
    told = {
        kind: {
            key: value
            for key, value in read_body(kind, body).model_dump().items()
            if key not in body and value
        }
        for kind, body in bare.items()
    }
    assert {kind: said for kind, said in told.items() if said} == {
        "returned": {"ridden_away": True},
        "codes_cleared": {"copied": True},
        "tightened": {"index": 1, "outcome": "ok"},
        "read": {"index": 1},
        "not_read": {"index": 1},
        "judged": {"index": 1},
        "added": {"count": 1, "grade": "counted"},
        "overridden": {"paper": "printed in the record"},
    }
    assert read_body("line_written", {"words": "x", "parts": [PART]}).parts[0].quantity == 1
