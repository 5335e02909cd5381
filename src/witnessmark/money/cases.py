"""What a line costs by what its readings decide: the order of all the work, less what nobody needs then.

What is surely needed is shared as ever. What only a case needs, its own steps and the access that nothing else opens,
is charged to the line of those steps alone: so what is found on one line makes no other dearer.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from itertools import pairwise, product
from math import prod

from witnessmark.book import revision, steps
from witnessmark.book.figures import limits
from witnessmark.book.model import Book, Bounds
from witnessmark.book.model_step import OnlyIf
from witnessmark.book.select import decided_by, job_of, operations
from witnessmark.kit import Kit
from witnessmark.money.estimate import Estimate, EstimateLine, ExtraLine, LineCase, summed
from witnessmark.money.minutes import carried
from witnessmark.money.pricing import estimate
from witnessmark.money.rates import Rates
from witnessmark.planner import MOST_UNKNOWNS, Answer, PlanStep, tenths, unknown_name

MOST_CASES = 2**MOST_UNKNOWNS  # of one line: as many as the planner tells apart
Deciding = Mapping[
    str, Sequence[OnlyIf]
]  # by operation: what decides about it, one of them will do


def deciding(
    book: Book, answer: Answer, known: Mapping[str, bool] | None = None
) -> dict[str, list[OnlyIf]]:
    """The operations of a plan that its readings decide, each with what decides.

    ``known``: unknowns answered by now; they decide nothing any more, nor does what no other step of the plan reads.
    """
    every, known = operations(book, book.jobs), known or {}
    here = {step.name: every[step.name] for step in answer.steps if step.name in every}
    jobs = {job_of(name) for name in here}
    found = {}
    for name, step in here.items():
        each = decided_by(step, jobs)
        read = {r for other, one in here.items() if other != name for r in one.readings}
        left = [d for d in each if d.reading in read and unknown_name(d) not in known]
        if left and not any(known.get(unknown_name(d)) == (d.outside is not False) for d in each):
            found[name] = left
    return found


def term(decides: OnlyIf) -> str:
    """The unknown that is answered yes for a step; with "!" before it, no."""
    return f"{'!' if decides.outside is False else ''}{unknown_name(decides)}"


def estimate_by_cases(
    book: Book,
    answer: Answer,
    jobs: Sequence[str],
    rates: Rates,
    lay_out: Callable[[Answer], Kit],
    *,
    known: Mapping[str, bool] | None = None,
    extra: Sequence[ExtraLine] = (),
    plan: str,
    settled: Collection[str] = (),
) -> Estimate:
    """As `estimate`, of a plan of all that may be needed: a line that readings decide has its price in each case.

    Such a line stands at its most (`LineCase`); with ``known`` nothing is left to decide of them. ``lay_out``: the
    kit of a plan. Raises as `estimate`.
    """
    told = deciding(book, answer, known)
    asked = {"extra": extra, "plan": plan, "settled": settled}
    if not told:
        return estimate(book, answer, jobs, rates, lay_out(answer), **asked)  # type: ignore[arg-type]

    def priced(also: Collection[str]) -> Estimate:
        less = without(book, answer, told.keys(), also)
        return estimate(book, less, jobs, rates, lay_out(less), **asked)  # type: ignore[arg-type]

    surely, by = priced(()), carried(book, jobs, settled)
    lines = []
    for line in surely.lines:
        mine = {name: d for name, d in told.items() if line.id in by.get(job_of(name), ())}
        cases = [
            (case, priced(case).line(line.id)) if case else (case, line)
            for case in sets(book, mine)
        ]
        lines.append(_by_case(line, cases, mine))
    return summed(rates=rates, book=revision(book), plan=plan, jobs=jobs, lines=lines)


def if_brought(book: Book, made: Estimate, unknown: str) -> Estimate:
    """The estimate with every line done only where a reading brings it: nothing in one case, the line as it is else."""
    return made.with_lines([_if_brought(book, line, unknown) for line in made.lines])


def _if_brought(book: Book, line: EstimateLine, unknown: str) -> EstimateLine:
    own = line.cases or (
        LineCase(steps=(), terms=(), labour_tenths=line.labour_tenths, items=line.items),
    )
    perhaps = {step for case in own for step in case.steps}
    surely = [step for step in operations(book, [line.id]) if step not in perhaps]
    cases = [
        case.model_copy(update={"steps": (*surely, *case.steps), "terms": (unknown, *case.terms)})
        for case in own
    ]
    nothing = LineCase(steps=(), terms=(), labour_tenths=0, items=())
    return line.model_copy(update={"cases": (nothing, *cases), "brought_by": unknown})


def sets(book: Book, mine: Deciding) -> list[tuple[str, ...]]:
    """The sets of these operations that may be needed together, each once, fewest first.

    Of one reading only what some value tells goes together. Of more cases than are told apart: none of the operations,
    and all.
    """
    readings: dict[str, dict[str, OnlyIf]] = {}
    for decides in (one for each in mine.values() for one in each):
        readings.setdefault(decides.reading, {})[unknown_name(decides)] = decides
    told = [_tellable(book, name, [*unknowns.values()]) for name, unknowns in readings.items()]
    if prod(map(len, told)) > MOST_CASES:
        return [(), tuple(mine)]
    found = set()
    for case in product(*told):
        yes = frozenset[str]().union(*case)
        so = {
            name: any((unknown_name(d) in yes) != (d.outside is False) for d in each)
            for name, each in mine.items()
        }
        found.add(tuple(name for name, needed in so.items() if needed))
    return sorted(found, key=lambda one: (len(one), one))


def _tellable(book: Book, reading: str, asked: Sequence[OnlyIf]) -> set[frozenset[str]]:
    """The sets of unknowns of one reading that some value, or several at its places, answers yes together."""
    names = [unknown_name(decides) for decides in asked]
    spans = [_span(book, decides) for decides in asked]
    marks = sorted({mark for span in spans for mark in span if mark is not None})
    if not all(
        span.low is not None or span.high is not None for span in spans
    ):  # words, or missing
        every = product((False, True), repeat=len(names))
        return {frozenset(n for n, yes in zip(names, one, strict=True) if yes) for one in every}
    values = [marks[0] - 1, *marks, *((a + b) / 2 for a, b in pairwise(marks)), marks[-1] + 1]
    found = {
        frozenset(n for n, span in zip(names, spans, strict=True) if _beyond(span, value))
        for value in values
    }
    for _ in range(1, book.readings[reading].repeat):
        found |= {one | other for one in found for other in found}
    return found


def _span(book: Book, decides: OnlyIf) -> Bounds:
    """Beyond what a value answers yes, in the base unit."""
    if decides.below is not None:
        return Bounds(book.figures[decides.below].bounds.low, None)
    if decides.above is not None:
        return Bounds(None, book.figures[decides.above].bounds.high)
    return limits(book, decides.reading)


def _beyond(span: Bounds, value: float) -> bool:
    return (span.low is not None and value < span.low) or (
        span.high is not None and value > span.high
    )


def without(
    book: Book, answer: Answer, perhaps: Collection[str], also: Collection[str] = ()
) -> Answer:
    """The plan without the operations ``perhaps``, but for ``also`` of them, and without the access they alone ask for.

    An access step that something surely needed asks for is done for that alone.
    """
    kept = list(_kept(answer, {*perhaps}, {*also}))
    known = steps(book)
    effort = sum(known[s.name].hands * (tenths(s.end) - tenths(s.start)) for s in kept)
    minutes = None if answer.attended_minutes is None else effort / 10
    return answer.model_copy(update={"steps": tuple(kept), "attended_minutes": minutes})


def _kept(answer: Answer, perhaps: set[str], also: set[str]) -> Iterator[PlanStep]:
    for step in answer.steps:
        if step.kind == "operation":
            if step.name not in perhaps or step.name in also:
                yield step
        elif not step.for_:
            yield step
        else:
            surely = tuple(name for name in step.for_ if name not in perhaps)
            served = surely or tuple(name for name in step.for_ if name in also)
            if served:
                yield step.model_copy(update={"for_": served})


def _by_case(
    line: EstimateLine, cases: Sequence[tuple[tuple[str, ...], EstimateLine]], mine: Deciding
) -> EstimateLine:
    """The line at its most, with its cases; as it is where all of them cost the same."""
    found = [
        LineCase(
            steps=case,
            terms=tuple(dict.fromkeys(term(one) for name in case for one in mine[name])),
            labour_tenths=priced.labour_tenths,
            items=priced.items,
        )
        for case, priced in cases
    ]
    most = max(found, key=lambda case: case.net_minor)
    told = {"labour_tenths": most.labour_tenths, "items": most.items}
    prices = [one.net_by_tax() for _, one in cases]
    alike = prices.count(prices[0]) == len(prices) and not any(one.bare for _, one in cases)
    alike |= len(cases) == 1  # no reading decides about it, priced or not
    return line.model_copy(update=told if alike else {**told, "cases": tuple(found)})
