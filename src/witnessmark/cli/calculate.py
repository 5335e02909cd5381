"""`witnessmark calculate`: every computation that can be used alone, with its formula and its source.

Exit codes: 0 answered, or found; 2 what was put in cannot be used: each fault with the field, what is wrong and what
would be right.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any, cast, get_args

import typer
from rich.console import Console

from witnessmark.calculators import (
    Asked,
    Calculated,
    CalculationError,
    CalculationErrors,
    Calculator,
    evaluate,
    find,
)
from witnessmark.cli.printing import print_json, table_of
from witnessmark.errors import WitnessError, listed
from witnessmark.units import System

_PAIR = re.compile(r"(?:--)?(?P<name>[A-Za-z][A-Za-z0-9_-]*)=(?P<text>.*)", re.DOTALL)
_OPTION = re.compile(r"--(?P<name>[A-Za-z][A-Za-z0-9_-]*)")

CalculatorName = Annotated[
    str | None,
    typer.Argument(help="which, or words to find it by; without it, all are listed"),
]
AsJson = Annotated[bool, typer.Option("--json", help="the answer as JSON on stdout")]
Units = Annotated[
    str, typer.Option(help="the answer in these: metric, us or imperial", metavar="SYSTEM")
]
Picture = Annotated[
    Path | None, typer.Option(help="write the answer's picture there, as SVG", show_default=False)
]


def calculate(
    context: typer.Context,
    name: CalculatorName = None,
    units: Units = "metric",
    as_json: AsJson = False,
    picture: Picture = None,
) -> None:
    """Compute one thing: `calculate NAME key=value …`, or `--key value`, or the values in their order.

    `calculate NAME` alone says what it asks for, `calculate SEARCH` which there are: `calculate allen key`.
    A value `@FILE` is read from that file, `-` from standard input.
    """
    if name is None:
        _list(as_json=as_json)
        return
    try:
        system = _system(units)
        calculator = _named(name, context.args)
        if calculator is None:
            _found(_matching(" ".join([name, *context.args])), as_json=as_json)
            return
        if not context.args:
            _describe(calculator, as_json=as_json)
            return
        answer = evaluate(calculator, _texts(calculator, context.args), system)
    except CalculationErrors as errors:
        raise _refused(errors.errors, as_json=as_json) from None
    except WitnessError as error:
        raise _refused((error,), as_json=as_json) from None
    if picture is not None:
        _draw(answer, picture)
    if as_json:
        print_json({"name": calculator.name} | asdict(answer))
    else:
        _print(calculator, answer)


# ---------------------------------------------------------------- what is asked for


def _system(units: str) -> System:
    """Raises CalculationError."""
    systems = get_args(System)
    if units in systems:
        return cast("System", units)
    problem = f'"{units[:40]}" are no units here'
    raise CalculationError("--units", problem, f"choose one of {listed(systems)}")


def _named(name: str, args: list[str]) -> Calculator | None:
    """The calculator of that name; None where name and values are words to search by.

    Raises CalculationError for a name that there is not, with values of fields.
    """
    try:
        return find(name)
    except CalculationError:
        if any(_OPTION.fullmatch(arg) or _PAIR.fullmatch(arg) for arg in args):
            raise
    return None


def _matching(words: str) -> tuple[Calculator, ...]:
    """What the words find. Raises CalculationError with the nearest names where that is nothing."""
    from witnessmark.calculators.search import near, search  # noqa: PLC0415 - reads all of them

    found = search(words)
    if found:
        return found
    *first, last = [f'"{one.name}"' for one in near(words)] or [""]
    meant = f"did you mean {', '.join(first)}{' or ' if first else ''}{last}?"
    expected = meant if last else "`witnessmark calculate` alone lists all"
    raise CalculationError("name", f'there is no calculator "{words[:40]}"', expected)


# ---------------------------------------------------------------- what was put in


def _texts(calculator: Calculator, args: list[str]) -> dict[str, str]:
    """What was put in, by field: named, or in the order in which it is asked for."""
    texts: dict[str, list[str]] = {}
    for name, text in _pairs(calculator, args):
        texts.setdefault(name, []).append(_told(name, text))
    lines = {asked.name for asked in calculator.asked if asked.kind == "lines"}
    for name, several in texts.items():
        if len(several) > 1 and name not in lines:
            raise CalculationError(name, "it is given twice", "give it once")
    return {name: "\n".join(several) for name, several in texts.items()}


def _pairs(calculator: Calculator, args: list[str]) -> Iterator[tuple[str, str]]:
    unnamed = iter([asked.name for asked in calculator.asked])
    rest = iter(args)
    for arg in rest:
        if option := _OPTION.fullmatch(arg):
            text = next(rest, None)
            if text is None:
                raise CalculationError(
                    _field(option["name"]), "nothing follows it", "give its value"
                )
            yield _field(option["name"]), text
        elif pair := _PAIR.fullmatch(arg):
            yield _field(pair["name"]), pair["text"]
        else:
            field = next(unnamed, None)
            if field is None:
                problem = f'"{arg[:40]}" is more than {calculator.name} asks for'
                raise CalculationError(calculator.name, problem, "put blanks into quotes: '60 Nm'")
            yield field, arg


def _field(name: str) -> str:
    return name.replace("-", "_")


def _told(name: str, text: str) -> str:
    """The text, or that of the file it names."""
    if text == "-":
        return sys.stdin.read()
    if not text.startswith("@"):
        return text
    try:
        return Path(text[1:]).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        problem = f"{text[1:]} cannot be read"
        expected = getattr(error, "strerror", "") or "give a text file in UTF-8"
        raise CalculationError(name, problem, expected) from None


# ---------------------------------------------------------------- what comes out


def _list(*, as_json: bool) -> None:
    from witnessmark.calculators import SUBJECTS  # noqa: PLC0415 - all of them, only for the list

    if as_json:
        print_json({
            subject: [_asked_json(one) for one in calculators]
            for subject, calculators in SUBJECTS.items()
        })  # fmt: skip
        return
    widest = max(len(one.name) for calculators in SUBJECTS.values() for one in calculators)
    for subject, calculators in SUBJECTS.items():
        _names(calculators, title=f"\n{subject}", widest=widest)
    typer.echo("\n`witnessmark calculate NAME` says what one asks for.", err=True)


def _found(calculators: tuple[Calculator, ...], *, as_json: bool) -> None:
    if as_json:
        print_json([_asked_json(one) for one in calculators])
    else:
        _names(calculators)


def _names(calculators: Iterable[Calculator], title: str = "", widest: int = 0) -> None:
    table = table_of("", "", title=title)
    table.show_header = False
    table.columns[0].min_width = widest
    for one in calculators:
        table.add_row(one.name, one.text)
    Console().print(table)


def _describe(calculator: Calculator, *, as_json: bool) -> None:
    if as_json:
        print_json(_asked_json(calculator))
        return
    typer.echo(f"{calculator.title}: {calculator.text}")
    table = table_of("put in", "", "such as", title="")
    for asked in calculator.asked:
        table.add_row(asked.name, _what(asked), _one_line(asked.example))
    Console().print(table)
    if calculator.caution:
        typer.echo(f"\nCaution: {calculator.caution}")
    needed = [asked for asked in calculator.asked if not asked.optional] or list(calculator.asked)
    example = " ".join(f"{one.name}={_quoted(_one_line(one.example))}" for one in needed)
    typer.echo(f"\nwitnessmark calculate {calculator.name} {example}")


def _what(asked: Asked) -> str:
    parts = [f"{asked.text} ({asked.unit})" if asked.unit else asked.text]
    parts += [f"one of: {', '.join(asked.choices)}"] if asked.choices else []
    parts += ["may be left out"] if asked.optional else []
    parts += [asked.help] if asked.help else []
    return "; ".join(part.rstrip(".") for part in parts)


def _one_line(example: str) -> str:
    return example.partition("\n")[0]


def _quoted(text: str) -> str:
    return f"'{text}'" if re.search(r"[^A-Za-z0-9_.,:/+-]", text) else text


def _print(calculator: Calculator, answer: Calculated) -> None:
    typer.echo(answer.said)
    for warning in answer.warnings:
        typer.echo(f"! {warning}")
    table = table_of("", "", title="")
    table.show_header = False
    for label, text in answer.lines:
        table.add_row(label, text)
    if answer.lines:
        table.add_row("", "")
    table.add_row("formula", answer.formula)
    for label, text in answer.put_in:
        table.add_row(f"put in: {label}", text)
    table.add_row("source", answer.source)
    Console().print(table)
    if calculator.caution:
        typer.echo(f"\nCaution: {calculator.caution}")


def _draw(answer: Calculated, path: Path) -> None:
    if answer.picture is None:
        raise _refused((CalculationError("--picture", "this answer has none", "leave it out"),))
    try:
        path.write_text(answer.picture, encoding="utf-8")
    except OSError as error:
        problem = f"{path} cannot be written"
        raise _refused((CalculationError("--picture", problem, error.strerror or ""),)) from None


def _asked_json(calculator: Calculator) -> dict[str, Any]:
    about = {"name": calculator.name, "title": calculator.title, "text": calculator.text}
    return about | {"asked": [asdict(asked) for asked in calculator.asked]}


def _refused(errors: tuple[WitnessError, ...], *, as_json: bool = False) -> typer.Exit:
    """Tell every error; the exit to raise."""
    for error in errors:
        typer.echo(str(error), err=True)
    if as_json:
        print_json({"errors": [error.as_dict() for error in errors]})
    return typer.Exit(2)
