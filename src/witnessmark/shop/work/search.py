"""Find a machine by what people remember of it."""

from __future__ import annotations

from django.db.models import QuerySet

from witnessmark.shop.models import Machine
from witnessmark.shop.models.found_by import bare
from witnessmark.shop.scope import Desk


def machines_by(desk: Desk, words: str) -> QuerySet[Machine]:
    """Machines by plate, owner, maker, model or identification number; every word must be found, as a part of one."""
    rows: QuerySet[Machine] = desk.all(Machine).select_related("owner")
    for word in filter(None, map(bare, words.split())):
        rows = rows.filter(found_by__contains=word)
    return rows


def of_number(desk: Desk, number: str) -> QuerySet[Machine]:
    """Machines with this identification number, however it is spaced; none for an empty one."""
    rows: QuerySet[Machine] = desk.all(Machine)
    return rows.filter(found_by__contains=f"|{bare(number)}|") if bare(number) else rows.none()


def of_plate(desk: Desk, plate: str) -> QuerySet[Machine]:
    """Machines with this plate, however it is spaced; none for an empty one."""
    rows: QuerySet[Machine] = desk.all(Machine)
    return rows.filter(found_by__startswith=f"{bare(plate)}|") if bare(plate) else rows.none()
