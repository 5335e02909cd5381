"""What stands before the owner: what could be offered, what waits, what was answered, what the rest would cost."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.utils.translation import gettext as _

from witnessmark.book.select import with_brought
from witnessmark.errors import WitnessError
from witnessmark.ledger.state import Answer
from witnessmark.money import Estimate, EstimateLine, Item, together
from witnessmark.shop.forms import in_words
from witnessmark.shop.work import planning, pricing
from witnessmark.shop.work.likely import found
from witnessmark.shop.work.pricing import Agreed, Priced, Waiting
from witnessmark.shop.work.visit import Work


class AnswerError(WitnessError):
    """Answers that do not go together."""


@dataclass(frozen=True)
class ItemShown:
    """One thing a line is made of, in words."""

    words: str
    net_minor: int | None


@dataclass(frozen=True)
class CaseShown:
    """What a line is made of where readings told just this."""

    found: tuple[str, ...]  # what they told
    items: tuple[ItemShown, ...]


@dataclass(frozen=True)
class LineShown:
    """One line with its price and what was said to it; where readings decide, its most."""

    line: EstimateLine
    gross_minor: int
    least_minor: int | None = None  # with tax, where readings decide
    most_if: tuple[str, ...] = ()  # what they must tell for the most
    cases: tuple[CaseShown, ...] = ()
    ceiling_minor: int | None = None  # with tax, where it was agreed before
    answer: Answer | None = None
    typed: str = ""  # the verdict now on the page
    number: int = 0
    said: str = ""  # who answered, how, when
    before: tuple[int, int] | None = (
        None  # offered before at another price: with tax; minutes of labour added since
    )

    @property
    def items(self) -> list[ItemShown]:
        """What it is made of."""
        return list(_items(self.line.items))


def shown(work: Work, made: Estimate, name: str, **more: Any) -> LineShown:
    """A line of an estimate, with its least where readings decide."""
    line, gross = made.line(name), made.gross_by_line()[name]
    if line.dearest is None:
        return LineShown(line, gross, **more)
    cases = tuple(
        CaseShown(tuple(found(work.book, case.terms)), tuple(_items(case.items)))
        for case in sorted(line.cases, key=lambda case: case.net_minor)
    )
    most_if = tuple(found(work.book, line.dearest.terms))
    return LineShown(line, gross, made.least.gross_by_line()[name], most_if, cases, **more)


def _items(items: Iterable[Item]) -> Iterator[ItemShown]:
    return (ItemShown(item_words(item), item.net_minor) for item in items)


@dataclass(frozen=True)
class WithoutLines:
    """What is left without some lines: `made` None where nothing is; `less_minor` with tax."""

    without: tuple[EstimateLine, ...]
    made: Priced | None
    gross_minor: int
    less_minor: int
    hash: str
    shifted_minor: int  # how much the other lines then carry more, with tax
    dearer: tuple[
        tuple[str, int, int], ...
    ] = ()  # which of them: words, price with tax before and then

    @property
    def names(self) -> list[str]:
        """The lines left out, each in quotes."""
        return [f"“{line.text}”" for line in self.without]


@dataclass(frozen=True)
class ChangedAnswer:
    """What another answer to a line comes to: told before it is recorded."""

    answer: str  # the button's value, ``no/line``
    verdict: str
    words: str  # of the line
    gross_minor: int  # of the line, with tax
    total_minor: int  # at most, of all that is agreed then
    steps_done: int


@dataclass(frozen=True)
class PriceView:
    """The price of a visit as it stands."""

    work: Work

    @cached_property
    def agreed(self) -> dict[str, Agreed]:
        """Lines the owner said yes to that are still part of the work."""
        return {
            name: one
            for name, one in pricing.agreed(self.work).items()
            if pricing.may_come(self.work, one.line)
        }

    @cached_property
    def waiting(self) -> dict[str, Waiting]:
        """Lines offered that wait for an answer."""
        return pricing.waiting(self.work)

    @cached_property
    def draft(self) -> Priced | None:
        """What could be offered now; None where all is agreed. Raises WitnessError where it cannot be priced."""
        names = {*self.work.state.taken, *(one.id for one in pricing.additions(self.work))}
        return to_offer(self.work) if names - {*self.agreed, *covered(self.work)} else None

    @property
    def must_plan(self) -> bool:
        """Whether what could be offered has yet to be planned, which takes some seconds."""
        names = jobs_to_offer(self.work)
        if self.work.closed or not set(names) - {*covered(self.work)}:
            return False
        jobs = names if not begun(self.work) else pricing.jobs_with(self.work, names)
        try:
            return not planning.is_known(self.work, jobs)
        except WitnessError:
            return False  # told by `fault`

    @cached_property
    def fault(self) -> str:
        """Why nothing can be priced, in words."""
        try:
            _made = self.draft
        except WitnessError as error:
            return in_words(error)
        return ""

    @property
    def estimate(self) -> Estimate | None:
        """The estimate of the draft, where it can be priced."""
        return None if self.fault or self.draft is None else self.draft.estimate

    @cached_property
    def new(self) -> tuple[str, ...]:
        """Lines of the draft that were not offered at this price."""
        lines = self.estimate.lines if self.estimate else ()
        return tuple(line.id for line in lines if line.id not in self.agreed and self._is_new(line))

    def _is_new(self, line: EstimateLine) -> bool:
        before = self.waiting.get(line.id)
        return before is None or not _costs_the_same(before.line, line)

    @cached_property
    def waits(self) -> Estimate | None:
        """All that waits, as one; None where nothing does."""
        return together({name: one.made for name, one in self.waiting.items()})

    @cached_property
    def ceiling(self) -> Estimate | None:
        """All that is agreed, at the prices agreed: at most this is charged."""
        return pricing.ceiling(self.work, self.agreed)

    def draft_lines(self) -> Iterator[LineShown]:
        """The lines of the draft."""
        if self.estimate:
            for line in self.estimate.lines:
                held = self.agreed.get(line.id)
                most = held.gross_minor if held else None
                before = None if held else self._before(line)
                yield shown(self.work, self.estimate, line.id, ceiling_minor=most, before=before)

    def waiting_lines(self, typed: dict[str, str]) -> list[LineShown]:
        """The lines that wait, with the verdicts on the page."""
        return [
            shown(
                self.work,
                one.made,
                name,
                typed=typed.get(name, ""),
                number=number,
                before=self._before(one.line),
            )
            for number, (name, one) in enumerate(self.waiting.items(), start=1)
        ]

    def _before(self, line: EstimateLine) -> tuple[int, int] | None:
        """The newest other price a line was offered at, and how many minutes of labour came on top since."""
        for offer in reversed(self.work.state.offers):
            if line.id not in offer.lines:
                continue
            estimate = pricing.estimate_kept(self.work.visit.shop, offer.estimate)
            old = estimate.line(line.id)
            if not _costs_the_same(old, line):
                more = round((line.labour_tenths - old.labour_tenths) / 10)
                return estimate.gross_by_line()[line.id], more
        return None

    def agreed_lines(self) -> list[LineShown]:
        """The lines agreed, with what was said, each at the price the owner was told."""
        return [
            shown(
                self.work,
                one.estimate,
                name,
                ceiling_minor=one.gross_minor,
                answer=one.answer,
            )
            for name, one in self.agreed.items()
        ]

    def changed(self, name: str, verdict: str) -> ChangedAnswer:
        """What another answer comes to. Raises AnswerError where a job that stays brings the line."""
        offer = next(o for o in reversed(self.work.state.offers) if name in o.answers)
        estimate = pricing.estimate_kept(self.work.visit.shop, offer.estimate)
        then = {line: one.estimate for line, one in self.agreed.items()}
        then[name] = estimate
        if verdict == "no":
            self.may_go([name])
            for gone in (name, *going_with(self.work, [name])):
                then.pop(gone, None)
        made = together(then)
        return ChangedAnswer(
            f"{verdict}/{name}",
            verdict,
            estimate.line(name).text,
            estimate.gross_by_line()[name],
            made.gross_minor if made else 0,
            sum(step.partition("/")[0] == name for step in self.work.state.done),
        )

    def declined_lines(self) -> Iterator[LineShown]:
        """The lines declined on this visit."""
        for name in self.work.state.declined:
            if name not in self.waiting:
                offer = next(o for o in reversed(self.work.state.offers) if name in o.answers)
                estimate = pricing.estimate_kept(self.work.visit.shop, offer.estimate)
                yield shown(self.work, estimate, name, answer=offer.answers[name])

    def planned(self, lines: Iterable[str]) -> list[str]:
        """Of lines that wait those that the work is planned with: not those for where a reading brings them."""
        return [n for n in lines if n not in self.waiting or not self.waiting[n].line.brought_by]

    def rest(self, without: Collection[str]) -> WithoutLines:
        """What the rest costs without these lines, planned again. Raises AnswerError where others bring them."""
        self.may_go(without)
        base, made = self.estimate, to_offer(self.work, without)
        if base is None:
            raise AnswerError(
                "answers",
                self.fault or _("nothing waits for an answer"),
                _("look at the order of work"),
            )
        gross = pricing.at_most(self.work, made.estimate).gross_minor if made else 0
        less = pricing.at_most(self.work, base).gross_minor - gross
        gone = tuple(line for line in base.lines if line.id in without)
        return WithoutLines(
            gone,
            made,
            gross,
            less,
            made.hash if made else "nothing",
            _shifted(base, made, gone),
            tuple(_dearer(base, made)),
        )

    def may_go(self, without: Collection[str]) -> None:
        """Raise AnswerError where a job that stays brings one of these."""
        book = self.work.book
        gone = {*without, *going_with(self.work, without)}
        kept = [job for job in self.work.state.taken if job in book.jobs and job not in gone]
        for job in with_brought(book, kept):
            if job in without:
                by = next(one for one in kept if job in with_brought(book, [one]))
                problem = _("“{job}” comes with “{other}”").format(
                    job=book.jobs[job].text, other=book.jobs[by].text
                )
                raise AnswerError("answers", problem, _("leave both out, or neither"))


def _costs_the_same(one: EstimateLine, other: EstimateLine) -> bool:
    """Whether two lines have the same price, and the same in every case."""
    prices = [
        (line.net_by_tax(), [(case.steps, case.net_minor) for case in line.cases])
        for line in (one, other)
    ]
    return prices[0] == prices[1]


def begun(work: Work) -> bool:
    """Whether steps were done: what is done is priced no more, additions come on top."""
    return bool(work.state.steps)


def covered(work: Work) -> list[str]:
    """Jobs agreed, and those they bring."""
    return with_brought(work.book, [job for job in work.state.agreed if job in work.book.jobs])


def going_with(work: Work, without: Collection[str]) -> list[str]:
    """What was there only because these jobs bring it: jobs without an interval of their own, such as a ride."""
    book = work.book
    brought = with_brought(book, [job for job in without if job in book.jobs])
    kept = [job for job in work.state.taken if job in book.jobs and job not in brought]
    stays = {*without, *with_brought(book, kept), *work.state.agreed}
    return [
        job
        for job in brought
        if job not in stays and not (book.jobs[job].every_distance or book.jobs[job].every_time)
    ]


def to_offer(work: Work, without: Collection[str] = ()) -> Priced | None:
    """Price what is taken on, without some lines; None where nothing is left.

    Once work has begun, only what is not agreed yet, planned together with what is left to do.
    """
    jobs = jobs_to_offer(work, without)
    gone = {*without, *(work.state.agreed if begun(work) else ())}
    extra = [one for one in pricing.additions(work) if one.id not in gone]
    if not jobs and not extra:
        return None
    return (pricing.on_top if begun(work) else pricing.priced)(work, jobs, extra)


def jobs_to_offer(work: Work, without: Collection[str] = ()) -> list[str]:
    """The jobs of that price."""
    gone = {*without, *going_with(work, without)}
    if begun(work):
        gone |= {*work.state.agreed, *covered(work)}
    return [job for job in work.state.taken if job in work.book.jobs and job not in gone]


def _shifted(base: Estimate, made: Priced | None, gone: Sequence[EstimateLine]) -> int:
    """How much dearer the lines that stay become together, with tax: they carry alone what they shared."""
    if made is None:
        return 0
    stays = tuple(line for line in base.lines if line not in gone)
    return made.estimate.gross_minor - base.model_copy(update={"lines": stays}).gross_minor


def _dearer(base: Estimate, made: Priced | None) -> Iterator[tuple[str, int, int]]:
    """The lines that then cost more by themselves, with tax."""
    before = {line.id: line for line in base.lines}
    for line in made.estimate.lines if made else ():
        if (old := before.get(line.id)) is not None:
            was = base.model_copy(update={"lines": (old,)}).gross_minor
            then = base.model_copy(update={"lines": (line,)}).gross_minor
            if then > was:
                yield line.text, was, then


def item_words(item: Item) -> str:
    """One item in words: "Labour, 42 min", "Engine oil, 4.5 L", "Sealing ring × 2"."""
    quantity = f"{item.quantity.normalize():f}"
    if item.kind == "consumables" or (item.kind == "disposal" and not item.unit):
        return item.text
    if item.unit and item.unit != "piece":
        return f"{item.text}, {quantity} {item.unit}"
    if item.unit == "piece" and item.quantity < 1:
        return _("share of: {part}").format(part=item.text)
    return item.text if quantity == "1" else f"{item.text} × {quantity}"
