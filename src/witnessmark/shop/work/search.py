"""Find a machine by what people remember of it."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet, Value
from django.db.models.functions import Replace

from witnessmark.shop.models import Machine
from witnessmark.shop.scope import Desk


def machines_by(desk: Desk, words: str) -> QuerySet[Machine]:
    """Machines by plate, owner, maker, model or identification number; every word must be found."""
    rows: QuerySet[Machine] = _with_bare_plates(desk).select_related("owner")
    for word in words.split():
        rows = rows.filter(
            Q(plate__icontains=word) | Q(bare_plate__icontains=_bare(word))
            | Q(owner__name__icontains=word) | Q(maker__icontains=word)
            | Q(model__icontains=word) | Q(identification__icontains=word)
        )  # fmt: skip
    return rows


def of_plate(desk: Desk, plate: str) -> QuerySet[Machine]:
    """Machines with this plate, however it is spaced; none for an empty one."""
    bare = _bare(plate)
    rows: QuerySet[Machine] = _with_bare_plates(desk).filter(bare_plate__iexact=bare)
    return rows if bare else rows.none()


def _with_bare_plates(desk: Desk) -> Any:
    """Machines with `bare_plate`: the plate without blanks and hyphens."""
    bare = Replace(Replace("plate", Value("-"), Value("")), Value(" "), Value(""))
    return desk.all(Machine).annotate(bare_plate=bare)


def _bare(plate: str) -> str:
    return plate.replace("-", "").replace(" ", "")
