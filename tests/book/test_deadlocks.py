"""A deadlock: two access steps that wait for one another, from a state that work given up half-way can leave."""

import pytest

from tests.shipped_books.planned import archetype
from witnessmark.book import BookErrors, access_for, load_book_text, selection
from witnessmark.book.deadlocks import faults, too_large
from witnessmark.book.system import archetypes

HEAD = """format = 1
name = "ringed"
title = "Ringed"
archetype = true

[build]
engine = "electric"
final_drive = "belt"
stand = "stands"
front_wheel = "axle"
rear_wheel = "axle"
front_brake = "disc"
"""


def test_a_lever_pumped_only_over_a_closed_reservoir_is_a_deadlock_told_with_its_line():
    """As the archetypes had it: to pump, close; to close, pump."""
    text = (
        HEAD
        + """
[access.pump_front_lever]
needs = { front_lever = ["soft"], front_reservoir = ["closed"] }
"""
    )
    with pytest.raises(BookErrors) as caught:
        load_book_text(text, "ringed.toml")
    [error] = caught.value.errors
    assert error.place.startswith(("ringed.toml:", "blocks/brake/disc.toml:"))
    assert 'front_lever "soft" and front_reservoir' in error.problem
    assert "pump_front_lever needs front_reservoir" in error.problem
    assert "close_front_reservoir needs front_lever" in error.problem


def test_without_one_of_the_two_that_wait_there_is_no_deadlock():
    """The same, where the reservoir may be closed over a soft lever."""
    text = (
        HEAD.replace(
            "[build]", 'remove = ["access.close_front_reservoir.needs.front_lever"]\n\n[build]'
        )
        + """
[access.pump_front_lever]
needs = { front_lever = ["soft"], front_reservoir = ["closed"] }
"""
    )
    assert load_book_text(text)


@pytest.mark.parametrize("name", archetypes())
def test_no_job_of_an_archetype_has_a_deadlock_or_is_too_large_to_be_looked_at(name):
    """A large one has more states than are looked at together; each job with what it brings has not."""
    book = archetype(name)
    for job in book.jobs:
        taken = selection(book, [job])
        access = {step: book.access[step] for step in access_for(book, taken)}
        alone = book.model_copy(update={"access": access, "jobs": {j: book.jobs[j] for j in taken}})
        assert too_large(alone) == "", job
        assert list(faults(alone)) == [], job


def test_a_book_with_too_many_states_says_that_it_was_not_looked_at():
    book = archetype("shaft_drive_tourer")
    front = book.conditions["front_reservoir"]
    many = {f"more_{n}": front.model_copy(update={"text": f"More {n}"}) for n in range(6)}
    steps = {
        f"{way}_{name}": book.access[f"{way}_front_reservoir"].model_copy(update={
            "needs": {name: book.access[f"{way}_front_reservoir"].needs["front_reservoir"], "place": ["lift"]},
            "sets": {name: book.access[f"{way}_front_reservoir"].sets["front_reservoir"]}})
        for name in many for way in ("open", "fill", "close")
    }  # fmt: skip
    large = book.model_copy(
        update={"conditions": book.conditions | many, "access": book.access | steps}
    )
    assert "not looked for deadlocks" in too_large(large)
