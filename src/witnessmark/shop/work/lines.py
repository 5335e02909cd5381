"""Lines in the technician's own words, put before the owner."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from witnessmark.ledger.bodies import LineWritten, own_id
from witnessmark.shop import store
from witnessmark.shop.work import pricing
from witnessmark.shop.work.visit import Work


def written(
    work: Work, ticket: store.Ticket, body: Mapping[str, Any], *, offer: bool, place: int = 0
) -> list[store.EntryDraft]:
    """The entries of an own line, the first at a place of its form; ``offer``: it is put before the owner at once."""
    acts: list[store.EntryDraft] = [("line_written", body)]
    if offer:
        name = own_id(ticket.id_of(place))
        extra = pricing.extra_of(name, LineWritten.model_validate(dict(body)))
        sha256 = pricing.keep_estimate(work.visit.shop, pricing.supplement(work, extra=[extra]))
        acts.append(("offered", {"estimate": sha256, "lines": [name]}))
    return acts
