"""Who works: nobody does two things at once."""

from __future__ import annotations

from ortools.sat.python import cp_model

from witnessmark.planner.model.variables import Placed, Variables


def a_technician_does_one_thing_at_a_time(v: Variables) -> None:
    """Attended parts do not overlap."""
    v.cp.add_no_overlap([_attended(v, placed) for placed in v.placed if placed.task.effort])


def work_takes_its_time(v: Variables) -> None:
    """The finish leaves time for all attended minutes, extra copies included."""
    v.cp.add(v.finish * v.outline.hands >= v.attended)


def _attended(v: Variables, placed: Placed) -> cp_model.IntervalVar:
    length = placed.task.attended
    if placed.present is None:
        return v.cp.new_fixed_size_interval_var(placed.start, length, "")
    return v.cp.new_optional_fixed_size_interval_var(placed.start, length, placed.present, "")
