"""The model's table of contents: every constraint, one function each."""

from __future__ import annotations

from witnessmark.planner.sequence.model.copies import (
    a_condition_is_free_after_an_extra_copy,
    changes_of_a_condition_balance,
    copies_of_a_move_come_in_order,
    extra_copies_come_after_those_placed,
)
from witnessmark.planner.sequence.model.forbidden import (
    forbidden_combinations_never_hold,
    nothing_exposed_stands_over_night,
)
from witnessmark.planner.sequence.model.paths import (
    a_condition_changes_only_by_its_setters,
    a_needed_state_holds_to_the_end,
)
from witnessmark.planner.sequence.model.purpose import (
    every_move_has_a_purpose,
    every_stay_has_a_purpose,
)
from witnessmark.planner.sequence.model.resources import resources_suffice
from witnessmark.planner.sequence.model.technicians import (
    a_technician_does_one_thing_at_a_time,
    work_takes_its_time,
)
from witnessmark.planner.sequence.model.variables import Placed, Variables


def constrain(v: Variables) -> None:
    """Say what a plan is; by order alone, what its order is: times, nights and people are left out."""
    operations_come_after_those_they_follow(v)
    if not v.untimed:
        all_is_over_by_the_finish(v)
    copies_of_a_move_come_in_order(v)
    extra_copies_come_after_those_placed(v)
    a_condition_is_free_after_an_extra_copy(v)
    a_condition_changes_only_by_its_setters(v)
    a_needed_state_holds_to_the_end(v)
    forbidden_combinations_never_hold(v)
    if not v.untimed:
        nothing_exposed_stands_over_night(v)
    resources_suffice(v)
    if not v.untimed:
        a_technician_does_one_thing_at_a_time(v)
        work_takes_its_time(v)
    changes_of_a_condition_balance(v)
    every_move_has_a_purpose(v)
    every_stay_has_a_purpose(v)


def operations_come_after_those_they_follow(v: Variables) -> None:
    """``after``: an operation starts when those named are over."""
    at = {placed.name: placed for placed in v.placed if placed.name in v.outline.before}
    for later in at.values():
        for name in getattr(later.task.step, "after", ()):
            if name in at and later.task.running is None:
                v.cp.add(later.start >= at[name].over)


def all_is_over_by_the_finish(v: Variables) -> None:
    """The finish is when every step is over."""
    for placed in v.placed:
        _over_by(v, placed)


def _over_by(v: Variables, placed: Placed) -> None:
    constraint = v.cp.add(v.finish >= placed.over)
    if placed.present is not None:
        constraint.only_enforce_if(placed.present)
