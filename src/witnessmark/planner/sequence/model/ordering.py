"""The order alone: what may follow what, without clocks, people and lengths of work.

Any plan can be done one step after the other, in the order of its starts. So it is a solution of this
model, in which every step lasts one beat and as many as like go on at once: its effort is least there
or less. Where nothing in the problem depends on the clock, the converse holds too: a solution,
done one step after the other in the order of its starts, is a plan of the same effort.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from witnessmark.planner.sequence.model.constrain import constrain
from witnessmark.planner.sequence.model.outline import Outline, Task, is_workable
from witnessmark.planner.sequence.model.technicians import able
from witnessmark.planner.sequence.model.variables import Variables, variables


def is_by_order_alone(outline: Outline) -> bool:
    """Whether the clock decides nothing: no lapse, no shift, no last minute, no change of machine."""
    problem = outline.problem
    lapses = any(condition.lapse for condition in problem.conditions.values())
    changes = problem.change_minutes is not None and len({s.machine for s in problem.steps}) > 1
    return not (lapses or outline.has_shifts or problem.horizon is not None or changes)


def can_be_done(outline: Outline, task: Task) -> bool:
    """Whether there are hands enough with its skills, and its states can last as long as it takes."""
    hands = sum(able(technician, task) for technician in outline.problem.technicians)
    return task.running is not None or (hands >= task.step.hands and is_workable(outline, task))


def in_beats(outline: Outline) -> Outline:
    """The same with steps of one beat each, and without moves that nobody can do."""
    tasks = tuple(replace(task, length=1) for task in outline.tasks)
    moves = (move for move in outline.moves if can_be_done(outline, move))
    return replace(outline, tasks=tasks, moves=tuple(replace(move, length=1) for move in moves))


def ordered(beats: Outline, caps: Mapping[str, int]) -> Variables:
    """The model of the order, with extra copies beyond the caps; minimise ``attended``."""
    latest = len(beats.tasks) + sum(caps.values()) + len(beats.moves) + 1
    v = variables(beats, dict(caps), latest, beyond=True, untimed=True)
    constrain(v)
    return v
