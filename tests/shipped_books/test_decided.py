"""What readings decide in the books that ship: every answer leaves a sound visit that keeps the rules of the trade."""

import pytest

from tests.book.test_blocks import random_builds, written
from tests.shipped_books.planned import archetype
from witnessmark.book import archetypes, load_book, load_book_text, selection
from witnessmark.book.closing import closed, opened
from witnessmark.book.model_step import before
from witnessmark.book.rules import findings
from witnessmark.book.select import decided_by, job_of, operations
from witnessmark.planner import check_plan, check_tree, compile_undecided, plan, plan_tree

DECIDED = {  # facts of the trade: common practice, no source
    "chain/adjust": "chain_slack_before",
    "chain/read_again": "chain_slack_before",
    "belt/adjust": "belt_before",
    "belt/read_again": "belt_before",
    "valves/set": "inlet_clearance",
    "valves/again": "inlet_clearance",
    "battery/charge": "battery_rest",
    "codes/clear": "codes_before",
}


def decided(book):
    return {n: s.only_if.reading for n, s in operations(book, book.jobs).items() if s.only_if}


def _without(book, left_out):
    """The book whose jobs lack these operations; what came after one of them comes after what that came after."""
    every = operations(book, book.jobs)

    def ahead(job, names):
        for name in names:
            whole = before(job, name)
            yield from ahead(job_of(whole), every[whole].after) if whole in left_out else [whole]

    def kept(job):
        steps = (
            (n, s) for n, s in book.jobs[job].operations.items() if f"{job}/{n}" not in left_out
        )
        return {n: s.model_copy(update={"after": [*ahead(job, s.after)]}) for n, s in steps}

    jobs = {n: job.model_copy(update={"operations": kept(n)}) for n, job in book.jobs.items()}
    return book.model_copy(update={"jobs": jobs})


def _builds():
    yield from (load_book(path) for path in archetypes().values())
    yield from (load_book_text(written(build)) for build in random_builds(7, 10))


def test_what_a_reading_decides_is_what_a_master_would_leave_alone():
    found = [decided(book) for book in _builds()]
    assert {name: reading for one in found for name, reading in one.items()} == DECIDED


def test_the_rules_of_the_trade_hold_where_what_a_reading_decides_is_left_out():
    for book in _builds():
        for reading in {*decided(book).values()}:
            left_out = [name for name, one in decided(book).items() if one == reading]
            found = [one.rule.name for one in findings(_without(book, left_out))]
            assert {*found} <= {"limits_read"}, (book.build, reading)  # of readings left out, too


@pytest.mark.parametrize("name", archetypes())
def test_each_answer_to_what_a_job_asks_has_a_plan_that_leaves_nothing_open(name):
    book = archetype(name)
    for job in {step.partition("/")[0] for step in decided(book)}:
        problem = compile_undecided(book, selection(book, [job])).problem
        for answers, _ in problem.cases({}):
            _plan_leaves_nothing_open(book, problem.case(answers, answers))


def test_an_annual_service_asks_few_things_of_its_own_steps():
    """More than eight could not be told apart: `planner.MOST_UNKNOWNS`."""
    for path in archetypes().values():
        book = load_book(path)
        asked = compile_undecided(book, selection(book, ["annual"])).problem.unknowns
        assert 1 <= len(asked) <= 3, (book.name, asked)


def _plan_leaves_nothing_open(book, case):
    found = plan(case, objective="attended")
    assert check_plan(case, found) == []
    open_ = set()
    every = {**book.access, **operations(book, book.jobs)}
    for step in found.steps:
        open_ |= opened(book, every[step.name]).keys()
        open_ -= closed(book, every[step.name]).keys()
    assert open_ == set(), open_


def test_a_chain_within_its_limits_leaves_the_axle_alone():
    """Facts of the trade: common practice, no source."""
    book = archetype("naked_four")
    found = compile_undecided(book, selection(book, ["chain"]))
    tree = plan_tree(found.problem)
    assert check_tree(found.problem, tree) == []
    ways = {b.answers["chain_slack_before outside"]: b.then for b in tree.first.branches}
    first = [s.name for s in tree.first.steps]
    names = {so: first + [s.name for s in then.steps] for so, then in ways.items()}
    assert "chain/adjust" in names[True]
    assert "axle_loose" in names[True]
    assert not {"chain/adjust", "chain/read_again", "axle_loose"} & {*names[False]}
    assert "chain/oil" in names[False]
    tyre = compile_undecided(book, selection(book, ["rear_tyre"])).problem
    needed = tyre.needed({"chain_slack_before outside": False})
    assert "chain/read_again" in needed
    assert "chain/adjust" not in needed
    assert decided_by(book.jobs["chain"].operations["adjust"], ["chain", "chain_kit"]) == []
