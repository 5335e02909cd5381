"""The one form of a book that is hashed, stored and pinned (RFC 8785), and its revision."""

from __future__ import annotations

import hashlib

import rfc8785
from pydantic_core import from_json, to_json

from witnessmark.book.model import Book
from witnessmark.kept_versions import Upcast, as_newest

UPCASTS: tuple[Upcast, ...] = ()


def canonical(book: Book) -> bytes:
    """The book as RFC 8785 JSON, with its format number; entries at their defaults are left out.

    So a revision stays the same when the format gains an optional key; changing what a default
    means takes a new format number.
    """
    return book.once(_canonical)


def _canonical(book: Book) -> bytes:
    return rfc8785.dumps(book.model_dump(mode="json", exclude_defaults=True))


def revision(book: Book) -> str:
    """SHA-256 of the canonical form, 64 hexadecimal digits."""
    return hashlib.sha256(canonical(book)).hexdigest()


def from_canonical(form: bytes) -> Book:
    """The book of a stored canonical form; `canonical` of it gives the same bytes again.

    References were checked when the form was made. Raises pydantic's ValidationError when the
    bytes are not the form of a book, KeptError for a newer format.
    """
    said = as_newest("the kept service book", from_json(form), UPCASTS)
    return Book.model_validate_json(to_json(said))
