"""Hand-back: may it go? What is open, what closes it, and the return itself."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import HttpResponse, QueryDict
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from witnessmark.ledger import GateResult
from witnessmark.ledger.bodies import Returned
from witnessmark.ledger.gates import for_safety
from witnessmark.ledger.state import Override
from witnessmark.ledger.worked import FastenerMark
from witnessmark.shop.forms import SheetForm
from witnessmark.shop.models import Visit, Wrench
from witnessmark.shop.pages.handback import forms
from witnessmark.shop.responses import show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.templatetags.in_every_template import shown as shown_as
from witnessmark.shop.work import billing, hand_back, undoing
from witnessmark.shop.work.beyond_book import complaint_by
from witnessmark.shop.work.codes import codes_of
from witnessmark.shop.work.forms import LeaveForm
from witnessmark.shop.work.hand_back import Blocking, SecondLook
from witnessmark.shop.work.left import left_for_later
from witnessmark.shop.work.undoing import Together
from witnessmark.shop.work.visit import Work, who, work_of


@dataclass(frozen=True)
class Shown:
    """A line of what blocks, with the form that closes it."""

    number: int
    line: Blocking
    form: SheetForm | None
    leave: SheetForm | None  # of a job that was agreed: not on this visit
    early: bool  # it stands before the road test already
    safety: bool  # it, or another line of the same thing, concerns safety
    card_words: str = ""
    said: tuple[tuple[str, str, str], ...] = ()  # of a conflict: time, who, what
    wanted: str = ""  # of a condition without a card: the state it must have
    above: bool = False  # the card of the line above closes it too

    @property
    def faulty(self) -> bool:
        """Whether its form came back."""
        return any(form is not None and form.is_bound for form in (self.form, self.leave))


@dataclass(frozen=True)
class LookShown:
    """A second look, with the names of who did the work."""

    look: SecondLook
    mine: bool  # the person at the desk did some of it
    names: str
    proofs: tuple[str, ...]  # of a fastener: what it was made tight to, and with which wrench


@require_GET
def handback(request: DeskRequest, visit: UUID) -> HttpResponse:
    """May it go? If not: what is open, in words, and what closes it."""
    return page(request, work_of(request.desk, visit))


def page(
    request: DeskRequest,
    work: Work,
    *,
    bound: Mapping[tuple[str, str], SheetForm] | None = None,
    refused: str = "",
    **more: Any,
) -> HttpResponse:
    """The page; `bound`: forms that came back with faults, by what they do and the line they are on."""
    verdict = hand_back.verdict(work, "hand-back")
    names = who(request.desk)
    lines = shown(work, verdict, names, bound or {})
    looks = _looks(request.desk, work, names)
    came = hand_back.came_with(work)
    context = {
        "visit": work.visit,
        "work": work,
        "verdict": verdict,
        "open": len(lines),
        "open_safety": sum(one.safety for one in lines),
        "looks": len(looks),
        "let_through": [
            (item, names.get(override.person, ""), _entries_of(verdict, override))
            for item, override in hand_back.let_through(verdict)
        ],
        "refused": refused,
        "road": _road(work, names),
        "lines": [one for one in lines if one.line.means not in {"second look", "walk round"}],
        "walk": next((one for one in lines if one.line.means == "walk round"), None),
        "look_for_me": [one for one in looks if not one.mine],
        "look_alone": [one for one in looks if one.mine],
        "alone_form": _alone_form(looks),
        "not_done": hand_back.not_done(work),
        "not_needed": hand_back.not_needed(work),
        "never_asked": hand_back.never_asked(work),
        "left": [(one, names.get(one.author, "")) for one in left_for_later(work)],
        "beside": hand_back.beside_the_plan(work),
        "codes": codes_of(work),
        "came": came,
        "complaint_by": complaint_by(work),
        "returned": _returned(work, names),
        "again": work.closed and (bool(work.state.recalls) or not verdict.passes),
        "unpaid": billing.leaves_unpaid(work),
        "undo": returned_now(request.desk, work),
        "return_form": return_form(request, work, verdict),
        **more,
    }
    faulty = bool(refused) or any(one.faulty for one in lines)
    return show(request, "handback/page.html", context, faulty=faulty)


def shown(
    work: Work,
    verdict: GateResult,
    names: Mapping[str, str],
    bound: Mapping[tuple[str, str], SheetForm],
) -> list[Shown]:
    """Every line of what blocks, those before the road test first; what one card closes stands together."""
    safety = for_safety(verdict.blocking)
    early = {item.id for item in hand_back.verdict(work, "road test").blocking}
    rides = bool(hand_back.rides_to_come(work))
    lines = hand_back.blocking(work, verdict)
    last = {"second look", "walk round"}  # they stand below, by themselves
    lines.sort(
        key=lambda line: (
            line.means in last,
            not (rides and line.key in early),
            line.key not in safety,
        )
    )
    closes = [line.key if line.means in last else line.card or line.key for line in lines]
    lines = [
        line
        for name in dict.fromkeys(closes)
        for line, by in zip(lines, closes, strict=True)
        if by == name
    ]
    return [
        Shown(
            number=number,
            line=line,
            form=bound.get(("close", line.key))
            or forms.of_line(line, auto_id=f"close-{number}-%s"),
            leave=bound.get(("leave", line.key)) or _leave(line, number),
            early=rides and line.key in early,
            safety=line.key in safety,
            card_words=work.steps[line.card].text if line.card else "",
            said=tuple((one.at[11:16], names.get(one.author, ""), one.words) for one in line.said),
            wanted=wanted_state(work, line)[1],
            above=bool(line.card) and number > 1 and line.card == lines[number - 2].card,
        )
        for number, line in enumerate(lines, 1)
    ]


def return_form(
    request: DeskRequest, work: Work, verdict: GateResult, posted: QueryDict | None = None
) -> forms.ReturnForm:
    """The form that hands the machine back."""
    return forms.ReturnForm(
        posted,
        came=hand_back.came_with(work),
        odometer_km=work.state.odometer_km,
        desk=request.desk,
        not_to_be_ridden=not_to_be_ridden(verdict),
    )


def returned_now(desk: Desk, work: Work) -> Together | None:
    """The return, as long as it can be taken back: on its day, and nothing has happened on the machine since."""
    last = undoing.newest(work)
    if last is None or work.state.returned not in {line.entry for line in last.lines}:
        return None
    entry = work.entries[-1]
    same_day = timezone.localdate(entry.instant) == timezone.localdate()
    untouched = entry.id in {line.entry for line in last.lines}
    newest = desk.all(Visit).filter(machine=work.machine).order_by("-number").first() == work.visit
    may = undoing.may_take_back(desk, work, last)
    return last if same_day and untouched and newest and may else None


def not_to_be_ridden(verdict: GateResult) -> bool:
    """Whether something was let through only for a machine that leaves on a trailer."""
    return any(
        item.override is not None and item.override.paper == forms.NOT_RIDDEN
        for item in verdict.let_through
    )


def wanted_state(work: Work, line: Blocking) -> tuple[str, str]:
    """Of a condition that no card brings back: the state it must have, and in words."""
    if line.means != "state" or line.name not in work.book.conditions:
        return "", ""
    state = hand_back.finish(work, line.name)
    return state, work.book.conditions[line.name].state_words.get(state, state)


# ---------------------------------------------------------------- parts


def _entries_of(verdict: GateResult, override: Override) -> list[str]:
    """The entries of all items that were let through in the same words: taken back together."""
    same = override.model_dump(exclude={"entry"})
    return [
        item.override.entry
        for item in verdict.let_through
        if item.override and item.override.model_dump(exclude={"entry"}) == same
    ]


def _leave(line: Blocking, number: int) -> SheetForm | None:
    return LeaveForm(auto_id=f"leave-{number}-%s") if line.item.kind == "job" else None


def _looks(desk: Desk, work: Work, names: Mapping[str, str]) -> list[LookShown]:
    me = str(desk.member.pk)
    wrenches = {str(one.pk): one.name for one in desk.all(Wrench)}
    return [
        LookShown(
            look=look,
            mine=me in look.doers,
            names=", ".join(sorted(names.get(m, "") for m in look.doers)),
            proofs=_proofs(work, look, wrenches),
        )
        for look in hand_back.looks(work)
    ]


def _proofs(work: Work, look: SecondLook, wrenches: Mapping[str, str]) -> tuple[str, ...]:
    """What the marks of a fastener say. Example: ``95 N·m, Large click wrench``."""
    tally = work.state.tallies.get(look.item.key.name)
    if look.item.key.about != "fastener" or tally is None:
        return ()
    return tuple(
        dict.fromkeys(
            ", ".join(_mark(mark, wrenches))
            for mark in tally.marks
            if mark.status.startswith("tight")
        )
    )


def _mark(mark: FastenerMark, wrenches: Mapping[str, str]) -> Iterator[str]:
    torque = mark.set_nm if mark.value_nm is None else mark.value_nm
    if torque is not None:
        yield shown_as(torque, "torque")
    if mark.angle_deg is not None:
        yield shown_as(mark.angle_deg, "angle")
    yield wrenches.get(mark.wrench or "", "") or _("wrench not listed")


def _alone_form(looks: Sequence[LookShown]) -> SheetForm:
    """Filled in as far as the clock knows: the minutes since the work."""
    return forms.AloneForm(looks=[one.look for one in looks if one.mine], auto_id="alone-%s")


def _road(work: Work, names: Mapping[str, str]) -> dict[str, Any] | None:
    """How the road test stands; None where the book asks for no ride on this visit."""
    rides = hand_back.rides_to_come(work)
    passage = hand_back.passed(work, "road test")
    if not rides and passage is None:
        return None
    verdict = hand_back.verdict(work, "road test")
    first = hand_back.steps_first(work)
    return {
        "not_ready": hand_back.not_ready(first),
        "first": [work.steps[name].text for name in first],
        "rides": [(name, work.steps[name]) for name in rides],
        "passage": passage,
        "at": datetime.fromisoformat(passage.at) if passage else None,
        "by": names.get(passage.author, "") if passage else "",
        "open": len(verdict.words),
        "passes": verdict.passes,
    }


def _returned(work: Work, names: Mapping[str, str]) -> dict[str, Any] | None:
    entry = next((one for one in work.entries if one.id == work.state.returned), None)
    if entry is None:
        return None
    said, came = entry.said, hand_back.came_with(work)
    assert isinstance(said, Returned)
    return {
        "at": entry.instant,
        "by": names.get(entry.author, ""),
        "said": said,
        "km": work.state.odometer_km,
        "back": hand_back.counted(said.keys, said.fobs) or _("none"),
        "came_in": hand_back.counted(came.keys, came.fobs) or _("none"),
    }
