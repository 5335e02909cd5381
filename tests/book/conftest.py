from pathlib import Path

import pytest

BOOKS = Path(__file__).parent / "books"


@pytest.fixture
def chain(tmp_path):
    """A folder with an archetype, shaft.toml, and t9.toml that extends it, free to be edited."""
    for name in ("shaft.toml", "t9.toml"):
        (tmp_path / name).write_text((BOOKS / name).read_text())
    return tmp_path


@pytest.fixture(scope="session")
def shaft_text():
    return (BOOKS / "shaft.toml").read_text()


@pytest.fixture(scope="session")
def t9():
    from witnessmark.book import load_book

    return load_book(BOOKS / "t9.toml")


@pytest.fixture(scope="session")
def shaft():
    from witnessmark.book import load_book

    return load_book(BOOKS / "shaft.toml")
