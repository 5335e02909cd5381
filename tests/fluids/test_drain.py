"""What a step lets out: as much as its job fills in."""

import pytest

from tests.shipped_books.planned import book
from witnessmark.fluids.drain import drains


@pytest.mark.parametrize(
    ("machine", "step", "drained"),
    [
        (
            "quandle_t9",
            "engine_oil/drain",
            [("engine oil", 4500)],
        ),  # filled by stages, counted once
        ("quandle_t9", "final_drive_oil/drain", [("gear oil", 180)]),
        (
            "quandle_t9",
            "front_brake_fluid/flush",
            [("glycol brake fluid", 250)],
        ),  # out as it goes in
        ("quandle_t9", "engine_oil/fill_first", []),
        (
            "quandle_t9",
            "brake_wear/front",
            [],
        ),  # pads pushed back: a lever is soft, nothing runs out
        ("bromeck_410", "fork_oil/drain", [("fork oil", 485)]),
    ],
)
def test_a_step_that_opens_a_filling_whole_drains_it(machine, step, drained):
    """Invented figures of the demo's books."""
    found = drains(book(machine), step)
    assert [(one.family, one.volume_ml) for one in found] == drained
