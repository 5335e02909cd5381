"""Whatever is typed or pasted: an answer, or what could not be read. Never another error, never a part lost."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.decode import (
    DecodeError,
    code_of,
    read_battery,
    read_chain,
    read_code,
    read_date_code,
    read_identification,
    read_marking,
    read_pasted,
    read_response,
    told,
)
from witnessmark.decode.pasted import MOST_LETTERS

TODAY = date(2026, 11, 25)
# letters of the markings themselves, signs of other alphabets, blanks and lines of all kinds
ALIKE = st.text("0123456789ABCDEFIOPQUX/-.,;:[]()<>→ \t\n\u00a0\u202f٣５ⅧбМ\x00", max_size=60)
ANYTHING = st.one_of(st.text(max_size=200), ALIKE)
HEX = st.binary(max_size=40).map(lambda data: data.hex(" ").upper())
CODE = st.builds(code_of, st.integers(0, 0xFFFF), st.none() | st.integers(0, 0xFF))

READERS = {
    "identification number": lambda text: read_identification(text, 2026),
    "trouble code": read_code,
    "tyre marking": lambda text: read_marking(text, TODAY),
    "date code": lambda text: read_date_code(text, TODAY),
    "chain": read_chain,
    "battery": read_battery,
}


@pytest.mark.parametrize("name", READERS)
@given(text=ANYTHING)
def test_a_marking_is_read_or_said_to_be_none(name, text):
    """With all three parts of the error filled: where, what is wrong, what would be right."""
    said = _refused(READERS[name], text)
    assert said is None or (said.place == name and said.problem and said.expected)


@given(ANYTHING)
def test_an_identification_number_in_words_never_fails(text):
    said = told(text, 2026)
    assert bool(said.facts or said.warnings) == bool(text.strip())


@given(st.binary(max_size=60))
def test_bytes_are_an_answer_or_not(data):
    said = _refused(read_response, data)
    assert read_response(data).said if said is None else said.problem and said.expected


def _refused(reader, given):
    try:
        reader(given)
    except DecodeError as error:
        return error
    return None


@given(st.lists(st.one_of(ANYTHING, HEX, CODE.map(lambda code: code.written)), max_size=8))
def test_no_line_pasted_is_lost(lines):
    """Every line with more than blanks is a code, a thing said, or unread with the reason."""
    text = "\n".join(lines)
    read = read_pasted(text)
    wanted = {n for n, line in enumerate(text.splitlines(), 1) if line.split()}
    spoken = {one.line for one in (*read.seen, *read.unread)} | {n for n, _ in read.said}
    assert spoken <= wanted
    assert wanted == spoken | set(read.joined)
    assert all(one.why for one in read.unread)


@given(st.lists(CODE, min_size=1, max_size=12, unique=True))
def test_codes_written_come_back_as_they_were(codes):
    read = read_pasted("\n".join(code.written for code in codes))
    assert read.codes == tuple(codes)
    assert not read.unread


@given(
    st.lists(
        st.tuples(CODE.filter(lambda c: c.failure is not None), st.integers(0, 255)), max_size=30
    )
)
def test_codes_in_an_answer_come_back_whole_or_in_frames(codes):
    """The same list as one line of bytes, and cut into frames of the network (ISO 15765-2)."""
    body = b"".join(c.value.to_bytes(2, "big") + bytes([c.failure, s]) for c, s in codes)
    data = b"\x59\x02\xff" + body
    for text in (data.hex(" "), "\n".join(_frames(data))):
        read = read_pasted(text)
        assert [(one.code, one.status) for one in read.seen] == codes
        assert not read.unread


def _frames(data):
    if len(data) <= 7:
        return [f"7E8 {bytes([len(data), *data]).hex(' ')}"]
    frames = [bytes([0x10 | len(data) >> 8, len(data) & 0xFF]) + data[:6]]
    frames += [
        bytes([0x20 | n % 16]) + data[at : at + 7] for n, at in enumerate(range(6, len(data), 7), 1)
    ]
    filled = [frame.ljust(8, b"\xaa") for frame in frames]
    return [f"7E8 {frame.hex(' ')}" for frame in filled]


def test_a_text_too_long_is_said_to_be_so():
    read = read_pasted("P0301\n" * MOST_LETTERS)
    assert read.codes == ()
    assert "paste the list of codes alone" in read.unread[0].why
