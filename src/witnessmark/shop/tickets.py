"""Tickets: what a form carries so that it is stored once, and so that its entries belong together."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import HttpRequest
from django.utils.translation import gettext_lazy

from witnessmark import ledger

LONGEST_SEEN = 20_000  # characters: some four hundred devices on one visit
NO_TICKET = gettext_lazy("This form came without its ticket")


@dataclass(frozen=True)
class Ticket:
    """What a form carries: the id its first entry gets, and what its page had seen."""

    entry_id: str
    seen: Mapping[str, int] | None = None

    def id_of(self, place: int) -> str:
        """The id of the entry at a place of the form; the same form gives the same ids."""
        if place == 0:
            return self.entry_id
        chance = hashlib.sha256(f"{self.entry_id}/{place}".encode()).digest()
        milliseconds = UUID(self.entry_id).int >> 80
        return ledger.new_entry_id(milliseconds, int.from_bytes(chance) & (1 << 74) - 1)


def ticket_of(request: HttpRequest) -> Ticket:
    """The ticket of a posted form. Raises BadRequest (400) for one that no page of ours made."""
    try:
        given = UUID(request.POST["entry_id"])
        ticket = Ticket(str(given), _read_seen(request.POST["seen"]))
    except (KeyError, ValueError, TypeError, AttributeError, RecursionError) as error:
        raise BadRequest(NO_TICKET) from error
    if given.version != 7:
        raise BadRequest(NO_TICKET)
    return ticket


def write_seen(seen: Mapping[str, int]) -> str:
    """Heads as the hidden field of a form has them."""
    return json.dumps(seen, separators=(",", ":"))


def newest_forms(entries: Sequence[ledger.Entry]) -> Iterator[list[ledger.Entry]]:
    """The entries of a visit, those of one form together, as their ids tell: the newest form first."""
    # the time at the head of the ids is the same in one form: no more is read than is asked for
    for _, run in groupby(reversed(entries), key=lambda entry: entry.id[:13]):
        yield from reversed(_of_one_form([*run][::-1]))


def _of_one_form(entries: Iterable[ledger.Entry]) -> list[list[ledger.Entry]]:
    forms: list[list[ledger.Entry]] = []
    for entry in entries:
        if forms and entry.id == Ticket(forms[-1][0].id).id_of(len(forms[-1])):
            forms[-1].append(entry)
        else:
            forms.append([entry])
    return forms


def _read_seen(text: str) -> dict[str, int]:
    if len(text) > LONGEST_SEEN:
        raise ValueError("longer than any page writes it")
    seen = json.loads(text, parse_float=_refuse, parse_constant=_refuse)
    if not all(type(number) is int and 0 <= number < 2**53 for number in seen.values()):
        raise ValueError("a sequence number is a whole number")
    return {str(UUID(device)): number for device, number in seen.items()}


def _refuse(text: str) -> float:
    raise ValueError(f"{text} is no whole number")
