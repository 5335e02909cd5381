"""Turn what was tapped and typed on a card into entries: marks, readings, and the step done when nothing is left."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from witnessmark import units
from witnessmark.errors import WitnessError
from witnessmark.shop.models import Wrench
from witnessmark.shop.scope import Desk
from witnessmark.shop.store import Act
from witnessmark.shop.work.cards import Card, FastenerShown, FigureShown, ReadingShown


class EvidenceError(WitnessError):
    """What was tapped or typed proves nothing: `place` is the field."""


@dataclass(frozen=True)
class WrenchShown:
    """A wrench of the shop, as offered for one figure."""

    wrench: Wrench
    setting: str  # in the unit of its scale
    proven: bool  # in calibration today


def wrenches_for(desk: Desk, figure: FigureShown | None) -> list[WrenchShown]:
    """The shop's wrenches that reach a figure, those in calibration first, then the narrowest range."""
    if figure is None or figure.value is None:
        return []
    today = timezone.localdate()
    fit = [w for w in desk.all(Wrench).filter(retired_on=None) if w.reaches(figure.value)]
    fit.sort(key=lambda w: (not w.in_calibration(today), w.high_nm - w.low_nm, w.name))
    return [WrenchShown(w, _setting(figure.value, w), w.in_calibration(today)) for w in fit]


def done(card: Card, warned: Iterable[str] = ()) -> Act:
    """The card confirmed, with the access steps that ride along."""
    return "done", {
        "step": card.id,
        "along": [before.id for before in card.along],
        "warned": list(warned),
    }


def tightened(
    desk: Desk,
    card: Card,
    group: FastenerShown,
    place: int,
    *,
    wrench: Wrench | None,
    reached: str = "",
) -> Act:
    """One fastener made tight: by value where one is given, by setting and click where the wrench clicks.

    Raises EvidenceError where there is no figure, the value is below it, or a wrench that only clicks is said to
    have shown a value.
    """
    figure = group.figure
    if figure is None or figure.value is None:
        raise EvidenceError(
            "figure",
            f"{group.fastener.text}: the figure is missing",
            "enter it with its source first",
        )
    body: dict[str, Any] = {
        "fastener": group.id,
        "index": place,
        "step": card.id,
        "figure": figure.id,
        "wrench": str(wrench.pk) if wrench else None,
        "wrench_proven": bool(wrench and wrench.in_calibration(timezone.localdate())),
    }
    if reached:
        return "tightened", body | _by_value(figure, reached)
    if wrench and wrench.gives_value:
        raise EvidenceError("reached", f"{wrench} shows a value", "enter the value it showed")
    return "tightened", body | {
        "set_nm": figure.value if wrench else None,
        "clicked": wrench is not None,
    }


def read(card: Card, shown: ReadingShown, place: int, typed: str) -> Act:
    """One reading as an entry. Raises EvidenceError for what is no such quantity or no such choice."""
    body: dict[str, Any] = {
        "reading": shown.id,
        "step": card.id,
        "index": place,
        "instrument": shown.reading.instrument,
        "text": typed,
    }
    if shown.reading.quantity == "words":
        if shown.reading.choices and typed not in shown.reading.choices:
            wrong = f"“{typed}” is none of the words asked for"
            raise EvidenceError(
                field_of(shown.id, place),
                wrong,
                "choose one of " + ", ".join(shown.reading.choices),
            )
        return "read", body | {"words": typed}
    try:
        amount = units.read(with_unit(typed, shown.reading.unit), shown.reading.quantity)
    except units.QuantityError as error:
        raise EvidenceError(field_of(shown.id, place), error.wrong, error.right) from error
    return "read", body | {"value": amount.value, "text": amount.text}


def readings_posted(card: Card, posted: Mapping[str, str]) -> tuple[list[Act], list[EvidenceError]]:
    """All readings filled in on a card; empty fields are left for later."""
    acts: list[Act] = []
    wrong: list[EvidenceError] = []
    for shown in card.readings:
        for place in range(1, shown.reading.repeat + 1):
            typed = posted.get(field_of(shown.id, place), "").strip()
            try:
                acts += [read(card, shown, place, typed)] if typed else []
            except EvidenceError as error:
                wrong.append(error)
    return acts, wrong


def complete(card: Card, acts: Sequence[Act]) -> bool:
    """Whether the card has nothing left to tighten one by one or to read, once these entries are in."""
    tight = {(body["fastener"], body["index"]) for kind, body in acts if kind == "tightened"}
    taken = {(body["reading"], body["index"]) for kind, body in acts if kind == "read"}
    loose = [(g.id, n) for g in card.fasteners if g.each for n in g.left if (g.id, n) not in tight]
    unread = [(r.id, n) for r in card.readings for n in r.left if (r.id, n) not in taken]
    return not loose and not unread


def field_of(reading: str, place: int) -> str:
    """The name of a reading's field in the card's form."""
    return f"reading-{reading}-{place}"


def with_unit(typed: str, unit: str) -> str:
    """A bare number means the unit that stands beside the field."""
    bare = unit and not any(letter.isalpha() or letter in "°'\"%" for letter in typed)
    return f"{typed} {unit}" if bare else typed


def _setting(torque_nm: float, wrench: Wrench) -> str:
    return units.show(torque_nm, "torque", unit=wrench.scale_unit)


def _by_value(figure: FigureShown, reached: str) -> dict[str, Any]:
    try:
        amount = units.read(with_unit(reached, "Nm"), "torque")
    except units.QuantityError as error:
        raise EvidenceError("reached", error.wrong, error.right) from error
    if figure.low is not None and amount.value < figure.low - 1e-9:
        least = units.show(figure.low, "torque")
        wrong = f"{amount.text} is less than {least}: not tight yet"
        raise EvidenceError(
            "reached", wrong, "tighten on, or look at the unit and the decimal point"
        )
    over = figure.high is not None and amount.value > figure.high + 1e-9
    return {"value_nm": amount.value, "outcome": "overshot" if over else "ok"}
