"""Books on their way from one shop to another: one signed file, and what is read from it.

The file is one JSON document (RFC 8259) in the form of RFC 8785, so the same books, sender and instant give the same
bytes. It is signed with an Ed25519 key (RFC 8032) over that form of all it says but the signature. It holds no path and
no archive: what is read from it are texts, and photos of the pages that figures were read on, by their SHA-256.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import tomllib
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Annotated, Any, Literal

import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from pydantic import AfterValidator, Field, StringConstraints, ValidationError
from pydantic_core import from_json

from witnessmark.book import vocabulary
from witnessmark.book.errors import dotted
from witnessmark.book.fields import Id
from witnessmark.book.load import load_book, load_book_text
from witnessmark.book.model import Book
from witnessmark.book.revision import revision
from witnessmark.book.system import archetypes
from witnessmark.errors import WitnessError
from witnessmark.frozen import FrozenModel
from witnessmark.kept_versions import KeptError, as_newest

MOST_BYTES = 3_000_000  # of a file; the texts of some fifty books
MOST_BOOKS = 20
MOST_PHOTO = 400_000  # bytes of one: a page is read well at 1280 pixels
MOST_PHOTOS = (
    1_500_000  # bytes of all in a file: two thirds of it in base64, the rest for its texts
)
BLOCKS = 5, 5  # of a fingerprint: so many blocks of so many digits, 83 bits


def _printable(text: str) -> str:
    if not text.isprintable():
        raise ValueError("it holds a sign that cannot be printed")
    return text


Hash = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Signature = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{128}$")]
Instant = Annotated[
    str,
    StringConstraints(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$"),
    AfterValidator(lambda text: datetime.fromisoformat(text) and text),
]
Line = Annotated[
    str,
    StringConstraints(strip_whitespace=True, min_length=1, max_length=200),
    AfterValidator(_printable),
]


NO_PHOTOS: Mapping[str, bytes] = {}


class ParcelError(WitnessError):
    """A file of books that cannot be used."""


class SentBook(FrozenModel):
    """One book of the file."""

    name: Id
    title: Line
    maker: str = ""
    model: str = ""
    years: str = ""
    text: str  # TOML
    revision: Hash  # of the whole book, as it was put together where it was sent
    rests_on: dict[Line, Hash]  # archetypes and blocks by name: what they said there


class Parcel(FrozenModel):
    """What the file says."""

    format: Literal[1] = 1
    kind: Literal["witnessmark books"] = "witnessmark books"
    shop: Line
    by: Line
    at: Instant
    books: Annotated[list[SentBook], Field(min_length=1, max_length=MOST_BOOKS)]
    photos: dict[Hash, str] = {}  # base64, by the hash that figures name
    key: Hash  # the public key, 32 bytes in hex
    signature: Signature


def sent(text: str) -> SentBook:
    """A book as it goes into the file. Raises BookErrors where the text is no sound book."""
    book = load_book_text(text)
    about = book.machine
    return SentBook(
        name=book.name,
        title=book.title,
        maker=about.maker if about else "",
        model=about.model if about else "",
        years=about.years if about else "",
        text=text,
        revision=revision(book),
        rests_on=rests_on(text, book),
    )


def sealed(
    shop: str, by: str, at: str, texts: Iterable[str], key: Ed25519PrivateKey,
    photos: Mapping[str, bytes] = NO_PHOTOS,
) -> bytes:  # fmt: skip
    """The file that holds these books, signed. `at`: the instant, as ``2026-01-31T08:00:00Z``; `photos`: by SHA-256.

    Raises BookErrors for a text that is no sound book, ParcelError for more than a file may hold.
    """
    books = sorted(map(sent, texts), key=lambda one: one.name)
    if not 0 < len(books) <= MOST_BOOKS:
        raise ParcelError("the file", f"would hold {len(books)} books", f"send 1 to {MOST_BOOKS}")
    unsigned = Parcel(
        shop=shop,
        by=by,
        at=at,
        books=books,
        photos={name: base64.b64encode(raw).decode("ascii") for name, raw in photos.items()},
        key=key.public_key().public_bytes_raw().hex(),
        signature="0" * 128,
    )
    said = unsigned.model_dump(mode="json")
    said["signature"] = key.sign(_signed(said)).hex()
    raw = rfc8785.dumps(said)
    if len(raw) > MOST_BYTES:
        problem = f"would have {len(raw)} bytes"
        raise ParcelError("the file", problem, f"at most {MOST_BYTES}: send fewer books in one")
    return raw


def opened(raw: bytes) -> Parcel:
    """What a file says, its signature looked at. Raises ParcelError in words; whose key it is the reader must know."""
    whole = "ask the sender for the file once more"
    if len(raw) > MOST_BYTES:
        raise ParcelError(
            "the file", f"has more than {MOST_BYTES} bytes", "a file of books has less"
        )
    try:
        said = from_json(raw)
    except ValueError:
        raise ParcelError("the file", "is not a file of books, or was cut off", whole) from None
    if not isinstance(said, dict) or said.get("kind") != "witnessmark books":
        raise ParcelError(
            "the file", "is not a file of books", "choose the one that the other shop sent"
        )
    try:
        said = as_newest("the file", said)
    except KeptError as error:
        raise ParcelError("the file", error.problem, error.expected) from None
    if not _genuine(said):
        raise ParcelError("the file", "was altered since it was signed", whole)
    try:
        parcel = Parcel.model_validate(said)
    except ValidationError as error:
        first = error.errors()[0]
        problem = f"is not well made: {dotted(first['loc'])}, {first['msg']}"
        raise ParcelError("the file", problem, whole) from None
    photos_in(parcel)
    return parcel


def photos_in(parcel: Parcel) -> dict[str, bytes]:
    """The photos by their hash. Raises ParcelError for one that is larger than a page, or not what its name says."""
    found = {}
    for name, text in parcel.photos.items():
        try:
            raw = base64.b64decode(text, validate=True)
        except (binascii.Error, ValueError):
            raw = b""
        if len(raw) > MOST_PHOTO:
            problem = f"holds a photo of {len(raw)} bytes"
            raise ParcelError("the file", problem, f"at most {MOST_PHOTO} for the photo of a page")
        if hashlib.sha256(raw).hexdigest() != name:
            problem = "holds a photo that is not the one it names"
            raise ParcelError("the file", problem, "ask the sender for the file once more")
        found[name] = raw
    return found


def fingerprint(key: str) -> str:
    """A public key (hex) in digits that two people compare on the telephone. Example: ``01234 56789 …``."""
    blocks, digits = BLOCKS
    number = int(hashlib.sha256(bytes.fromhex(key)).hexdigest(), 16) % 10 ** (blocks * digits)
    text = f"{number:0{blocks * digits}d}"
    return " ".join(text[at : at + digits] for at in range(0, len(text), digits))


def rests_on(text: str, book: Book) -> dict[str, str]:
    """The archetypes that a text extends and the blocks it is put together from, with the hash of what each says."""
    named = tomllib.loads(text).get("extends", [])
    there = archetypes()
    found = {
        f"archetype {name}": revision(load_book(there[name]))
        for name in ([named] if isinstance(named, str) else named)
    }
    for slot in vocabulary.slots().values() if book.build else ():
        taken = book.build.get(slot.name, {}).get("is", slot.usual)
        if taken in slot.blocks:
            data = vocabulary.block(slot.name, taken).data
            found[f"{slot.text}: {data['text']}"] = _hash(data)
    return found


def _hash(data: Mapping[str, Any]) -> str:
    return hashlib.sha256(json.dumps(data, sort_keys=True, default=str).encode()).hexdigest()


def _signed(said: Mapping[str, Any]) -> bytes:
    return rfc8785.dumps({name: value for name, value in said.items() if name != "signature"})


def _genuine(said: Mapping[str, Any]) -> bool:
    """Whether the signature is of what the file says, under the key that it names."""
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(said["key"]))
        key.verify(bytes.fromhex(said["signature"]), _signed(said))
    except (InvalidSignature, KeyError, TypeError, ValueError, rfc8785.CanonicalizationError):
        return False
    return True
