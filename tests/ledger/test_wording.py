"""Whatever an entry is, it has words: every kind its own, and a kind without any is still told."""

from typing import get_args

import pytest

from tests.ledger.bench import TABLE, Bench
from witnessmark.ledger import wording
from witnessmark.ledger.acts import Stand
from witnessmark.ledger.bodies import BODIES
from witnessmark.ledger.progress import _STATUS
from witnessmark.ledger.state import ReadingVerdict
from witnessmark.shop.pages.machine.views import VERDICTS


def test_every_kind_of_entry_has_words_of_its_own():
    assert set(wording._SAY) == set(BODIES.values())


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
    monkeypatch.delitem(wording._SAY, BODIES[kind])
    assert [line.words for line in bench.state(TABLE).history] == [words]
