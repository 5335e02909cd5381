"""A plan made from a book, said in the book's words instead of its ids."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from witnessmark.book import steps
from witnessmark.book.model import Book
from witnessmark.book.select import with_brought
from witnessmark.planner.plan import Answer, Conflict, PlanStep
from witnessmark.planner.problem import Problem
from witnessmark.planner.room import Wait, waits, waits_of_each


def job_of(name: str) -> str:
    """The job of an operation ``job/operation``; nothing for an access step."""
    job, slash, _ = name.partition("/")
    return job if slash else ""


def jobs_served(book: Book, step: PlanStep) -> list[str]:
    """The words of the jobs a step is done for, in plan order."""
    return [book.jobs[job].text for job in dict.fromkeys(job_of(n) for n in step.for_) if job]


def visits_alone(book: Book, jobs: Sequence[str]) -> dict[str, list[str]]:
    """The jobs as they would be done one per visit: each with those it brings, brought ones not by themselves."""
    brought = {other for job in jobs for other in with_brought(book, [job]) if other != job}
    alone = [job for job in jobs if job not in brought] or list(jobs)
    return {job: [one for one in with_brought(book, [job]) if one in jobs] for job in alone}


def clock(minutes: float) -> str:
    """Minutes from the start as hours and minutes. Example: 74.5 is ``1:15``."""
    whole = int(minutes + 0.5)
    return f"{whole // 60}:{whole % 60:02d}"


def lasting(minutes: float) -> str:
    """How long something takes. Example: ``1 h 15 min``; ``14.5 min``."""
    if minutes < 60:
        return f"{round(minutes, 1):g} min"
    hours, rest = divmod(int(minutes + 0.5), 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def proof(answer: Answer) -> str:
    """What is proven of a plan."""
    if answer.status == "optimal":
        return "Proven: no order is over sooner, and none that is over then takes less work."
    finish, attended = answer.finish_bound or 0, answer.attended_bound or 0
    return (
        f"Not proven shortest. Proven: no order is over in less than {lasting(finish)}, "
        f"none takes less than {lasting(attended)} of work."
    )


def waits_in_words(book: Book, problem: Problem, answer: Answer) -> list[tuple[Wait, str]]:
    """Each wait of a plan, and what it waits for."""
    return [(wait, _wait(book, wait, answer)) for wait in waits(problem, answer)]


def waits_of_each_in_words(book: Book, problem: Problem, answer: Answer) -> list[tuple[Wait, str]]:
    """Each wait of one of several technicians, and what he waits for."""
    named, said = steps(book), []
    for wait in waits_of_each(problem, answer):
        minutes = lasting(wait.end - wait.begin)
        causes = [f"“{named[name].text}”" for name in wait.waits_for]
        cause = f"for {' and '.join(causes)}" if causes else wait.words.rpartition(": ")[2]
        said.append((wait, f"{wait.who} waits {minutes}: {cause}"))
    return said


def _wait(book: Book, wait: Wait, answer: Answer) -> str:
    """What ends the wait; else what goes on by itself meanwhile, which leaves hands free until then."""
    named = steps(book)
    alone = [s.name for s in answer.steps if s.end <= wait.begin and s.tail_end >= wait.end]
    causes = [named[name].waits_for or f"“{named[name].text}”" for name in wait.waits_for or alone]
    minutes = lasting(wait.end - wait.begin)
    if causes:
        return f"{minutes} to wait: {' and '.join(causes)}"
    _, _, cause = wait.words.partition(": ")
    return f"{minutes} to wait: {_with_texts(cause, named, book)}"


def _with_texts(words: str, named: Mapping[str, object], book: Book) -> str:
    def text(match: re.Match[str]) -> str:
        name = match[1]
        found = named.get(name) or book.conditions.get(name)
        return f"“{getattr(found, 'text', name)}”"

    return re.sub(r'"([^"]+)"', text, words)


def state_in_words(book: Book, condition: str, states: Sequence[str]) -> str:
    """A condition with the states it may be in. Example: ``Engine: cold or stone cold``."""
    named = book.conditions[condition]
    return f"{named.text}: {' or '.join(named.state_words.get(s, s) for s in states)}"


def conflict_of_book(book: Book, problem: Problem, conflict: Sequence[Conflict]) -> list[str]:
    """The members of a conflict as a technician reads them; without any one of them there is a plan."""
    return list(_members(book, problem, conflict))


def _members(book: Book, problem: Problem, conflict: Sequence[Conflict]) -> Iterator[str]:
    for member in conflict:
        name = member.name or ""
        if member.kind == "operation":
            yield _operation(book, name)
        elif member.kind == "finish":
            finish = problem.conditions[name].finish or ""
            yield f"in the end {state_in_words(book, name, [finish])}"
        elif member.kind == "never":
            yield _never(book, problem.never[int(name)])
        elif member.kind == "horizon":
            yield f"all must be over after {lasting(problem.horizon or 0)}"
        else:
            yield "one pair of hands"


def _operation(book: Book, name: str) -> str:
    step = steps(book)[name]
    needs = ", ".join(state_in_words(book, c, allowed) for c, allowed in step.needs.items())
    words = f"“{step.text}” ({book.jobs[job_of(name)].text})"
    return f"{words} needs {needs}" if needs else words


def _never(book: Book, combination: Mapping[str, Sequence[str]]) -> str:
    asked = {name: list(states) for name, states in combination.items()}
    row = next((one for one in book.never.values() if one.when == asked), None)
    together = " and ".join(state_in_words(book, name, states) for name, states in asked.items())
    return f"never together: {together}" + (f" ({row.because})" if row else "")
