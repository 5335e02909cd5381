"""What the shop sets for itself: money read as money, ranges with their units, nothing written over."""

import re
from decimal import Decimal
from pathlib import Path

import pytest

import witnessmark.demo
from tests.shop.filled import faults_of, form_of, send
from witnessmark.book import load_book
from witnessmark.shop import content_store
from witnessmark.shop.models import PartPrice, Shop, StockPack, Wrench
from witnessmark.shop.pages.settings.views import CURRENCY_CHANGED
from witnessmark.shop.work import pricing

OTHER_DECIMALS = " They are now read with another number of decimals."
TOURER = Path(witnessmark.demo.__file__).parent / "books" / "quandle_t9.toml"


@pytest.fixture
def client(technician, client_of):
    return client_of(technician)


@pytest.fixture
def taxed(shop) -> Shop:
    shop.tax_rates, shop.usual_tax = {"standard": "20", "reduced": "5.5"}, "standard"
    shop.taxed, shop.labour_per_hour = {"part": "reduced"}, Decimal(60)
    shop.save()
    return shop


def test_money_is_typed_as_people_write_it_and_serves_the_estimate(client, shop, small_book):
    answer = send(client, "/shop/money/", {
        "labour_per_hour": "72,50", "tax-0-name": "standard", "tax-0-percent": "20 %",
        "tax-1-name": "reduced", "tax-1-percent": "5,5", "consumables": "per visit",
        "consumables_amount": "4.50", "disposal": "per litre", "disposal_amount": "1.20"})  # fmt: skip
    send(client, "/shop/money/", {"usual_tax": "standard", "taxed_part": "reduced"})

    assert answer.status_code == 303
    shop.refresh_from_db()
    rates = pricing.rates(shop, content_store.book_of(shop, small_book.current.sha256))
    assert (rates.labour_per_hour, rates.tax) == (
        Decimal("72.5"),
        {"standard": 20, "reduced": Decimal("5.5")},
    )
    assert (rates.tax_of("labour"), rates.tax_of("part")) == ("standard", "reduced")
    assert (rates.consumables.amount, rates.disposal.amount) == (Decimal("4.5"), Decimal("1.2"))


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"labour_per_hour": "sixty"}, "no amount of EUR"),
        ({"labour_per_hour": "60.0055"}, "finer than EUR goes"),
        ({"currency": "JPY", "labour_per_hour": "60.50"}, "finer than JPY goes"),
        ({"currency": "QQQ"}, "no currency of ISO 4217"),
        ({"tax-0-percent": "a lot"}, "for instance 12"),
        ({"tax-1-percent": ""}, "How many per cent"),
        ({"tax-2-name": "standard", "tax-2-percent": "7"}, "Two rates are named standard"),
        ({"tax-0-name": "", "tax-0-percent": ""}, "“standard” is no rate any more"),
        ({"consumables": "per visit", "consumables_amount": "some"}, "no amount of EUR"),
    ],
)
def test_money_that_cannot_be_used_is_refused_beside_its_field(client, taxed, typed, says):
    before = Shop.objects.filter(pk=taxed.pk).values().get()
    answer = send(client, "/shop/money/", typed)

    assert answer.status_code == 422
    assert says in " ".join(faults_of(answer))
    page = form_of(answer.content.decode(), "currency")
    assert {name: page[name] for name in typed} == typed
    assert Shop.objects.filter(pk=taxed.pk).values().get() == before


def test_a_rate_that_is_renamed_stays_the_rate_of_its_kinds(client, taxed):
    send(client, "/shop/money/", {"tax-1-name": "lower", "tax-0-name": "full"})

    taxed.refresh_from_db()
    assert (taxed.tax_rates, taxed.usual_tax, taxed.taxed) == (
        {"full": "20", "lower": "5.5"}, "full", {"part": "lower"})  # fmt: skip


@pytest.mark.parametrize(
    ("now", "priced", "says"),
    [
        ("EUR", ("part", "pack"), []),
        ("USD", (), []),
        ("USD", ("pack without a price",), []),
        ("USD", ("part",), [str(CURRENCY_CHANGED)]),
        ("USD", ("pack",), [str(CURRENCY_CHANGED)]),
        ("JPY", ("part",), [str(CURRENCY_CHANGED) + OTHER_DECIMALS]),
    ],
)
def test_another_currency_tells_that_prices_stand_as_the_numbers_they_were(
    client, shop, now, priced, says
):
    for what in priced:
        if what == "part":
            PartPrice(shop=shop, part="ring", name="Ring", price_minor=120).save()
        else:
            price = 900 if what == "pack" else None
            StockPack(shop=shop, name="Oil", fluid="oil", family="engine oil", size_ml=1000,
                      price_minor=price).save()  # fmt: skip
    send(client, "/shop/money/", {"currency": now, "labour_per_hour": "60"})
    shop.refresh_from_db()
    assert shop.currency == now
    told = [str(message) for message in client.get("/shop/money/").context["messages"]]
    assert [one for one in told if one.startswith(str(CURRENCY_CHANGED))] == says


def test_two_people_who_change_two_rates_both_keep_theirs(client, taxed, colleague, client_of):
    other = client_of(colleague)
    first = form_of(client.get("/shop/money/").content.decode(), "currency") | {
        "tax-0-percent": "21"
    }
    second = form_of(other.get("/shop/money/").content.decode(), "currency") | {
        "tax-1-percent": "6"
    }

    assert [
        client.post("/shop/money/", first).status_code,
        other.post("/shop/money/", second).status_code,
    ] == [303, 303]
    taxed.refresh_from_db()
    assert taxed.tax_rates == {"standard": "21", "reduced": "6"}


def test_a_place_that_does_not_exist_is_refused(client, shop):
    answer = send(client, "/shop/", {"time_zone": "Lisbon", "locale": "xx_QQ"})
    assert answer.status_code == 422
    assert len(faults_of(answer)) == 2

    send(
        client, "/shop/", {"time_zone": "Europe/Madrid", "locale": "es-ES", "refuse_override": "on"}
    )
    shop.refresh_from_db()
    assert (shop.time_zone, shop.locale, shop.refuse_override) == ("Europe/Madrid", "es_ES", True)


def test_a_wrench_has_its_range_in_the_unit_of_its_scale(client, shop):
    typed = {
        "name": "Long click",
        "low_nm": "30 lbf·ft",
        "high_nm": "150 lbf·ft",
        "scale_unit": "lbf·ft",
    }
    assert faults_of(send(client, "/shop/wrenches/new/", typed | {"high_nm": "10 lbf·ft"})) != []
    send(client, "/shop/wrenches/new/", typed)

    row = Wrench.objects.get()
    assert (round(row.low_nm, 1), round(row.high_nm, 1)) == (40.7, 203.4)
    page = client.get(f"/shop/wrenches/{row.pk}/change/").content.decode()
    assert form_of(page, "low_nm")["low_nm"] == "30 lbf·ft"
    assert "Never calibrated" in client.get("/shop/wrenches/").content.decode()


@pytest.mark.parametrize(("unit", "high_nm"), [("N·m", 100), ("lbf·ft", 135.58)])
def test_a_bare_number_in_the_range_of_a_wrench_is_in_the_unit_of_its_scale(
    client, shop, unit, high_nm
):
    assert "change from:[name=scale_unit]" in client.get("/shop/wrenches/new/").content.decode()
    asked = {"quantity": "torque", "unit": "", "scale_unit": unit, "high_nm": "100"}
    assert f"Read as 100 {unit}." in client.get("/understood/", asked).content.decode()
    typed = {"name": "Click", "low_nm": "20", "high_nm": "100", "scale_unit": unit}
    send(client, "/shop/wrenches/new/", typed)
    row = Wrench.objects.get()
    assert (row.high_nm, row.low_nm) == pytest.approx((high_nm, high_nm / 5), rel=1e-4)


def test_a_pack_is_for_a_fluid_of_the_books_or_for_its_family(client, shop):
    book = load_book(TOURER)
    content_store.keep_book(shop, book)
    send(client, "/shop/packs/new/", {
        "holds": "engine oil/", "name": "Oil 5W-40, 4 L", "size_ml": "4 L", "price_minor": "38,90"})  # fmt: skip

    row = StockPack.objects.get()
    assert (row.family, row.fluid, row.size_ml, row.price_minor) == ("engine oil", "", 4000, 3890)
    assert [pack.size_ml for pack in pricing.stock(shop, book) if pack.fluid == "engine_oil"] == [
        4000
    ]
    client.post(f"/shop/packs/{row.pk}/", {"remove": "1"})
    assert StockPack.objects.count() == 0


def test_parts_without_a_price_come_first_and_a_price_is_set_changed_and_cleared(client, shop):
    book = load_book(TOURER)
    stored = content_store.keep_book(shop, book)
    send(client, "/shop/prices/all/", {"oil_filter": "9.90"})
    path = f"/shop/prices/{stored.pk}/"
    send(client, path, {"oil_filter": "11.50", "rear_tyre": "149"})
    assert pricing.rates(shop, book).part_prices == {"oil_filter": 1150, "rear_tyre": 14900}

    send(client, path, {"oil_filter": "", "rear_tyre": "150"})
    assert pricing.rates(shop, book).part_prices == {"oil_filter": 990, "rear_tyre": 15000}
    answer = send(client, path, {"rear_tyre": "cheap"})
    assert answer.status_code == 422
    assert PartPrice.objects.filter(part="rear_tyre").get().price_minor == 15000


def test_the_usual_rate_is_chosen_as_the_rate_is_entered_and_none_is_warned_about(client, shop):
    """In one form, the first one unless it is said otherwise; a shop with rates and “no tax” is told so."""
    rate = {"tax-0-name": "standard", "tax-0-percent": "19"}
    send(client, "/shop/money/", {"labour_per_hour": "60"})
    shop.refresh_from_db()
    assert (shop.tax_rates, shop.usual_tax) == ({}, "")
    send(client, "/shop/money/", rate)
    shop.refresh_from_db()
    assert (shop.tax_rates, shop.usual_tax) == ({"standard": "19"}, "standard")
    send(client, "/shop/money/", {"usual_tax": ""})
    page = client.get("/shop/money/").content.decode()
    assert "the usual rate is “no tax”" in page

    send(
        client, "/shop/money/", {"tax-1-name": "full", "tax-1-percent": "20", "usual_tax": "tax-1"}
    )
    shop.refresh_from_db()
    assert (shop.tax_rates, shop.usual_tax) == ({"standard": "19", "full": "20"}, "full")
    assert "the usual rate is “no tax”" not in client.get("/shop/money/").content.decode()


def test_a_flat_price_is_entered_with_the_prices_of_its_book(client, shop, small_book):
    address = f"/shop/prices/{small_book.pk}/"
    send(client, address, {"flat-tyre": "39,00"})
    shop.refresh_from_db()
    book = content_store.book_of(shop, small_book.current.sha256)
    assert pricing.rates(shop, book).flat == {"tyre": 3900}
    send(client, address, {"flat-tyre": ""})
    shop.refresh_from_db()
    assert pricing.rates(shop, book).flat == {}


def test_an_empty_shop_is_led_in_one_thing_at_a_time(client, shop):
    """Today names the next thing with a link to its very field; saved there, one is back at today."""
    seen = []
    for typed in (
        {"labour_per_hour": "72"},
        {"tax-0-name": "standard", "tax-0-percent": "20", "usual_tax": "tax-0"},
    ):
        page = client.get("/").content.decode()
        money = r'href="(/shop/money/[^"#]+)#([^"]+)"'
        address, field = re.search(money, page.partition('aria-label="Set up"')[2]).groups()
        entry = client.get(address).content.decode()
        assert f'id="{field}"' in entry
        went = client.post(address, form_of(entry, "currency") | typed)
        assert (went.status_code, went.url) == (303, "/")
        seen.append(field)
    assert seen == ["id_labour_per_hour", "taxes"]
    page = client.get("/").content.decode()
    assert "Until then: Papers are printed without its address." in page
    assert "Until then: No torque is proven." in page
    assert "What does an hour of labour cost?" not in page


def test_a_shop_at_work_is_not_led_in(client, shop, visit):
    shop.labour_per_hour = Decimal(60)
    shop.save()
    assert "Set up the shop" not in client.get("/").content.decode()
