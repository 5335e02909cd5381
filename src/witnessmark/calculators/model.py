"""What a calculator is: what it asks for, how it reads that, what it answers.

Pages and the command line are made from these alone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from witnessmark import units
from witnessmark.errors import WitnessError, listed, nearest, suggestion
from witnessmark.facts.belief import New, apart
from witnessmark.units import Amount, Quantity, System

FieldKind = Quantity | Literal["words", "number", "ratio", "choice", "lines"]
Input = Amount | str | float | tuple[str, ...]
Inputs = Mapping[str, Input]

MOST_TEXT = 100_000  # for the program: pasted readings of one machine are far shorter
MOST_QUOTED = 1_000  # for the program: of what was typed, beside what was understood


_APART = re.compile(r"\s*[,;]\s+|\s*;\s*|\s*\t\s*")  # a comma without a blank is a decimal sign


class CalculationError(WitnessError):
    """What was put into a calculator cannot be used; ``place`` is the field."""


@dataclass(frozen=True)
class Asked:
    """One thing to be put in.

    ``kind`` decides what the computation gets under ``name``: a quantity an `Amount` (in its base
    unit), "number" a float, "ratio" the parts to one, "lines" a tuple of lines that are not blank,
    "words" and "choice" a str. What is optional and left empty is not there. ``unit`` belongs to a number: shown beside
    it, and let pass when it is typed after it; so does ``most``, above which nobody means it: it tells 2.571 from 2571.
    ``span``: a quantity that may be a range (`units.Span`).
    """

    name: str
    text: str
    kind: FieldKind
    example: str
    choices: tuple[str, ...] = ()
    optional: bool = False
    help: str = ""
    unit: str = ""
    most: float = math.inf
    span: bool = False


@dataclass(frozen=True)
class Calculated:
    """An answer: one sentence, further figures, and what it rests on.

    ``put_in`` tells, by name of the field, what was understood where that is more than its value, and
    what else was used; the frame puts what was typed beside it. ``source`` names standard and clause,
    or says "common practice, no source" or "plain arithmetic". ``picture`` is SVG text with a title,
    drawn in ``currentColor``.
    """

    said: str
    lines: tuple[tuple[str, str], ...]
    formula: str
    put_in: tuple[tuple[str, str], ...]
    source: str
    warnings: tuple[str, ...] = ()
    picture: str | None = None


@dataclass(frozen=True)
class Calculator:
    """One computation that can be used alone. ``calculate`` raises WitnessErrors only.

    ``also`` has what the trade calls it besides: words for the search that title and text do not have.
    """

    name: str
    title: str
    text: str
    asked: tuple[Asked, ...]
    calculate: Callable[[Inputs], Calculated]
    caution: str = ""
    also: tuple[str, ...] = ()


class CalculationErrors(Exception):  # noqa: N818 - one error for several
    """Everything that is wrong with what was put in."""

    def __init__(self, errors: tuple[WitnessError, ...]) -> None:
        super().__init__(errors)
        self.errors = errors

    def __str__(self) -> str:
        return "\n".join(map(str, self.errors))


def evaluate(
    calculator: Calculator, texts: Mapping[str, str], system: System = "metric"
) -> Calculated:
    """The answer for what was typed, by name of the field, in the usual units of a system.

    Raises CalculationErrors with every fault found, each with the field as its place.
    """
    with units.shown_in(system):
        return _evaluate(calculator, texts)


def _evaluate(calculator: Calculator, texts: Mapping[str, str]) -> Calculated:
    inputs: dict[str, Input] = {}
    faults: list[WitnessError] = list(_unasked(calculator, texts))
    for asked in calculator.asked:
        try:
            given = put_in(asked, texts.get(asked.name, ""))
        except WitnessError as error:
            faults.append(error)
            continue
        if given is not None:
            inputs[asked.name] = given
    if faults:
        raise CalculationErrors(tuple(faults))
    try:
        answer = calculator.calculate(inputs)
    except WitnessError as error:
        raise CalculationErrors((error,)) from None
    return replace(answer, put_in=tuple(_understood(calculator, texts, inputs, answer.put_in)))


def _understood(
    calculator: Calculator,
    texts: Mapping[str, str],
    inputs: Inputs,
    told: tuple[tuple[str, str], ...],
) -> Iterator[tuple[str, str]]:
    """What was put in, as it was taken: all that was typed stands beside it where it differs."""
    more = dict(told)
    for asked in calculator.asked:
        said = more.pop(asked.name, None)
        if asked.name not in inputs:
            continue
        typed, taken = texts[asked.name].strip(), said or _taken(asked, inputs[asked.name])
        plain = {_bare(taken), _bare(taken.removesuffix(asked.unit))}
        same = _bare(typed) in (_bare(taken) if said else plain) or asked.kind == "choice"
        yield (
            asked.text,
            _shortened(taken) if same else f"“{_shortened(typed)}” is {_shortened(taken)}",
        )
    yield from more.items()


def _shortened(text: str) -> str:
    return text if len(text) <= MOST_QUOTED else f"{text[:MOST_QUOTED]}…"


def _bare(text: str) -> str:
    return "".join(text.replace(";", "").split())


def _taken(asked: Asked, given: Input) -> str:
    match given:
        case Amount():
            return given.understood
        case tuple():
            return "; ".join(given)
        case float():
            ratio = "1 : " if asked.kind == "ratio" else ""
            return f"{ratio}{given:.12g} {asked.unit}".strip()
    return str(given)


def put_in(asked: Asked, text: str) -> Input | None:
    """What was typed for one field; None where it is optional and empty. Raises a WitnessError."""
    if len(text) > MOST_TEXT:
        raise CalculationError(
            asked.name, "this is too long to be read", "paste the part that matters"
        )
    if not text.strip():
        if asked.optional:
            return None
        raise CalculationError(
            asked.name, "nothing is put in", f"write for instance {_first(asked)}"
        )
    given: Input
    match asked.kind:
        case "words":
            given = text.strip()
        case "number":
            given = units.read_number(text, unit=asked.unit, place=asked.name, most=asked.most)
        case "ratio":
            given = units.read_ratio(text, place=asked.name)
        case "choice":
            given = _choice(asked, text)
        case "lines":
            given = tuple(line.strip() for line in text.splitlines() if line.strip())
        case quantity:
            read = units.read_span if asked.span else units.read
            given = read(text, quantity, place=asked.name)
    return given


def _first(asked: Asked) -> str:
    return next(iter(asked.choices), "") or asked.example.partition("\n")[0]


def _choice(asked: Asked, text: str) -> str:
    """The choice of that name; what stands before a colon is name enough. Example: ``II A``."""
    wanted = _key(text)
    for choice in asked.choices:
        if wanted in (_key(choice), _key(choice.partition(":")[0])):
            return choice
    expected = (
        suggestion(text.strip(), asked.choices) or f"choose one of {listed(asked.choices, 30)}"
    )
    raise CalculationError(asked.name, f'"{text.strip()[:40]}" is not among the choices', expected)


def _key(choice: str) -> str:
    """A choice as it is compared: a bolt of 8,8 is one of 8.8."""
    return _bare(choice).casefold().replace(",", ".")


def _unasked(calculator: Calculator, texts: Mapping[str, str]) -> list[WitnessError]:
    names = [asked.name for asked in calculator.asked]
    faults: list[WitnessError] = []
    for name in texts:
        if name not in names:
            like = nearest(name, names)
            expected = f'did you mean "{like}"?' if like else f"it asks for {listed(names, 30)}"
            faults.append(
                CalculationError(name, f"{calculator.name} asks for no such thing", expected)
            )
    return faults


def digits(value: float, most: int = 3) -> str:
    """A number to so many significant digits, four decimals at most, never with an exponent."""
    rounded = float(f"{value:.{most}g}")
    size = math.floor(math.log10(abs(rounded))) if rounded else 0
    text = f"{rounded:.{min(4, max(0, most - 1 - size))}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount(inputs: Inputs, name: str) -> Amount:
    """A quantity that was put in."""
    given = inputs[name]
    assert isinstance(given, Amount)
    return given


def maybe_amount(inputs: Inputs, name: str) -> Amount | None:
    """A quantity that may be left out."""
    return amount(inputs, name) if name in inputs else None


def value_or(inputs: Inputs, name: str, otherwise: float = 0.0) -> float:
    """The value of a quantity, in its base unit, or what it is where it was left out."""
    given = maybe_amount(inputs, name)
    return otherwise if given is None else given.value


def number(inputs: Inputs, name: str, default: float | None = None) -> float:
    """A number that was put in, or the default."""
    given = inputs.get(name, default)
    assert isinstance(given, int | float)
    return given


def share_percent(inputs: Inputs, name: str, default: float | None = None) -> float:
    """A share of a whole, in per cent: less than one per cent but not nothing is asked about (0,5 for half)."""
    percent = number(inputs, name, default)
    if 0 < percent < 1:
        problem = f"{percent:g} % is next to nothing"
        raise CalculationError(name, problem, f"write {100 * percent:g} % if that is meant, else 0")
    return percent


def whole_number(inputs: Inputs, name: str, default: float | None = None) -> int:
    """A number of things, which has no decimals."""
    counted = number(inputs, name, default)
    if counted != int(counted):
        raise CalculationError(name, f"{counted:g} is not a whole number", "count again")
    return int(counted)


def lines_of(inputs: Inputs, name: str) -> tuple[str, ...]:
    """The lines that were put in."""
    given = inputs[name]
    assert isinstance(given, tuple)
    return given


def apart_in(line: str) -> list[str]:
    """Several values on one line, which stand apart by a semicolon, or a comma and a blank."""
    return _APART.split(line)


def single(inputs: Inputs, name: str) -> list[str]:
    """Lines of one value each; several on one line count as lines of their own."""
    return [part for line in lines_of(inputs, name) for part in apart_in(line)]


def amounts(
    inputs: Inputs, name: str, quantity: Quantity, unit: str, *, span: bool = False
) -> list[Amount]:
    """A line each: a quantity (or a ``span`` of it), in ``unit`` where none is written. Faults tell the line."""
    return [
        read_line(line, place, name, quantity, unit, span=span)
        for place, line in enumerate(single(inputs, name), 1)
    ]


def read_line(
    text: str, place: int, name: str, quantity: Quantity, unit: str, *, span: bool = False
) -> Amount:
    """A quantity of the line ``place`` of a field, in ``unit`` where none is written."""
    try:
        if span:
            return units.read_span(text, quantity, unit=unit, place=name)
        return units.read(units.with_unit(text, unit), quantity, place=name)
    except units.QuantityError as error:
        several = error.problem.endswith("is more than one number")
        expected = "write one value a line, or a ; between them" if several else error.expected
        raise CalculationError(name, f"line {place}: {error.problem}", expected) from None


def believable(name: str, readings: list[Amount], new: New, *, alike: bool = True) -> None:
    """Raise CalculationError for a reading that is asked about before it is judged; it tells the line.

    More than a new one has; where they should be ``alike``, one far from its fellows.
    """
    over = next((place for place, one in enumerate(readings) if one.value > new.most), None)
    odd = apart([one.value for one in readings]) if alike else None
    place = odd if over is None else over
    if place is None:
        return
    read = f"line {place + 1}: " if len(readings) > 1 else ""
    read += readings[place].understood
    if over is None:
        problem = f"{read} is far from the others"
        raise CalculationError(name, problem, "look at the decimal point, or measure there again")
    most = units.show(new.most, readings[place].quantity, unit=units.unit_written(readings[place]))
    problem = f"{read} was read, and {new.what} has {most} at most"
    raise CalculationError(name, problem, "look at the decimal point and the unit")
