"""Trouble codes against SAE J2012 / ISO 15031-6 and ISO 14229-1.

`data/trouble_codes.csv` names the source of each row and the general library that agreed; where its `how` has no S,
no published text was read.
"""

import pytest

from tests.outside.tables import rows_of
from witnessmark.decode import (
    DecodeError,
    code_of,
    failure_words,
    read_code,
    read_pasted,
    read_response,
    status_bits,
)
from witnessmark.decode.trouble_code_tables import STATUS_BITS, SYSTEMS

ROWS = rows_of("trouble_codes")


def test_every_row_is_tested():
    assert len(ROWS) == 65


def _two_byte(row):
    value = int(row["hex"], 16)
    if value == 0:  # padding: no code
        assert read_response(bytes.fromhex("43 0000 0000 0000")).listed == ()
        return
    assert code_of(value).written == row["code"]
    assert read_code(row["code"]).value == value


def _letter(row):
    letter, system = row["name"].split()
    code = code_of(int(row["mask_hex"], 16))
    assert (code.text[0], SYSTEMS[letter]) == (letter, system)


def _digit(row):
    """Each value of these bits gives its digit, and changes no other sign."""
    high, low = (int(bit) for bit in row["bit"].split(".."))
    place = {12: 1, 8: 2, 4: 3, 0: 4}[low]
    for value in range(1 << (high - low + 1)):
        text = code_of(value << low).text
        assert int(text[place], 16) == value
        assert text[1:place].strip("0") == text[place + 1 :].strip("0") == ""


def _three_byte(row):
    data = bytes.fromhex(row["hex"])
    code = code_of(data[0] << 8 | data[1], data[2])
    assert code.written == row["code"]
    said = row["name"].split(", ", 1)[1].replace("short to", "circuit short to")
    said = said.replace("voltage above", "circuit voltage above")
    assert failure_words(data[2]) == said.replace("circuit circuit", "circuit")


def _failure_type(row):
    assert failure_words(int(row["hex"], 16)) == row["name"]


def _status_bit(row):
    assert STATUS_BITS[int(row["bit"])][0] == row["name"]
    assert status_bits(int(row["mask_hex"], 16)) == (row["name"],)


def _status_byte(row):
    assert "|".join(status_bits(int(row["status_hex"], 16))) == row["bits_set"]


def _request(row):
    data = bytes.fromhex(row["hex"])
    with pytest.raises(DecodeError, match="is a request, not an answer"):
        read_response(data)
    assert read_pasted(data.hex(" ")).unread


RESPONSES = {
    "count response": lambda answer: answer.count == 1,
    "list response": lambda answer: (
        [(one.code.written, one.status) for one in answer.listed]
        == [("P0A9B-17", 0x24), ("P0805-11", 0x2F)]
    ),
    "snapshot response": lambda answer: (
        [(one.code.written, one.status) for one in answer.listed] == [("P1234-56", 0x24)]
        and "record 02: 01 47 11 A6 66 07 50 20" in answer.doubts[0]
    ),
    "extended data response": lambda answer: (
        [(one.code.written, one.status) for one in answer.listed] == [("P1234-56", 0x24)]
        and "record 05: 17 10 79" in answer.doubts[0]
    ),
    "list response with no match": lambda answer: answer.listed == () and answer.lists_nothing,
}


def _response(row):
    assert RESPONSES[row["name"]](read_response(bytes.fromhex(row["hex"])))


def _layout(row):
    """Mask, then four bytes a code; any number of codes."""
    for count in range(4):
        answer = read_response(bytes.fromhex("5902FF" + "0A9B1724" * count))
        assert len(answer.listed) == count
    with pytest.raises(DecodeError, match="cut off"):
        read_response(bytes.fromhex("5902FF0A9B17"))


TESTERS = {
    "two_byte": _two_byte, "letter_bits": _letter, "digit_bits": _digit, "three_byte": _three_byte,
    "failure_type": _failure_type, "status_bit": _status_bit, "status_byte": _status_byte,
    "message_request": _request, "message_response": _response, "message_layout": _layout,
}  # fmt: skip


def _id(row):
    memory = "" if "S" in row["how"] else " (not read in a published text)"
    key = row["hex"] or row["mask_hex"] or row["status_hex"] or row["bit"] or row["kind"]
    return f"{row['kind']} {key}{memory}"


@pytest.mark.parametrize("row", ROWS, ids=_id)
def test_a_row_of_the_table_holds(row):
    """Each row against our own reading of codes and answers."""
    TESTERS[row["kind"]](row)
