"""What the planner has worked out, kept as JSON files for all processes; it may be emptied at any time.

A file is only data: it is read against the type that is asked for, and one that does not fit is as if it were not
there.
"""

from __future__ import annotations

import os
import re
import tempfile
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from django.conf import settings
from pydantic import TypeAdapter, ValidationError

Found = TypeVar("Found")

MOST_FILES = 2000
NAME = re.compile(r"[a-z0-9.-]{1,200}")  # what a key may be: it names a file


def get(key: str, kind: type[Found]) -> Found | None:
    """What was kept under a key, if it still is a `kind`; None else."""
    try:
        return _reader(kind).validate_json(_path(key).read_bytes())
    except (OSError, ValidationError):
        return None


def has(key: str) -> bool:
    """Whether something was kept under a key."""
    return _path(key).exists()


def keep(key: str, kind: type[Found], found: Found) -> None:
    """Keep it, whole or not at all. A full disk costs the next one who asks some seconds, and nobody the answer."""
    path, content = _path(key), _reader(kind).dump_json(found, by_alias=True)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _make_room(path.parent)
        handle, draft = tempfile.mkstemp(dir=path.parent, suffix=".new")
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(draft).replace(path)
    except OSError:
        return


def _path(key: str) -> Path:
    assert NAME.fullmatch(key), key
    return Path(settings.SOLVED) / f"{key}.json"


def _make_room(folder: Path) -> None:
    """The older half goes when there are too many; what another process takes away meanwhile is gone already."""
    files = list(folder.iterdir())
    if len(files) < MOST_FILES:
        return
    aged = []
    for file in files:
        try:
            aged.append((file.stat().st_mtime, file))
        except FileNotFoundError:
            continue
    for _, file in sorted(aged)[: len(aged) // 2]:
        file.unlink(missing_ok=True)


@lru_cache
def _made(kind: Any) -> TypeAdapter:
    return TypeAdapter(kind)


def _reader(kind: Any) -> TypeAdapter:
    """Made once for a type: a class is hashable, whatever the types say."""
    return _made(kind)
