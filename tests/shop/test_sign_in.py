"""The door: wrong passwords are slowed down, nobody is kept out for ever, and a form outlives its sign-in."""

import io
import re
from datetime import timedelta

import pytest
from axes.models import AccessAttempt, AccessFailureLog
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from tests.fixtures.shop import PASSWORD, new_member
from tests.shop.filled import Forms, faults_of
from witnessmark.cli import serve
from witnessmark.shop import passwords, store
from witnessmark.shop.models import ChangeKept, Member, Shop

pytestmark = pytest.mark.postgres  # and on SQLite, as everything

FAR, FARTHER = "198.51.100.7", "203.0.113.9"  # addresses for documents (RFC 5737)


def tried(client: Client, password: str, name: str = "mara", place: str = FAR):
    return client.post("/sign-in/", {"username": name, "password": password}, REMOTE_ADDR=place)


def later(minutes: float) -> None:
    """As if these minutes had gone by since every try."""
    for row in AccessAttempt.objects.all():
        row.attempt_time -= timedelta(minutes=minutes)
        row.save(update_fields=["attempt_time"])


# ---------------------------------------------------------------- wrong passwords


def test_sixty_wrong_passwords_and_then_the_right_one_are_not_let_in(technician, client):
    """Five are looked at; then it says how long to wait, and trying on does not make that longer."""
    answers = [tried(client, f"cotter-pin-{number}") for number in range(60)]
    assert [a.status_code for a in answers[:5]] == [422, 422, 422, 422, 429]
    assert {a.status_code for a in answers[5:]} == {429}

    refused = tried(client, PASSWORD)
    assert refused.status_code == 429
    assert "Too many wrong passwords. Try again in 10 minutes" in faults_of(refused)[0]
    assert 'value="mara"' in refused.content.decode()
    assert "sessionid" not in client.cookies

    later(8.5)
    assert "in 2 minutes" in faults_of(tried(client, PASSWORD))[0]
    later(2)
    assert tried(client, PASSWORD).status_code == 302


def test_a_right_password_makes_the_slips_before_it_forgotten(technician, client):
    for _ in range(3):
        for number in range(4):
            assert tried(client, f"slip-{number}").status_code == 422
        assert tried(client, PASSWORD).status_code == 302
        client = Client()


def test_a_stranger_who_tries_without_end_keeps_nobody_out_of_the_shop(technician, client):
    """The shop's own tablet gets in while a stranger is at it, from there or from the same address."""
    tablet = Client()
    assert tried(tablet, PASSWORD).status_code == 302
    tablet.get("/")
    tablet.post("/sign-out/")

    for place in (FAR, FARTHER):
        for number in range(7):
            tried(client, f"guess-{number}", place=place)
    assert tried(Client(), PASSWORD, place="192.0.2.1").status_code == 429  # a device nobody knows
    assert tried(tablet, PASSWORD).status_code == 302


def test_one_who_tries_many_names_from_one_place_is_slowed_down_too(shop, technician, client):
    others = [new_member(shop, f"person{number}") for number in range(6)]
    ends = [tried(client, "cotter-pin", name=str(one.user)).status_code for one in others]
    assert ends == [422, 422, 422, 422, 429, 429]
    assert tried(Client(), PASSWORD, place=FARTHER).status_code == 302


def test_who_has_a_sign_in_of_their_own_does_not_start_another_name_anew_with_it(
    technician, helper, client
):
    for number in range(4):
        tried(client, f"guess-{number}")
    assert tried(client, PASSWORD, name="tomas").status_code == 302
    again = Client()
    assert tried(again, "guess-5").status_code == 429


def test_wrong_passwords_are_shown_to_the_head_and_only_those_of_the_shop(
    technician, helper, stranger, client_of
):
    """When, who, from where; not what was typed."""
    tried(Client(), "my-cotter-slip", name="tomas", place=FAR)
    tried(Client(), "another-slip", name="ludo", place=FARTHER)
    known = client_of(helper)
    known.get("/")
    known.post("/sign-out/")
    tried(known, "third-slip", name="tomas", place=FAR)

    page = client_of(technician).get("/shop/changes/").content.decode().partition("Refused")[2]
    assert page.count("Tomas") == 2
    assert FAR in page
    assert "a device of the shop" in page
    assert not [word for word in ("Ludo", "ludo", FARTHER, "slip") if word in page]
    assert AccessFailureLog.objects.filter(path_info="/sign-in/").count() == 3
    stored = str(list(AccessAttempt.objects.values())) + str(
        list(AccessFailureLog.objects.values())
    )
    assert "slip" not in stored


def test_behind_a_proxy_the_address_is_what_the_proxy_wrote(technician, client, settings):
    """And without one, nobody chooses an address by a header."""
    told = {"HTTP_X_FORWARDED_FOR": f"{FARTHER}, 192.0.2.44"}
    client.post("/sign-in/", {"username": "mara", "password": "x"}, REMOTE_ADDR=FAR, **told)
    settings.HTTPS = True
    client.post("/sign-in/", {"username": "mara", "password": "x"}, REMOTE_ADDR=FAR, **told)
    client.post("/sign-in/", {"username": "mara", "password": "x"}, REMOTE_ADDR=FAR,
                HTTP_X_FORWARDED_FOR="no address")  # fmt: skip
    places = AccessFailureLog.objects.order_by("attempt_time").values_list("ip_address", flat=True)
    assert list(places) == [FAR, "192.0.2.44", None]


# ---------------------------------------------------------------- passwords


def test_an_older_hash_becomes_argon2_at_the_next_sign_in(technician, client, settings):
    """As the settings have it, and not the quick way of the other tests."""
    from witnessmark.shop import settings as real

    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.PBKDF2PasswordHasher"]
    technician.user.set_password(PASSWORD)
    technician.user.save()
    assert technician.user.password.startswith("pbkdf2_sha256$")

    settings.PASSWORD_HASHERS = real.PASSWORD_HASHERS
    assert tried(client, PASSWORD).status_code == 302
    technician.user.refresh_from_db()
    assert technician.user.password.startswith("argon2$argon2id$")
    assert tried(Client(), PASSWORD).status_code == 302


@pytest.mark.parametrize(
    ("password", "fault"),
    [("witness-mark", "demo's password"), ("password", "too common"), ("ruthvane", "too similar"),
     ("20261128", "numeric"), ("short", "too short")],
)  # fmt: skip
def test_a_shop_is_not_opened_with_a_password_that_everybody_knows(
    database, monkeypatch, password, fault
):
    monkeypatch.setattr("sys.stdin", io.StringIO(password + "\n"))
    with pytest.raises(CommandError, match=fault):
        call_command("open_shop", "Cairnhill", user="ruthvane")
    assert not Shop.objects.exists()


def test_who_opens_a_shop_runs_it_and_who_is_added_works_in_it(database, monkeypatch, capsys):
    for user in ("mara", "tomas"):
        monkeypatch.setattr("sys.stdin", io.StringIO("sidestand-spring\n"))
        call_command("open_shop", "Cairnhill", user=user)
    roles = dict(Member.objects.values_list("user__username", "role"))
    assert roles == {"mara": "head", "tomas": "technician"}
    assert "mara can sign in to Cairnhill as head of the shop" in capsys.readouterr().out
    assert ChangeKept.objects.count() == 2


@pytest.mark.parametrize(
    ("host", "hosts", "https", "served"),
    [
        ("127.0.0.1", ["localhost", "127.0.0.1", "[::1]"], False, True),
        ("0.0.0.0", ["localhost"], False, False),
        ("192.0.2.5", ["localhost"], False, False),
        ("127.0.0.1", ["workshop.example"], False, False),
        ("127.0.0.1", ["localhost"], True, False),
    ],
)
def test_a_store_with_the_demos_password_is_served_to_this_machine_only(
    helper, settings, capsys, host, hosts, https, served
):
    helper.user.set_password("witness-mark")
    helper.user.save()
    settings.ALLOWED_HOSTS, settings.HTTPS = hosts, https
    if served:
        serve._refuse_the_demo(host)
        return
    with pytest.raises(serve.typer.Exit):
        serve._refuse_the_demo(host)
    assert "tomas can sign in with the demo's password" in capsys.readouterr().err

    helper.user.set_password(PASSWORD)
    helper.user.save()
    serve._refuse_the_demo(host)


# ---------------------------------------------------------------- forms that outlive their sign-in


def filled(visit, text: str) -> dict[str, str]:
    return {"entry_id": store.ledger.new_entry_id(), "seen": "{}", "note-text": text,
            "card": "tyre/swap"}  # fmt: skip


def the_form_to(page: str, to: str) -> dict[str, str]:
    form = re.search(rf'<form[^>]*action="{re.escape(to)}".*?</form>', page, re.DOTALL)
    return dict(Forms(form[0]).found[0][1])


def test_what_was_typed_while_signed_out_is_sent_by_who_signs_in_then(helper, visit, client):
    """A wrong password in between loses nothing; it is stored once, by that person, also when it is sent twice."""
    to = f"/visits/{visit.pk}/bench/note/"
    typed = filled(visit, "Left mirror\nis “loose” <b>")
    before = len(store.entries(visit))
    out = client.post(to, typed)
    page = out.content.decode()
    assert (out.status_code, len(store.entries(visit))) == (403, before)
    assert "What you typed is kept on this page" in page

    sign_in = the_form_to(page, "/sign-in/")
    problem = client.post("/sign-in/", sign_in | {"username": "tomas", "password": "x"})
    sign_in = the_form_to(problem.content.decode(), "/sign-in/")
    client.post("/sign-in/", sign_in | {"username": "tomas", "password": PASSWORD})  # two taps
    inside = client.post("/sign-in/", sign_in | {"username": "tomas", "password": PASSWORD})
    page = inside.content.decode()
    assert (inside.status_code, len(store.entries(visit))) == (200, before)
    assert "Send it as Tomas" in page
    assert "Left mirror" in page.partition("<ul")[2].partition("</ul>")[0]
    assert typed["entry_id"] not in re.sub(r"<textarea.*?</textarea>", "", page, flags=re.DOTALL)

    again = the_form_to(page, to)
    for _ in range(2):
        assert client.post(to, again).status_code == 303
    (noted,) = store.entries(visit)[before:]
    assert (noted.said.text, noted.author) == (typed["note-text"], str(helper.pk))
    assert noted.id == typed["entry_id"]


def test_a_form_from_before_another_person_signed_in_is_told_so_and_sent_as_that_person(
    technician, helper, visit
):
    """Two pages of one tablet: the older one's form is not taken for the new person's without a word."""
    tablet = Client(enforce_csrf_checks=True)

    def enter(name: str) -> None:
        page = tablet.get("/sign-in/").content.decode()
        sent = the_form_to(page, "/sign-in/") | {"username": name, "password": PASSWORD}
        assert tablet.post("/sign-in/", sent).status_code == 302

    enter("tomas")
    to = f"/visits/{visit.pk}/bench/note/"
    old = the_form_to(tablet.get(f"/visits/{visit.pk}/bench/?card=tyre/swap").content.decode(), to)
    out = the_form_to(tablet.get("/").content.decode(), "/sign-out/")
    assert tablet.post("/sign-out/", out).status_code == 302
    enter("mara")
    before = len(store.entries(visit))

    sent = old | {"note-text": "tyre is of 2014"}
    elsewhere = tablet.post(to, sent, HTTP_ORIGIN="https://elsewhere.example")
    assert (elsewhere.status_code, "tyre is of 2014" in elsewhere.content.decode()) == (403, False)
    asked = tablet.post(to, sent, HTTP_ORIGIN="http://testserver")
    page = asked.content.decode()
    assert (asked.status_code, len(store.entries(visit))) == (403, before)
    assert "Send it as Mara" in page
    assert tablet.post(to, the_form_to(page, to)).status_code == 303
    assert store.entries(visit)[-1].author == str(technician.pk)


def test_a_photo_does_not_come_along_and_that_is_said(helper, visit, client):
    picture = io.BytesIO(b"x")
    picture.name = "p.jpg"
    out = client.post(
        f"/visits/{visit.pk}/bench/note/", filled(visit, "see") | {"note-photo": picture}
    )
    assert "Photos and files do not come along" in out.content.decode()


def test_a_sign_in_page_that_was_sent_twice_or_is_old_signs_in_all_the_same(technician):
    tablet = Client(enforce_csrf_checks=True)
    page = the_form_to(tablet.get("/sign-in/").content.decode(), "/sign-in/")
    sent = page | {"username": "mara", "password": PASSWORD}
    here = {"HTTP_ORIGIN": "http://testserver"}
    assert tablet.post("/sign-in/", sent, **here).status_code == 302
    twice = tablet.post("/sign-in/", sent, **here)
    assert (twice.status_code, twice.headers["Location"]) == (303, "/")

    out = the_form_to(tablet.get("/").content.decode(), "/sign-out/")
    tablet.post("/sign-out/", out)
    old = tablet.post("/sign-in/", sent, **here)
    assert (old.status_code, 'value="mara"' in old.content.decode()) == (403, True)
    fresh = the_form_to(old.content.decode(), "/sign-in/") | {"password": PASSWORD}
    assert tablet.post("/sign-in/", fresh, **here).status_code == 302


@pytest.mark.parametrize(
    ("to", "typed"),
    [
        ("https://elsewhere.example/", '[["a", "b"]]'), ("//elsewhere.example/", '[["a", "b"]]'),
        ("/", "no list"), ("/", "[" * 100_000), ("/", '[["a"]]'), ("/", "null"), ("/", '{"a": 1}'),
        ("/sign-out/", '[["a", "b"]]'), ("/no/such/page/", "[]"),
    ],
)  # fmt: skip
def test_a_carried_form_that_no_page_of_ours_made_is_left_aside(technician, client, to, typed):
    sent = {"username": "mara", "password": PASSWORD, "to": to, "typed": typed}
    answer = client.post("/sign-in/", sent)
    assert (answer.status_code, answer.headers.get("Location")) == (302, "/")


def test_a_password_is_never_carried_along(technician, visit, client):
    sent = {"password_now": "cotter-pin-44", "password": "other-pin-44", "x": "kept"}
    page = client.post("/password/", sent).content.decode()
    assert "kept" in page
    assert "pin-44" not in page


def test_wrong_tries_do_not_stay_for_ever(technician, client):
    """What counts no longer goes with the next wrong try; the list for the head is bounded by the library."""
    tried(client, "x")
    later(11)
    tried(client, "y", place=FARTHER)
    assert AccessAttempt.objects.count() == 1
    assert AccessAttempt.objects.get().attempt_time > timezone.now() - timedelta(minutes=1)
    assert passwords.of_the_demo() == "witness-mark"
