"""Plans of the shipped books, with the states they pass through."""

from functools import cache
from itertools import pairwise
from pathlib import Path

import witnessmark.demo
from witnessmark.book import Book, archetypes, load_book, selection, steps
from witnessmark.book.model import Step
from witnessmark.planner import Answer, Problem, compile_problem, plan

BOOKS = {path.stem: path for path in Path(witnessmark.demo.__path__[0], "books").glob("*.toml")}


@cache
def archetype(name: str) -> Book:
    return load_book(archetypes()[name])


@cache
def book(name: str) -> Book:
    return load_book(BOOKS[name])


class Planned:
    """The proven best plan of some jobs or services of a demo book."""

    def __init__(self, name: str, *jobs: str) -> None:
        self.book = book(name)
        self.jobs = selection(self.book, jobs)
        self.problem: Problem = compile_problem(self.book, self.jobs)
        self.answer: Answer = plan(self.problem)
        assert self.answer.status == "optimal"

    def in_book(self, name: str) -> Step:
        """A step of the plan as the book tells it."""
        return steps(self.book)[name]

    def start(self, step: str) -> float:
        """When the step starts, in minutes; it is there once."""
        [start] = [s.start for s in self.answer.steps if s.name == step]
        return start

    def starts(self, step: str) -> list[float]:
        return [s.start for s in self.answer.steps if s.name == step]

    def over(self, step: str) -> float:
        [over] = [s.tail_end for s in self.answer.steps if s.name == step]
        return over

    def in_turn(self, *steps: str) -> bool:
        """Whether each step starts when the one before is over."""
        return all(self.over(a) <= self.start(b) for a, b in pairwise(steps))

    def state(self, condition: str, minute: float) -> str:
        """The state a condition was last brought to by then; that of a change under way counts after."""
        state = self.problem.start_state(condition)
        for step in sorted(self.answer.steps, key=lambda s: s.tail_end):
            if step.tail_end <= minute:
                state = self.problem.step(step.name).sets.get(condition, state)
        return state


@cache
def planned(name: str, *jobs: str) -> Planned:
    return Planned(name, *jobs)
