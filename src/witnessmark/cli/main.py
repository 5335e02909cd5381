"""The command `witnessmark`: one table of what it can do, and the one way in which its errors are told.

Exit codes: 0 done or a sound answer, 1 something is missing or not well (said in words), 2 what was given cannot be
used (where, what is wrong, what would be right), 3 a planning problem uses something not yet solved.
"""

from __future__ import annotations

import sys

import typer

from witnessmark.cli import backup, book, demo, serve
from witnessmark.cli.calculate import CONTEXT, calculate
from witnessmark.cli.plan import plan
from witnessmark.cli.plan_problem import plan_problem
from witnessmark.errors import WitnessError

app = typer.Typer(
    name="witnessmark",
    help="Plan the work on a motorcycle, do it, prove it, predict the next.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.add_typer(book.app, name="book")
app.add_typer(demo.app, name="demo")
app.command()(plan)
app.command("plan-problem")(plan_problem)
app.command("calculate", context_settings=CONTEXT)(calculate)
serve.register(app)
backup.register(app)


def main() -> None:
    """Run the command; an error in what was given is one line on stderr and exit 2."""
    try:
        app()
    except WitnessError as problem:
        sys.stderr.write(f"{problem}\n")
        raise SystemExit(2) from None
