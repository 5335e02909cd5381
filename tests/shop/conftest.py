"""Two people with a browser of their own."""

import pytest

from tests.shop.day import Person


@pytest.fixture
def mara(technician, client_of) -> Person:
    return Person(client_of(technician))


@pytest.fixture
def nuno(colleague, client_of) -> Person:
    return Person(client_of(colleague))
