"""Words that several kinds of entries need: of steps, lines, states, items."""

from __future__ import annotations

from witnessmark.ledger.ids import ItemId
from witnessmark.ledger.table import Table

NO_WORDS = "a line of the estimate"


def line_words(line: str, table: Table) -> str:
    """A job, or a line of an estimate."""
    return table.lines.get(line, NO_WORDS)


def step_words(name: str, table: Table) -> str:
    """A step."""
    rule = table.steps.get(name)
    return rule.words if rule else "a step that the book does not have"


def state_words(name: str, state: str, table: Table) -> str:
    """A condition in a state. Example: ``rear wheel off``."""
    rule = table.conditions.get(name)
    if rule is None:
        return "a condition that the book does not have"
    return f"{rule.words} {rule.state_words.get(state, state)}"


def with_reason(why: str) -> str:
    """A reason behind a comma; empty where none was given."""
    return f", {why}" if why else ""


def items_words(names: list[str], table: Table) -> str:
    """Items, one behind the other."""
    return "; ".join(_item(name, table) for name in names)


def _item(name: str, table: Table) -> str:
    """An item by its words; one that the table does not have by what it is."""
    if name in table.items:
        return table.items[name].words
    key = ItemId(name)
    if key.kind == "job":
        return line_words(key.name, table)
    if key.kind == "conflict":
        return step_words(key.name, table) if key.about == "step" else line_words(key.name, table)
    return f"a {key.kind} that the book does not have"
