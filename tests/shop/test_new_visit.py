"""The door and the first page: signing in, switches, the day's machines."""

import html
import json
import re
from datetime import date

import pytest
from django.core.management import call_command
from django.template import engines
from django.test import RequestFactory
from playwright.sync_api import expect

from screenshots import faults
from tests.fixtures.shop import PASSWORD
from witnessmark.shop import store
from witnessmark.shop.models import Shop, VisitSummary


def test_a_wrong_password_keeps_the_name_and_says_what_is_wrong(technician, client):
    answer = client.post("/sign-in/", {"username": "mara", "password": "cotter"})

    assert answer.status_code == 422
    assert 'value="mara"' in answer.content.decode()
    assert "Name or password is not right" in answer.content.decode()


def test_one_arrives_where_one_wanted_to_go(technician, client):
    asked = client.get("/?day=today")
    answer = client.post(asked.url, {
        "username": "mara", "password": PASSWORD, "next": "/?day=today"})  # fmt: skip

    assert (answer.status_code, answer.url) == (302, "/?day=today")


@pytest.mark.parametrize(
    ("back", "to"), [("/look-here/", "/look-here/"), ("https://elsewhere.example/", "/"), ("", "/")]
)
def test_a_switch_is_kept_on_the_device_and_leads_back_here_only(technician, client_of, back, to):
    client = client_of(technician)
    answer = client.post("/look/", {"units": "us", "theme": "night", "back": back})

    assert (answer.status_code, answer.url) == (303, to)
    page = client.get("/").content.decode()
    assert 'data-theme="night"' in page
    assert 'value="us" aria-pressed="true"' in page


def test_a_switch_takes_nothing_that_is_no_choice(client):
    assert client.post("/look/", {"units": "furlongs", "theme": "<b>"}).cookies == {}


def test_a_device_keeps_its_identity_over_sign_ins_and_not_a_forged_one(
    technician, helper, client_of
):
    first = client_of(technician)
    first.get("/")
    given = first.cookies["device"].value
    first.force_login(helper.user)
    first.get("/")
    assert first.cookies["device"].value == given

    first.cookies["device"] = given.replace(given[:4], "0000", 1)
    first.get("/")
    assert first.cookies["device"].value not in {given, given.replace(given[:4], "0000", 1)}


def test_today_shows_what_is_here_and_what_went_today(desk, visit, technician, client_of):
    gone = store.open_visit(desk, visit.machine)
    store.record(desk, gone, "arrived", {
        "machine": str(visit.machine_id), "owner": str(visit.machine.owner_id),
        "complaint": "left yesterday's lights on"})  # fmt: skip
    store.record(desk, gone, "returned", {})
    VisitSummary.objects.update(wanted_by=date(2026, 3, 6))
    page = client_of(technician).get("/").content.decode()

    here, _, left = page.partition("Handed back today")
    assert "rear tyre worn" in here
    assert "rear tyre worn" not in left
    assert "yesterday&#x27;s lights" in left
    assert "wanted by" in here
    assert "wanted by" not in left


@pytest.mark.parametrize("rows", [1, 4])
def test_today_asks_the_database_as_often_for_many_machines_as_for_one(
    desk, machine, technician, client_of, django_assert_num_queries, rows
):
    for _ in range(rows):
        visit = store.open_visit(desk, machine)
        store.record(desk, visit, "arrived", {
            "machine": str(machine.pk), "owner": str(machine.owner_id)})  # fmt: skip
    client = client_of(technician)
    client.get("/")
    # session, user, member; wrenches: they, events, cycles; what machines wait for; waits; back, here, gone; any yet?
    with django_assert_num_queries(12):
        client.get("/")


def test_every_answer_carries_the_strict_policy(technician, client_of):
    headers = client_of(technician).get("/").headers
    policy = headers["Content-Security-Policy"]

    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "no-store" in headers["Cache-Control"]


def test_a_shop_is_opened_from_the_terminal(database, monkeypatch, client, capsys):
    """The first person of the first shop needs no database tool."""
    import io

    monkeypatch.setattr("sys.stdin", io.StringIO("a-long-password-44\n"))
    call_command("open_shop", "Cairnhill", user="mara", time_zone="Europe/Lisbon")

    assert Shop.objects.get().time_zone == "Europe/Lisbon"
    sent = {"username": "mara", "password": "a-long-password-44"}
    assert client.post("/sign-in/", sent).status_code == 302
    assert client.get("/").status_code == 200


@pytest.mark.browser
@pytest.mark.parametrize("size", [(1024, 768), (390, 844)])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_first_pages_have_no_fault(
    page, live_server, desk, visit, technician, sign_in, size, theme
):
    """axe finds nothing, nothing overflows, every target is 48 px: door, fault, today, open menu."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.emulate_media(color_scheme=theme)
    found = {}
    page.goto(f"{live_server.url}/sign-in/")
    found["door"] = faults(page)
    page.get_by_label("Password").fill("problem")
    page.get_by_role("button", name="Sign in").click()
    expect(page.locator(".fault")).to_have_count(1)
    found["door, refused"] = faults(page)
    sign_in(page, technician)
    for name, path in (("today", "/"), ("fault", "/nowhere/")):
        page.goto(live_server.url + path)
        found[name] = faults(page)
    page.goto(live_server.url)
    page.get_by_text("Menu").click()
    found["menu"] = faults(page)

    assert {name: faulty for name, faulty in found.items() if faulty} == {}


@pytest.mark.browser
def test_the_keyboard_reaches_work_first_and_leaves_the_menu_by_escape(
    page, live_server, technician, sign_in
):
    sign_in(page, technician)
    page.goto(live_server.url)
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the main part")).to_be_focused()
    page.get_by_text("Menu").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.get_by_role("button", name="Sign out")).to_be_hidden()
    expect(page.get_by_text("Menu")).to_be_focused()


def test_every_form_of_a_page_carries_its_own_id_and_what_the_page_had_seen(
    desk, visit, django_assert_num_queries
):
    """One look at the ledger serves all forms of a page; no two forms share an id."""
    form = "{% ticket visit %}"
    page = engines["django"].from_string(form * 3)
    with django_assert_num_queries(1):
        text = page.render({"visit": visit}, RequestFactory().get("/"))

    ids = re.findall(r'name="entry_id" value="([^"]+)"', text)
    seen = {
        json.dumps(json.loads(html.unescape(s)))
        for s in re.findall(r'name="seen" value="([^"]+)"', text)
    }
    assert len(set(ids)) == 3
    assert seen == {json.dumps({str(desk.device): 5})}
