"""Who may do what: one table by address, one by kind of entry, and the rule for taking an entry back.

Each role may do all that the one below it may. `DeskMiddleware` asks `AT` before any page is made; the store asks
`WRITES`, gathered from `written_by` of each kind in `ledger/kinds/`, before any entry is written, so what an address
forgets the store still refuses.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import PermissionDenied
from django.utils.translation import gettext as _

from witnessmark.ledger.bodies import BODIES
from witnessmark.shop.models import Member

HELPER, TECHNICIAN, HEAD = (
    str(role.value) for role in (Member.Role.HELPER, Member.Role.TECHNICIAN, Member.Role.HEAD)
)
RANK = {HELPER: 0, TECHNICIAN: 1, HEAD: 2}
SAFE = {"GET", "HEAD", "OPTIONS"}

# By the name of the address: from which role on it may be seen (GET), and used (POST). None: it has no such method.
AT: dict[str, tuple[str | None, str | None]] = {
    "today": (HELPER, None),
    "waits": (HELPER, None),
    "visit-waits": (HELPER, None),
    "board": (HELPER, None),
    "board-sheet": (HELPER, None),
    "machines": (HELPER, None),
    "number-told": (HELPER, None),
    "tyre-told": (HELPER, None),
    "machine": (HELPER, None),
    "machine-edit": (TECHNICIAN, TECHNICIAN),
    "owner-edit": (TECHNICIAN, TECHNICIAN),
    "owner-erase": (HEAD, HEAD),
    "arrive": (TECHNICIAN, TECHNICIAN),
    "arrival": (HELPER, TECHNICIAN),
    "arrival-book": (None, TECHNICIAN),
    "needs": (HELPER, TECHNICIAN),
    "price": (TECHNICIAN, None),
    "price-offer": (None, TECHNICIAN),
    "price-answers": (None, TECHNICIAN),
    "price-change": (None, TECHNICIAN),
    "price-brought": (None, TECHNICIAN),
    "price-limit": (None, TECHNICIAN),
    "price-rest": (TECHNICIAN, None),
    "price-estimate": (TECHNICIAN, None),
    "order": (HELPER, None),
    "order-take": (None, TECHNICIAN),
    "order-stands": (None, TECHNICIAN),
    "order-saving": (HELPER, None),
    "order-wish": (HELPER, None),
    "order-moments": (HELPER, None),
    "bench": (HELPER, None),
    "bench-confirm": (None, HELPER),
    "bench-read": (HELPER, None),
    "bench-skip": (None, TECHNICIAN),
    "bench-leave": (None, TECHNICIAN),
    "bench-stop-wait": (None, HELPER),
    "bench-undo": (None, HELPER),  # each entry by `may_take_back`
    "bench-order": (None, HELPER),
    "bench-wont": (None, HELPER),
    "bench-found": (None, HELPER),
    "bench-note": (None, HELPER),
    "bench-settle": (None, TECHNICIAN),
    "bench-judge": (None, TECHNICIAN),
    "bench-owner": (TECHNICIAN, TECHNICIAN),
    "bench-mend": (None, TECHNICIAN),
    "figures": (HELPER, None),
    "figure": (HELPER, None),
    "figure-look": (HELPER, None),
    "figure-set": (None, TECHNICIAN),
    "figure-same": (None, TECHNICIAN),
    "figure-confirm": (None, HELPER),  # a second pair of eyes is one that did not type it
    "bench-mend-price": (TECHNICIAN, None),
    "own-line": (TECHNICIAN, TECHNICIAN),
    "own-strike": (None, TECHNICIAN),
    "own-opened": (HELPER, HELPER),  # whoever opens it says so
    "repair": (TECHNICIAN, TECHNICIAN),
    "repair-step": (TECHNICIAN, TECHNICIAN),
    "repair-keep": (TECHNICIAN, TECHNICIAN),
    "complaint": (HELPER, TECHNICIAN),
    "codes": (HELPER, HELPER),
    "codes-cleared": (None, HELPER),
    "codes-undo": (None, HELPER),  # each entry by `may_take_back`
    "shims": (HELPER, None),
    "shims-fit": (None, HELPER),
    "handback": (HELPER, None),
    "handback-road-test": (None, TECHNICIAN),
    "handback-return": (None, TECHNICIAN),
    "handback-override": (TECHNICIAN, TECHNICIAN),
    "handback-look": (None, HELPER),  # a second pair of eyes is one that did not do the work
    "handback-alone": (None, TECHNICIAN),
    "handback-walk": (None, TECHNICIAN),
    "handback-close": (None, TECHNICIAN),
    "handback-leave": (None, TECHNICIAN),
    "handback-take-back": (None, TECHNICIAN),
    "invoice": (TECHNICIAN, None),
    "invoice-line": (TECHNICIAN, TECHNICIAN),
    "invoice-extra": (TECHNICIAN, TECHNICIAN),
    "invoice-consent": (None, TECHNICIAN),
    "invoice-take-off": (None, TECHNICIAN),
    "invoice-issue": (None, TECHNICIAN),
    "invoice-advance": (None, TECHNICIAN),
    "invoice-cancel": (None, TECHNICIAN),
    "invoice-receipt": (None, TECHNICIAN),
    "invoice-document": (TECHNICIAN, None),
    "invoice-data": (TECHNICIAN, None),
    "invoice-pay": (None, TECHNICIAN),
    "invoice-pay-off": (None, TECHNICIAN),  # each entry by `may_take_back`
    "invoice-write-off": (None, HEAD),
    "owed": (TECHNICIAN, None),
    "papers": (HELPER, None),
    "paper": (HELPER, None),
    "photo": (HELPER, None),
    "settings": (HELPER, HEAD),
    "settings-money": (HEAD, HEAD),
    "settings-invoices": (HEAD, HEAD),
    "room": (HEAD, HEAD),
    "person": (HEAD, HEAD),
    "person-new": (HEAD, HEAD),
    "person-retire": (HEAD, HEAD),
    "person-password": (HEAD, HEAD),
    "own-password": (HELPER, HELPER),
    "changes": (HEAD, None),
    "backup": (HEAD, HEAD),
    "backup-now": (None, HEAD),
    "packs": (HELPER, None),
    "pack-new": (TECHNICIAN, TECHNICIAN),  # without its price, which is the head's
    "pack": (TECHNICIAN, TECHNICIAN),
    "prices": (HEAD, None),
    "prices-common": (HEAD, HEAD),
    "prices-book": (HEAD, HEAD),
    "wrenches": (HELPER, None),
    "wrench-new": (TECHNICIAN, TECHNICIAN),
    "wrench": (HELPER, None),
    "wrench-change": (TECHNICIAN, TECHNICIAN),
    "wrench-check": (TECHNICIAN, TECHNICIAN),
    "wrench-dropped": (None, HELPER),  # whoever drops it says so
    "wrench-given-back": (None, TECHNICIAN),
    "wrench-event-take-back": (None, TECHNICIAN),
    "wrench-event-time": (TECHNICIAN, TECHNICIAN),
    "wrench-doubt": (HELPER, TECHNICIAN),
    "wrench-doubt-csv": (HELPER, None),
    "waste": (HELPER, None),
    "waste-csv": (HELPER, None),
    "waste-new": (TECHNICIAN, TECHNICIAN),
    "waste-container": (HELPER, None),
    "waste-change": (TECHNICIAN, TECHNICIAN),
    "waste-put-in": (HELPER, HELPER),
    "waste-collected": (TECHNICIAN, TECHNICIAN),
    "waste-take-back": (None, TECHNICIAN),
    "shim-box": (HELPER, None),
    "shim-new": (TECHNICIAN, TECHNICIAN),
    "shim": (TECHNICIAN, TECHNICIAN),
    "books": (HELPER, None),
    "book": (HELPER, None),
    "book-new": (TECHNICIAN, TECHNICIAN),
    "book-new-look": (TECHNICIAN, None),
    "book-build": (TECHNICIAN, TECHNICIAN),
    "book-build-look": (TECHNICIAN, None),
    "book-add": (TECHNICIAN, TECHNICIAN),
    "book-send": (TECHNICIAN, TECHNICIAN),
    "book-take-in": (TECHNICIAN, TECHNICIAN),
    "book-figures": (TECHNICIAN, TECHNICIAN),
    "book-look": (HELPER, None),
    "book-job": (HELPER, None),
    "book-step": (HELPER, None),
    "book-change": (TECHNICIAN, TECHNICIAN),
    "book-text": (TECHNICIAN, TECHNICIAN),
    "calculators": (HELPER, None),
    "calculator": (HELPER, None),
    "visit-calculators": (HELPER, None),
    "visit-calculator": (HELPER, None),
    "understood": (HELPER, None),
    "sign-in": (HELPER, HELPER),  # and whoever is not signed in
    "open-shop": (HELPER, HELPER),  # while nobody can sign in
    "sign-out": (None, HELPER),
    "look": (None, HELPER),
}

# By the kind of an entry: from which role on it may be written, by whatever address.
WRITES: dict[str, str] = {kind: body.written_by for kind, body in BODIES.items()}
GATES = {"road test": TECHNICIAN, "hand-back": TECHNICIAN}  # who answers for the machine outside


class RefusedError(PermissionDenied):
    """Something that the person's role may not do; `least`: from which role on it may be done."""

    def __init__(self, least: str, problem: str = "") -> None:
        self.least, self.problem = least, problem or _("You may not do this.")
        super().__init__(self.problem)


def least_at(address: str | None, method: str) -> str:
    """From which role on an address may be used so. What the table does not name is the head's."""
    see, do = AT.get(address or "", (HEAD, HEAD))
    return (see if method in SAFE else do) or HELPER


def may(role: str, address: str, method: str = "POST") -> bool:
    """Whether a role may use an address."""
    return RANK[role] >= RANK[least_at(address, method)]


def least_for(kind: str, body: Mapping[str, Any]) -> str:
    """From which role on an entry may be written; kinds the table does not name are the head's."""
    if kind == "gate_passed":  # passed by, for a reason, it is the technician's, too
        return TECHNICIAN if body.get("because") else GATES.get(str(body.get("gate")), HELPER)
    return WRITES.get(kind, HEAD)


def may_write(role: str, kind: str, body: Mapping[str, Any]) -> bool:
    """Whether a role may write an entry."""
    return RANK[role] >= RANK[least_for(kind, body)]


def refuse_entry(
    role: str, kind: str, body: Mapping[str, Any], of: tuple[str, Mapping[str, Any]] | None
) -> None:
    """Raise RefusedError unless the role may write this; `of`: kind and body of the entry it corrects."""
    least = max((least_for(*one) for one in ((kind, body), of) if one), key=RANK.__getitem__)
    if RANK[role] < RANK[least]:
        raise RefusedError(least, _("You may not record this."))


def may_take_back(by: Member, kind: str, body: Mapping[str, Any], author: Member | None) -> bool:
    """Who may take an entry back: its author, as far as the role writes such entries; a technician a helper's
    and a retired person's, too; the head everybody's.
    """  # fmt: skip
    if not may_write(by.role, kind, body):
        return False
    if by.role == HEAD or (author is not None and author.pk == by.pk):
        return True
    gone = author is None or author.role == HELPER or not author.user.is_active
    return by.role == TECHNICIAN and gone
