"""Anchors of this installation: signed heads of every visit, in a file that leaves with each backup.

File and key lie outside the database, in the home folder unless told otherwise. Whoever keeps backups keeps the file,
and the public key written down elsewhere, apart from the machine: then even who owns the machine can prove nothing new.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings
from django.db.models import OuterRef, Subquery

from witnessmark.ledger import anchor as made
from witnessmark.ledger.seal import Head
from witnessmark.ledger.verify import Fault
from witnessmark.shop.models import Seal, Visit
from witnessmark.shop.store import sealed


@dataclass(frozen=True)
class Places:
    """Where the anchors are appended, and where the private key is kept that only its owner reads."""

    file: Path
    key: Path

    @classmethod
    def usual(cls, file: Path | None = None, key: Path | None = None) -> "Places":
        """The places named, else those in the home folder."""
        home = Path(settings.HOME)
        return cls(file or home / "anchors.jsonl", key or home / "keys" / "anchor.pem")


def anchor_now(at: Places) -> made.Anchor | None:
    """Sign the newest seals of all visits and append them; None when nothing is new. Makes the key the first time.

    Raises AnchorError for a key or file that cannot be used.
    """
    newest = Seal.objects.filter(visit=OuterRef("visit")).order_by("-number").values("pk")[:1]
    seals = {str(row.visit_id): sealed(row) for row in Seal.objects.filter(pk=Subquery(newest))}
    one = made.anchor(seals, made.read_anchors(at.file), datetime.now(UTC), _key(at.key))
    if one is not None:
        made.append_anchor(at.file, one)
    return one


def heads(at: Places) -> dict[str, list[Head]]:
    """Per visit, every head that was ever signed."""
    return made.anchored(made.read_anchors(at.file))


def faults(at: Places, trusted: Collection[str] = ()) -> Iterator[Fault]:
    """What is wrong with the file, and visits it knows that are gone.

    `trusted`: public keys in hex, as they were written down; else the key that lies here is trusted.
    """
    anchors = made.read_anchors(at.file)
    if not anchors:
        return
    if not trusted and at.key.exists():
        trusted = [made.public_key(made.load_key(at.key))]
    if not trusted:
        yield Fault(place=str(at.key), wrong="the key is gone; give its public key with --trusted")
        return
    for words in made.anchor_faults(anchors, trusted):
        place, _, wrong = words.partition(": ")
        yield Fault(place=place, wrong=wrong)
    here = {str(key) for key in Visit.objects.values_list("pk", flat=True)}
    for visit in made.anchored(anchors):
        if visit not in here:
            yield Fault(place=f"visit {visit}", wrong="was anchored, and is not in the database")


def _key(path: Path) -> Ed25519PrivateKey:
    if path.exists():
        return made.load_key(path)
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    return made.new_key(path)
