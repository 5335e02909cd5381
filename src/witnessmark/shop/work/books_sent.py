"""Books sent to another shop and taken in from one: the shop's key, whom it knows, what a file would change here."""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _

from witnessmark.book import Book, BookErrors, load_book_text, parcel, received
from witnessmark.book.figures_written import Entries, with_figures
from witnessmark.book.parcel import Parcel, ParcelError, SentBook, fingerprint
from witnessmark.ledger import system
from witnessmark.ledger.anchor import AnchorError, public_key
from witnessmark.shop import content_store, photos
from witnessmark.shop.models import KnownSender, Member, PhotoKept, Shop, StoredBook


@dataclass(frozen=True)
class BookLook:
    """One book of a file, beside the one of that name here."""

    sent: SentBook
    book: Book | None  # as put together here
    stored: StoredBook | None  # the one here
    ours: str  # its text, "" where none is here
    theirs: str  # its text as it would be taken in
    gaps: tuple[str, ...] = ()
    differences: tuple[received.Difference, ...] = ()
    other_blocks: tuple[str, ...] = ()  # what it rests on there, which says something else here
    fault: str = ""  # why it cannot be used here

    @property
    def brings(self) -> bool:
        """Whether there is anything to take in."""
        return not self.fault and (self.stored is None or bool(self.gaps) or bool(self.differences))

    @property
    def shown(self) -> str:
        """The revision here that it was compared with."""
        return self.stored.current.sha256 if self.stored else ""


@dataclass(frozen=True)
class Looked:
    """What a file brings, and who sent it."""

    parcel: Parcel
    known: KnownSender | None
    others: tuple[KnownSender, ...]  # of the same name, with another key
    books: tuple[BookLook, ...]
    photos: Mapping[str, photos.Made]  # of pages, by the hash that the file names
    spoilt: int  # of them no picture: left out

    @property
    def name(self) -> str:
        """What its sender is called here."""
        return self.known.name if self.known else self.parcel.shop

    @property
    def digits(self) -> str:
        """What is compared on the telephone."""
        return fingerprint(self.parcel.key)

    @property
    def at(self) -> datetime:
        """When it was sent, as the file says."""
        return datetime.fromisoformat(self.parcel.at)


def own_key(shop: Shop) -> Ed25519PrivateKey:
    """The key that the shop signs with, made at its first use; readable by its owner alone. Raises AnchorError."""
    path = Path(settings.HOME) / "keys" / f"books-{shop.pk}.pem"
    if not path.exists():
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            return system.new_key(path)
        except AnchorError:  # made by somebody else a moment ago
            pass
    return system.load_key(path)


def own_digits(shop: Shop) -> str:
    """What the other shop compares on the telephone."""
    return fingerprint(public_key(own_key(shop)))


class Packed(NamedTuple):
    """A signed file, and how many photos of pages had no room in it."""

    raw: bytes
    left_out: int


def file_of(
    member: Member, books: Iterable[StoredBook], at: datetime, *, pages: bool = True
) -> Packed:
    """The signed file with these books; `pages`: with photos of them. Raises BookErrors, ParcelError, AnchorError."""
    shop = member.shop
    instant = at.astimezone(UTC).replace(microsecond=0, tzinfo=None).isoformat() + "Z"
    texts = [text_to_send(shop, stored) for stored in books]
    sent: dict[str, bytes] = {}
    left_out = 0
    for place, text in enumerate(texts if pages else ()):
        texts[place], more = _with_photos(shop, text, sent)
        left_out += more
    return Packed(
        parcel.sealed(shop.name, str(member), instant, texts, own_key(shop), sent), left_out
    )


def _with_photos(shop: Shop, text: str, sent: dict[str, bytes]) -> tuple[str, int]:
    """A text that names the photos as they are sent, with these put among `sent`; and how many had no room."""
    named = {name: one.photo for name, one in load_book_text(text).figures.items() if one.photo}
    rows = {row.sha256: row for row in PhotoKept.of(shop).filter(sha256__in=named.values())}
    changes: dict[str, Entries] = {}
    left_out = 0
    for name, kept in named.items():
        raw = photos.to_send(rows[kept]) if kept in rows else None
        sha256 = hashlib.sha256(raw).hexdigest() if raw else ""
        full = sum(map(len, sent.values())) + len(raw or b"") > parcel.MOST_PHOTOS
        if raw and sha256 not in sent and (full or len(raw) > parcel.MOST_PHOTO):
            left_out += 1
            continue
        changes[name] = {"photo": sha256 or None}
        if raw:
            sent[sha256] = raw
    return (with_figures(text, changes) if changes else text), left_out


def text_to_send(shop: Shop, stored: StoredBook) -> str:
    """The text of a book that stands by itself: as written, else whole, where it extends a file of its own."""
    whole = content_store.book_of(shop, stored.current.sha256)
    try:
        if stored.text and load_book_text(stored.text) == whole:
            return stored.text
    except BookErrors:
        pass
    return content_store.whole_text(whole)


def look(shop: Shop, raw: bytes) -> Looked:
    """What a file would bring. Writes nothing. Raises ParcelError where it cannot be used at all."""
    said = parcel.opened(raw)
    senders = list(KnownSender.of(shop))
    known = next((one for one in senders if one.key == said.key), None)
    name = known.name if known else said.shop
    here = {row.name: row for row in StoredBook.of(shop).select_related("current")}
    pages = {}
    for sha256, raw_photo in parcel.photos_in(said).items():
        with suppress(photos.PhotoError):
            pages[sha256] = photos.made(BytesIO(raw_photo))
    hashes = {sha256: page.sha256 for sha256, page in pages.items()}
    return Looked(
        said,
        known,
        tuple(one for one in senders if one.key != said.key and one.name == said.shop),
        tuple(_look(shop, one, here.get(one.name), name, hashes) for one in said.books),
        pages,
        len(said.photos) - len(pages),
    )


def _look(
    shop: Shop, sent: SentBook, stored: StoredBook | None, sender: str, pages: Mapping[str, str]
) -> BookLook:
    try:
        book = load_book_text(sent.text, sent.name)
        if book.name != sent.name or book.archetype:
            problem = _("the text is of another book, “{name}”").format(name=book.name)
            return BookLook(sent, None, stored, "", "", fault=problem)
        theirs = received.as_received(sent.text, sender, pages)
        ours = text_to_send(shop, stored) if stored else ""
        both = received.compared(ours, theirs) if stored else received.Compared([], [])
    except BookErrors as errors:
        return BookLook(sent, None, stored, "", "", fault=str(errors))
    rests_on = parcel.rests_on(sent.text, book)
    other = [name for name, was in sent.rests_on.items() if rests_on.get(name) != was]
    return BookLook(
        sent, book, stored, ours, theirs, tuple(both.gaps), tuple(both.differences), tuple(other)
    )


@transaction.atomic
def take_in(
    shop: Shop, looked: Looked, wanted: Collection[str], chosen: Mapping[str, Collection[str]]
) -> list[StoredBook]:
    """Take in the wanted books of a file (by name): a new one whole, of one that is here what is missing and `chosen`.

    `chosen`: by book, the differences that shall be as the sender has them. Raises BookErrors, and keeps nothing then.
    """
    kept = []
    for one in looked.books:
        if one.sent.name in wanted and one.brings:
            text = one.theirs
            if one.stored is not None:
                text = received.taken(one.ours, one.theirs, chosen.get(one.sent.name, ()))
            if text != one.ours:
                book = load_book_text(text, one.sent.name)
                kept.append(content_store.keep_book(shop, book, text))
                named = {figure.photo for figure in book.figures.values()}
                for page in looked.photos.values():
                    if page.sha256 in named:
                        photos.put(shop, page)
    return kept


def remember(shop: Shop, looked: Looked, name: str) -> KnownSender:
    """Remember the sender of a file by name: somebody compared the digits with that shop."""
    row = KnownSender.of(shop).filter(key=looked.parcel.key).first()
    row = row or KnownSender(shop=shop, key=looked.parcel.key)
    row.name = name
    row.save()
    return row


def as_field(raw: bytes) -> str:
    """A file as a form carries it on."""
    return base64.urlsafe_b64encode(raw).decode("ascii")


def from_field(text: str) -> bytes:
    """The file that a form carried on. Raises ParcelError."""
    try:
        return base64.urlsafe_b64decode(text.encode("ascii"))
    except (binascii.Error, UnicodeEncodeError, ValueError):
        raise ParcelError("the file", "did not come along whole", "choose it once more") from None
