"""What readings decide, in words: why a step is not needed, what a step waits for, what an answer is called."""

from __future__ import annotations

from django.utils.translation import gettext as _

from witnessmark import units
from witnessmark.book.figures import limits
from witnessmark.book.model import Reading
from witnessmark.ledger.answers import names_in, only_if_of
from witnessmark.ledger.table import UnknownRule
from witnessmark.ledger.worked import ReadingState
from witnessmark.shop.work.visit import Work
from witnessmark.units import Quantity


def why_not_needed(work: Work, step: str) -> str:
    """Why a step is not needed, with what was read: ``Slack 32 mm: within its limits``. Empty where it is."""
    if step not in work.state.not_needed:
        return ""
    names = names_in(only_if_of(work.steps[step]))
    return "; ".join(_why(work, name) for name in names)


def _why(work: Work, name: str) -> str:
    rule = work.book.readings[decider(work, name).reading]
    if name not in work.state.answers:
        return _("“{reading}” is not asked").format(reading=rule.text)
    taken = [one for one in _taken(work, name) if one.value is not None or one.words]
    if not taken:
        return _("{reading}: taken as {way}").format(
            reading=rule.text, way=way(work, name, yes=work.state.answers[name])
        )
    read = ", ".join(one.words or said(one.value, rule) for one in taken)
    return f"{rule.text} {read}: {way(work, name, yes=work.state.answers[name])}"


def decider(work: Work, name: str) -> UnknownRule:
    """What an unknown asks of its reading."""
    return work.folded.table.unknowns[name]


def steps_of(work: Work, name: str, *, yes: bool) -> list[str]:
    """The steps of this visit's jobs that this answer asks for."""
    wanted = name if yes else f"!{name}"
    jobs = {*work.state.taken}
    return [
        step
        for step, one in work.steps.items()
        if wanted in only_if_of(one).split("|") and step.partition("/")[0] in jobs
    ]


def asked_by(work: Work, step: str, reading: str) -> list[str]:
    """The unknowns of this visit's jobs that a reading of this step decides."""
    rules = work.folded.table.unknowns
    return [
        name
        for name, rule in rules.items()
        if rule.reading == reading
        and step in rule.readers
        and (steps_of(work, name, yes=True) or steps_of(work, name, yes=False))
    ]


def way(work: Work, name: str, *, yes: bool, short: bool = False) -> str:
    """An answer in words: ``within its limits, at least 30 mm, at most 40 mm``; ``not below 1.6 mm``.

    ``short``: without the limits.
    """
    decides = decider(work, name)
    rule = work.book.readings[decides.reading]
    if decides.figure is None:
        words = _("outside its limits") if yes else _("within its limits")
        bounds = "" if short else _bounds(work, rule)
        return f"{words}, {bounds}" if bounds else words
    if decides.way == "below":
        words = _("below {figure}") if yes else _("not below {figure}")
    else:
        words = _("above {figure}") if yes else _("not above {figure}")
    return words.format(figure=work.book.figures[decides.figure].written)


def said(value: float | None, rule: Reading) -> str:
    """A value in the unit of its reading."""
    if value is None or rule.quantity == "words":
        return ""
    return units.show(value, rule.quantity, unit=rule.unit or None)


def _bounds(work: Work, rule: Reading) -> str:
    if rule.quantity == "words":
        return ""
    low, high = limits(work.book, rule)
    quantity: Quantity = rule.quantity
    ends = []
    if low is not None:
        ends.append(_("at least {value}").format(value=_in_unit(low, quantity, rule)))
    if high is not None:
        ends.append(_("at most {value}").format(value=_in_unit(high, quantity, rule)))
    return ", ".join(ends)


def _in_unit(value: float, quantity: Quantity, rule: Reading) -> str:
    return units.show(value, quantity, unit=rule.unit or None)


def _taken(work: Work, name: str) -> list[ReadingState]:
    """What was read of it last, place by place."""
    rule = decider(work, name)
    last = {
        one.index: one
        for one in work.state.readings
        if one.reading == rule.reading and one.step in rule.readers
    }
    return [last[place] for place in sorted(last)]
