"""What a confirmed card says of its fluids: bottles, containers, reasons."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.ledger.bench import Bench
from witnessmark.ledger import EntryErrors

OIL = {"fluid": "oil", "family": "engine oil", "volume_ml": 1700.0, "into": "Oil drum"}


@pytest.fixture
def bench():
    return Bench()


def test_a_refused_bottle_is_used_for_a_reason_alone(bench):
    poured = {"fluid": "oil", "bottle": "Car oil", "refused": ["no clutch rating on it"]}
    with pytest.raises(EntryErrors, match="give because"):
        bench.say("done", step="wheel_off", poured=[poured])
    bench.say("done", step="wheel_off", poured=[poured | {"because": "the clutch is dry"}])
    kept = bench.state().pours[0]
    assert (kept.refused, kept.because) == (("no clutch rating on it",), "the clutch is dry")


@pytest.mark.parametrize("volume", [0, -1, 1e9, float("nan")])
def test_no_such_volume_is_drained(volume, bench):
    with pytest.raises(EntryErrors):
        bench.say("done", step="wheel_off", drained=[OIL | {"volume_ml": volume}])


@given(st.lists(st.tuples(st.integers(1, 9000), st.booleans()), max_size=6))
def test_what_stands_drained_is_what_was_confirmed_less_what_was_taken_back(drains):
    bench = Bench()
    for volume, taken_back in drains:
        entry = bench.say("done", step="wheel_off", drained=[OIL | {"volume_ml": volume / 10}])
        if taken_back:
            bench.say("corrected", entry=entry.id)
    stands = [volume / 10 for volume, taken_back in drains if not taken_back]
    assert [one.volume_ml for one in bench.state().drains] == stands
