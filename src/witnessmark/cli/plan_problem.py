"""`witnessmark plan-problem`: the best order of work for a problem given as JSON.

Where readings decide what there is to do (``unknowns``), the answer is a tree.

Exit codes: 0 any sound answer (also that there is no plan); 2 a malformed problem, with file, JSON
path, what is wrong and what would be right.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated, Literal, NoReturn

import typer
from rich.console import Console
from rich.table import Table

from witnessmark.errors import WitnessError
from witnessmark.planner import (
    MOST_LETTERS,
    Answer,
    PlanStep,
    Problem,
    ProblemError,
    Tree,
    conflict_in_words,
    contingent_schema,
    load_answer,
    load_contingent_problem,
    plan,
    plan_tree,
    tree_in_words,
    wait_in_words,
    waits,
)

File = Annotated[Path | None, typer.Argument(help="the problem, as JSON", show_default=False)]
AsJson = Annotated[bool, typer.Option("--json", help="the answer as JSON on stdout")]
Objective = Annotated[
    Literal["finish", "attended", "worst"] | None,
    typer.Option(
        help="what comes first: finish (as it is without unknowns) or attended; with unknowns attended (as it is "
        "then) or worst",
        show_default=False,
    ),
]
TimeLimit = Annotated[
    float | None, typer.Option(min=0, help="seconds; then the best plan so far", show_default=False)
]
DeterministicLimit = Annotated[
    float | None,
    typer.Option(
        min=0, help="the same in deterministic time: same steps again", show_default=False
    ),
]
Previous = Annotated[
    Path | None,
    typer.Option(
        help="a plan (JSON) whose order to keep where it costs nothing", show_default=False
    ),
]
TIMES_WIDTH = 30  # of the columns before the names, one technician
Schema = Annotated[bool, typer.Option("--schema", help="print the JSON Schema of a problem")]


def plan_problem(
    file: File = None,
    as_json: AsJson = False,
    objective: Objective = None,
    time_limit: TimeLimit = None,
    deterministic_limit: DeterministicLimit = None,
    previous: Previous = None,
    schema: Schema = False,
) -> None:
    """Plan the order of work for a problem, proven and checked."""
    if schema:
        typer.echo(json.dumps(contingent_schema(), indent=2))
        return
    if file is None:
        raise typer.BadParameter("give the path of a JSON file", param_hint="FILE")
    answer: Answer | Tree
    try:
        problem = load_contingent_problem(_text_of(file), file=str(file))
        if problem.unknowns:
            _refuse(objective == "finish", file, "finish", "attended or worst")
            _refuse(previous is not None, file, "previous", "no previous plan")
            answer = plan_tree(
                problem,
                objective="worst" if objective == "worst" else "attended",
                time_limit=time_limit,
                deterministic_limit=deterministic_limit,
                interruptible=True,
            )
        else:
            _refuse(objective == "worst", file, "worst", "finish or attended")
            answer = plan(
                problem.union,
                objective="attended" if objective == "attended" else "finish",
                time_limit=time_limit,
                deterministic_limit=deterministic_limit,
                previous=None if previous is None else _plan_in(previous),
                interruptible=True,
            )
    except WitnessError as violation:
        fail(violation, 2, as_json=as_json)
    if as_json:
        typer.echo(answer.to_json())
    elif isinstance(answer, Tree):
        typer.echo(tree_in_words(answer))
    else:
        _print(problem.union, answer)


def _refuse(is_wrong: bool, file: Path, asked: str, right: str) -> None:
    """Raise ProblemError where what was asked for does not go with the problem."""
    if is_wrong:
        how = "with" if right != "finish or attended" else "without"
        raise ProblemError(f"{file} $.unknowns", f"no {asked} {how} unknowns", f"give {right}")


def _plan_in(file: Path) -> Answer:
    return load_answer(_text_of(file), file=str(file))


def _text_of(file: Path) -> str:
    """The file's text, no longer than is worth telling that it is too long. Raises ProblemError."""
    try:
        with file.open(encoding="utf-8-sig") as opened:
            return opened.read(MOST_LETTERS + 1)
    except UnicodeDecodeError:
        raise ProblemError(f"{file} $", "not UTF-8 text", "save the file as UTF-8") from None
    except OSError as error:
        problem = f"cannot be read: {error.strerror}"
        raise ProblemError(f"{file} $", problem, "give the path of a JSON file") from None


def fail(error: WitnessError, code: int, *, as_json: bool) -> NoReturn:
    """Tell an error, as JSON too where that was asked for, and exit."""
    typer.echo(str(error), err=True)
    if as_json:
        typer.echo(json.dumps({"error": error.as_dict()}, ensure_ascii=False))
    raise typer.Exit(code)


def _print(problem: Problem, answer: Answer) -> None:
    if answer.steps:
        out = Console()
        out.print(_table_of_names(answer, out.width))
    typer.echo(in_words(problem, answer), err=True)


def _table_of_names(answer: Answer, width: int) -> Table:
    """Steps under their names, which are never broken: where they do not fit beside it, reasons stand below."""
    reasons = {
        n: [] if s.kind == "operation" else _some(s.for_, 3) for n, s in enumerate(answer.steps)
    }
    longest = max(len(s.name) for s in answer.steps)
    widest = max((len(name) for names in reasons.values() for name in names), default=0)
    beside = TIMES_WIDTH + longest + widest + 2 <= width
    place = {id(step): n for n, step in enumerate(answer.steps)}

    def words(step: PlanStep) -> str:
        below = [] if beside else [f"  for {name}" for name in reasons[place[id(step)]]]
        return "\n".join([step.name, *below])

    def reason(step: PlanStep) -> str:
        return "\n".join(reasons[place[id(step)]]) if beside else ""

    table = plan_table(answer, words, reason)
    for column in table.columns:
        column.no_wrap = column.header in {"step", "for"}
    return table


def plan_table(
    answer: Answer,
    words: Callable[[PlanStep], str],
    reason: Callable[[PlanStep], str],
) -> Table:
    """The steps of a plan: times, who, what (``words``), what for (``reason``)."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("start", "end", "unattended till"):
        table.add_column(heading, justify="right")
    several = len({name for step in answer.steps for name in step.technicians}) > 1
    if several:
        table.add_column("who")
    table.add_column("step", overflow="fold")
    table.add_column("for", overflow="fold")
    for step in answer.steps:
        tail = f"{step.tail_end:.1f}" if step.tail_end > step.end else ""
        who = [", ".join(step.technicians)] if several else []
        table.add_row(f"{step.start:.1f}", f"{step.end:.1f}", tail, *who, words(step), reason(step))
    return table


def some(names: Sequence[str], most: int = 3) -> str:
    """The first few of many names, and how many more there are."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return " · ".join(names[:most]) + more


def _some(names: Sequence[str], most: int) -> list[str]:
    more = [f"and {len(names) - most} more"] if len(names) > most else []
    return [*names[:most], *more]


def in_words(problem: Problem, answer: Answer) -> str:
    """What the answer says, for people: figures, proof, waits, lateness; or why there is no plan."""
    if answer.status == "unknown":
        return "No plan was found in the time allowed; there may be one: allow more time."
    if answer.status == "impossible":
        return conflict_in_words(problem, answer.conflict or ())
    lines = [
        f"Finished at {answer.finish_minutes:g} min, {answer.attended_minutes:g} min of labour; "
        + _proof(answer)
    ]
    if answer.exposure_minutes:
        lines.append(f"Something stands exposed for {answer.exposure_minutes:g} min.")
    lines += [wait_in_words(wait) for wait in waits(problem, answer)]
    lines += [f"{machine}: {minutes:g} min late." for machine, minutes in answer.late.items()]
    return "\n".join(lines)


def _proof(answer: Answer) -> str:
    if answer.status == "optimal":
        return "both proven the least."
    return (
        f"proven so far: no plan finishes before {answer.finish_bound or 0:g} min, "
        f"none takes less than {answer.attended_bound or 0:g} min of labour."
    )
