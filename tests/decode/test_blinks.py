"""Flashes as technicians write them: one number, or a question. Long is ten, short one: common practice, no source."""

import pytest

from witnessmark.decode.blinks import read_blinks
from witnessmark.decode.errors import DecodeError


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("long long short", 21),
        ("- - .", 21),
        ("--.", 21),
        ("2 long 3 short", 23),
        ("2 longs, 3 shorts", 23),
        ("2x long 3x short", 23),
        ("2xlong 3xshort", 23),
        ("3 blinks", 3),
        ("2 times long, three times short", 23),
        ("two long flashes and three short", 23),
        ("2 long, pause, 3 short", 23),
        ("LLSSS", 23),
        ("llsss", 23),
        ("LL SSS", 23),
        ("L L S S S", 23),
        ("2L3S", 23),
        ("2L 3S", 23),
        ("— — · ·", 22),
        ("... ", 3),
        ("5 short", 5),
        ("short short", 2),
        ("0 long 4 short", 4),
        ("LL / SSS", 23),
    ],
)
def test_a_pattern_is_its_number(typed, number):
    assert read_blinks(typed).number == number


def test_long_flashes_alone_are_tens_where_that_is_said():
    assert read_blinks("2 long", "long is ten").number == 20


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        (".. / ...", 23),
        ("2 short pause 3 short", 23),
        ("2 flashes, pause, 3 flashes", 23),
        ("L / LLL / L", 131),
    ],
)
def test_groups_of_like_flashes_are_digits_where_that_is_said(typed, number):
    assert read_blinks(typed, "groups are digits").number == number
    with pytest.raises(DecodeError):
        read_blinks(typed)


@pytest.mark.parametrize(
    ("typed", "problem"),
    [
        ("SSLL", "more than one code"),
        ("LSLS", "more than one code"),
        ("2 long 3 short 2 long 3 short", "more than one code"),
        ("long", "no short flash"),
        ("- -", "no short flash"),
        (".. ...", "is there a pause"),
        (".. / ...", "2 groups of the same flash"),
        ("23", "23 of what?"),
        ("2-3", "2 of what?"),
        ("2 long 3", "3 of what?"),
        ("long 2 short 3", "3 of what?"),
        ("- 2 long 3 short", "“-” is no flash"),
        ("2 l 3 short", "in two ways"),
        ("2 long 3 flashes", "in two ways"),
        ("2 long 12 short", "12 in a row"),
        ("............", "12 short in a row"),
        ("/ LLS", "no flash beside it"),
        ("LLS…", "three dots in one sign"),
        ("2 lang 3 kurz", "2 of what?"),
        ("P0301", "is no flash"),
    ],
)
def test_what_may_be_read_in_two_ways_or_not_at_all_is_asked_about(typed, problem):
    with pytest.raises(DecodeError) as refused:
        read_blinks(typed)
    assert problem in refused.value.problem
    assert refused.value.expected
