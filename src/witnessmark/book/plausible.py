"""Whether what a book gives can be: a torque for its thread, any other quantity for what it is.

It finds slips of the pen (decimal point, unit) and warns; it never gives a figure of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from witnessmark import units
from witnessmark.book.model import ENTRIES, Book, Fastener
from witnessmark.book.usual_bounds import Usual, usual_of
from witnessmark.fasteners import NO_VERDICT, Judgement, judge_tightness, judge_torque
from witnessmark.units import Amount, QuantityError


@dataclass(frozen=True)
class Plausibility:
    """How one entry of a figure looks: in doubt, without an objection, or not judged and why."""

    figure: str
    key: str
    outcome: Literal["doubt", "fits", "not judged"]
    words: str
    slips: tuple[str, ...] = ()

    @property
    def doubtful(self) -> bool:
        """Whether somebody should look again."""
        return self.outcome == "doubt"


def doubts(book: Book) -> list[Plausibility]:
    """What looks wrong in a book and is not vouched for, by figure."""
    return [look for look in _doubtful(book) if book.figures[look.figure].vouched is None]


def look_at(
    book: Book, name: str, key: str = "value", text: str | None = None
) -> Plausibility | None:
    """Look at one entry of a figure, or at ``text`` typed for it.

    None where there is nothing to look at: empty, words, no such quantity (that is told as a fault).
    """
    figure = book.figures[name]
    if figure.quantity == "words" or not (text is None or text.strip()):
        return None
    try:
        amount = figure.amounts.get(key) if text is None else units.read(text, figure.quantity)
    except QuantityError:
        return None
    if amount is None:
        return None
    if figure.quantity == "torque" and (users := _users(book, name)):
        return _of_users(name, key, amount, users)
    usual = usual_of(book, name)
    return None if usual is None else _against(name, key, amount, usual)


def _doubtful(book: Book) -> Iterator[Plausibility]:
    for name in sorted(book.figures):
        for key in ENTRIES:
            look = look_at(book, name, key)
            if look is not None and look.doubtful:
                yield look
    both = {one.low for one in book.readings.values() if one.low and one.low == one.high}
    for name in sorted(both):
        low, high = book.figures[name].bounds
        if low is not None and low == high:
            words = "it is both the least and the most that may be read: give its tolerance, or low and high"
            yield Plausibility(name, "tolerance", "doubt", words)


# ---------------------------------------------------------------- torques


def _users(book: Book, figure: str) -> list[tuple[Fastener, bool]]:
    """The fasteners that are tightened by that figure; whether it is only a stage of theirs."""
    return [
        (fastener, fastener.figure != figure)
        for fastener in book.fasteners.values()
        if figure == fastener.figure or figure in fastener.stages
    ]


def _of_users(
    name: str, key: str, amount: Amount, users: list[tuple[Fastener, bool]]
) -> Plausibility:
    """The first doubt of its fasteners; else the first that says anything."""
    looks = [_of_one(name, key, amount, *user) for user in users]
    return next((look for look in looks if look.doubtful), looks[0])


def _of_one(name: str, key: str, amount: Amount, fastener: Fastener, stage: bool) -> Plausibility:  # noqa: FBT001
    joint = fastener.joint
    if fastener.kind in NO_VERDICT:
        thread = joint.thread if joint else None
        return _look(name, key, judge_tightness(amount, fastener.kind, thread))
    if joint is None:
        usual = Usual(fastener.text, 0.5, 400)
        look = _against(name, key, amount, usual)
        if look.doubtful:
            return look
        words = f"Not checked against a thread: the book gives none for “{fastener.text}”."
        return Plausibility(name, key, "not judged", words)
    return _look(name, key, judge_torque(amount, joint, stage=stage))


def _look(name: str, key: str, judged: Judgement) -> Plausibility:
    if judged.outcome == "no verdict":
        return Plausibility(name, key, "not judged", judged.words)
    outcome: Literal["doubt", "fits"] = "doubt" if judged.doubtful else "fits"
    return Plausibility(name, key, outcome, judged.words, judged.slips)


# ---------------------------------------------------------------- everything else


def _against(name: str, key: str, amount: Amount, usual: Usual) -> Plausibility:
    if usual.low <= amount.value <= usual.high:
        return Plausibility(name, key, "fits", f"No slip to be seen for {usual.what}.")
    explained = units.slips(amount, lambda value: usual.low <= value <= usual.high)
    size = "high" if amount.value > usual.high else "low"
    tried = f" It would fit {', or '.join(explained)}." if explained else ""
    words = (
        f"{amount.understood} is far too {size} for {usual.what}; "
        f"look again at unit and decimal point.{tried}"
    )
    return Plausibility(name, key, "doubt", words, explained)
