"""Books between shops: the signed file, what is believed of it, and what is taken of it."""

import contextlib
import json

import pytest
import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from tests.fixtures.shop import SMALL_BOOK
from witnessmark.book import load_book_text, parcel, received, revision
from witnessmark.book.build import build_lines
from witnessmark.book.figures import figure_state
from witnessmark.book.figures_written import with_figures
from witnessmark.book.parcel import MOST_BOOKS, MOST_BYTES, ParcelError, fingerprint, opened, sealed

# RFC 8032, section 7.1, test 1: the secret key and its public key
KEY = Ed25519PrivateKey.from_private_bytes(
    bytes.fromhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60")
)
PUBLIC = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
TEXT = SMALL_BOOK.read_text()
AT = "2026-01-31T08:00:00Z"
BUILT = """format = 1
name = "orlo_50"
title = "Orlo 50"
extends = "moped"
[machine]
maker = "Orlo"
model = "50"
"""


def made(*texts: str, **said: str) -> bytes:
    return sealed(
        **({"shop": "Harbour Street", "by": "Mara", "at": AT} | said),
        texts=texts or (TEXT,),
        key=KEY,
    )


def altered(**keys) -> bytes:
    return rfc8785.dumps(json.loads(made()) | keys)


def signed(said: dict) -> bytes:
    """A file of somebody who signs whatever he likes."""
    said = said | {"key": PUBLIC}
    said["signature"] = KEY.sign(parcel._signed(said)).hex()
    return rfc8785.dumps(said)


def test_the_same_books_give_the_same_bytes_and_come_back_whole():
    raw = made(TEXT, BUILT)
    assert raw == made(BUILT, TEXT)
    said = opened(raw)
    assert (said.shop, said.by, said.at, said.key) == ("Harbour Street", "Mara", AT, PUBLIC)
    assert [one.text for one in said.books] == sorted(
        [TEXT, BUILT], key=lambda t: load_book_text(t).name
    )
    (orlo,) = (one for one in said.books if one.name == "orlo_50")
    assert (orlo.maker, orlo.model, orlo.revision) == (
        "Orlo",
        "50",
        revision(load_book_text(BUILT)),
    )
    assert "archetype moped" in orlo.rests_on
    assert parcel.rests_on(orlo.text, load_book_text(orlo.text)) == orlo.rests_on


@given(st.data())
def test_no_change_of_a_byte_goes_unseen(data):
    """Whatever byte of the file is another one, it is refused, or says the same (white space, an escape)."""
    raw = made()
    at = data.draw(st.integers(0, len(raw) - 1))
    other = raw[:at] + bytes([data.draw(st.integers(0, 255))]) + raw[at + 1 :]
    with contextlib.suppress(ParcelError):
        assert opened(other) == opened(raw)


@pytest.mark.parametrize(
    ("raw", "problem"),
    [
        (b"", "is not a file of books"),
        (b"PK\x03\x04../../etc/passwd", "is not a file of books"),
        (b"[" * 500_000, "is not a file of books"),
        (b'{"kind": "something else"}', "is not a file of books"),
        (made()[:-200], "cut off"),
        (b" " * (MOST_BYTES + 1), "more than 3000000 bytes"),
        (altered(shop="Another"), "was altered"),
        (altered(signature="0" * 128), "was altered"),
        (altered(signature="", key=7), "was altered"),
        (altered(format=2), "newer version"),
        (altered(format="one"), "does not say its format"),
        (signed(json.loads(made()) | {"books": []}), "books"),
        (signed(json.loads(made()) | {"at": "2026-13-45T99:00:00Z"}), "at"),
        (signed(json.loads(made()) | {"shop": "Harbour\u202eStreet"}), "cannot be printed"),
        (signed(json.loads(made()) | {"more": 1}), "more"),
        (signed(json.loads(made()) | {"photos": {"0" * 64: "bm8="}}), "a photo that is not the one it names"),
        (signed(json.loads(made()) | {"photos": {"../" + "0" * 61: "bm8="}}), "photos"),
        (signed(json.loads(made()) | {"photos": {"0" * 64: "no*base64"}}), "a photo that is not the one it names"),
        (signed(json.loads(made()) | {"photos": {"0" * 64: "AAAA" * 150_000}}), "a photo of 450000 bytes"),
        (signed(json.loads(made().replace(b'"name":"', b'"name":"../'))), "books[0].name"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)  # fmt: skip
def test_what_cannot_be_used_is_refused_in_words(raw, problem):
    with pytest.raises(ParcelError) as told:
        opened(raw)
    assert problem in f"{told.value}"


def test_a_file_holds_so_many_books():
    with pytest.raises(ParcelError, match=f"send 1 to {MOST_BOOKS}"):
        made(*[TEXT] * (MOST_BOOKS + 1))


def test_a_fingerprint_is_five_blocks_of_digits_and_another_for_another_key():
    digits = fingerprint(PUBLIC)
    assert [len(block) for block in digits.split()] == [5] * 5
    assert digits.replace(" ", "").isdecimal()
    assert digits != fingerprint(PUBLIC[:-1] + "b")


# ---------------------------------------------------------------- what is taken of it


THEIRS = received.as_received(TEXT, "Harbour Street")


def figures(text: str):
    return load_book_text(text).figures


def test_what_came_says_whose_it_is_and_is_unproven_until_somebody_looks_it_up():
    torque = figures(THEIRS)["wheel_bolts"]
    there = figures(TEXT)["wheel_bolts"]
    assert (torque.value, torque.source) == (there.value, f"from Harbour Street: {there.source}")
    assert {figure_state(one) for one in figures(THEIRS).values()} <= {"missing", "unproven"}
    assert all(one.checked is None and one.vouched is None for one in figures(THEIRS).values())

    mine = with_figures(THEIRS, {"wheel_bolts": {"source": "Workshop manual, page 7"}})
    assert figure_state(figures(mine)["wheel_bolts"]) == "proven"


def test_an_answer_to_a_rule_of_the_trade_is_not_taken_over():
    answered = TEXT + '\n[answers.wheel_in]\nbecause = "seen"\nby = "A. Nobody"\n'
    assert load_book_text(answered).answers
    assert load_book_text(received.as_received(answered, "Harbour Street")).answers == {}


def test_the_same_again_brings_nothing_however_it_is_written():
    assert received.compared(THEIRS, THEIRS) == ([], [])
    assert received.compared(TEXT, THEIRS) == ([], [])
    other_unit = with_figures(THEIRS, {"wheel_bolts": {"value": "6000 N·cm"}})
    assert figures(TEXT)["wheel_bolts"].value == "60 N·m"
    assert received.compared(TEXT, other_unit) == ([], [])


def test_own_figures_stay_gaps_are_filled_and_what_differs_is_chosen_line_by_line():
    ours = with_figures(
        TEXT, {"wheel_bolts": {"value": "65 N·m"}, "tyre_time": {"value": "", "source": ""}}
    )
    before = figures(ours)
    both = received.compared(ours, THEIRS)
    (line,) = both.differences
    assert (line.id, line.ours[:6], line.theirs[:6]) == ("figures.wheel_bolts", "65 N·m", "60 N·m")
    assert len(both.gaps) == 1

    stays = figures(received.taken(ours, THEIRS, []))
    assert stays["wheel_bolts"] == before["wheel_bolts"]
    assert figure_state(stays["tyre_time"]) == "unproven"
    theirs = figures(received.taken(ours, THEIRS, [line.id]))
    assert theirs["wheel_bolts"] == figures(THEIRS)["wheel_bolts"]
    assert {n for n in before if theirs[n] != before[n]} == {"wheel_bolts", "tyre_time"}


def test_how_it_is_built_and_a_job_of_its_own_come_by_choice_too():
    """Another choice of a slot, and a job that only their text has, with its own figure."""
    job = """
[jobs.badge]
text = "Badge"
every_time = "badge_time"
operations.look = { text = "Look at the badge", minutes = 1 }
[figures.badge_time]
text = "Badge, every"
quantity = "duration"
value = "12 months"
source = "manual, page 3"
"""
    start = BUILT.replace('extends = "moped"', "").replace("[machine]", "[build]\n{}\n[machine]")
    moped = {slot: dict(one) for slot, one in load_book_text(BUILT).build.items()}
    ours = start.format("\n".join(build_lines(moped)))
    other = {**moped, "final_drive": {"is": "not known"}}
    theirs = received.as_received(
        start.format("\n".join(build_lines(other))) + job, "Harbour Street"
    )
    ids = [one.id for one in received.compared(ours, theirs).differences]
    assert ids == ["build.final_drive", "jobs.badge", "figures.badge_time"]

    assert received.taken(ours, theirs, []) == ours
    book = load_book_text(received.taken(ours, theirs, ids))
    assert book.build["final_drive"] == {"is": "not known"}
    assert book.jobs["badge"].text == "Badge"
    assert book.figures["badge_time"].sent_by == "Harbour Street"
    assert figure_state(book.figures["badge_time"]) == "unproven"
