"""Anchors of this installation: signed heads of every visit, in a file that leaves with each backup.

File and key lie outside the database, in the home folder unless told otherwise. Whoever keeps backups keeps the file,
and the public key written down elsewhere, apart from the machine: then even who owns the machine can prove nothing new.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings
from django.db.models import OuterRef, Subquery

from witnessmark.ledger import anchor as made
from witnessmark.ledger import system
from witnessmark.ledger.seal import Seal as SealMade
from witnessmark.ledger.verify import CUT_OFF, VerifyFault
from witnessmark.shop import last_seals as beside
from witnessmark.shop.models import Seal
from witnessmark.shop.store import sealed

AGAIN = "what is known of what was lost is entered again"
LOOK = "look for it under another name (--file), or restore it from a backup"


@dataclass(frozen=True)
class Places:
    """Where the anchors are appended, and where the private key is kept that only its owner reads."""

    file: Path
    key: Path
    named: bool = False  # the file was asked for, so it must be there

    @classmethod
    def usual(cls, file: Path | None = None, key: Path | None = None) -> "Places":
        """The places named, else those in the home folder."""
        home = Path(settings.HOME)
        return cls(
            file or home / "anchors.jsonl", key or home / "keys" / "anchor.pem", named=bool(file)
        )


def anchor_now(at: Places) -> made.Anchor | None:
    """Sign the newest seals of all visits and append them; None when nothing is new. Makes the key the first time.

    Raises AnchorError for a key or file that cannot be used.
    """
    with beside.known_elsewhere():
        one = made.anchor(
            newest_seals(), system.read_anchors(at.file), datetime.now(UTC), _key(at.key)
        )
        if one is not None:
            system.append_anchor(at.file, one)
    return one


def record_restore(at: Places, source: str) -> made.Anchor:
    """Sign that the store was restored from the backup `source`, and to which seals.

    Raises AnchorError for a key or file that cannot be used.
    """
    with beside.known_elsewhere():
        before = system.read_anchors(at.file)
        one = made.restored(newest_seals(), before, datetime.now(UTC), _key(at.key), source)
        system.append_anchor(at.file, one)
    return one


def newest_seals() -> dict[str, SealMade]:
    """By visit, the newest seal."""
    newest = Seal.objects.filter(visit=OuterRef("visit")).order_by("-number").values("pk")[:1]
    return {str(row.visit_id): sealed(row) for row in Seal.objects.filter(pk=Subquery(newest))}


def known(at: Places, trusted: Collection[str] = ()) -> tuple[list[made.Anchor], list[VerifyFault]]:
    """The anchors of the file, as far as it can be read, and what is wrong with it.

    `trusted`: public keys in hex, as they were written down; else the key that lies here is trusted.
    """
    every: list[made.Anchor] = []
    faults: list[VerifyFault] = []
    if not at.file.exists():
        return every, [_not_there(at, asked=at.named or bool(trusted) or at.key.exists())]
    try:
        every.extend(system.each_anchor(at.file))
    except made.AnchorError as error:
        faults.append(_of_file(error))
    if not every and not faults:
        faults.append(VerifyFault(place=str(at.file), problem="holds no anchor", expected=LOOK))
    if not trusted and at.key.exists():
        trusted = [made.public_key(system.load_key(at.key))]
    if trusted:
        faults += [_of_file(error) for error in made.anchor_faults(every, trusted)]
    else:
        expected = "give its public key, as it was written down, with --trusted"
        faults.append(VerifyFault(place=str(at.key), problem="the key is gone", expected=expected))
    return every, faults


def visits(every: Sequence[made.Anchor], numbers: Mapping[str, int]) -> Iterator[VerifyFault]:
    """Visits that were anchored and are gone, and what restores gave up. `numbers`: by id, of those that are here."""
    for visit in made.anchored(every):
        if visit not in numbers:
            problem = "was anchored, and is not in the database"
            yield VerifyFault(place=f"visit {visit}", problem=problem, expected=CUT_OFF)
    for one in every:
        if one.kind == "restored":
            when = f"{one.at[:16].replace('T', ' ')} UTC"
            problem = f"restored on {when} from the backup {one.source}"
            yield VerifyFault(
                place=f"anchor {one.number}", problem=problem, expected=AGAIN, grave=False
            )
    for gone in made.lost(every):
        if gone.visit in numbers:
            which = f"entries {gone.first} to {gone.last} of visit {numbers[gone.visit]}"
            problem = f"{which}, anchored before, were lost by it"
        else:
            problem = f"a visit of {gone.last} entries, anchored before, was lost by it"
        yield VerifyFault(
            place=f"restore from {gone.source}", problem=problem, expected=AGAIN, grave=False
        )


def _not_there(at: Places, *, asked: bool) -> VerifyFault:
    if asked:
        return VerifyFault(
            place=str(at.file), problem="the file of anchors is not there", expected=LOOK
        )
    problem = "nothing was anchored: entries that were all written anew would not be found"
    expected = "`witnessmark anchor` signs what is here now"
    return VerifyFault(place=str(at.file), problem=problem, expected=expected, grave=False)


def _of_file(error: made.AnchorError) -> VerifyFault:
    return VerifyFault(place=error.place, problem=error.problem, expected=error.expected)


def _key(path: Path) -> Ed25519PrivateKey:
    if path.exists():
        return system.load_key(path)
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    return system.new_key(path)
