"""The shop's wrenches as the core calculates with them: range, scale, checks, cycles; which one suits a figure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q, Sum
from django.utils import timezone

from witnessmark.facts import add_months
from witnessmark.shop.models import Shop, Wrench, WrenchDay, WrenchEvent
from witnessmark.wrenches import (
    Check,
    CrowFoot,
    Dropped,
    Fit,
    Loan,
    Point,
    ToolStatus,
    TorqueTool,
    last_renewal,
    ranked,
    tool_status,
)

LAST_MONTHS = 24  # a check that renewed a wrench in use is nearly always among them


@dataclass(frozen=True)
class OnShelf:
    """A wrench of the shop: its row, the tool as it is calculated with, how it stands today."""

    row: Wrench
    tool: TorqueTool
    standing: ToolStatus
    events: tuple[WrenchEvent, ...]
    bench_cycles: int  # since its last check, from the ledger

    @property
    def here(self) -> bool:
        """Whether it can be taken in hand: not given back, not out of use for good."""
        return self.standing.stand not in {"away", "retired"}

    def certificate(self, on: date) -> str:
        """Of the check its calibration rested on, on a day."""
        checked = last_renewal(self.tool, on)
        return next((e.certificate for e in self.events if checked and str(e.pk) == checked.id), "")


def shelf(
    shop: Shop, on: date | None = None, *, only: Wrench | None = None, history: bool = False
) -> list[OnShelf]:
    """Every wrench of the shop, in the order of its range; `only`: one of them.

    `history`: with all that happened to them, as `only` has it; else with the last of it, as far as it bears on how
    they stand on the day.
    """
    day = on or timezone.localdate()
    rows = [only] if only else list(Wrench.objects.filter(shop=shop))
    every = WrenchEvent.objects.filter(shop=shop, taken_back_at=None)
    if only:
        every = every.filter(wrench=only)
    short = not (only or history)
    events = _by_wrench(
        shop, every.filter(on__gte=add_months(day, -LAST_MONTHS)) if short else every
    )
    tools = {row.pk: tool_of(row, events[row.pk]) for row in rows}
    longer = [row for row in rows if short and not last_renewal(tools[row.pk], day)]
    if longer:  # none of the last years' events renewed it: all that happened to it bears on it
        events |= _by_wrench(shop, every.filter(wrench__in=longer))
        tools |= {row.pk: tool_of(row, events[row.pk]) for row in longer}
    cycles = _cycles(tools, day)
    return [
        on_shelf(row, tools[row.pk], events[row.pk], cycles.get(row.pk, 0), day) for row in rows
    ]


def _by_wrench(shop: Shop, rows: Iterable[WrenchEvent]) -> dict[UUID, list[WrenchEvent]]:
    """What happened to each, in turn."""
    events: dict[UUID, list[WrenchEvent]] = defaultdict(list)
    for event in rows:
        event.shop = shop  # its zone is asked for
        events[event.wrench_id].append(event)
    for some in events.values():
        some.sort(key=in_turn)
    return events


def _cycles(tools: Mapping[UUID, TorqueTool], day: date) -> dict[UUID, int]:
    """How many fasteners each wrench has made tight since its last check, from the sums of the days."""
    which = Q(pk__in=[])
    for key, tool in tools.items():
        base = last_renewal(tool, day)
        since = {"on__gte": base.on} if base else {}
        which |= Q(wrench=key, **since)
    rows = WrenchDay.objects.filter(which).order_by()
    return dict(rows.values_list("wrench").annotate(Sum("marks")))


def on_shelf(
    row: Wrench, tool: TorqueTool, events: Sequence[WrenchEvent], cycles: int, day: date
) -> OnShelf:
    """One wrench, its tool, what happened to it, in turn; `cycles`: at the bench, since its last check."""
    worn = replace(tool, cycles=cycles + row.cycles_told)
    return OnShelf(row, worn, tool_status(worn, day), tuple(events), cycles)


def tool_of(row: Wrench, events: Iterable[WrenchEvent]) -> TorqueTool:
    """The row as a torque tool; `events` in the order they happened. Raises WrenchError for what cannot be."""
    return TorqueTool(
        name=row.name,
        high_nm=row.high_nm,
        low_nm=row.low_nm,
        tool_class=row.tool_class or row.CLASS_OF[Wrench.Kind(row.kind)],
        scale_unit=row.scale_unit,
        step=row.step,
        arm_mm=row.arm_mm,
        deviation=None if row.deviation_percent is None else row.deviation_percent / 100,
        months=row.calibration_months,
        most_cycles=row.most_cycles,
        history=tuple(happened(event) for event in events),
        loan=Loan(row.back_by, row.given_back_on) if row.back_by else None,
        retired_on=row.retired_on,
        key=str(row.pk),
    )


def in_turn(event: WrenchEvent) -> tuple[date, datetime, datetime]:
    """The order in which things happened to a wrench."""
    return event.on, event.at or event.made_at, event.made_at


def happened(event: WrenchEvent) -> Check | Dropped:
    """What happened to a wrench, as the core has it."""
    if event.kind == WrenchEvent.Kind.DROPPED:
        return Dropped(event.on, str(event.pk))
    first, last = between(event)
    return Check(
        on=event.on,
        kind=event.kind,  # type: ignore[arg-type]
        points=tuple(Point(*pair) for pair in event.points),
        adjusted=event.adjusted,
        uncertainty=event.uncertainty_percent / 100,
        id=str(event.pk),
        first=first,
        last=last,
    )


def between(event: WrenchEvent) -> tuple[datetime, datetime]:
    """The instants between which it happened: its own, else its day, as far as that was over when it was written."""
    if event.at is not None:
        return event.at, event.at
    zone = ZoneInfo(event.shop.time_zone)
    begin = datetime.combine(event.on, time.min, zone)
    end = datetime.combine(event.on + timedelta(days=1), time.min, zone)
    return begin, min(end, max(event.made_at, begin))


def fits(
    wrenches: Iterable[OnShelf],
    torque_nm: float,
    *,
    low_nm: float | None = None,
    high_nm: float | None = None,
    crow_foot: CrowFoot | None = None,
) -> list[Fit]:
    """The shop's wrenches against a figure, the best first; those given back or out of use for good are left out."""
    tools = at_hand(wrenches)
    day = timezone.localdate()
    return ranked(tools, torque_nm, day, low_nm=low_nm, high_nm=high_nm, crow_foot=crow_foot)


def at_hand(wrenches: Iterable[OnShelf]) -> list[TorqueTool]:
    """Those that are here: not given back, not out of use for good."""
    return [one.tool for one in wrenches if one.here]


def to_mind(wrenches: Iterable[OnShelf]) -> list[OnShelf]:
    """Those something is to be done about: due, dropped, found wrong, overdue to their owner, or soon."""
    return [one for one in wrenches if not one.standing.quiet]
