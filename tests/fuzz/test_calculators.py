"""Every field of every calculator, with what mechanics write and worse: an answer, or words; never a traceback."""

import random
import re
from collections import Counter
from collections.abc import Callable
from typing import get_args

import pytest

from tests.calculators.answers import sound, told
from tests.fuzz.hostile import TEXTS
from witnessmark.calculators import CALCULATORS, Asked, CalculationErrors, Calculator, evaluate
from witnessmark.units import QUANTITIES, UNITS, System

FIELDS = [(one, asked) for one in CALCULATORS.values() for asked in one.asked]
EXAMPLES = [asked.example for _, asked in FIELDS]
WRITTEN = (
    "about 60", "60-65 Nm", "60 to 65", "6,5 mkp", "hand tight + 1/4 turn", "as before", "see manual", "n/a", "?", "-",
    "full", "half", "3 of 4", "12,4V", "12.4 volts", "80PSI", "2,5 Bar", "36 psi cold", "M8", "m 10 x 1,25", "1/4-20",
    "M8x", "x1.25", "8.8", "A2-70", "10W40", "SAE 10w-40 JASO MA2", "dot4", "DOT 5.1", "120/70-17", "4.00-18 64H 4PR",
    "DOT 2319", "5220", "0,10-0,15", "inlet 1: 0.12 2.35", "EX 2: .20, 2.35", "in: 0.12", "1:50", "50:1", "2%", "0%",
    "100 %", "101 %", "40/60", "2026-13-40", "3.2026", "last year", "P0301, P0302", "P030", "43 01 03 01", "ok", "good",
    "worn", "5 qt", "1 gal", "12 oz", "1 3/4 turns", "90°", "-5°C", "20C", "1e3 mm", "1,234.5", "1.234,5", "00012",
    "60Nm (44 ft-lb)", "60 Nm, 44 ft-lb", "#520", "520 x 118", "12N 9", "CR 2032", "ZZZ1ABC23DE456789",
)  # fmt: skip
SIGNS = "0123456789.,:;/-+*x %°'\"()~<>=±µΩ·½²³\u00a0\u202f\u2009−–\n\tNmlbftinkgbarpsiVAhLdqt"
DIGITS = "0123456789"
ANY_SIGN = range(0x110000)


def _drawn(signs: str | range, most: int, chance: random.Random) -> str:
    drawn = (chance.choice(signs) for _ in range(chance.randint(1, most)))
    return "".join(one if isinstance(one, str) else chr(one) for one in drawn)


def _changed(text: str, chance: random.Random) -> str:
    """With one to three signs put in, taken out, doubled or changed; perhaps a line more."""
    for _ in range(chance.randint(1, 3)):
        at, sign = chance.randrange(len(text) + 1), chance.choice(chance.choice((SIGNS, DIGITS)))
        text = chance.choice((
            text[:at] + sign + text[at:], text[:at] + text[at + 1 :], text[:at] + sign + text[at + 1 :],
            text[:at], text[:at] + text[at : at + 1] + text[at:], f"{text}\n{text}", text.upper(),
        ))  # fmt: skip
    return text


def _read_again(asked: Asked, chance: random.Random) -> str:
    """The example, its numbers up to a third larger or smaller; of choices one that there is."""
    if asked.choices:
        return chance.choice(asked.choices)
    near = chance.uniform(0.75, 1.33)
    return re.sub(r"\d+\.\d+|\b\d+\b", lambda found: f"{float(found[0]) * near:.3g}", asked.example)


def _quantity(asked: Asked, chance: random.Random) -> str:
    """A number as large or small as may be, mostly with a unit of the field."""
    kind = (
        asked.kind
        if asked.kind in QUANTITIES and UNITS[asked.kind]
        else chance.choice(QUANTITIES[:-1])
    )
    size = 10.0 ** chance.uniform(-6, 9) * chance.choice((1, 1, 1, -1))
    number = chance.choice(
        (f"{size:.3g}", f"{size:.1f}", f"{size:.0f}", f"{size:g}".replace(".", ","), "0")
    )
    return f"{number}{chance.choice(('', ' '))}{chance.choice((*UNITS[kind], asked.unit, ''))}"


WAYS: dict[Callable[[Asked, random.Random], str], int] = {  # in a hundred
    _read_again: 20,
    lambda asked, chance: _changed(asked.example, chance): 25,
    _quantity: 15,
    lambda _, chance: chance.choice(WRITTEN): 12,
    lambda _, chance: _changed(chance.choice(WRITTEN), chance): 10,
    lambda _, chance: chance.choice(EXAMPLES): 5,  # of another field
    lambda _, chance: _drawn(SIGNS, 24, chance): 5,
    lambda _, chance: _drawn(ANY_SIGN, 12, chance): 5,
    lambda _, chance: chance.choice(TEXTS): 3,
}


def typed(asked: Asked, chance: random.Random) -> str:
    """What somebody puts into a field: right, nearly right, of another field, or nothing that a field is for."""
    (way,) = chance.choices(list(WAYS), list(WAYS.values()))
    return way(asked, chance)


def _tried(calculator: Calculator, texts: dict[str, str], system: System) -> str:
    try:
        answer = evaluate(calculator, texts, system)
    except CalculationErrors as refused:
        told(refused.errors, texts)
        str(refused)
        return "refused"
    sound(answer)
    return "answered"


def fuzz(texts: int, seed: int, answered) -> Counter:
    """Put in that many texts, one or two at a time beside examples, as often into each field; how it went."""
    chance, went = random.Random(seed), Counter()
    while went["texts"] < texts:
        for calculator, asked in FIELDS:
            typing = {asked, chance.choice(calculator.asked)} if chance.random() < 0.3 else {asked}
            put_in = {one.name: one.example for one in calculator.asked}
            put_in |= {one.name: typed(one, chance) for one in calculator.asked if one in typing}
            with answered():
                went[_tried(calculator, put_in, chance.choice(get_args(System)))] += 1
            went["texts"] += len(typing)
    return went


def held(went: Counter) -> None:
    """Both happen often, else the texts try nothing."""
    assert went["answered"] > went["texts"] / 10, went
    assert went["refused"] > went["texts"] / 3, went


def test_a_thousand_texts_are_answered_or_refused_in_words(answered):
    held(fuzz(1_000, 0, answered))


@pytest.mark.long
def test_two_hundred_thousand_texts_are_answered_or_refused_in_words(answered):
    held(fuzz(200_000, 1, answered))
