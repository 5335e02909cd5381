"""The two sheets of an override: "not to be ridden", and "told and declined", with the owner's signature."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from django.utils.translation import gettext as _
from PIL import Image

from witnessmark.ledger.body import Paper
from witnessmark.ledger.gates import alike
from witnessmark.ledger.state import OpenItem
from witnessmark.papers import Release
from witnessmark.papers.forms import Kept
from witnessmark.shop.models import PhotoKept
from witnessmark.shop.photos import fault, path_of
from witnessmark.shop.work.paperwork.open_items import line
from witnessmark.shop.work.paperwork.pen import NoPaperError, Pen
from witnessmark.shop.work.releasing import verdict

PAPER: dict[str, Paper] = {
    "not-ridden": "not to be ridden",
    "declined": "defect told and declined",
}
LARGEST_PX = (900, 600)  # of a signature in print


def release(pen: Pen, slug: str, item: str = "") -> Release:
    """The sheet for what was signed off by it; before that for the open item named, or for all that is open.

    Raises NoPaperError where nothing is.
    """
    paper, judged = PAPER[slug], verdict(pen.work, "hand-back")
    groups = [
        g for g in alike(judged.let_through) if g[0].override and g[0].override.paper == paper
    ]
    waiting = alike(judged.blocking)
    if item or not groups:
        groups = [g for g in waiting if not item or any(one.id == item for one in g)]
    if not groups:
        raise NoPaperError("nothing is open that this paper would be for")
    return Release(
        heading=pen.heading(),
        kind="not to be ridden" if slug == "not-ridden" else "told and declined",
        items=[_item(pen, group) for group in groups],
        signatures=[kept for group in groups if (kept := _signature(pen, group))],
    )


def _item(pen: Pen, group: Sequence[OpenItem]) -> Kept:
    """What stays as it is, and the reason somebody gave for it."""
    by = group[0].override
    why = ""
    if by is not None:
        why = _("Signed off as is by {name}: {reason}").format(
            name=pen.name(by.person), reason=by.reason
        )
    return Kept(text=line(pen, group), why=why, safety=any(one.safety for one in group))


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
