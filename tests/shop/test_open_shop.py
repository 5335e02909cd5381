"""The first page of an empty store: opened once, at the machine itself, by whoever then runs the shop."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections
from django.test import Client

from tests.shop.filled import faults_of, form_of, send
from witnessmark.shop.models import Member, Shop
from witnessmark.shop.work.first_shop import opened

TYPED = {
    "shop": "Fell Lane",
    "person": "Ada Fell",
    "username": "ada",
    "password": "clutch basket 7",
}


@pytest.fixture
def tab(database, shop_settings) -> Client:
    return Client(headers={"host": "127.0.0.1"})


def test_an_empty_store_leads_to_the_page_that_opens_the_shop_once(tab):
    assert tab.get("/sign-in/").headers["Location"] == "/open/"
    fields = form_of(tab.get("/open/").content.decode(), "shop") | TYPED
    assert tab.post("/open/", fields).status_code == 303
    one = Member.objects.get()
    assert (one.shop.name, str(one), one.role) == ("Fell Lane", "Ada Fell", "head")
    page = tab.get("/").content.decode()
    assert "Take in the first machine" in page
    assert "Until then: No torque is proven." in page

    assert tab.post("/open/", fields | {"username": "eve"}).headers["Location"] == "/"
    assert Client().get("/open/").headers["Location"] == "/"
    assert (Member.objects.count(), Shop.objects.count()) == (1, 1)
    assert Client().get("/sign-in/").status_code == 200


@pytest.mark.postgres
def test_two_people_who_open_it_in_the_same_instant_get_one_shop(transactional_db, shop_settings):
    def opens(name: str) -> bool:
        try:
            return (
                opened(f"{name}'s", "UTC", username=name, password="clutch basket 7", person=name)
                is not None
            )
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as all_at_once:
        won = list(all_at_once.map(opens, ["ada", "eve", "rui", "ines"]))
    assert (sum(won), Shop.objects.count(), Member.objects.count()) == (1, 1, 1)


@pytest.mark.parametrize(
    ("typed", "problem"),
    [
        ({"shop": ""}, "Write it here"),
        ({"username": "ada fell"}, "valid username"),
        ({"password": "12345678"}, "numeric"),
        ({"password": "witness-mark"}, "demo"),
        ({"time_zone": "Nowhere"}, "no such time zone"),
    ],
)
def test_what_cannot_be_used_is_told_and_nothing_typed_is_lost(tab, typed, problem):
    answer = send(tab, "/open/", TYPED | typed)
    assert answer.status_code == 422
    assert problem in " ".join(faults_of(answer))
    assert form_of(answer.content.decode(), "shop")["person"] == "Ada Fell"
    assert not Shop.objects.exists()


@pytest.mark.parametrize(
    "asked",
    [
        {"REMOTE_ADDR": "192.168.1.7"},
        {"HTTP_HOST": "testserver"},
        {"HTTP_X_FORWARDED_FOR": "192.168.1.7"},
    ],
    ids=["from another machine", "by another name", "through a proxy"],
)
def test_nobody_opens_it_from_elsewhere(tab, asked):
    """Whoever comes first over the network would have the shop; told how it is done."""
    answer = tab.post("/open/", TYPED | {"time_zone": "UTC"}, **asked)
    assert answer.status_code == 403
    assert "at the machine that serves these pages" in answer.content.decode()
    assert not Member.objects.exists()
