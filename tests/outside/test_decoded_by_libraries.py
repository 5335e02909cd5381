"""Identification numbers, codes, status bytes and answers against general libraries.

`data/decoded.json` is what vininfo 1.11.0, scapy 2.8.0 and udsoncan 1.26.1 say; `remake_decoded.py` makes it again and
holds the command.
"""

import hashlib
import json
import re
from pathlib import Path

import pytest

from witnessmark.decode import code_of, read_identification, read_response, status_bits
from witnessmark.decode.identification import _country

SAID = json.loads((Path(__file__).parent / "data" / "decoded.json").read_text(encoding="utf-8"))
# Where the library and our table differ, and why ours stands (both from memory of ISO 3780's later assignments).
DIFFER = {
    **{
        f"7{sign}": "7A to 7E were New Zealand's first, 7F on the United States'"
        for sign in "ABCDE"
    },
}


def test_check_digits_agree_with_a_general_library():
    """400 numbers by chance, a good half of them right by the library."""
    assert (len(SAID["numbers"]), 150 < sum(SAID["numbers"].values()) < 300) == (400, True)
    ours = {number: read_identification(number, 2026).check_fits for number in SAID["numbers"]}
    assert ours == SAID["numbers"]


def test_countries_agree_with_a_general_library_but_where_named():
    """Every pair of first characters that both know a country of."""
    both = {pair: _country(pair) for pair in SAID["countries"] if _country(pair)}
    differ = {pair for pair, name in both.items() if name != SAID["countries"][pair]}
    assert differ == set(DIFFER)
    assert len(both) == 592


def test_all_codes_of_two_bytes_are_written_as_a_general_library_writes_them():
    """65536 texts, compared by one hash."""
    ours = "\n".join(code_of(value).text for value in range(0x10000))
    assert hashlib.sha256(ours.encode()).hexdigest() == SAID["codes"]


def test_every_status_byte_has_the_bits_that_a_general_library_names():
    """All 256; the library writes the names in its own way: pendingDTC is pending."""
    for byte, told in enumerate(SAID["statuses"]):
        names = [name.removesuffix("DTC") for name in status_bits(byte)]
        assert [_snake(name) for name in names] == told


def _snake(name):
    return re.sub(r"([A-Z])", lambda m: f"_{m[1].lower()}", name)


@pytest.mark.parametrize("text", SAID["answers"])
def test_an_answer_lists_what_a_general_library_finds_in_it(text):
    answer, told = read_response(bytes.fromhex(text)), SAID["answers"][text]
    listed = [[one.code.value << 8 | (one.code.failure or 0), one.status] for one in answer.listed]
    assert listed == told["listed"]
    assert (answer.count if answer.count is not None else len(listed)) == told["count"]
