"""Read a backup back into an empty folder, and prove what came out of it."""

from __future__ import annotations

import shutil
import tarfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.db.migrations.loader import MigrationLoader
from django.db.models import F
from pyrage.x25519 import Identity

from witnessmark.ledger.system import read_anchors
from witnessmark.shop import anchors, photos
from witnessmark.shop.backups import backup_folder, dump, keys
from witnessmark.shop.backups.backup_folder import Contents
from witnessmark.shop.backups.errors import BackupError
from witnessmark.shop.models import PhotoKept, Shop


@dataclass(frozen=True)
class Restored:
    """What came back, and the photos that did not: SHA-256, and why."""

    name: str
    contents: Contents
    faults: list[str]


def restore(backup: Path, key: Identity, newest_anchors: Path | None = None) -> Restored:
    """Fill settings.HOME and the database from a backup, and sign that it was.

    newest_anchors: a copy of the file of anchors that is newer than the backup's, so that what the restore gives up
    is told. Raises BackupError; AnchorError for a file of anchors or a key that cannot be used.
    """
    contents, home = backup_folder.read(backup), Path(settings.HOME)
    _fits(contents)
    with TemporaryDirectory(dir=home, prefix="restore-") as work:
        opened = Path(work)
        keys.decrypt(backup / backup_folder.ARCHIVE, opened / "store.tar.gz", key)
        with tarfile.open(opened / "store.tar.gz") as tar:
            tar.extractall(opened, filter="data")
        if newest_anchors:
            _newer(opened / "anchors.jsonl", newest_anchors)
        for name in ("anchors.jsonl", "keys"):
            if (opened / name).exists():
                shutil.move(opened / name, home / name)
        dump.copy_in(opened / "database", contents.migrations)
    Shop.objects.update(restores=F("restores") + 1)
    anchors.record_restore(anchors.Places.usual(), backup.name)
    return Restored(backup.name, contents, list(_photos(backup.parent, contents, key)))


def _fits(contents: Contents) -> None:
    """Refuse a copy of the other kind of database, or of one that this version does not know."""
    if contents.vendor != dump.vendor():
        expected = {
            "sqlite": "run it without DATABASE_URL",
            "postgresql": "name an empty database of PostgreSQL in DATABASE_URL",
        }[contents.vendor]
        raise BackupError("DATABASE_URL", f"the backup is of {contents.vendor}", expected)
    unknown = set(contents.migrations) - set(MigrationLoader(None).disk_migrations)
    if unknown:
        problem = f"is of a newer version, which knows {len(unknown)} steps more"
        raise BackupError("backup", problem, "update Witness Mark first")


def _newer(of_the_backup: Path, newest: Path) -> None:
    """Take a newer file of anchors in place of the backup's, if it goes on from that."""
    before, now = read_anchors(of_the_backup), read_anchors(newest)
    if [one.digest for one in now[: len(before)]] != [one.digest for one in before]:
        problem = "does not go on from the anchors in the backup"
        raise BackupError(str(newest), problem, "give the newest copy of this store's own file")
    shutil.copyfile(newest, of_the_backup)


def _photos(folder: Path, contents: Contents, key: Identity) -> Iterator[str]:
    """Bring back every photo the database names, and prove its bytes; each that cannot be had is told."""
    wanted = PhotoKept.objects.filter(erased_on=None).values_list("sha256", flat=True)
    for sha256 in wanted.order_by("sha256").distinct():
        source, target = backup_folder.photo(folder, sha256), photos.path_of(sha256)
        if not source.exists():
            when = (
                "was missing when the backup was made"
                if sha256 in contents.missing
                else "is not in the backup"
            )
            yield f"photo {sha256}: {when}"
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        draft = target.with_suffix(backup_folder.PART)
        try:
            keys.decrypt(source, draft, key)
        except BackupError as error:
            draft.unlink()
            yield f"photo {sha256}: {error.problem}"
            continue
        if backup_folder.sha256_of(draft) != sha256:
            draft.unlink()
            yield f"photo {sha256}: is not what its name says"
            continue
        draft.replace(target)
