"""A wrench found wrong: every fastener it closed since its last good check, by machine and owner."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from witnessmark.shop.models import WrenchEvent
from witnessmark.shop.pages.wrenches.views import on_shelf
from witnessmark.shop.responses import as_table, done, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import recalls
from witnessmark.shop.work.doubtful import InDoubt

A_PAGE = 10  # machines
MOST_PAGES = 10_000
COLUMNS = (
    "machine", "plate", "owner", "telephone", "visit", "handed back", "on", "fastener", "safety-critical",
    "figure N·m", "least N·m", "most N·m", "on the wrench N·m", "deviation %", "likely N·m", "in words",
)  # fmt: skip


@require_http_methods(["GET", "POST"])
def closed(request: DeskRequest, wrenchevent: UUID) -> HttpResponse:
    """The list; a tap writes it into the ledger of each visit."""
    found = _found(request, wrenchevent)
    if request.method == "POST":
        chosen = set(request.POST.getlist("mark"))
        written = recalls.write(request.desk, found, chosen)
        if not written:
            return show(
                request,
                "wrenches/doubt.html",
                _context(request, found, _("Choose at least one.")),
                faulty=True,
            )
        return done(request, "wrench-doubt", wrenchevent, said=recalls.in_words(written))
    return show(request, "wrenches/doubt.html", _context(request, found))


@require_GET
def table(request: DeskRequest, wrenchevent: UUID) -> HttpResponse:
    """The same as a table for other programs: comma-separated, UTF-8."""
    found = _found(request, wrenchevent)
    rows = (_cells(group, mark) for group in found.groups() for mark in group.marks)
    return as_table(f"wrench-{found.event.on:%Y-%m-%d}", COLUMNS, rows)


def _cells(group: recalls.MachineInDoubt, one: InDoubt) -> Iterable[str]:
    owner, mark = group.machine.owner, one.mark
    yield from (str(group.machine), group.machine.plate)
    yield from ((owner.name, owner.phone) if owner else ("", ""))
    yield from (
        str(mark.visit.number),
        "yes" if one.handed_back else "no",
        mark.on.isoformat(),
        mark.words,
    )
    yield "yes" if mark.safety else "no"
    for torque in (mark.figure_nm, mark.low_nm, mark.high_nm, mark.shown_nm):
        yield "" if torque is None else f"{torque:.4g}"
    yield from (f"{one.deviation * 100:.1f}", f"{one.likely_nm:.4g}", one.words)


def _found(request: DeskRequest, key: UUID) -> recalls.FoundWrong:
    event = request.desk.get(WrenchEvent, key, "wrench")
    found = recalls.found_wrong(on_shelf(request.desk, event.wrench), event)
    if found is None:
        raise BadRequest(_("this check did not find the wrench off"))
    return found


def _context(
    request: DeskRequest, found: recalls.FoundWrong, problem: str = ""
) -> dict[str, object]:
    said = request.GET.get("page", "")
    number = min(int(said), MOST_PAGES) if said.isascii() and said.isdigit() else 1
    first = A_PAGE * max(0, number - 1)
    machines = list(found.machines()[first : first + A_PAGE + 1])
    groups = found.groups(machines[:A_PAGE])
    return {
        "found": found,
        "groups": groups,
        "left": any(mark.open for group in groups for mark in group.marks),
        "before": number - 1,
        "after": number + 1 if len(machines) > A_PAGE else 0,
        "problem": problem,
        "row": found.event.wrench,
    }
