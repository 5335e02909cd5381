"""What every test may use: a real Chromium, and the database of the run.

The database is SQLite, or the one that DATABASE_URL names (`scripts/with_postgres.py`).
"""

import os

import hypothesis
import pytest
from playwright.sync_api import expect

from system_parts import CHROMIUM_FLAGS, chromium

pytest_plugins = [
    "tests.fixtures.database",
    "tests.fixtures.shop",
    "tests.fixtures.tour",
    "tests.fixtures.invoices",
    "tests.fixtures.undecided",
]

# Playwright's event loop runs in the thread of the test; Django would refuse its database there.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

# What a page has to show is waited for: a busy machine is slow, not wrong.
WAIT_MS = 90_000
expect.set_options(timeout=WAIT_MS)

# The same examples every time, however slow the machine: a red run can be had again.
hypothesis.settings.register_profile("steady", deadline=None, derandomize=True)
hypothesis.settings.load_profile("steady")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Browser tests first: few long files, which at the end would keep one process busy and the others idle."""
    items.sort(key=lambda item: "browser" not in item.keywords)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict) -> dict:
    """The system's Chromium instead of a downloaded one."""
    path = chromium()
    assert path, "Chromium is missing: python3 scripts/system_parts.py says what to install"
    return {**browser_type_launch_args, "executable_path": path, "args": CHROMIUM_FLAGS}
