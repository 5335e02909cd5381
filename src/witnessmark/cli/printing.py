"""What every command prints alike: JSON, and tables without rules."""

from __future__ import annotations

import json
from typing import Any

import typer
from rich.table import Table


def print_json(value: Any) -> None:
    """A result as JSON on stdout."""
    typer.echo(json.dumps(value, ensure_ascii=False, indent=2))


def table_of(*columns: str, title: str | None = None) -> Table:
    """A table without rules; long cells are folded."""
    table = Table(*columns, title=title, title_justify="left", box=None, pad_edge=False)
    table.header_style = "bold"
    for column in table.columns:
        column.overflow = "fold"  # an id cut short cannot be typed again
    table.columns[0].no_wrap = True  # nor one broken over two lines
    return table
