"""The journal against a general accounting program: it balances, and both have the same balances."""

import csv
from datetime import date
from decimal import Decimal

import pytest
from beancount import loader
from beancount.core import realization
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from tests.invoice.paper import LESS, document, line
from tests.invoice.test_totals import adjusted, lines, sides
from witnessmark.invoice import Advance, Issued, totals
from witnessmark.journal import (
    DEFAULT,
    Accounts,
    as_csv,
    as_plain_text,
    balances,
    of_document,
    of_payment,
    of_till_count,
    of_write_off,
)

DAY = date(2026, 11, 30)


def issued(paper):
    return Issued(document=paper, totals=totals(paper))


def by_beancount(text):
    """The balances that the general program finds, in minor units."""
    entries, errors, _ = loader.load_string(text)
    assert errors == []
    found = {}
    for account in realization.iter_children(realization.realize(entries), leaf_only=False):
        for position in account.balance:
            places = Decimal(10) ** 2
            found[account.account, position.units.currency] = int(position.units.number * places)
    return found


papers = st.builds(
    lambda some, adjustments, prices, kind: issued(
        document(
            *some,
            adjustments=adjustments if any(one.tax != "deposit" for one in some) else (),
            prices=prices,
            kind=kind,
        )
    ),
    lines, adjusted, sides, st.sampled_from(["invoice", "credit note", "advance invoice", "corrected invoice"]),
)  # fmt: skip
amounts = st.integers(-(10**6), 10**6)
paid = st.tuples(amounts, st.sampled_from(["cash", "card", "transfer"]))
words = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), min_size=1, max_size=30)


@settings(max_examples=30)
@given(st.lists(papers, max_size=4), st.lists(paid, max_size=4), amounts, amounts, words)
def test_whatever_happens_it_balances_and_a_general_program_agrees(made, payments, off, till, text):
    journal = [of_document(each, DEFAULT) for each in made]
    journal += [of_payment(DAY, n, means, "EUR", DEFAULT, text=text) for n, means in payments]
    journal += [of_write_off(DAY, off, "EUR", DEFAULT, text=text, document=text)]
    journal += [of_till_count(DAY, till, "EUR", DEFAULT, text=text)]
    ours = {key: minor for key, minor in balances(journal).items() if minor}
    assert sum(ours.values()) == 0
    assert by_beancount(as_plain_text(journal)) == ours
    owed = sum(
        (-1 if one.document.kind == "credit note" else 1) * one.totals.gross_minor for one in made
    )
    assert ours.get(("Assets:Receivable", "EUR"), 0) == owed - sum(n for n, _ in payments) - off


@given(papers)
def test_a_credit_note_of_the_whole_leaves_nothing(made):
    if made.document.kind == "credit note":
        return
    kind = made.document.kind
    back = issued(made.document.model_copy(update={"kind": "credit note"}))
    journal = [of_document(made, DEFAULT), of_document(back, DEFAULT, credited=kind)]
    assert set(balances(journal).values()) <= {0}


def test_an_advance_is_no_income_until_the_work_is_invoiced():
    first = issued(document(line(100), kind="advance invoice"))
    advance = Advance(number="A-1", day=DAY, taxes=first.totals.taxes)
    last = issued(document(line(300), line(50, "less"), line(20, "deposit"), advances=(advance,)))
    assert balances([of_document(first, DEFAULT)]) == {
        ("Liabilities:Advances", "EUR"): -10_000,
        ("Liabilities:Tax:19", "EUR"): -1_900,
        ("Assets:Receivable", "EUR"): 11_900,
    }
    assert balances([of_document(first, DEFAULT), of_document(last, DEFAULT)]) == {
        ("Liabilities:Advances", "EUR"): 0,
        ("Liabilities:Tax:19", "EUR"): -5_700,
        ("Liabilities:Tax:7", "EUR"): -350,
        ("Liabilities:Deposits", "EUR"): -2_000,
        ("Income:Work:19", "EUR"): -30_000,
        ("Income:Work:7", "EUR"): -5_000,
        ("Assets:Receivable", "EUR"): 43_050,
    }


def test_a_sum_rounded_for_cash_is_posted_with_what_the_coin_made_of_it():
    made = issued(document(line("10.00", "zero"), line("0.02", "zero"), cash_step_minor=5))
    assert balances([of_document(made, DEFAULT)]) == {
        ("Income:Work:Zero", "EUR"): -1_002,
        ("Expenses:Rounding", "EUR"): 2,
        ("Assets:Receivable", "EUR"): 1_000,
    }


def test_a_receipt_moves_nothing_and_a_transaction_that_does_not_balance_is_refused():
    assert of_document(issued(document(kind="receipt")), DEFAULT) is None
    entry = of_payment(DAY, 5, "cash", "EUR", DEFAULT, text="tip")
    with pytest.raises(ValidationError, match="must sum to 0"):
        type(entry)(**entry.model_dump() | {"postings": entry.postings[:1]})


@pytest.mark.parametrize(
    "name", ["Cash", "Assets", "Assets:", "Assets:cash", "Assets:My Cash", "Money:Cash"]
)
def test_an_account_that_no_accounting_program_reads_is_refused(name):
    with pytest.raises(ValidationError):
        Accounts(cash=name)


def test_csv_has_a_row_for_each_posting_and_no_formula():
    entry = of_payment(DAY, -1_234, "card", "EUR", DEFAULT, text='=SUM("a",\n1)', document="2026-1")
    rows = list(csv.DictReader(as_csv([entry]).splitlines()))
    assert [(row["account"], row["debit"], row["credit"]) for row in rows] == [
        ("Assets:Card", "", "12.34"),
        ("Assets:Receivable", "12.34", ""),
    ]
    assert {row["text"] for row in rows} == {'\'=SUM("a", 1)'}
    assert as_csv([]).strip() == "day,document,text,account,debit,credit,currency"


def test_currencies_without_or_with_three_decimals_are_written_as_such():
    yen = of_payment(DAY, 500, "cash", "JPY", DEFAULT, text="a")
    dinar = of_payment(DAY, 500, "cash", "KWD", DEFAULT, text="b")
    text = as_plain_text([yen, dinar])
    assert "500 JPY" in text
    assert "0.500 KWD" in text
    assert loader.load_string(text)[1] == []


def test_two_rates_of_tax_have_an_account_each():
    made = issued(document(line(10), line(10, "less")))
    assert LESS.percent == 7
    assert {key[0] for key in balances([of_document(made, DEFAULT)])} >= {
        "Liabilities:Tax:19",
        "Liabilities:Tax:7",
    }
