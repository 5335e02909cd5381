"""Whatever an entry is, it has words: every kind its own, and a kind without any is still told."""

from pathlib import Path
from typing import get_args

import pytest

from tests.ledger.bench import TABLE, Bench
from witnessmark.ledger.bodies import BODIES
from witnessmark.ledger.body import Body
from witnessmark.ledger.item_effects import Stand
from witnessmark.ledger.progress import _STATUS
from witnessmark.ledger.state import ReadingVerdict
from witnessmark.shop.pages.machine.views import VERDICTS

FORMATS = "".join(
    file.read_text() for file in sorted(Path("tests/formats").glob("entries-*.jsonl"))
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
