"""The command `witnessmark`: one table of what it can do, and the one way in which its errors are told.

Exit codes: 0 done or a sound answer, 1 something is missing or not well (said in words), 2 what was given cannot be
used (where, what is wrong, what would be right), 3 a planning problem uses something not yet solved.

A command's module is imported when that command is run: a calculation waits for neither solver nor database.
"""

from __future__ import annotations

import sys
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

from witnessmark.errors import WitnessError

# Command: the module below `cli` with a function of that name or, for a group, an `app`; the first words of its help.
COMMANDS: dict[str, tuple[str, str]] = {
    "plan": ("plan", "Plan the order of work for jobs of a BOOK, or for a --visit, with reasons, kit and saving."),
    "plan-problem": ("plan_problem", "Plan the order of work for a problem, proven and checked."),
    "calculate": (
        "calculate",
        "Compute one thing: `calculate NAME key=value …`, or `--key value`, or the values in their order.",
    ),
    "book": ("book", "Check, show and start service books."),
    "demo": ("demo", "The invented demo workshop."),
    "serve": ("serve", "Serve the pages."),
    "manage": (
        "serve", "Run a command of Django: `witnessmark manage migrate`, `witnessmark manage open_shop --help`.",
    ),
    "rebuild": (
        "serve",
        "Make every table that follows from the ledger again, from the entries alone. The pages go on meanwhile.",
    ),
    "verify": (
        "serve", "Check that nothing kept was changed, dropped, added or swapped. Exit 1 when something was.",
    ),
    "money": ("serve", "Write the journal of a period, or the open list, for an accountant."),
    "anchor": ("serve", "Sign the newest seal of every visit, and append it to a file outside the database."),
    "backup": (
        "backup",
        "Copy the whole store, encrypted, while the pages run. Exit 1 when it could not be done now: try again.",
    ),
    "backup-key": (
        "backup", "Make the key of the backups and print its secret half, once: write it down, keep it elsewhere.",
    ),
    "restore": (
        "backup",
        "Read a backup back into an empty folder, verify it, and prove every photo. Exit 1 with each fault in a line.",
    ),
}  # fmt: skip
PASSED_ON = {"allow_extra_args": True, "ignore_unknown_options": True}  # read by the command itself
_SETTINGS = {"calculate": PASSED_ON, "manage": PASSED_ON | {"allow_interspersed_args": False}}


def command(name: str) -> Any:
    """The command of that name, its module imported."""
    module = import_module(f"witnessmark.cli.{COMMANDS[name][0]}")
    group = getattr(module, "app", None)
    if group is not None:
        return typer.main.get_command(group)
    alone = typer.Typer(add_completion=False, pretty_exceptions_enable=False)
    run = getattr(module, name.replace("-", "_"))
    alone.command(name, context_settings=_SETTINGS.get(name))(run)
    return typer.main.get_command(alone)


class _Later(TyperCommand):
    """Stands in the table of commands for one whose module is not imported yet."""

    def make_context(
        self, info_name: str | None, args: list[str], parent: Any = None, **extra: Any
    ) -> Any:
        return command(str(self.name)).make_context(info_name, args, parent=parent, **extra)


class _Commands(TyperGroup):
    def __init__(self, **given: Any) -> None:
        named = {name: _Later(name, help=words) for name, (_, words) in COMMANDS.items()}
        super().__init__(**{**given, "commands": named})


app = typer.Typer(
    name="witnessmark",
    cls=_Commands,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


@app.callback()
def witnessmark() -> None:
    """Plan the work on a motorcycle, do it, prove it, predict the next."""


def main() -> None:
    """Run the command; an error in what was given is one line on stderr and exit 2."""
    try:
        app()
    except WitnessError as problem:
        sys.stderr.write(f"{problem}\n")
        raise SystemExit(2) from None
