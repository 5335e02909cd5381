"""What became of each backup of this store: a line in a file beside the database, which may itself be what fails."""

from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from uuid import UUID

from pydantic import BaseModel, ConfigDict, ValidationError

from witnessmark.shop.backups.backup_folder import BackupContents


class Run(BaseModel):
    """One run: what it made, or why it made nothing."""

    model_config = ConfigDict(extra="ignore", frozen=True)

    at: datetime
    folder: str
    name: str = ""  # of the backup; empty: it failed
    held: dict[UUID, BackupContents] = {}  # by shop
    bytes: int = 0
    missing: int = 0  # photos
    failed: str = ""  # in words


class Log:
    """The runs so far; those that cannot be read are passed over."""

    def __init__(self, home: Path) -> None:
        self.file = home / "backups.jsonl"

    def add(self, run: Run) -> None:
        """Write a run down, if there is room for a line."""
        with suppress(OSError), self.file.open("a", encoding="utf-8") as file:
            file.write(run.model_dump_json() + "\n")

    def newest(self) -> Run | None:
        """The last run, good or not."""
        return next(self._backwards(), None)

    def newest_good(self, folder: str | None = None) -> Run | None:
        """The last run that made a backup, in any folder or in one."""
        good = (run for run in self._backwards() if run.name and folder in {None, run.folder})
        return next(good, None)

    def _backwards(self) -> Iterator[Run]:
        with suppress(FileNotFoundError):
            for line in reversed(self.file.read_text(encoding="utf-8", errors="replace").splitlines()):  # fmt: skip
                with suppress(ValidationError):
                    yield Run.model_validate_json(line)


def reminder(home: Path, days: int, now: datetime) -> str:
    """What is to be told when the last backup is older than so many days; empty when it is not, or for 0."""
    if not days:
        return ""
    good = Log(home).newest_good()
    if good is None:
        return "No backup was made yet"
    age = (now - good.at).days
    if age < days:
        return ""
    return f"The last backup is {age} {'day' if age == 1 else 'days'} old"
