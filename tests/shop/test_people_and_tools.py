"""Rows that may change: people who may be forgotten, wrenches whose calibration ends."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError

from witnessmark.shop import home, store
from witnessmark.shop.models import Owner, Shop, Wrench, WrenchEvent
from witnessmark.shop.work.wrenches import on_shelf, tool_of


def test_a_forgotten_owner_leaves_the_ledger_whole(visit):
    """No entry holds a name, so nothing has to be changed that must not change."""
    before = store.state(visit)
    visit.machine.owner.erase(date(2026, 11, 25))

    owner = Owner.objects.get()
    assert (owner.name, owner.phone, owner.address, owner.email) == ("erased", "", "", "")
    assert store.state(visit) == before
    assert list(store.faults()) == []
    assert not any("Calder" in str(entry) for entry in store.entries(visit))


@pytest.mark.parametrize(
    ("calibrated", "months", "due"),
    [
        (date(2025, 11, 25), 12, date(2026, 11, 25)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2025, 8, 31), 6, date(2026, 2, 28)),
        (date(2025, 12, 1), 1, date(2026, 1, 1)),
    ],
)
def test_calibration_counts_until_the_day_it_is_due(shop, calibrated, months, due):
    row = Wrench.objects.create(
        shop=shop, name="Click", low_nm=20, high_nm=100, calibration_months=months
    )
    events = [WrenchEvent.objects.create(shop=shop, wrench=row, kind="laboratory", on=calibrated)]

    day = timedelta(days=1)
    proves = [
        on_shelf(row, tool_of(row, events), events, 0, when).standing.proves
        for when in (calibrated - day, calibrated, due - day, due)
    ]
    assert proves == [False, True, True, False]


@pytest.mark.parametrize(
    ("field", "value"),
    [("time_zone", "Lisbon"), ("currency", "euro"), ("labour_per_hour", -1), ("consumables", "x")],
)
def test_a_shop_refuses_settings_that_cannot_be(database, field, value):
    shop = Shop(name="Cairnhill", **{field: value})
    with pytest.raises(ValidationError) as error:
        shop.full_clean()
    assert set(error.value.message_dict) == {field}


def test_the_secret_key_is_made_once_and_for_its_owner_alone(tmp_path, monkeypatch):
    monkeypatch.delenv("WITNESSMARK_SECRET_KEY", raising=False)
    key = home.secret_key(tmp_path / "new")

    assert len(key) >= 50
    assert home.secret_key(tmp_path / "new") == key
    assert (tmp_path / "new" / "secret-key").stat().st_mode & 0o777 == 0o600
    assert [p.name for p in (tmp_path / "new").iterdir()] == ["secret-key"]
