"""Whatever an entry is, it has words: every kind its own, and a kind without any is still told."""

from pathlib import Path
from typing import get_args

import pytest

from tests.ledger.bench import ESTIMATE, OWNER, TABLE, WRENCH, Bench
from witnessmark.ledger.bodies import BODIES
from witnessmark.ledger.body import Body
from witnessmark.ledger.item_effects import Stand
from witnessmark.ledger.progress import _STATUS
from witnessmark.ledger.state import ReadingVerdict
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


@pytest.mark.parametrize(
    ("kind", "body", "words"),
    [
        ("figure_set", {"figure": "wheel_torque", "value": "50 Nm", "source": "p. 1"},
         "wheel bolts: 50 Nm, source p. 1"),
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
        ("wait_begun", {"step": "hold/hold", "minutes": 15},
         "wait of 15 min begun: hold the lever under pressure"),
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
    ],
)  # fmt: skip
def test_the_history_says_what_the_entry_says(kind, body, words):
    bench = Bench()
    bench.say(kind, **body)
    assert bench.state(TABLE).history[0].words == words


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
