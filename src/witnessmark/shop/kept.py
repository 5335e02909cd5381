"""Documents kept by their hash: pinned books, plans taken, estimates shown."""

import hashlib
from functools import lru_cache
from uuid import UUID

from django.db import IntegrityError, transaction

from witnessmark import book as books
from witnessmark.book import Book
from witnessmark.shop.models import BookRevision, KeptContent, Shop, StoredBook


def keep(shop: Shop, model: type[KeptContent], content: bytes) -> str:
    """Keep the bytes once per shop; return their SHA-256."""
    sha256 = hashlib.sha256(content).hexdigest()
    rows = model._default_manager.filter(shop=shop, sha256=sha256)
    if not rows.exists():
        try:
            with transaction.atomic():
                model(shop=shop, sha256=sha256, content=content).save(force_insert=True)
        except IntegrityError:  # somebody kept the same between the look and the insert
            if not rows.exists():
                raise
    return sha256


def content(shop: Shop, model: type[KeptContent], sha256: str) -> bytes:
    """The bytes kept under a hash. Raises `model.DoesNotExist`."""
    return bytes(model._default_manager.get(shop=shop, sha256=sha256).content)


def keep_book(shop: Shop, book: Book, text: str = "") -> StoredBook:
    """Keep a book's revision and make it the current one of its name. `text`: its TOML as written."""
    sha256 = keep(shop, BookRevision, books.canonical(book))
    current = BookRevision.objects.get(shop=shop, sha256=sha256)
    stored, _ = StoredBook.objects.update_or_create(
        shop=shop,
        name=book.name,
        defaults={"title": book.title, "text": text, "current": current},
    )
    return stored


def book_of(shop: Shop, revision: str) -> Book:
    """The book of a kept revision. Raises `BookRevision.DoesNotExist`."""
    return _book(shop.pk, revision)


@lru_cache(maxsize=64)
def _book(shop_id: UUID, revision: str) -> Book:
    """A revision never changes, so it is read once."""
    row = BookRevision.objects.get(shop_id=shop_id, sha256=revision)
    return books.from_canonical(bytes(row.content))
