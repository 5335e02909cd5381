"""Find a machine by what people remember of it."""

from __future__ import annotations

from django.db.models import QuerySet, Value
from django.db.models.functions import StrIndex

from witnessmark.shop.models import Machine
from witnessmark.shop.models.found_by import bare
from witnessmark.shop.scope import Desk


def machines_by(desk: Desk, words: str) -> QuerySet[Machine]:
    """Machines by plate, owner, maker, model or identification number; every word must be found, as a part of one."""
    rows = desk.all(Machine).select_related("owner")
    for word in filter(None, map(bare, words.split())):
        rows = rows.alias(at=_place_of(word)).filter(at__gt=0)
    return rows


def of_number(desk: Desk, number: str) -> QuerySet[Machine]:
    """Machines with this identification number, however it is spaced; none for an empty one."""
    rows = desk.all(Machine).alias(at=_place_of(f"|{bare(number)}|"))
    return rows.filter(at__gt=0) if bare(number) else rows.none()


def of_plate(desk: Desk, plate: str) -> QuerySet[Machine]:
    """Machines with this plate, however it is spaced; none for an empty one."""
    rows = desk.all(Machine).alias(at=_place_of(f"{bare(plate)}|"))
    return rows.filter(at=1) if bare(plate) else rows.none()


def _place_of(text: str) -> StrIndex:
    """Where it stands in what a machine is found by, from 1; 0: nowhere. Several times as fast as LIKE on SQLite."""
    return StrIndex("found_by", Value(text))
