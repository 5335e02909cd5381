"""A hang is a failure, too: nothing that is put in takes longer than ten seconds to be answered."""

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

MOST_SECONDS = 10  # of the processor, so that a busy machine changes nothing


def _too_long(*_: object) -> None:
    raise TimeoutError(f"no answer within {MOST_SECONDS} s of the processor")


@pytest.fixture
def answered() -> Callable:
    """Fails where what is done inside takes too long."""

    @contextmanager
    def within() -> Iterator[None]:
        before = signal.signal(signal.SIGVTALRM, _too_long)
        signal.setitimer(signal.ITIMER_VIRTUAL, MOST_SECONDS)
        try:
            yield
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
            signal.signal(signal.SIGVTALRM, before)

    return within
