"""What is charged never exceeds what was accepted, line by line and as a whole, with tax and without."""

from dataclasses import dataclass
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.money.test_charge import PERCENTS, priced
from witnessmark.invoice import Document, Line, Party, TaxRate, totals
from witnessmark.invoice.bill import bill, gross_of
from witnessmark.money import together
from witnessmark.money.currency import major


@dataclass(frozen=True)
class Told:
    how: str = "done"
    net_minor: int | None = None
    free: str = ""
    consent: str = ""


ITEMS = st.lists(st.tuples(st.sampled_from([*PERCENTS, None]), st.integers(0, 40_000)), max_size=4)
TOLD = st.one_of(
    st.none(),
    st.builds(Told, st.just("done"), st.none() | st.integers(0, 90_000), st.sampled_from(["", "goodwill"])),
    st.builds(Told, st.just("partly done"), st.integers(0, 90_000)),
    st.builds(Told, st.sampled_from(["not done", "replaced"])),
)  # fmt: skip


def on_a_document(lines):
    """The sums of an invoice of these lines, by EN 16931 as `invoice.totals` computes them."""
    rates = [TaxRate(name=name, percent=percent) for name, percent in PERCENTS.items()]
    made = [
        Line(text=one.line.id, price=major(net, "EUR"), tax=name or "")
        for one in lines
        for name, net in one.nets.items()
    ]
    return totals(
        Document(
            kind="invoice", issued_on="2026-05-04", currency="EUR", seller=Party(), lines=made,
            rates=(*rates, TaxRate(name="", treatment="zero")),
        )
    )  # fmt: skip


@given(
    st.dictionaries(st.sampled_from("abcdef"), st.tuples(ITEMS, TOLD, st.booleans()), min_size=1)
)
def test_whatever_is_said_the_accepted_price_is_a_ceiling(lines):
    accepted = priced({name: items for name, (items, _, _) in lines.items()})
    agreed = dict.fromkeys(lines, accepted)
    said = {name: told for name, (_, told, _) in lines.items() if told}
    done = {name for name, (_, _, over) in lines.items() if over}
    made = bill(agreed, said, done)
    for one in made:
        told = said.get(one.line.id)
        assert 0 <= one.charged_minor <= one.agreed_minor
        if one.free or (told is None and one.line.id not in done):
            assert one.charged_minor == 0
    ceiling = together(agreed)
    assert gross_of(made, [accepted]) <= ceiling.gross_minor
    assert on_a_document(made).gross_minor == gross_of(made, [accepted])


def test_with_consent_it_is_charged_as_it_came_out():
    accepted = priced({"oil": [("full", 10_000), ("less", 5_000)]})
    (one,) = bill({"oil": accepted}, {"oil": Told(net_minor=18_000, consent="by telephone")}, ())
    assert one.nets == {"full": 12_000, "less": 6_000}
    assert one.beyond_minor == 0


def test_without_it_what_is_beyond_is_told():
    accepted = priced({"oil": [("full", 10_000)]})
    (one,) = bill({"oil": accepted}, {"oil": Told(net_minor=18_000)}, ())
    assert (one.charged_minor, one.done_minor, one.beyond_minor) == (10_000, 18_000, 8_000)


@pytest.mark.parametrize("net", [2, 3])
def test_two_names_of_one_rate_do_not_round_above_the_ceiling(net):
    """Apart 20 % of 2 is 0.4, rounded to nothing twice; together 0.8, which would be one more than accepted."""
    accepted = priced(
        {"a": [("full", net)], "b": [("again", net)]}, {"full": Decimal(20), "again": Decimal(20)}
    )
    made = bill({"a": accepted, "b": accepted}, {}, {"a", "b"})
    assert gross_of(made, [accepted]) <= accepted.gross_minor
