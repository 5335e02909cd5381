"""Anchors of this installation: signed heads of every visit, in a file that leaves with each backup.

The file and its key lie in the home folder, outside the database; whoever keeps backups keeps the
file, and the public key written down elsewhere, apart from the machine.
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.db.models import OuterRef, Subquery

from witnessmark.ledger import anchor as made
from witnessmark.ledger.seal import Head
from witnessmark.ledger.verify import Fault
from witnessmark.shop.models import Seal, Visit
from witnessmark.shop.store import sealed


def anchor_file() -> Path:
    """The file that is only ever appended to."""
    return Path(settings.HOME) / "anchors.jsonl"


def key_file() -> Path:
    """The private key; its owner alone reads it."""
    return Path(settings.HOME) / "anchor-key.pem"


def anchor_now() -> made.Anchor | None:
    """Sign the newest seals of all visits and append them; None when nothing is new."""
    newest = Seal.objects.filter(visit=OuterRef("visit")).order_by("-number").values("pk")[:1]
    seals = {str(row.visit_id): sealed(row) for row in Seal.objects.filter(pk=Subquery(newest))}
    key = made.load_key(key_file()) if key_file().exists() else made.new_key(key_file())
    one = made.anchor(seals, made.read_anchors(anchor_file()), datetime.now(UTC), key)
    if one is not None:
        made.append_anchor(anchor_file(), one)
    return one


def heads() -> dict[str, list[Head]]:
    """Per visit, every head that was ever signed."""
    return made.anchored(made.read_anchors(anchor_file()))


def faults() -> Iterator[Fault]:
    """What is wrong with the file, and visits it knows that are gone."""
    anchors = made.read_anchors(anchor_file())
    if not anchors:
        return
    trusted = [made.public_key(made.load_key(key_file()))]
    for words in made.anchor_faults(anchors, trusted):
        place, _, wrong = words.partition(": ")
        yield Fault(place=place, wrong=wrong)
    here = {str(key) for key in Visit.objects.values_list("pk", flat=True)}
    for visit in made.anchored(anchors):
        if visit not in here:
            yield Fault(place=f"visit {visit}", wrong="was anchored, and is not in the database")
