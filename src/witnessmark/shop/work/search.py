"""Find a machine by what people remember of it."""

from __future__ import annotations

from django.db.models import Q, QuerySet, Value
from django.db.models.functions import Replace

from witnessmark.shop.models import Machine
from witnessmark.shop.scope import Desk


def machines_by(desk: Desk, words: str) -> QuerySet[Machine]:
    """Machines by plate, owner, maker, model or identification number; every word must be found."""
    rows = desk.all(Machine).select_related("owner")
    bare = Replace(Replace("plate", Value("-"), Value("")), Value(" "), Value(""))
    rows = rows.annotate(bare_plate=bare)
    for word in words.split():
        rows = rows.filter(
            Q(plate__icontains=word) | Q(bare_plate__icontains=word.replace("-", ""))
            | Q(owner__name__icontains=word) | Q(maker__icontains=word)
            | Q(model__icontains=word) | Q(identification__icontains=word)
        )  # fmt: skip
    return rows
