"""Verify what is kept under its hash, and the report that all verifying adds to."""

from collections import Counter
from dataclasses import dataclass, field
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Model
from pydantic_core import from_json

from witnessmark.book.revision import UPCASTS as BOOKS
from witnessmark.invoice.issued import UPCASTS as DOCUMENTS
from witnessmark.kept_versions import KeptError, Upcast, as_newest
from witnessmark.ledger.anchor import Anchor
from witnessmark.ledger.verify import VerifyFault
from witnessmark.money.estimate import UPCASTS as ESTIMATES
from witnessmark.shop import content_store, photos
from witnessmark.shop.models import (
    BookRevision,
    DocumentKept,
    EstimateKept,
    KeptContent,
    PhotoKept,
    PlanKept,
    Shop,
    Visit,
)
from witnessmark.shop.work.planned import UPCASTS as PLANS

UPCASTS: dict[type[KeptContent], tuple[Upcast, ...]] = {
    BookRevision: BOOKS,
    EstimateKept: ESTIMATES,
    PlanKept: PLANS,
    DocumentKept: DOCUMENTS,
}
WORDS: dict[Any, str] = {PhotoKept: "photo", **content_store.WORDS}  # by model
CHECKED = (  # the rest is said where there is any
    "visits", "entries", "seals", "kept documents", "photos", "rows that follow from them", "anchors",
    "acknowledged heads",
)  # fmt: skip
RESTORE = "restore it from a backup, and find out who could change it"


class VisitFault(NamedTuple):
    """A fault, and the visit it is of; None for what is of none."""

    visit: Visit | None
    fault: VerifyFault


@dataclass
class Report:
    """What was found, and in numbers what was looked at."""

    told: list[VisitFault] = field(default_factory=list)
    checked: Counter[str] = field(default_factory=lambda: Counter(dict.fromkeys(CHECKED, 0)))

    @property
    def sound(self) -> bool:
        """Whether there is no grave fault."""
        return not any(one.fault.grave for one in self.told)


def sound_content(
    report: Report, shop: Shop | None, since: Anchor | None
) -> dict[type[Model], set[tuple[UUID, str]]]:
    """What is here as it was kept, by shop and hash; the rest is told."""
    sound: dict[type[Model], set[tuple[UUID, str]]] = {}
    models: list[type[KeptContent | PhotoKept]] = [*UPCASTS, PhotoKept]
    for model in models:
        rows = model._default_manager.filter(**({"shop": shop} if shop else {}))
        here = sound[model] = set()
        if since:
            older = rows.filter(kept_at__lte=since.at)
            here.update(older.values_list("shop_id", "sha256"))
            rows = rows.filter(kept_at__gt=since.at)
            report.checked["documents and photos kept before the last anchor, not read"] += len(
                here
            )
        for row in rows.iterator(chunk_size=50):
            fault = _photo(row) if isinstance(row, PhotoKept) else _document(row)
            erased = isinstance(row, PhotoKept) and row.erased_on is not None
            what = "photos" if model is PhotoKept else "kept documents"
            report.checked["photos erased, with a reason" if erased else what] += 1
            if fault is None:
                here.add((row.shop_id, row.sha256))
            else:
                report.told.append(VisitFault(None, fault))
    return sound


def _document(row: KeptContent) -> VerifyFault | None:
    place = f"{WORDS[type(row)]} {row.sha256}"
    if not content_store.is_itself(row):
        return VerifyFault(place=place, problem="was changed since it was kept", expected=RESTORE)
    try:
        as_newest(place, from_json(bytes(row.content)), UPCASTS[type(row)])
    except KeptError as error:
        return VerifyFault(place=place, problem=error.problem, expected=error.expected)
    except ValueError as error:
        return VerifyFault(place=place, problem=f"cannot be read: {error}", expected=RESTORE)
    return None


def _photo(row: PhotoKept) -> VerifyFault | None:
    """An erased photo has left its hash and a note: that is sound."""
    problem = "" if row.erased_on else photos.fault(row)
    return (
        VerifyFault(place=f"photo {row.sha256}", problem=problem, expected=RESTORE)
        if problem
        else None
    )
