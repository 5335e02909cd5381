"""Who works: the shop's people as the planner knows them, with skills and shifts from a minute on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from witnessmark.planner import Technician
from witnessmark.shop.models import Member
from witnessmark.shop.scope import Desk

DAYS = 14  # how far shifts are laid out
FURTHEST = timedelta(days=365)  # from now that a plan is asked to begin
STEP = 5  # minutes: a plan made a moment later begins at the same time, and is the same plan


@dataclass(frozen=True)
class Crew:
    """Technicians, and how many minutes of the day are gone when their plan begins (0: of no matter)."""

    technicians: tuple[Technician, ...]
    clock: float = 0.0


ONE = Crew((Technician(name="A"),))


def people(desk: Desk) -> list[Member]:
    """Who of the shop is planned with, by name."""
    rows = desk.all(Member).filter(at_the_bench=True, user__is_active=True)
    return list(rows.select_related("user").order_by("user__first_name", "user__username"))


def crew_of(members: Sequence[Member], begin: datetime) -> Crew:
    """These people, their shifts counted from ``begin`` (in the shop's zone)."""
    names = Counter(str(member) for member in members)
    made = tuple(
        Technician(
            name=f"{member} ({member.user.get_username()})" if names[str(member)] > 1 else str(member),
            skills=None if member.does_everything else tuple(member.skills),
            shifts=tuple(_shifts(member, begin)) if member.hours else None,
        )
        for member in members
    )  # fmt: skip
    timed = any(one.shifts is not None for one in made)
    return Crew(made, float(begin.hour * 60 + begin.minute) if timed else 0.0)


def _shifts(member: Member, begin: datetime) -> Iterator[tuple[float, float]]:
    midnight = begin.replace(hour=0, minute=0)
    gone = begin.hour * 60 + begin.minute
    for day in range(DAYS):
        if (midnight + timedelta(days=day)).weekday() in member.weekdays:
            for start, end in member.hours:
                since, until = start + 1440 * day - gone, end + 1440 * day - gone
                if until > 0:
                    yield float(max(0, since)), float(until)


def beginning(asked: str = "") -> datetime:
    """The instant a plan begins: as asked (ISO 8601), else now, to whole five minutes.

    Example: ``2026-11-25T14:05``.
    """
    zone = timezone.get_current_timezone()
    try:
        at = datetime.fromisoformat(asked)
        at = at.astimezone(zone) if at.tzinfo else at.replace(tzinfo=zone)
    except (ValueError, OverflowError):
        at = timezone.localtime()
    if abs(at - timezone.now()) > FURTHEST:
        at = timezone.localtime()
    return at.replace(minute=at.minute - at.minute % STEP, second=0, microsecond=0)
