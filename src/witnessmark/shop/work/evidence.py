"""Turn what was tapped and typed on a card into entries: marks, readings, and the step done when nothing is left."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from witnessmark import units
from witnessmark.book.doubtful_reading import doubt
from witnessmark.errors import WitnessError
from witnessmark.ledger.limits import TOOL_DEVIATION
from witnessmark.ledger.table import Item
from witnessmark.shop.models import Wrench
from witnessmark.shop.store import EntryDraft
from witnessmark.shop.work.cards import Card, FastenerShown, FigureShown, ReadingShown
from witnessmark.shop.work.deciding import asked_by
from witnessmark.shop.work.rounds import turned
from witnessmark.shop.work.wrenches import OnShelf, fits
from witnessmark.wrenches import Adapter, CrowFoot, Fit, delivered, per_cent

VOUCH, UNREAD = "again-", "unread-"  # before a reading's field: typed twice; why it cannot be read
TAKEN = "taken-"  # what one that cannot be read is taken as: the unknown and yes or no
LEAST_WORTH_SAYING = 0.005  # rounding below half a per cent is not worth a word


class EvidenceError(WitnessError):
    """What was tapped or typed proves nothing: `place` is the field."""


@dataclass(frozen=True)
class WrenchShown:
    """A wrench of the shop, as offered for one figure."""

    wrench: Wrench
    fit: Fit

    @property
    def setting(self) -> str:
        """What to set, in the unit and the divisions of its scale."""
        return self.fit.setting.text

    @property
    def proven(self) -> bool:
        """Whether it proves the figure."""
        return self.fit.suits

    @property
    def why_not(self) -> str:
        """Why it does not."""
        return "; ".join(reason.words for reason in self.fit.reasons)

    @property
    def at_the_fastener(self) -> str:
        """Through a crow-foot: the torque that the setting gives."""
        made = self.fit.setting
        got = units.show(made.got_nm, "torque")
        if self._off:
            said = _("gives {torque} at the fastener, {off} by its scale")
            return said.format(torque=got, off=self._off)
        return _("gives {torque} at the fastener").format(torque=got)

    @property
    def rounds(self) -> str:
        """What the rounded setting gives, where its scale is off the figure."""
        got = units.show(self.fit.setting.got_nm, "torque")
        said = _("{torque}, {off} by its scale")
        return said.format(torque=got, off=self._off) if self._off else ""

    @property
    def _off(self) -> str:
        """How far the divisions of its scale are off what was wanted; empty where that is not worth a word."""
        off = self.fit.setting.rounding
        return per_cent(off, signed=True) if abs(off) >= LEAST_WORTH_SAYING else ""


def wrenches_for(
    shelf: Sequence[OnShelf], figure: FigureShown | None, crow_foot: CrowFoot | None = None
) -> list[WrenchShown]:
    """The shop's wrenches that can be taken in hand for a figure, the best first."""
    return [one for one in all_wrenches(shelf, figure, crow_foot) if one.fit.usable]


def all_wrenches(
    shelf: Sequence[OnShelf], figure: FigureShown | None, crow_foot: CrowFoot | None = None
) -> list[WrenchShown]:
    """Every wrench here against a figure: the best first, those that cannot do it last, with the reason."""
    if figure is None or figure.aim is None:
        return []
    rows = {str(one.row.pk): one.row for one in shelf}
    low, high = figure.tolerance
    found = fits(shelf, figure.aim, low_nm=low, high_nm=high, crow_foot=crow_foot)
    return [WrenchShown(rows[fit.tool.key], fit) for fit in found]


def done(
    card: Card,
    warned: Iterable[str] = (),
    *,
    began: str | None = None,
    short_wait: str = "",
    not_tight_because: str = "",
    with_acts: Sequence[EntryDraft] = (),
) -> EntryDraft:
    """The card confirmed, with the access steps that ride along, and what it leaves not tight.

    ``with_acts``: the entries that go in before it.
    """
    return "done", {
        "step": card.id,
        "along": [before.id for before in card.along],
        "warned": list(warned),
        "began": began,
        "short_wait": short_wait,
        "not_tight": list(_not_tight(card, with_acts)),
    } | ({"not_tight_because": not_tight_because} if not_tight_because else {})


def loose_for_safety(card: Card, acts: Sequence[EntryDraft]) -> bool:
    """Whether the card, once these entries are in, leaves a safety-critical fastener not tight."""
    return any(group.fastener.safety for group, _places in _loose(card, acts))


def _not_tight(card: Card, acts: Sequence[EntryDraft]) -> Iterator[str]:
    """The fasteners of the card that are not tight yet. Example: ``wheel bolt, 2, 4 of 5``."""
    for group, places in _loose(card, acts):
        count = group.fastener.count
        which = places if count > 1 else ()
        yield Item(text=group.fastener.text, places=which, count=count).words


def _loose(
    card: Card, acts: Sequence[EntryDraft]
) -> Iterator[tuple[FastenerShown, tuple[int, ...]]]:
    """The groups to be proven one by one that are not tight yet, each with the places left."""
    last = {
        (body["fastener"], body["index"])
        for kind, body in acts
        if kind == "tightened"
        for group in card.fasteners
        if body["fastener"] == group.id and body["round"] in (0, group.rounds)
    }
    for group in card.fasteners:
        left = group.order if group.round and group.round < group.rounds else group.left
        places = tuple(sorted(place for place in left if (group.id, place) not in last))
        if group.each and places:
            yield group, places


def tightened(
    card: Card,
    group: FastenerShown,
    place: int,
    *,
    wrench: WrenchShown | None,
    reached: str = "",
) -> EntryDraft:
    """One fastener made tight: by value where one is given, by setting and click where the wrench clicks.

    Raises EvidenceError where there is no figure, the value is below it, or a wrench that only clicks is said to
    have shown a value.
    """
    if group.turn is not None and group.turn.aim is not None:
        return turned(group, place, card.id)
    figure = group.figure
    if figure is None or figure.aim is None:
        raise EvidenceError(
            "figure",
            _("{fastener}: the figure is missing").format(fastener=group.fastener.text),
            _("enter it with its source first"),
        )
    body: dict[str, Any] = {
        "fastener": group.id,
        "index": place,
        "step": card.id,
        "figure": figure.id,
        "wrench": str(wrench.wrench.pk) if wrench else None,
        "wrench_proven": bool(wrench and wrench.proven),
        "round": group.round,
        "treatment": group.fastener.treatment,
    }
    if wrench and not wrench.fit.usable:
        problem = _("{wrench} cannot do it: {why}").format(wrench=wrench.wrench, why=wrench.why_not)
        raise EvidenceError("reached", problem, _("take another"))
    if reached:
        return "tightened", body | _by_value(figure, reached, wrench)
    if wrench and wrench.wrench.gives_value:
        problem = _("{wrench} shows a value").format(wrench=wrench.wrench)
        raise EvidenceError("reached", problem, _("enter the value it showed"))
    return "tightened", body | _by_click(wrench)


def read(card: Card, shown: ReadingShown, place: int, typed: str, again: str = "") -> EntryDraft:
    """One reading as an entry; ``again``: what was typed to vouch for one that is hard to believe.

    Raises EvidenceError for what is no such quantity or no such choice, and for what nobody vouched for.
    """
    body: dict[str, Any] = {
        "reading": shown.id,
        "step": card.id,
        "index": place,
        "instrument": shown.reading.instrument,
        "text": typed,
    }
    if shown.reading.quantity == "words":
        if shown.reading.choices and typed not in shown.reading.choices:
            problem = _("“{typed}” is none of the words asked for").format(typed=typed)
            expected = _("choose one of {choices}").format(choices=", ".join(shown.reading.choices))
            raise EvidenceError(field_of(shown.id, place), problem, expected)
        return "read", body | {"words": typed}
    try:
        amount = units.read(units.with_unit(typed, shown.reading.unit), shown.reading.quantity)
    except units.QuantityError as error:
        raise EvidenceError(field_of(shown.id, place), error.problem, error.expected) from error
    why = doubt(shown.id, shown.reading, amount.value, shown.low, shown.high)
    if why and _twice(shown, again) != amount.value:
        problem = f"{amount.text}? {why[0].upper()}{why[1:]}"
        raise EvidenceError(field_of(shown.id, place), problem, _("type it again below to keep it"))
    vouched = {"vouched": True} if why else {}
    return "read", body | {"value": amount.value, "text": amount.text} | vouched


def _twice(shown: ReadingShown, again: str) -> float | None:
    try:
        return units.read(units.with_unit(again, shown.reading.unit), shown.reading.quantity).value
    except units.QuantityError:
        return None


def readings_posted(
    card: Card, posted: Mapping[str, str], *, all_of_them: bool = False
) -> tuple[list[EntryDraft], list[EvidenceError]]:
    """All readings filled in on a card, and those that cannot be read, with the reason typed.

    Empty fields are left for later; with ``all_of_them`` they are asked for.
    """
    acts: list[EntryDraft] = []
    problem: list[EvidenceError] = []
    for shown in card.readings:
        for place in range(1, shown.reading.repeat + 1):
            field = field_of(shown.id, place)
            typed, again, why = (posted.get(f"{x}{field}", "").strip() for x in ("", VOUCH, UNREAD))
            try:
                if typed:
                    acts.append(read(card, shown, place, typed, again))
                elif why:
                    body = {
                        "reading": shown.id,
                        "step": card.id,
                        "index": place,
                        "because": why[:400],
                    } | _taken_as(card, shown, place, posted)
                    acts.append(("not_read", body))
                elif all_of_them and place in shown.left:
                    expected = _("read it, or say below why it cannot be read")
                    problem.append(EvidenceError(field, _("not read yet"), expected))
            except EvidenceError as error:
                problem.append(error)
    return acts, problem


def _taken_as(
    card: Card, shown: ReadingShown, place: int, posted: Mapping[str, str]
) -> dict[str, Any]:
    """What a reading that cannot be read is taken as; nothing where nobody says: all that it decides about is done."""
    told = {}
    for number, name in enumerate(asked_by(card.work, card.id, shown.id)):
        said = posted.get(f"{TAKEN}{field_of(shown.id, place)}-{number}", "")
        if said in ("yes", "no"):
            told[name] = said == "yes"
    return {"taken_as": told} if told else {}


def complete(card: Card, acts: Sequence[EntryDraft]) -> bool:
    """Whether nothing is left to tighten, to show or to read on the card, once these entries are in."""
    tight = {(body["fastener"], body["index"]) for kind, body in acts if kind == "tightened"}
    taken = {
        (body["reading"], body["index"]) for kind, body in acts if kind in ("read", "not_read")
    }
    loose = [(g.id, n) for g in card.fasteners if g.each for n in g.left if (g.id, n) not in tight]
    unread = [(r.id, n) for r in card.readings for n in r.left if (r.id, n) not in taken]
    shown = {f"{body['what']}/{body['fastener']}" for kind, body in acts if kind == "shown"}
    unseen = [proof.id for proof in card.proofs if not proof.seen and proof.id not in shown]
    to_come = any(group.round and group.round < group.rounds for group in card.fasteners)
    return not (loose or unread or unseen or to_come)


def field_of(reading: str, place: int) -> str:
    """The name of a reading's field in the card's form."""
    return f"reading-{reading}-{place}"


def _by_click(wrench: WrenchShown | None) -> dict[str, Any]:
    if wrench is None:
        return {"set_nm": None, "clicked": False}
    made = wrench.fit.setting
    body: dict[str, Any] = {"set_nm": made.set_nm, "clicked": True}
    return body | _with_adapter(made.adapter, made.set_nm) if made.adapter else body


def _with_adapter(adapter: Adapter, on_wrench_nm: float) -> dict[str, Any]:
    """A mark made through a crow-foot or extension: the torque on the wrench, and at the fastener."""
    return {
        "adapter": {
            "reach_mm": adapter.reach_mm,
            "angle_deg": adapter.angle_deg,
            "arm_mm": adapter.arm_mm,
        },
        "set_nm": on_wrench_nm,
        "value_nm": delivered(on_wrench_nm, adapter),
    }


def _most(figure: FigureShown) -> float:
    """The most it may reach; without limits of its own as the ledger has it."""
    if figure.high is None:
        return math.inf
    return figure.high if figure.low != figure.high else figure.high * (1 + TOOL_DEVIATION)


def _by_value(figure: FigureShown, reached: str, wrench: WrenchShown | None) -> dict[str, Any]:
    unit = wrench.wrench.scale_unit if wrench else "N·m"
    try:
        amount = units.read(units.with_unit(reached, unit), "torque")
    except units.QuantityError as error:
        raise EvidenceError("reached", error.problem, error.expected) from error
    adapter = wrench.fit.setting.adapter if wrench else None
    got = delivered(amount.value, adapter)
    if figure.low is not None and got < figure.low - 1e-9:
        least = units.show(figure.low, "torque")
        problem = _("{torque} is less than {least}: not tight yet")
        if adapter:
            problem = _("{torque}, {got} at the fastener, is less than {least}: not tight yet")
        problem = problem.format(torque=amount.text, got=units.show(got, "torque"), least=least)
        expected = _("tighten further, or look at the unit and the decimal point")
        raise EvidenceError("reached", problem, expected)
    over = got > _most(figure) + 1e-9
    body = _with_adapter(adapter, amount.value) if adapter else {"value_nm": got}
    return body | {"outcome": "overshot" if over else "ok"}
