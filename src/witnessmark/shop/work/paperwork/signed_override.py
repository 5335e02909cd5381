"""The two sheets of an override: "not to be ridden", and "told and declined", with the owner's signature."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop
from PIL import Image

from witnessmark.ledger.body import Paper
from witnessmark.ledger.gates import alike
from witnessmark.ledger.state import OpenItem
from witnessmark.papers import SignedOverride
from witnessmark.papers.contents import SignedOff
from witnessmark.shop.models import PhotoKept
from witnessmark.shop.photos import fault, path_of
from witnessmark.shop.work.hand_back import verdict
from witnessmark.shop.work.paperwork.findings import declined_in
from witnessmark.shop.work.paperwork.language_and_heading import NoPaperError, Pen
from witnessmark.shop.work.paperwork.open_items import line
from witnessmark.shop.work.visit import Work

PAPER: dict[str, Paper] = {
    "not-ridden": "not to be ridden",
    "declined": "defect told and declined",
}
LARGEST_PX = (900, 600)  # of a signature in print


def signed_override(pen: Pen, slug: str, item: str = "") -> SignedOverride:
    """The sheet for the open item named; else for what was signed off by it, before that for all it could be for:
    a machine is not to be ridden with anything open, and told and declined is what is recorded so.

    Raises NoPaperError where nothing is.
    """
    groups = _about(pen.work, slug, item)
    if not groups:
        raise NoPaperError(noop("nothing is open that this paper would be for"))
    return SignedOverride(
        heading=pen.heading(),
        kind="not to be ridden" if slug == "not-ridden" else "told and declined",
        items=[_item(pen, group) for group in groups],
        signatures=[kept for group in groups if (kept := _signature(pen, group))],
    )


def wanted(work: Work, slug: str) -> bool:
    """Whether there is anything the sheet would be for."""
    return bool(_about(work, slug))


def _about(work: Work, slug: str, item: str = "") -> list[list[OpenItem]]:
    judged = verdict(work, "hand-back")
    if item:
        return [g for g in alike(judged.blocking) if any(one.id == item for one in g)]
    signed = [
        one for one in judged.let_through if one.override and one.override.paper == PAPER[slug]
    ]
    could = [one for one in judged.blocking if slug != "declined" or _declined(work, one)]
    return alike(signed or could)


def _declined(work: Work, item: OpenItem) -> bool:
    found = next((one for one in work.state.findings if one.entry == item.key.name), None)
    return bool(found and declined_in(work, found))


def _item(pen: Pen, group: Sequence[OpenItem]) -> SignedOff:
    """What stays as it is, and the reason somebody gave for it."""
    by = group[0].override
    why = ""
    if by is not None:
        why = _("Signed off as is by {name}: {reason}").format(
            name=pen.name(by.person), reason=by.reason
        )
    return SignedOff(text=line(pen, group), why=why, safety=any(one.safety for one in group))


def _signature(pen: Pen, group: Sequence[OpenItem]) -> list[int]:
    """The picture of the owner's signature as the bytes of a JPEG; none where it is not there any more."""
    by = group[0].override
    row = (
        pen.desk.all(PhotoKept).filter(sha256=by.signature, erased_on=None).first() if by else None
    )
    if row is None or fault(row):
        return []
    with Image.open(path_of(row.sha256)) as photo:
        small = photo.convert("L")
    small.thumbnail(LARGEST_PX)
    out = BytesIO()
    small.save(out, "JPEG", quality=70, optimize=True)
    return list(out.getvalue())
