"""Plan the order of work: proven, explained, checked. All that others may import is here."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from witnessmark.planner.check.check_plan import check_plan
from witnessmark.planner.check.check_tree import check_tree
from witnessmark.planner.check.layout import Rule
from witnessmark.planner.explain.last_moment import LastMoment, last_moment
from witnessmark.planner.explain.reasons import explained
from witnessmark.planner.explain.slack import Slack, Wait, slack, waits
from witnessmark.planner.explain.snapshot import snapshot_at
from witnessmark.planner.explain.spread import Range, Spread, spread
from witnessmark.planner.explain.tree_wording import answers_in_words, tree_in_words
from witnessmark.planner.explain.wish import (
    Price,
    Wish,
    WishError,
    WishKind,
    price_of_wish,
    read_wish,
    with_wish,
)
from witnessmark.planner.explain.wording import (
    HOW_SPREAD,
    clock,
    conflict_in_words,
    conflict_of_book,
    jobs_served,
    lasting,
    moment_in_words,
    price_in_words,
    proof,
    range_in_words,
    state_in_words,
    visits_alone,
    wait_in_words,
    waits_in_words,
    waits_of_each_in_words,
)
from witnessmark.planner.problem.checked import (
    Problem,
    ProblemError,
    load_problem,
    problem_from,
    problem_schema,
)
from witnessmark.planner.problem.day_problem import Board, BoardError, MachineWork, board_problem
from witnessmark.planner.problem.from_book import RemainingWork, compile_problem
from witnessmark.planner.problem.model import Now, Operation, Running, Step, Technician, tenths
from witnessmark.planner.problem.plan import (
    Answer,
    Conflict,
    Goal,
    PlanError,
    PlanStep,
    load_answer,
)
from witnessmark.planner.problem.reading import MOST_LETTERS
from witnessmark.planner.problem.timeline import spans
from witnessmark.planner.problem.tree import (
    Alternative,
    Branch,
    Outcome,
    Stretch,
    Tree,
    TreeGoal,
    TreeKind,
    Way,
    ways,
)
from witnessmark.planner.problem.unknowns import (
    MOST_UNKNOWNS,
    ContingentProblem,
    contingent_problem_from,
    contingent_schema,
    load_contingent_problem,
)
from witnessmark.planner.problem.unknowns_of_book import (
    Undecided,
    brought_by,
    compile_undecided,
    every_unknown,
    undecided,
    unknown_name,
)

if TYPE_CHECKING:
    from witnessmark.planner.contingent.plan_tree import plan_tree
    from witnessmark.planner.explain.recovery import recovery_problem, remedies, repeated_operations
    from witnessmark.planner.explain.saving import Saving, saving
    from witnessmark.planner.planning import UnsoundPlanError, plan, plan_board
    from witnessmark.planner.sequence.conflict import conflict_of
    from witnessmark.planner.sequence.solve import continued, solve

_SOLVING = {  # imported when first asked for: OR-Tools takes a second to load
    "plan_tree": "contingent.plan_tree",
    "recovery_problem": "explain.recovery",
    "remedies": "explain.recovery",
    "repeated_operations": "explain.recovery",
    "Saving": "explain.saving",
    "saving": "explain.saving",
    "UnsoundPlanError": "planning",
    "plan": "planning",
    "plan_board": "planning",
    "conflict_of": "sequence.conflict",
    "continued": "sequence.solve",
    "solve": "sequence.solve",
}

__all__ = [
    "HOW_SPREAD",
    "MOST_LETTERS",
    "MOST_UNKNOWNS",
    "Alternative",
    "Answer",
    "Board",
    "BoardError",
    "Branch",
    "Conflict",
    "ContingentProblem",
    "Goal",
    "LastMoment",
    "MachineWork",
    "Now",
    "Operation",
    "Outcome",
    "PlanError",
    "PlanStep",
    "Price",
    "Problem",
    "ProblemError",
    "Range",
    "RemainingWork",
    "Rule",
    "Running",
    "Saving",
    "Slack",
    "Spread",
    "Step",
    "Stretch",
    "Technician",
    "Tree",
    "TreeGoal",
    "TreeKind",
    "Undecided",
    "UnsoundPlanError",
    "Wait",
    "Way",
    "Wish",
    "WishError",
    "WishKind",
    "answers_in_words",
    "board_problem",
    "brought_by",
    "check_plan",
    "check_tree",
    "clock",
    "compile_problem",
    "compile_undecided",
    "conflict_in_words",
    "conflict_of",
    "conflict_of_book",
    "contingent_problem_from",
    "contingent_schema",
    "continued",
    "every_unknown",
    "explained",
    "jobs_served",
    "last_moment",
    "lasting",
    "load_answer",
    "load_contingent_problem",
    "load_problem",
    "moment_in_words",
    "plan",
    "plan_board",
    "plan_tree",
    "price_in_words",
    "price_of_wish",
    "problem_from",
    "problem_schema",
    "proof",
    "range_in_words",
    "read_wish",
    "recovery_problem",
    "remedies",
    "repeated_operations",
    "saving",
    "slack",
    "snapshot_at",
    "solve",
    "spans",
    "spread",
    "state_in_words",
    "tenths",
    "tree_in_words",
    "undecided",
    "unknown_name",
    "visits_alone",
    "wait_in_words",
    "waits",
    "waits_in_words",
    "waits_of_each_in_words",
    "ways",
    "with_wish",
]


def __getattr__(name: str) -> Any:
    if name not in _SOLVING:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_SOLVING[name]}"), name)
    globals()[name] = found
    return found
