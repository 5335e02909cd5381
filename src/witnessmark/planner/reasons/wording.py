"""Prices of wishes, last moments and ranges, said as a technician reads them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from witnessmark.planner.reasons.last_moment import LastMoment
from witnessmark.planner.reasons.spread import Range
from witnessmark.planner.reasons.wish import Margin, Price, Wish
from witnessmark.planner.wording import clock, lasting

Clock = Callable[[float], str]
HOW_SPREAD = (
    "Drawn from 2000 days on which the attended part of each step takes its planned minutes times a chance "
    "factor, a fifth either way in two of three, order and people kept. The fifth is an assumption until "
    "own times are measured."
)


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
    """What the wish costs, and what of that is proven. Example: ``… first: +7 min, +7 min of work. Proven.``"""
    wish = wish_in_words(price.wish, jobs)
    if price.later is None or price.more is None:
        if price.answer.status == "impossible":
            return f"{wish}: cannot be had. Proven."
        return f"{wish}: no order was found in the time given, and none was ruled out."
    if price.later.proven and price.more.proven:
        if not price.later.minutes and not price.more.minutes:
            return f"{wish}: costs nothing. Proven."
        return f"{wish}: {_signed(price.later)} till all is over, {_signed(price.more)} of work. Proven."
    return (
        f"{wish}: {_signed(price.later)} till all is over, {_signed(price.more)} of work, as far as found. "
        f"Not proven: the true price lies between {_minutes(price.later.least)} and "
        f"{_minutes(price.later.most)} till all is over."
    )


def _signed(margin: Margin) -> str:
    return _minutes(margin.minutes)


def _minutes(minutes: float) -> str:
    return f"{'−' if minutes < 0 else '+'}{lasting(abs(minutes))}"


def moment_in_words(moment: LastMoment, step: str, at: Clock = clock) -> str:
    """Until when an answer is in time, and what it costs after. ``step``: the words of the step that begins then."""
    sure = "" if moment.proven else " An estimate: not every order behind it was proven best."
    if moment.before is None:
        return f"A yes is in time until all is over: it costs no more work then.{sure}"
    when = f"Answer needed by {at(moment.minute)}, before “{step}”: "
    if moment.minute == 0:
        when = f"Answer needed before work begins with “{step}”: "
    if moment.out_of_turn:
        more = f", and a yes costs {lasting(moment.more)} more of work" if moment.more else ""
        return f"{when}it should come after what the job begins with{more}.{sure}"
    if moment.more is None:
        return f"{when}after that it can no more be done in this visit.{sure}"
    said = f"{when}after that a yes costs {lasting(moment.more)} more of work"
    if moment.at_the_end is not None and moment.at_the_end > moment.more:
        said += f", {lasting(moment.at_the_end)} when all is over"
    return f"{said}.{sure}"


def range_in_words(range_: Range, at: Clock = clock) -> str:
    """A range, to whole five minutes outwards, quarters of an hour where it is wide."""
    wide = 15 if range_.high - range_.low > 60 else 5
    low = math.floor(range_.low / wide) * wide
    high = math.ceil(range_.high / wide) * wide
    return f"between {at(low)} and {at(high)} in 8 of 10"
