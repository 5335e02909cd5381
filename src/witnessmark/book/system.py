"""What a book has from the system: its files, and those of the archetypes."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

FilePath = Path  # `Path` is a place in a book
_ARCHETYPES = Path(str(files("witnessmark.book"))) / "archetypes"
_BLOCKS = _ARCHETYPES.with_name("blocks")


def blocks_folder() -> Path:
    """Where the blocks lie that books are put together from."""
    return _BLOCKS


def archetypes() -> dict[str, Path]:
    """The archetypes that come with the package: the file of each, by name."""
    return {path.stem: path for path in sorted(_ARCHETYPES.glob("*.toml"))}


def contents(path: Path, most: int) -> bytes | None:
    """What is in a file; None where that is more than so many bytes. Raises OSError."""
    with path.open("rb") as file:
        raw = file.read(most + 1)
    return None if len(raw) > most else raw


def folder_of(file: Path, folder: Path) -> Path:
    """The folder that a document and what it extends stay in: the archetypes' own for one of these."""
    return (_ARCHETYPES if file.is_relative_to(_ARCHETYPES) else folder).resolve()


def below(folder: Path, file: Path, name: str) -> Path | None:
    """The path `name`, relative to a file; None where it leaves the folder."""
    path = (file.parent / name).resolve()
    return path if path.is_relative_to(folder) and not Path(name).is_absolute() else None


def documents_in(folder: Path) -> list[str]:
    """The paths of all documents in a folder or below it."""
    return [str(path.relative_to(folder)) for path in sorted(folder.rglob("*.toml"))]


def is_there(path: Path) -> bool:
    """Whether it is a file."""
    return path.is_file()


def same_file(path: Path, other: Path | None) -> bool:
    """Whether both are one file."""
    return other is not None and path.resolve() == other.resolve()


def comes_with_us(path: Path | None) -> bool:
    """Whether it is a document of the package."""
    return path is not None and path.is_relative_to(_ARCHETYPES.parent)
