"""Find a machine by what people remember of it."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet, Value
from django.db.models.functions import Replace

from witnessmark.shop.models import Machine, Owner
from witnessmark.shop.scope import Desk


def machines_by(desk: Desk, words: str) -> QuerySet[Machine]:
    """Machines by plate, owner, maker, model or identification number; every word must be found."""
    rows: QuerySet[Machine] = _with_bare(desk, "plate").select_related("owner")
    for word in words.split():
        owners = desk.all(Owner).filter(
            name__icontains=word
        )  # looked at once, not for each machine
        rows = rows.filter(
            Q(bare__icontains=_bare(word)) | Q(owner__in=owners) | Q(maker__icontains=word)
            | Q(model__icontains=word) | Q(identification__icontains=word)
        )  # fmt: skip
    return rows


def of_number(desk: Desk, number: str) -> QuerySet[Machine]:
    """Machines with this identification number, however it is spaced; none for an empty one."""
    bare = _bare(number)
    rows: QuerySet[Machine] = _with_bare(desk, "identification").filter(bare__iexact=bare)
    return rows if bare else rows.none()


def of_plate(desk: Desk, plate: str) -> QuerySet[Machine]:
    """Machines with this plate, however it is spaced; none for an empty one."""
    bare = _bare(plate)
    rows: QuerySet[Machine] = _with_bare(desk, "plate").filter(bare__iexact=bare)
    return rows if bare else rows.none()


def _with_bare(desk: Desk, column: str) -> Any:
    """Machines with `bare`: a column without blanks and hyphens."""
    bare = Replace(Replace(column, Value("-"), Value("")), Value(" "), Value(""))
    return desk.all(Machine).annotate(bare=bare)


def _bare(plate: str) -> str:
    return plate.replace("-", "").replace(" ", "")
