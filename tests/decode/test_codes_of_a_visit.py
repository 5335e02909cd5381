"""Codes as they are pasted, and what became of them over a visit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.decode import Code, ReadOut, Seen, compare, read_code, read_pasted

MIXED = """\
Engine unit:
P0301 Misfire cylinder 1, status 2F
C0123-16 [09]

Code;Status;Text
P0135;0x24;Heater circuit
P0420,pending,"catalyst, bank 1"
Brake unit:
no codes
59 02 7F 0A 9B 17 24 08 05 11 2F
7E8 10 0B 59 02 7F 0A 9B 17
7E8 21 25 22 1F 00
0x0133 0x0301
PO133 typed
P4123
to be looked at
codes were cleared"""


def test_any_mix_is_read_line_by_line():
    read = read_pasted(MIXED)
    assert [(s.line, s.code.written, s.status, s.unit, s.note) for s in read.seen] == [
        (2, "P0301", 0x2F, "Engine unit", "Misfire cylinder 1"),
        (3, "C0123-16", 0x09, "Engine unit", ""),
        (6, "P0135", 0x24, "Engine unit", "Heater circuit"),
        (7, "P0420", None, "Engine unit", "pending, catalyst, bank 1"),
        (10, "P0A9B-17", 0x24, "Brake unit", ""),
        (10, "P0805-11", 0x2F, "Brake unit", ""),
        (13, "P0133", None, "Brake unit", ""),
        (13, "P0301", None, "Brake unit", ""),
    ]
    assert [(u.line, u.text) for u in read.unread] == [
        (11, "7E8 10 0B 59 02 7F 0A 9B 17; 7E8 21 25 22 1F 00"),
        (14, "PO133"),
        (15, "P4123"),
        (16, "to be looked at"),
    ]
    assert "10 of 11 bytes" in read.unread[0].why
    assert "probably meant: P0133" in read.unread[1].why
    assert "first digit of a code is 0 to 3" in read.unread[2].why
    assert read.cleared
    assert not read.nothing


@pytest.mark.parametrize(
    ("row", "codes"),
    [
        ("P0301, P0302; C0035", ["P0301", "P0302", "C0035"]),
        ("C0035 | P0301-16 P0302", ["C0035", "P0301-16", "P0302"]),
        ("P0301,2F,see P0302", ["P0301"]),  # a remark names another: that one was not found
    ],
)
def test_no_code_of_a_row_is_lost_beside_another(row, codes):
    assert [one.code.written for one in read_pasted(row).seen] == codes


@pytest.mark.parametrize(
    "words",
    [
        "none",
        "No codes",
        "no fault codes found",
        "0 codes",
        "43 00",
        "59 02 7F",
        "59 01 2F 01 00 00",
    ],
)
def test_that_there_is_nothing_is_told_too(words):
    read = read_pasted(words)
    assert read.nothing
    assert read.conclusive
    assert not read.unread


def test_bytes_that_may_be_two_things_are_asked_about():
    """Six digits may be an answer or a code; seven bytes may be three codes or a frame with a count."""
    assert "may be an answer, or the code C1902-7F" in read_pasted("59027F").unread[0].why
    for anything in ("2016", "FACE", "0A9B17"):
        read = read_pasted(anything)
        assert read.codes == ()
        assert "any number" in read.unread[0].why
    read = read_pasted("43 01 33 00 00 00 00")
    assert [one.code.written for one in read.seen] == ["P0133"]
    assert "if the first byte is a count, it is P3300" in read.unread[0].why


@pytest.mark.parametrize("alone", ["44", "54", "43", "12", "12 44 54", "44 12 33"])
def test_a_number_of_two_digits_may_be_a_blink_code_and_is_asked_about(alone):
    """44 and 54 are also the answers that codes were cleared (ISO 15031-5, ISO 14229-1)."""
    read = read_pasted(alone)
    assert not read.cleared
    assert not read.conclusive
    assert [one.text for one in read.unread] == [alone]
    assert read_pasted("7E8 44").cleared


@pytest.mark.parametrize(
    ("line", "seen"),
    [
        ("P0301 active, P0302 not active", [("P0301", None, "active"), ("P0302", None, "not active")]),
        ("P0301 status 2F, P0302 status 24", [("P0301", 0x2F, ""), ("P0302", 0x24, "")]),
        ("P0301 [2F] P0302 [24] coil", [("P0301", 0x2F, ""), ("P0302", 0x24, "coil")]),
        ("P0301 and P0302 intermittent", [("P0301", None, "intermittent"), ("P0302", None, "intermittent")]),
        ("cold start: P0301", [("P0301", None, "cold start")]),
        ("P0301 status 2F or status 24", [("P0301", None, "status 2F or status 24")]),
    ],
)  # fmt: skip
def test_what_is_said_beside_a_code_stays_with_it(line, seen):
    read = read_pasted(line)
    assert [(one.code.written, one.status, one.note) for one in read.seen] == seen
    memories = [one.memory for one in read_pasted("P0301 pending, P0302 permanent, P0303").seen]
    assert memories == ["pending", "permanent", ""]


@pytest.mark.parametrize(
    "line", ["P 0301", "P-0301", "p 0301, P 0302", "Misfire: P 0301", "P-0301-16 C 0123"]
)
def test_a_code_may_stand_apart_from_its_letter(line):
    read = read_pasted(line)
    assert read.codes
    assert read.unread == ()
    assert len(read.codes) == len(
        read_pasted(line.upper().replace("P ", "P").replace("C ", "C")).codes
    )
    assert read_code("P 0301") == read_code("P-0301") == Code("P0301")


def test_inside_a_sentence_a_letter_and_a_number_are_asked_about():
    read = read_pasted("measured at B 1000 ohms")
    assert read.codes == ()
    assert "may be the code B1000, or not" in read.unread[0].why


def _read(*written, cleared=False, untested=()):
    seen = [Seen(Code(text), 1) for text in written]
    seen += [Seen(Code(text), 1, status=0x50) for text in untested]
    return ReadOut(tuple(seen), cleared)


def _names(codes):
    return [code.written for code in codes]


def test_gone_stayed_new_returned():
    """A code that comes back after clearing has returned, it has not stayed."""
    told = compare(
        [
            _read("P0301", "C0123", "B1234", "U0100"),
            _read("C0123", "P0135"),
            _read("C0123", "P0135", "U0100", "P0420"),
        ]
    )
    assert _names(told.gone) == ["B1234", "P0301"]
    assert _names(told.stayed) == ["C0123"]
    assert _names(told.new) == ["P0135", "P0420"]
    assert _names(told.returned) == ["U0100"]
    cleared = compare([_read("C0123"), _read("C0123", cleared=True)])
    assert _names(cleared.returned) == ["C0123"]


def test_a_code_gone_but_not_tested_again_is_said_to_be_so():
    """Status 50 after clearing (ISO 14229-1): nothing tested yet, so its absence proves nothing."""
    told = compare([_read("P0301", "P0420"), _read(cleared=True, untested=["P0301"])])
    assert _names(told.gone) == ["P0301", "P0420"]
    assert _names(told.untested) == ["P0301"]
    assert "not tested since the codes were cleared: P0301" in told.words


def test_a_reader_without_failure_types_meets_one_with_them():
    told = compare([ReadOut((Seen(Code("P0805", 0x11), 1),)), ReadOut((Seen(Code("P0805"), 1),))])
    assert _names(told.stayed) == ["P0805"]


CODES = st.frozensets(st.sampled_from(["P0301", "C0123", "B1234", "U0100", "P0420"]))


@given(st.lists(st.tuples(CODES, st.booleans()), min_size=1, max_size=5))
def test_every_code_of_a_visit_became_one_thing(history):
    """Independent model: gone is what is not there now; of the rest, each stands in one group."""
    told = compare([_read(*sorted(codes), cleared=cleared) for codes, cleared in history])
    groups = [set(_names(g)) for g in (told.gone, told.stayed, told.new, told.returned)]
    assert sum(map(len, groups)) == len(set.union(*groups))
    assert set.union(*groups) == frozenset().union(*(codes for codes, _ in history))
    now = history[-1][0]
    assert groups[0].isdisjoint(now)
    assert groups[1] | groups[2] | groups[3] == now
    assert groups[1] <= frozenset.intersection(*(codes for codes, _ in history))


TABLE = """\
Unit,DTC,Failure type,State,Text
Engine,0x0301,00,2F,"misfire, cylinder 1"
Brakes,C0123,16,0x09,
Brakes,C0123 and C0124,,,"""


def test_a_table_is_read_by_its_headings():
    """A code as a number counts where its column is headed so; a row of two codes is read as words."""
    read = read_pasted(TABLE)
    assert [(s.code.written, s.status, s.unit, s.note) for s in read.seen] == [
        ("P0301-00", 0x2F, "Engine", "misfire, cylinder 1"),
        ("C0123-16", 0x09, "Brakes", ""),
        ("C0123", None, "", "Brakes"),
        ("C0124", None, "", "Brakes"),
    ]


@pytest.mark.parametrize(
    "words", ["no", "0", "not to be ridden", "no more codes for today, thanks"]
)
def test_what_only_sounds_like_nothing_is_not_taken_for_it(words):
    read = read_pasted(words)
    assert not read.nothing
    assert read.unread
