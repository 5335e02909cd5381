"""Whatever an entry is, it has words: every kind its own, and a kind without any is still told."""

from pathlib import Path
from typing import get_args

import pytest

from tests.ledger.bench import ANN, ESTIMATE, OWNER, PLAN, TABLE, WRENCH, Bench
from witnessmark.ledger.bodies import BODIES
from witnessmark.ledger.body import Body
from witnessmark.ledger.item_effects import Stand
from witnessmark.ledger.progress import _STATUS
from witnessmark.ledger.worked import ReadingVerdict
from witnessmark.shop.pages.machine.views import VERDICTS

FORMATS = "".join(
    file.read_text() for file in sorted(Path("tests/kept_versions").glob("entries-*.jsonl"))
)


@pytest.mark.parametrize("kind", BODIES)
def test_a_kind_of_entry_is_whole(kind):
    """It has words of its own, somebody who may write it, and an entry that is read for ever."""
    body = BODIES[kind]
    assert body.in_words is not Body.in_words
    assert "written_by" in vars(body)
    assert f'"kind":"{kind}"' in FORMATS.replace('": ', '":')


def test_every_way_something_stands_open_has_words():
    """What a fastener, a reading may be, against the tables that say it."""
    assert set(_STATUS) == set(get_args(Stand)) - {"closed"}
    assert set(VERDICTS) >= set(get_args(ReadingVerdict))


SHIM = {"valve": "in 1", "measured_mm": 0.15, "was_mm": 2.35, "now_mm": 2.35, "source": "stays"}
ISSUED = {
    "what": "invoice", "document": PLAN, "series": "invoice-2026", "number": 7, "name": "INV-2026-0007",
    "on": "2026-05-04", "currency": "EUR", "gross_minor": 12000, "due_minor": 12000,
}  # fmt: skip
SAID = [
    ("figure_set", {"figure": "wheel_torque", "value": "50 Nm", "source": "p. 1"},
     "wheel bolts: 50 Nm, source p. 1"),
    ("figure_confirmed", {"figure": "wheel_torque", "of": "50 Nm", "source": "p. 1"},
     "wheel bolts: 50 Nm confirmed with p. 1"),
    ("figure_confirmed", {"figure": "nowhere", "of": "1 mm", "source": "p. 1"},
     "a figure that the book does not have: 1 mm confirmed with p. 1"),
    ("figure_set", {"figure": "nowhere", "low": "1 mm", "high": "2 mm"},
     "a figure that the book does not have: 1 mm to 2 mm, source not given"),
    ("added", {"what": "fastener", "words": "bracket bolt", "count": 2, "torque": "9 Nm", "source": "p. 2"},
     "opened, not in the service book: bracket bolt, 2, 9 Nm"),
    ("added", {"what": "pipe", "words": "breather"}, "opened, not in the service book: breather"),
    ("done", {"step": "drive_oil/drain", "drained": [
        {"fluid": "gear_oil", "family": "gear oil", "volume_ml": 180.0, "into": "Drum"},
        {"fluid": "other", "family": "other", "volume_ml": 20.0}]},
     "done: drain the drive; 180 mL into Drum; 20 mL into no container"),
    ("done", {"step": "drive_oil/fill", "poured": [
        {"fluid": "gear_oil", "bottle": "Old 80W", "refused": ["no rating"], "because": "owner's wish"}]},
     "done: fill the drive; from Old 80W, refused (no rating) and used because: owner's wish"),
    ("done", {"step": "covers/on", "along": ["covers/off"]},
     "done: covers on; along with it: covers off"),
    ("done", {"step": "hold/hold", "short_wait": "held all night"},
     "done: hold the lever under pressure; waited less than its time: held all night"),
    ("tightened", {"fastener": "nut", "value_nm": 25.0, "wrench": WRENCH, "wrench_proven": True},
     "cover nut: tight, 25 N·m reached"),
    ("tightened", {"fastener": "wheel_bolts", "index": 2, "set_nm": 60.0, "clicked": True},
     "wheel bolt, 2 of 5: tight, clicked at 60 N·m, wrench unproven"),
    ("tightened", {"fastener": "nut", "set_nm": 25.0, "round": 2},
     "cover nut: tight, round 2, set to 25 N·m, wrench unproven"),
    ("tightened", {"fastener": "nut", "outcome": "kept turning"}, "cover nut: kept turning"),
    ("tightened", {"fastener": "nut", "angle_deg": 90.0}, "cover nut: turned on by 90°"),
    ("judged", {"fastener": "nut", "verdict": "repaired", "text": "insert"},
     "thread and bolt of: cover nut: repaired, insert"),
    ("read", {"reading": "pad", "step": "brake/push_back", "value": 3.0, "text": "3 mm", "vouched": True},
     "pad thickness: 3 mm, typed twice"),
    ("read", {"reading": "pad", "step": "brake/push_back", "value": 3.0}, "pad thickness: 3"),
    ("read", {"reading": "magnet", "step": "drive_oil/drain", "words": "chips"}, "magnet: chips"),
    ("not_read", {"reading": "pad", "step": "brake/push_back", "because": "no gauge"},
     "pad thickness: not read, no gauge"),
    ("let_be", {"entry": OWNER, "reading": "pad", "step": "brake/push_back", "words": "pads: 2 mm, at the limit"},
     "let be: pads: 2 mm, at the limit"),
    ("wait_begun", {"step": "hold/hold", "minutes": 15},
     "wait of 15 min begun: hold the lever under pressure"),
    ("wait_begun", {"step": "drive_oil/drain", "minutes": 10, "drained": [
        {"fluid": "gear_oil", "family": "gear oil", "volume_ml": 180.0, "into": "Drum"}]},
     "wait of 10 min begun: drain the drive; 180 mL into Drum"),
    ("wait_stopped", {"step": "drive_oil/drain", "because": "tray full"},
     "wait broken off: drain the drive: tray full"),
    ("gate_passed", {"gate": "road test"}, "passed: road test"),
    ("offered", {"estimate": ESTIMATE, "lines": ["brake", "covers"]}, "offered: rear brake, covers"),
    ("answered", {"estimate": ESTIMATE, "line": "brake", "verdict": "no", "by": OWNER, "how": "in person"},
     "owner says no to rear brake, in person"),
    ("job_taken", {"job": "brake", "because": "pads thin"}, "job taken on: rear brake, pads thin"),
    ("job_left", {"job": "brake"}, "job left: rear brake"),
    ("complaint_answered", {"complaint": "soft", "how": "put right", "lines": ["brake", "covers"]},
     "complaint “soft”: put right by rear brake, covers"),
    ("complaint_answered", {"complaint": "soft", "how": "nothing found", "text": "ridden"},
     "complaint “soft”: nothing found, ridden"),
    ("returned", {"keys": 1}, "handed back"),
    ("returned", {"keys": 1, "ridden_away": False}, "handed back, on a trailer"),
    ("confirmed", {"items": ["fastener/nut/1"]}, "compared and confirmed: cover nut"),
    ("confirmed", {"items": ["fastener/nowhere/1"]},
     "compared and confirmed: a fastener that the book does not have"),
    ("arrived", {"machine": OWNER, "owner": OWNER}, "arrived"),
    ("odometer", {"km": 160.9, "text": "100 mi"}, "odometer: 100 mi"),
    ("book_pinned", {"revision": PLAN}, "service book pinned: Invented tourer"),
    ("states_found", {"states": {"wheel": "off", "nowhere": "on"}},
     "found: rear wheel off, a condition that the book does not have"),
    ("codes_read", {"moment": "before the work", "pasted": "none", "none": True},
     "trouble codes before the work: none"),
    ("codes_read", {"moment": "after the work", "pasted": "x", "adds": True,
                    "codes": [{"code": "P0301"}, {"code": "C1234"}, {"code": "P0301"}]},
     "trouble codes after the work, another unit: P0301, C1234"),
    ("codes_cleared", {}, "trouble codes cleared"),
    ("codes_cleared", {"text": "engine", "copied": False},
     "trouble codes cleared: engine, without having copied them"),
    ("done", {"step": "nowhere/x"}, "done: a step that the book does not have"),
    ("done", {"step": "drive_oil/fill", "poured": [{"fluid": "gear_oil", "bottle": "New 80W"}]},
     "done: fill the drive; from New 80W"),
    ("tightened", {"fastener": "nut", "set_nm": 20.0, "value_nm": 25.0,
                   "adapter": {"reach_mm": 100, "angle_deg": 0, "arm_mm": 400}},
     "cover nut: tight, 20 N·m on the wrench, 25 N·m at the fastener, wrench unproven"),
    ("tightened", {"fastener": "spoke", "index": 3},
     "a fastener that the book does not have: tight, wrench unproven"),
    ("read", {"reading": "nowhere", "step": "a/b", "words": "dry"},
     "a reading that the book does not have: dry"),
    ("shims_fitted", {"step": "a/b", "valves": [SHIM, SHIM | {"valve": "out 2", "now_mm": 2.4}]},
     "shims: out 2 2.350 to 2.400 mm"),
    ("shims_fitted", {"step": "a/b", "valves": [SHIM]}, "shims: all stay"),
    ("found", {"text": "hose cracked"}, "found: hose cracked"),
    ("photo", {"sha256": PLAN, "media_type": "image/png"}, "picture"),
    ("photo", {"sha256": PLAN, "media_type": "image/png", "text": "tank"}, "picture: tank"),
    ("erased", {"sha256": PLAN, "why": "a face"}, "picture erased: a face"),
    ("skipped", {"step": "brake/pump", "reason": "no time"}, "not done: pump the lever firm, no time"),
    ("wont", {"step": "brake/pump", "what": "stuck", "safe_now": "tied"}, "cannot be done: pump the lever firm, stuck"),
    ("wont", {"step": "brake/pump", "what": "stuck", "safe_now": "tied", "text": "rust"},
     "cannot be done: pump the lever firm, stuck, rust"),
    ("settled", {"entry": OWNER, "how": "put right"}, "answered: put right"),
    ("settled", {"entry": OWNER, "how": "nothing wrong", "text": "ridden"}, "answered: nothing wrong, ridden"),
    ("noted", {"text": "tank dented before"}, "tank dented before"),
    ("limit_given", {"minor": 15000, "currency": "EUR", "by": OWNER, "how": "in writing"},
     "limit without asking: €150.00"),
    ("plan_taken", {"plan": PLAN}, "order of work taken"),
    ("job_taken", {"job": "nowhere"}, "job taken on: a line of the estimate"),
    ("line_written", {"words": "renew the grips"}, "line written for the owner: renew the grips"),
    ("repair_written", {"job": {"text": "stop the leak", "steps": [{"name": "one", "text": "x", "minutes": 5}]},
                        "cause": "ring torn"},
     "repair written: stop the leak, 1 steps; cause: ring torn"),
    ("looked", {"items": ["second look/step/brake/pump"]}, "second look: second look: pump the lever firm"),
    ("looked", {"items": ["codes"], "fallback": {"apart": "break", "minutes": 15, "other_order": True,
                                                 "looked_again": True}}, "second look, alone: trouble codes"),
    ("walked_round", {}, "walked round the machine, tools and rags counted"),
    ("confirmed", {"items": ["job/brake", "conflict/step/brake/pump", "conflict/answer/covers"]},
     "compared and confirmed: rear brake; pump the lever firm; covers"),
    ("wrench_doubted", {"wrench": WRENCH, "check": OWNER, "marks": [OWNER], "found": 0.11},
     "a wrench was found wrong, +11 % at most: 1 fastener made tight with it in doubt"),
    ("wrench_doubted", {"wrench": WRENCH, "check": OWNER, "marks": [OWNER, WRENCH], "found": -0.08},
     "a wrench was found wrong, −8 % at most: 2 fasteners made tight with it in doubt"),
    ("corrected", {"entry": OWNER}, "taken back"),
    ("corrected", {"entry": OWNER, "why": "slip"}, "taken back: slip"),
    ("line_charged", {"line": "brake"}, "on the invoice: rear brake, done"),
    ("line_charged", {"line": "brake", "free": "goodwill", "because": "came back", "cost_minor": 900},
     "on the invoice: rear brake, done, goodwill, came back"),
    ("line_charged", {"line": "brake", "how": "partly done", "net_minor": 900, "consent": "by telephone"},
     "on the invoice: rear brake, partly done, the owner agreed by telephone"),
    ("extra_charged", {"what": "discount", "words": "Rebate", "net_minor": 500, "because": "long wait"},
     "on the invoice: discount, Rebate, long wait"),
    ("issued", ISSUED, "issued: invoice INV-2026-0007, €120.00"),
    ("paid", {"minor": 2000, "currency": "EUR", "by": "card", "on": "2026-05-04"}, "paid: €20.00, card"),
    ("paid", {"minor": 2000, "currency": "EUR", "by": "cash", "on": "2026-05-04", "back": True},
     "paid back: €20.00, cash"),
    ("written_off", {"minor": 20, "currency": "EUR", "because": "not worth a letter"},
     "written off: €0.20, not worth a letter"),
    ("gate_passed", {"gate": "hand-back", "open": ["codes"]}, "passed: hand-back, with 1 open"),
    ("overridden", {"item": "codes", "reason": "on a trailer", "person": ANN},
     "signed off as is: trouble codes, on a trailer (printed in the record)"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "body", "words"), SAID)
def test_the_history_says_what_the_entry_says(kind, body, words):
    bench = Bench()
    bench.say(kind, **body)
    assert bench.state(TABLE).history[0].words == words


def test_of_every_kind_the_words_are_written_down_here():
    """Those of what is shown of a group stand with groups that show it, in the tests of rounds."""
    assert {kind for kind, *_ in SAID} == BODIES.keys() - {"shown"}


def test_an_entry_that_names_another_says_what_that_was():
    """What only an entry knows has no words in the table: a finding, a step that would not go."""
    bench = Bench()
    found = bench.say("found", text="hose cracked")
    stuck = bench.say("wont", step="brake/pump", what="stuck", safe_now="lever tied")
    items = [f"finding/{found.id}", f"wont/{stuck.id}", "walk round"]
    bench.say("overridden", item=items[0], reason="on a trailer", person=ANN)
    bench.say("confirmed", items=items)
    bench.say("settled", entry=found.id, how="put right")
    bench.say("corrected", entry=stuck.id, why="it went")
    words = [line.words for line in bench.state(TABLE).history[2:]]
    assert words == [
        "signed off as is: found: hose cracked, on a trailer (printed in the record)",
        (
            "compared and confirmed: found: hose cracked; cannot be done: pump the lever firm, stuck; "
            "the walk round the machine, tools and rags counted"
        ),
        "found: hose cracked: answered: put right",
        "taken back: cannot be done: pump the lever firm, stuck (it went)",
    ]


@pytest.mark.parametrize(
    ("kind", "body", "words"),
    [
        ("noted", {"text": "tank dented before"}, "noted: tank dented before"),
        ("walked_round", {}, "walked round"),
        ("skipped", {"step": "brake/pump", "reason": "no time"}, "skipped: no time"),
    ],
)
def test_a_kind_without_words_is_still_told_in_the_history(monkeypatch, kind, body, words):
    bench = Bench()
    bench.say(kind, **body)
    monkeypatch.setattr(BODIES[kind], "in_words", Body.in_words)
    assert [line.words for line in bench.state(TABLE).history] == [words]
