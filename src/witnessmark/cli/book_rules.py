"""What `witnessmark book check` says of the trade's rules: where each is broken, why it is one, how to answer it."""

from __future__ import annotations

from itertools import groupby
from typing import Any

import typer

from witnessmark.book.load import PlacedBook
from witnessmark.book.rules import Finding, findings, how_to_answer


def unanswered(placed: PlacedBook) -> bool:
    """Whether a book breaks a rule without saying why."""
    return any(found.answer is None for found in findings(placed.book))


def print_findings(placed: PlacedBook) -> None:
    """Rule by rule: each place, then what the rule says; last what was answered."""
    for open_first in (True, False):
        told = [one for one in findings(placed.book) if (one.answer is None) == open_first]
        if told:
            heading = "of the trade are not kept" if open_first else "are answered by the book"
            places_told = "1 place" if len(told) == 1 else f"{len(told)} places"
            typer.echo(f"\nRules {heading}, in {places_told}:")
        for rule, places in groupby(told, lambda one: one.rule):
            typer.echo("")
            for found in places:
                fault = found.fault
                where = placed.place(fault.path)
                typer.echo(f"{where}: {fault.problem}; {fault.expected}")
            answer = placed.book.answers.get(rule.name)
            typer.echo(f"  rule {rule.name}: {rule.holds} {rule.because}")
            typer.echo(f"  source: {rule.source}")
            if answer is None:
                typer.echo(f"  where it is right all the same, write {how_to_answer(rule)}")
            else:
                typer.echo(f"  answered by {answer.by}: {answer.because}")


def as_json(placed: PlacedBook) -> list[dict[str, Any]]:
    """Every place where a rule is broken, with the rule and its answer."""
    return [_finding(placed, found) for found in findings(placed.book)]


def _finding(placed: PlacedBook, found: Finding) -> dict[str, Any]:
    rule, fault = found.rule, found.fault
    return {
        "rule": rule.name,
        "place": placed.place(fault.path),
        "problem": fault.problem,
        "expected": fault.expected,
        "holds": rule.holds,
        "because": rule.because,
        "source": rule.source,
        "answer": found.answer.model_dump() if found.answer else None,
    }
