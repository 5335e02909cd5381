"""Plans, conflicts, wishes and moments in words: with a book in the book's words, else by name."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from witnessmark.book import steps
from witnessmark.book.model import Book
from witnessmark.book.select import job_of, with_brought
from witnessmark.errors import listed
from witnessmark.planner.explain.last_moment import LastMoment
from witnessmark.planner.explain.slack import Wait, waits, waits_of_each
from witnessmark.planner.explain.spread import Range
from witnessmark.planner.explain.wish import Price, Wish
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Operation
from witnessmark.planner.problem.plan import Answer, Conflict, PlanStep

ClockText = Callable[[float], str]
HOW_SPREAD = (
    "From 2000 simulated days: the time of each step varies by chance, two times in three by up to a fifth; order "
    "and people stay. The fifth is an assumption until your own times are measured."
)


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
        return "Proven: no order finishes sooner, and none that finishes then takes less labour."
    finish, attended = answer.finish_bound or 0, answer.attended_bound or 0
    return (
        f"Not proven the shortest. Proven: no order takes less than {lasting(finish)}, "
        f"or less than {lasting(attended)} of labour."
    )


def wait_in_words(wait: Wait) -> str:
    """A wait without a book, steps and conditions under their names."""
    minutes = f"{round(wait.end - wait.begin, 1):g} min"
    then = "before the finish" if wait.before is None else f'before "{wait.before}"'
    cause = _cause(wait, [f'"{name}"' for name in wait.waits_for], f'"{wait.condition}"')
    return f"{minutes} {then}: {cause}"


def waits_in_words(book: Book, problem: Problem, answer: Answer) -> list[tuple[Wait, str]]:
    """Each wait of a plan, and what it waits for."""
    return [(wait, _wait(book, wait, answer)) for wait in waits(problem, answer)]


def waits_of_each_in_words(book: Book, problem: Problem, answer: Answer) -> list[tuple[Wait, str]]:
    """Each wait of one of several technicians, and what it is for."""
    named, said = steps(book), []
    for wait in waits_of_each(problem, answer):
        steps_of = " and ".join(f"“{named[name].text}”" for name in wait.waits_for)
        cause = f"for {steps_of}" if steps_of else _cause(wait, [])
        said.append((wait, f"{wait.who} waits {lasting(wait.end - wait.begin)}: {cause}"))
    return said


def _wait(book: Book, wait: Wait, answer: Answer) -> str:
    """What ends the wait; else what goes on by itself meanwhile, which leaves hands free until then."""
    named = steps(book)
    alone = [s.name for s in answer.steps if s.end <= wait.begin and s.tail_end >= wait.end]
    causes = [named[name].waits_for or f"“{named[name].text}”" for name in wait.waits_for or alone]
    cause = " and ".join(causes)
    if not causes:
        about = book.conditions.get(wait.condition)
        state = about.state_words.get(wait.state, wait.state) if about else wait.state
        cause = _cause(
            replace(wait, state=state), [], f"“{about.text if about else wait.condition}”"
        )
    return f"{lasting(wait.end - wait.begin)} to wait: {cause}"


def _cause(wait: Wait, named: Sequence[str], condition: str = "") -> str:
    """What a wait waits for; steps and condition as ``named``."""
    if wait.cause == "steps":
        return f"waiting for {' and '.join(named)} to be over"
    if wait.cause == "lapse":
        return f"waiting for {condition} to be {wait.state}"
    if wait.cause == "release":
        return f"it may start from minute {wait.end:g}"
    if wait.cause == "change":
        return "on the way to another machine"
    if wait.cause == "people":
        return "waiting for somebody to be at work"
    return "nothing hurries, or not at work yet"


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
            yield f"everything must be finished after {lasting(problem.horizon or 0)}"
        else:
            yield "the technicians with their skills and shifts"


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


# ---------------------------------------------------------------- conflicts without a book


def conflict_in_words(problem: Problem, conflict: Sequence[Conflict]) -> str:
    """The conflict as a technician reads it."""
    if not conflict:
        return "No plan was found, and the reason is not known."
    if len(conflict) == 1:
        return f"There is no plan: {_member(problem, conflict[0])}."
    parts = "; ".join(_member(problem, member) for member in conflict)
    return (
        f"Not all of this is possible together: {parts}. Without any one of these there is a plan."
    )


def _member(problem: Problem, member: Conflict) -> str:
    if member.kind == "operation":
        return _operation_member(problem, str(member.name))
    if member.kind == "finish":
        return f'"{member.name}" must end {_quoted(problem.conditions[str(member.name)].finish)}'
    if member.kind == "never":
        combination = problem.never[int(str(member.name))]
        parts = (f'"{name}" {_either(states)}' for name, states in combination.items())
        return f"never together: {' and '.join(parts)}"
    if member.kind == "horizon":
        return f"everything must be finished by minute {problem.horizon:g}"
    names = listed(technician.name for technician in problem.technicians)
    return f"only {names} with the skills and shifts given"


def _operation_member(problem: Problem, name: str) -> str:
    operation = problem.step(name)
    needs = [f'"{c}" {_either(states)}' for c, states in operation.needs.items()]
    if isinstance(operation, Operation) and operation.after:
        needs.append(f"to come after {listed(operation.after)}")
    return f'"{name}" needs {", ".join(needs)}' if needs else f'"{name}" is to be done'


def _either(states: Sequence[str]) -> str:
    return " or ".join(_quoted(state) for state in states)


def _quoted(state: str | None) -> str:
    return f'"{state}"'


# ---------------------------------------------------------------- wishes, last moments, ranges


def wish_in_words(wish: Wish, jobs: Mapping[str, str]) -> str:
    """The wish with the words of its jobs. Example: ``“Brake pads” first``."""
    job, than = (f"“{jobs.get(name, name)}”" for name in (wish.job, wish.than))
    if wish.kind == "first":
        return f"{job} first"
    if wish.kind == "before":
        return f"{job} before {than}"
    if wish.kind == "by":
        return f"{job} done by {wish.who}"
    return f"{job if wish.job else 'All'} ready by {clock(wish.minute or 0)}"


def price_in_words(price: Price, jobs: Mapping[str, str]) -> str:
    """What the wish costs, and what of that is proven. Example: ``… first: ready 7 min later, …. Proven.``"""
    wish = wish_in_words(price.wish, jobs)
    later, more = price.later, price.more
    if later is None or more is None:
        if price.answer.status == "impossible":
            return f"{wish}: not possible. Proven."
        return f"{wish}: no order was found in the time allowed; there may be one."
    proven = later.proven and more.proven
    if proven and not later.minutes and not more.minutes:
        return f"{wish}: costs nothing. Proven."
    costs = f"ready {_compared(later.minutes, 'later', 'earlier')}, {_compared(more.minutes, 'more', 'less')} labour"
    if proven:
        return f"{wish}: {costs}. Proven."
    return (
        f"{wish}: {costs}, as far as found. Not proven: ready between {_compared(later.least, 'later', 'earlier')} "
        f"and {_compared(later.most, 'later', 'earlier')}."
    )


def _compared(minutes: float, more: str, less: str) -> str:
    return f"{lasting(abs(minutes))} {less if minutes < 0 else more}" if minutes else f"no {more}"


def moment_in_words(moment: LastMoment, step: str, at: ClockText = clock) -> str:
    """Latest time for each answer, and what it costs after. ``step``: the words of the step that begins then."""
    sure = "" if moment.proven else " An estimate: not every order behind it was proven."
    if moment.before is None:
        return f"A yes is in time until the work is finished; it takes no more labour then.{sure}"
    when = f"Answer needed by {at(moment.minute)}, before “{step}”: "
    if moment.minute == 0:
        when = f"Answer needed before work begins with “{step}”: "
    if moment.out_of_turn:
        more = f", and a yes takes {lasting(moment.more)} more labour" if moment.more else ""
        return f"{when}that step should follow the first step of the job{more}.{sure}"
    if moment.more is None:
        return f"{when}after that it can no longer be done in this visit.{sure}"
    said = f"{when}after that a yes takes {lasting(moment.more)} more labour"
    if moment.at_the_end is not None and moment.at_the_end > moment.more:
        said += f", {lasting(moment.at_the_end)} once the rest is finished"
    return f"{said}.{sure}"


def range_in_words(range_: Range, at: ClockText = clock) -> str:
    """A range, to whole five minutes outwards, quarters of an hour where it is wide."""
    wide = 15 if range_.high - range_.low > 60 else 5
    low = math.floor(range_.low / wide) * wide
    high = math.ceil(range_.high / wide) * wide
    return f"between {at(low)} and {at(high)} in 8 cases of 10"
