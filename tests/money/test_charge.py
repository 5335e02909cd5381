"""An accepted price is a ceiling, line by line and as a whole, with tax and without."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.money import EstimateLine, Item, MoneyError, Rates, charge, together
from witnessmark.money.estimate import summed

PERCENTS = {"full": Decimal(20), "again": Decimal(20), "less": Decimal(7), "odd": Decimal("8.1")}
NONE = "0" * 64


def priced(lines, percents=PERCENTS, currency="EUR"):
    """An estimate of lines given as {line: [(tax, net), …]}."""
    made = [
        EstimateLine(
            id=name,
            text=name,
            extra=True,
            items=[
                Item(kind="other", text="x", quantity=Decimal(1), net_minor=net, tax=tax)
                for tax, net in items
            ],
        )
        for name, items in lines.items()
    ]
    rates = Rates(currency=currency, tax=percents)
    return summed(rates=rates, book=NONE, plan=NONE, jobs=(), lines=made)


def test_a_dearer_line_is_held_down_and_a_cheaper_one_charged_as_it_was():
    accepted = priced({"oil": [("full", 10_000)], "tyre": [("full", 5_000)]})
    actual = priced({"oil": [("full", 12_000)], "tyre": [("full", 4_000)]})
    found = charge(accepted, actual)
    assert [(line.id, line.net_minor, line.held) for line in found.lines] == [
        ("oil", 10_000, True),
        ("tyre", 4_000, False),
    ]
    assert (found.net_minor, found.tax_minor, found.gross_minor) == (14_000, 2_800, 16_800)


def test_what_was_declined_or_never_asked_is_not_charged():
    accepted = priced({"oil": [("full", 100)], "tyre": [("full", 100)]})
    actual = priced({"oil": [("full", 100)], "tyre": [("full", 100)], "lamp": [("full", 100)]})
    found = charge(accepted, actual, lines=["oil"])
    assert [line.id for line in found.lines] == ["oil"]
    assert found.not_accepted == ("tyre", "lamp")


def test_what_was_accepted_but_not_done_is_not_charged():
    found = charge(
        priced({"oil": [("full", 100)], "tyre": [("full", 100)]}), priced({"oil": [("full", 100)]})
    )
    assert (found.net_minor, found.not_accepted) == (100, ())


def test_a_tax_rate_raised_after_the_yes_is_not_charged():
    accepted, actual = (
        priced({"oil": [("full", 100)]}),
        priced({"oil": [("full", 100)]}, {"full": Decimal(25)}),
    )
    assert charge(accepted, actual).gross_minor == 120


def test_of_a_rate_that_two_estimates_tell_differently_the_lower_per_cent_counts():
    dear = priced({"oil": [("full", 100)]})
    cheap = priced({"tyre": [("full", 200)]}, {"full": Decimal(10)})
    for lines in ({"oil": dear, "tyre": cheap}, {"tyre": cheap, "oil": dear}):
        whole = together(lines)
        assert whole is not None
        assert (whole.net_minor, whole.tax_minor) == (300, 30)


def test_a_tax_rate_that_was_given_another_name_after_the_yes_is_charged_all_the_same():
    accepted = priced({"oil": [("full", 100)]}, {"full": Decimal(20)})
    found = charge(accepted, priced({"oil": [("renamed", 100)]}, {"renamed": Decimal(20)}))
    assert (found.net_minor, found.gross_minor, found.lines[0].held) == (100, 120, False)


def test_the_tax_of_the_side_that_bears_less_is_charged():
    accepted = priced({"oil": [("full", 100)]}, {"full": Decimal(20)})
    both = {"full": Decimal(20), "new": Decimal(10)}
    found = charge(accepted, priced({"oil": [("full", 80), ("new", 40)]}, both))
    assert [(tax.name, tax.net_minor, tax.tax_minor) for tax in found.taxes] == [
        ("full", 60, 12),
        ("new", 40, 4),
    ]


def test_two_currencies_are_refused():
    with pytest.raises(MoneyError, match="accepted in EUR, priced in CHF"):
        charge(priced({}), priced({}, currency="CHF"))


LINES = st.dictionaries(
    st.sampled_from(["oil", "tyre", "lamp", "fork"]),
    st.lists(st.tuples(st.sampled_from([None, *PERCENTS]), st.integers(0, 9999)), max_size=4),
)


LINES_RENAMED = LINES.map(
    lambda lines: {
        line: [("again" if tax == "full" else tax, net) for tax, net in items]
        for line, items in lines.items()
    }
)


@given(LINES, LINES | LINES_RENAMED, st.sets(st.sampled_from(["oil", "tyre", "lamp", "fork"])))
def test_never_more_than_was_accepted_nor_than_was_done(accepted, actual, said_yes):
    """Whatever changed in between, for the lines the owner said yes to."""
    before, after = priced(accepted), priced(actual)
    found = charge(before, after, lines=said_yes)
    agreed = priced({name: items for name, items in accepted.items() if name in said_yes})
    done = priced({name: items for name, items in actual.items() if name in said_yes})
    for ceiling in (agreed, done):
        assert found.net_minor <= ceiling.net_minor
        assert found.gross_minor <= ceiling.gross_minor
    assert found.gross_minor == found.net_minor + found.tax_minor
    assert charge(before, before).gross_minor == before.gross_minor


@given(LINES, LINES, st.sets(st.sampled_from(["oil", "tyre", "lamp", "fork"])))
def test_lines_with_tax_sum_to_the_total_on_one_estimate_and_across_several(first, second, agreed):
    """What the page shows line by line, the estimate's total and what the record charges are one sum."""
    made = [priced(first), priced(second)]
    for estimate in made:
        assert sum(estimate.gross_by_line().values()) == estimate.gross_minor
    on = {line.id: estimate for estimate in made for line in estimate.lines if line.id in agreed}
    whole = together(on)
    if whole is None:
        assert not on
        return
    assert sum(whole.gross_by_line().values()) == whole.gross_minor
    assert charge(whole, whole).gross_minor == whole.gross_minor
    for line in whole.lines:
        alone = together({line.id: on[line.id]})
        assert alone is not None
        assert abs(whole.gross_by_line()[line.id] - alone.gross_minor) <= len(PERCENTS)
