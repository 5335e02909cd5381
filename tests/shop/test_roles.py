"""Who may do what: every address, every kind of entry, by every role; and a page shows nothing that is refused."""

import re
from html.parser import HTMLParser
from importlib import import_module
from urllib.parse import urljoin, urlsplit

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import Resolver404, resolve

from tests.fixtures.shop import new_member
from tests.fixtures.tour import put
from tests.shop.test_scope import ADDRESSES, a_row_of_everything, everything_of, path_of
from witnessmark.ledger.bodies import BODIES
from witnessmark.shop import roles
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Member, WrenchEvent
from witnessmark.shop.work.visit import read

WRITING = re.compile(r"\s*(INSERT|UPDATE|DELETE|REPLACE|MERGE)\b", re.IGNORECASE)
ROLES = ["helper", "technician", "head"]
NAMED = {address.name: address for address in ADDRESSES}


@pytest.fixture
def people(shop, technician) -> dict[str, Member]:
    """One of each role."""
    return {
        "head": technician,
        "technician": new_member(shop, "edda", "technician"),
        "helper": new_member(shop, "jonas", "helper"),
    }


@pytest.fixture
def rows(desk, visit):
    return a_row_of_everything(desk, visit)


# ---------------------------------------------------------------- the tables are whole


def test_every_address_stands_in_the_table_and_no_other():
    assert dict.fromkeys(NAMED) == dict.fromkeys(roles.AT)


def test_every_kind_of_entry_stands_in_the_table_and_no_other():
    assert dict.fromkeys(BODIES) == dict.fromkeys(roles.WRITES)


def test_what_no_table_names_is_for_the_head_alone():
    assert [roles.may(role, "an-address-forgotten") for role in ROLES] == [False, False, True]
    for role, refused in zip(ROLES, [True, True, False], strict=True):
        if refused:
            with pytest.raises(roles.RefusedError):
                roles.refuse_entry(role, "a kind forgotten", {}, None)
        else:
            roles.refuse_entry(role, "a kind forgotten", {}, None)


def test_only_the_head_sets_money_rules_and_people_and_a_helper_works_at_the_bench():
    """Written down here once more, by hand: whoever widens a role changes this list, too."""
    used = [name for name, (_, do) in roles.AT.items() if do]
    of_the_head = {
        "owner-erase", "settings", "settings-money", "settings-invoices", "invoice-write-off", "room",
            "person", "person-new", "person-retire",
        "person-password", "prices-common", "prices-book", "backup", "backup-now",
    }  # fmt: skip
    of_a_helper = {
        "bench-confirm", "bench-undo", "bench-order", "bench-stop-wait", "bench-wont", "bench-found", "bench-note",
        "codes", "codes-cleared", "codes-undo", "shims-fit", "handback-look", "figure-confirm",
        "wrench-dropped",
        "waste-put-in", "own-opened", "own-password", "sign-in", "sign-out", "look", "open-shop",
    }  # fmt: skip
    assert {name for name in used if not roles.may("technician", name)} == of_the_head
    assert {name for name in used if roles.may("helper", name)} == of_a_helper


# ---------------------------------------------------------------- every address by every role


@pytest.mark.parametrize("role", ROLES)
def test_every_address_does_what_the_table_says(role, people, rows, desk, client_of):
    """Refused: 403, in words with who may, and nothing changed. Allowed: never 403. No such method: 405.

    Looking writes nothing, with all in the address that a form could carry: what only writes answers 405 to it.
    """
    client, problem, before = client_of(people[role]), [], everything_of(desk.shop)
    uses = [
        (method, name, least)
        for name, both in roles.AT.items()
        if name != "sign-out"
        for method, least in zip(("get", "post"), both, strict=True)
    ]
    refused = [use for use in uses if use[2] and ROLES.index(role) < ROLES.index(use[2])]
    for method, name, _ in refused:
        answer = getattr(client, method)(path_of(NAMED[name], rows))
        if answer.status_code != 403 or "Mara (head of the shop)" not in answer.content.decode():
            problem.append((method, name, answer.status_code))
    assert (problem, everything_of(desk.shop)) == ([], before)
    told = {name: str(row.pk) for name, row in rows.items()}
    told |= {
        "entry_id": str(new_id()),
        "seen": "{}",
        "text": "x",
        "reason": "x",
        "step": "wheel_on",
    }
    for method, name, least in [use for use in uses if use not in refused]:
        with CaptureQueriesContext(connection) as asked:
            answer = getattr(client, method)(
                path_of(NAMED[name], rows), told if method == "get" else None
            )
        if answer.status_code == 403 or (least is None) != (answer.status_code == 405):
            problem.append((method, name, answer.status_code))
        if method == "get":
            problem += [(name, one["sql"]) for one in asked if WRITING.match(one["sql"])]
    assert problem == []
    assert client.get("/sign-out/").status_code == 405


@pytest.mark.parametrize("role", ROLES)
def test_another_shops_row_is_not_there_whatever_the_role(role, rows, shop_next_door, client_of):
    """Also where the role alone would be refused: nobody learns what there is next door."""
    client = client_of(new_member(shop_next_door, "ludo", role))
    for name in ("owner-erase", "person", "person-retire", "person-password", "handback-return"):
        answer = client.post(path_of(NAMED[name], rows))
        assert (name, answer.status_code) == (name, 404)


def test_a_shop_from_before_the_roles_has_a_head(shop, shop_next_door):
    """The first technician of each shop; a shop of helpers alone its first helper; one that has a head keeps it."""
    new_member(shop, "anna", "helper")
    first, second = new_member(shop, "bela", "technician"), new_member(shop, "carl", "technician")
    alone = new_member(shop_next_door, "dora", "helper")
    name_a_head = import_module("witnessmark.shop.migrations.0010_roles").name_a_head
    for _ in range(2):
        name_a_head(apps, None)
        assert set(Member.objects.filter(role="head")) == {first, alone}
    assert Member.objects.get(pk=second.pk).role == "technician"


class Leads(HTMLParser):
    """Where a page leads: links as GET, forms by their method."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: set[tuple[str, str]] = set()
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        said = dict(attrs)
        if tag == "a" and "href" in said:
            self.found.add(("GET", said["href"]))
        if tag == "form":
            self.found.add(((said.get("method") or "get").upper(), said.get("action") or ""))
        if "hx-get" in said:
            self.found.add(("GET", said["hx-get"]))


def led_to(path: str, page: str) -> set[tuple[str, str]]:
    """The names of the addresses that a page leads to."""
    found = set()
    for method, to in Leads(page).found:
        try:
            found.add((method, resolve(urlsplit(urljoin(path, to)).path).url_name or ""))
        except Resolver404:
            continue  # a file of the page
    return found


@pytest.fixture
def busy(desk, worked_on, wrench, shop, people):
    """A visit with most of what a page can show: findings, codes, an override, a wrench that was dropped."""
    WrenchEvent(shop=shop, wrench=wrench, kind="dropped", on="2026-01-01").save()
    put(desk, worked_on, ("found", {"text": "fork seal weeps", "safety": True}),
        ("codes_cleared", {"text": "all units", "copied": False}))  # fmt: skip
    item = next(i for i in read(worked_on).state.items if i.startswith("finding/"))
    put(desk, worked_on, ("overridden", {"item": item, "reason": "fetched with a van", "person": str(
        desk.member.pk), "paper": "not to be ridden", "signature": "c" * 64}))  # fmt: skip
    return worked_on


@pytest.mark.parametrize("role", ["helper", "technician"])
def test_no_page_shows_a_link_or_a_form_that_is_refused(role, people, rows, busy, client_of):
    client, problem = client_of(people[role]), []
    for name, (see, _) in roles.AT.items():
        if see is None or not roles.may(role, name, "GET"):
            continue
        path = path_of(NAMED[name], rows | {"visit": busy, "machine": busy.machine})
        answer = client.get(path)
        kind = answer.headers.get("Content-Type", "")
        if answer.status_code == 200 and kind.startswith("text/html"):
            problem += [
                (name, *one)
                for one in led_to(path, answer.content.decode())
                if not roles.may(role, one[1], one[0])
            ]
    assert sorted(set(problem)) == []
