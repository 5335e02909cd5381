"""People come and go, nobody is left without a head, entries keep their author, and what is changed is told."""

import re
from pathlib import Path

import pytest
from django.contrib.auth import get_user_model
from django.db import DatabaseError, transaction
from django.test import Client

import witnessmark.demo
from tests.fixtures.shop import PASSWORD, new_member
from tests.fixtures.tour import done, put
from tests.shop.filled import faults_of, send
from witnessmark.book import load_book
from witnessmark.shop import content_store, roles, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import ChangeKept, Member, Owner, StockPack, StoredBook, Wrench
from witnessmark.shop.scope import Desk
from witnessmark.shop.work import planning, staff
from witnessmark.shop.work.crew import crew_of
from witnessmark.shop.work.visit import read

TOURER = Path(witnessmark.demo.__file__).parent / "books" / "quandle_t9.toml"

pytestmark = pytest.mark.postgres_long

NEW = {"first_name": "Ruth", "last_name": "Vane", "username": "ruth", "role": "helper",
       "password": "sidestand-spring", "password_again": "sidestand-spring"}  # fmt: skip


@pytest.fixture
def tab(technician, client_of) -> Client:
    """The tablet of the head of the shop."""
    return client_of(technician)


@pytest.fixture
def tourer(shop) -> StoredBook:
    """A book with parts, fluids and figures."""
    return content_store.keep_book(shop, load_book(TOURER), TOURER.read_text())


@pytest.fixture
def edda(shop) -> Member:
    return new_member(shop, "edda", "technician")


def told() -> list[tuple[str, str, str, str]]:
    """The changes kept, oldest first."""
    rows = ChangeKept.objects.order_by("at", "id")
    return [(row.about, row.what, row.before, row.after) for row in rows]


# ---------------------------------------------------------------- taking back


@pytest.mark.parametrize(
    ("by", "of", "kind", "may"),
    [
        ("helper", "helper", "done", True),
        ("helper", "another helper", "done", False),
        ("helper", "technician", "done", False),
        ("helper", "helper", "arrived", False),  # written when she was a technician
        ("helper", "helper", "book_pinned", False),
        ("technician", "technician", "arrived", True),
        ("technician", "helper", "done", True),
        ("technician", "another technician", "done", False),
        ("technician", "head", "done", False),
        ("technician", "retired technician", "done", True),
        ("head", "technician", "book_pinned", True),
        ("head", "retired technician", "returned", True),
    ],
)
def test_who_may_take_back_what(shop, by, of, kind, may):
    people = {
        name: new_member(shop, f"p{number}", name.split()[-1])
        for number, name in enumerate({by: 0, of: 0})
    }
    if of.startswith("retired"):
        people[of].user.is_active = False
    assert roles.may_take_back(people[by], kind, {}, people[of]) == may


def test_a_helper_takes_back_only_what_is_their_own_and_never_how_it_came_in(
    desk, helper_desk, visit, helper, client_of
):
    """By the form of the bench, and by whatever else would write the entry."""
    put(desk, visit, *done("wheel_off"))
    put(helper_desk, visit, ("noted", {"text": "stripe missing on the axle"}))
    entries = {entry.kind: entry for entry in store.entries(visit)}
    client = client_of(helper)

    def undo(kind: str) -> int:
        form = {"entry_id": store.ledger.new_entry_id(), "seen": "{}", "entry": entries[kind].id}
        return client.post(f"/visits/{visit.pk}/bench/undo/", form).status_code

    for kind in ("done", "arrived", "book_pinned", "job_taken"):
        assert (kind, undo(kind)) == (kind, 403)
    for kind in ("arrived", "book_pinned"):
        with pytest.raises(roles.RefusedError):
            put(helper_desk, visit, ("corrected", {"entry": entries[kind].id}))
    assert undo("noted") == 303
    assert [e.said.entry for e in store.entries(visit) if e.kind == "corrected"] == [
        entries["noted"].id
    ]


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("overridden", {"item": "x", "reason": "y"}),
        ("returned", {}),
        ("gate_passed", {"gate": "road test"}),
        ("gate_passed", {"gate": "hand-back"}),
        ("limit_given", {"minor": 100000, "currency": "EUR", "how": "in person"}),
        ("figure_set", {"figure": "axle", "value": "10 Nm"}),
        ("job_left", {"job": "tyre"}),
        ("walked_round", {}),
    ],
)
def test_the_store_refuses_what_a_helper_may_not_write_whatever_address_asks(
    helper_desk, helper, visit, kind, body
):
    if kind in {"overridden", "limit_given"}:
        body = body | {{"overridden": "person", "limit_given": "by"}[kind]: str(helper.pk)}
    before = store.entries(visit)
    with pytest.raises(roles.RefusedError):
        put(helper_desk, visit, ("noted", {"text": "first of one form"}), (kind, body))
    assert store.entries(visit) == before


# ---------------------------------------------------------------- people


def test_a_person_is_added_signs_in_is_given_a_role_and_retired(tab, shop, visit):
    """And what she did stays hers, whatever role she has since; her next tap after that ends in words."""
    assert send(tab, "/shop/people/new/", NEW).status_code == 303
    ruth = Member.objects.get(user__username="ruth")
    hers = Client()
    sent = {"username": "ruth", "password": NEW["password"]}
    assert hers.post("/sign-in/", sent).status_code == 302
    assert hers.get(f"/shop/people/{ruth.pk}/").status_code == 403
    put(Desk(ruth, new_id()), visit, *done("wheel_off"))

    assert send(tab, f"/shop/people/{ruth.pk}/", {"role": "head"}).status_code == 303
    assert hers.get(f"/shop/people/{ruth.pk}/").status_code == 200
    assert tab.post(f"/shop/people/{ruth.pk}/close/").status_code == 303
    ended = hers.post(f"/visits/{visit.pk}/bench/confirm/", {"card": "x"})
    assert (ended.status_code, "This sign-in was closed" in ended.content.decode()) == (403, True)
    assert Client().post("/sign-in/", sent).status_code == 422
    assert store.entries(visit)[-1].author == str(ruth.pk)
    assert "wheel off" in tab.get(f"/visits/{visit.pk}/bench/").content.decode().lower()

    assert tab.post(f"/shop/people/{ruth.pk}/close/", {"again": "1"}).status_code == 303
    assert Client().post("/sign-in/", sent).status_code == 302
    assert told() == [
        ("Person: Ruth Vane", "added", "nothing", told()[0][3]),
        ("Person: Ruth Vane", "role", "helper", "head of the shop"),
        ("Person: Ruth Vane", "at the bench", "yes", "no"),
        ("Person: Ruth Vane", "may sign in", "yes", "no"),
        ("Person: Ruth Vane", "may sign in", "no", "yes"),
    ]


@pytest.mark.parametrize(
    ("typed", "fault"),
    [
        ({"username": "mara"}, "mara is taken"),
        ({"username": "MARA"}, "MARA is taken"),
        ({"username": "ruth vane"}, "valid username"),
        ({"password_again": "another-spring"}, "not the same"),
        ({"password": "witness-mark", "password_again": "witness-mark"}, "demo's password"),
        ({"password": "Witness-Mark", "password_again": "Witness-Mark"}, "demo's password"),
        ({"password": "password1", "password_again": "password1"}, "too common"),
        (
            {"username": "ruthvane", "password": "ruthvane1", "password_again": "ruthvane1"},
            "too similar",
        ),
        ({"password": "spring", "password_again": "spring"}, "too short"),
        ({"password": "8402716395", "password_again": "8402716395"}, "entirely numeric"),
        ({"role": "owner"}, "valid choice"),
    ],
)
def test_a_person_that_cannot_be_added_keeps_what_was_typed(tab, typed, fault):
    answer = send(tab, "/shop/people/new/", NEW | typed)
    assert answer.status_code == 422
    assert any(fault in one for one in faults_of(answer)), faults_of(answer)
    assert 'value="Vane"' in answer.content.decode()
    assert not get_user_model().objects.filter(first_name="Ruth").exists()


def test_the_last_head_is_neither_retired_nor_given_another_role(tab, technician, edda):
    for answer in (
        tab.post(f"/shop/people/{technician.pk}/close/"),
        send(tab, f"/shop/people/{technician.pk}/", {"role": "helper"}),
    ):
        assert answer.status_code == 422
        assert (
            "Mara is the only head of this shop; make somebody else head first"
            in answer.content.decode()
        )
    technician.refresh_from_db()
    assert (technician.role, technician.user.is_active, told()) == ("head", True, [])

    send(tab, f"/shop/people/{edda.pk}/", {"role": "head"})
    assert tab.post(f"/shop/people/{technician.pk}/close/").status_code == 303


@pytest.mark.usefixtures("transactional_db")
def test_two_heads_who_retire_each_other_at_once_leave_one(technician, colleague):
    """The second waits for the first, and is then the last: whichever comes first."""
    from concurrent.futures import ThreadPoolExecutor
    from threading import Barrier

    from django.db import connection

    start = Barrier(2)

    def retire(by: Member, whom: Member) -> str:
        start.wait()
        try:
            staff.retire(Desk(by, new_id()), whom)
        except staff.StaffError:
            return "refused"
        finally:
            connection.close()
        return "retired"

    with ThreadPoolExecutor(2) as both:
        ends = [
            both.submit(retire, technician, colleague), both.submit(retire, colleague, technician),
        ]  # fmt: skip
    assert sorted(end.result() for end in ends) == ["refused", "retired"]
    heads = Member.objects.filter(role="head", user__is_active=True)
    assert heads.count() == 1


def test_before_somebody_goes_it_is_told_where_they_are_planned_with(tab, desk, visit, edda):
    work = read(visit)
    made = planning.planned(work, planning.to_do(work), crew_of([edda], work.entries[0].instant))
    put(desk, visit, ("plan_taken", {"plan": planning.keep(visit.shop, made)}))

    page = tab.get(f"/shop/people/{edda.pk}/close/").content.decode()
    assert re.search(
        rf"Planned with now; take a new order of work there: visit {visit.number}, Brannock T9 · 12-QX-81",
        page,
    )
    tab.post(f"/shop/people/{edda.pk}/close/")
    assert "Edda" in tab.get("/").content.decode()  # that she may sign in no more
    assert "Edda" not in tab.get("/board/").content.decode()


def test_a_new_password_ends_every_sign_in_made_with_the_old_one(tab, helper, client_of):
    theirs = client_of(helper)
    assert theirs.get("/").status_code == 200
    typed = {"password": "chain-guard-22", "password_again": "chain-guard-22"}
    assert send(tab, f"/shop/people/{helper.pk}/password/", typed).status_code == 303

    assert theirs.get("/").status_code == 302
    for password, status in ((PASSWORD, 422), ("chain-guard-22", 302)):
        sent = {"username": "tomas", "password": password}
        assert Client().post("/sign-in/", sent).status_code == status
    assert told() == [("Person: Tomas", "password", "nothing", "a new one")]


def test_not_even_the_head_changes_their_own_password_without_the_old_one(tab, technician):
    typed = {"password": "chain-guard-22", "password_again": "chain-guard-22"}
    answer = tab.post(f"/shop/people/{technician.pk}/password/", typed)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/password/")
    technician.user.refresh_from_db()
    assert technician.user.check_password(PASSWORD)


def test_ones_own_password_is_changed_with_the_old_one_and_one_stays_signed_in(helper, client_of):
    theirs = client_of(helper)
    typed = {
        "password_now": "cotter",
        "password": "chain-guard-22",
        "password_again": "chain-guard-22",
    }
    assert faults_of(send(theirs, "/password/", typed)) == [
        "That is not your password; capitals count."
    ]
    assert send(theirs, "/password/", typed | {"password_now": PASSWORD}).status_code == 303
    assert theirs.get("/").status_code == 200
    helper.user.refresh_from_db()
    assert helper.user.check_password("chain-guard-22")


# ---------------------------------------------------------------- changes


def test_every_change_of_price_rule_person_wrench_book_and_owner_is_kept_in_words(
    tab, tourer, machine, helper, edda, client_of
):
    """Who, when, before, after; no id, no password, and nothing of an owner who was erased."""
    send(tab, "/shop/", {"refuse_override": "on"})
    send(tab, "/shop/money/", {"labour_per_hour": "81.50"})
    send(tab, "/shop/room/", {"lifts": "3"})
    send(tab, f"/shop/people/{helper.pk}/", {"hours": "08:00–12:00", "weekdays": ["0", "5"]})
    part = next(iter(content_store.book_of(tourer.shop, tourer.current.sha256).parts))
    for price in ("12.50", "14", ""):
        send(tab, f"/shop/prices/{tourer.pk}/", {part: price})
    theirs = client_of(edda)
    send(theirs, "/shop/wrenches/new/", {"name": "Long click", "high_nm": "200 Nm"})
    wrench = Wrench.objects.get(name="Long click")
    send(theirs, f"/shop/wrenches/{wrench.pk}/change/", {"calibration_months": "6"})
    theirs.post(f"/shop/wrenches/{wrench.pk}/dropped/")
    text = tourer.text.replace('"32 Nm"', '"33 Nm"', 1)
    assert send(theirs, f"/books/{tourer.pk}/text/", {"text": text}).status_code == 303
    send(tab, f"/owners/{machine.owner_id}/erase/", {"sure": "on"})

    changes = told()
    for about, what, before, after in (
        ("The shop", "refuse override", "no", "yes"),
        ("The shop", "labour per hour", "0", "81.5"),
        ("The shop", "lifts", "1", "3"),
        ("Person: Tomas", "hours", "nothing", "08:00–12:00"),
        ("Person: Tomas", "weekdays", "Mon, Tue, Wed, Thu, Fri, Sat, Sun", "Mon, Sat"),
        ("Wrench: Long click", "calibration months", "12", "6"),
    ):
        assert (about, what, before, after) in changes
    prices = [one[1:] for one in changes if one[0].startswith("Price of a part")]
    assert [(what, before[-6:], after[-6:]) for what, before, after in prices] == [
        ("added", "nothing"[-6:], "€12.50"), ("price", "€12.50", "€14.00"),
        ("taken away", "€14.00", "nothing"[-6:]),
    ]  # fmt: skip
    abouts = [one[0] for one in changes]
    assert "Wrench: Long click, dropped or overloaded" in abouts
    assert [one[2:] for one in changes if one[0] == "Service book: Quandle T9"] == [
        tuple(f"{value} Nm; source invented workshop manual, p. 31" for value in (32, 33))
    ]
    assert ("An owner", "data", "known; machines: Brannock T9", "erased") in changes
    assert Owner.objects.get(pk=machine.owner_id).erased_on

    page = tab.get("/shop/changes/").content.decode()
    assert "81.5" in page
    assert "Edda" in page
    everything = "\n".join(map(str, changes)) + page
    assert "Calder" not in everything
    main = page.partition("<main")[2]
    assert (
        re.findall(r"[0-9a-f]{8}-[0-9a-f]{4}|[0-9a-f]{16}|pbkdf2|argon2|md5\$", str(changes) + main)
        == []
    )


def test_a_change_that_was_kept_cannot_be_changed_or_deleted(tab):
    send(tab, "/shop/room/", {"lifts": "3"})
    row = ChangeKept.objects.get()
    for act in (lambda: ChangeKept.objects.update(after="1"), row.delete):
        with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
            act()
    assert told() == [("The shop", "lifts", "1", "3")]


def test_a_form_that_is_sent_twice_or_changes_nothing_tells_one_change(tab):
    for _ in range(2):
        send(tab, "/shop/room/", {"lifts": "3"})
    assert len(told()) == 1


def test_a_technician_books_a_pack_in_and_only_the_head_prices_it(tab, edda, tourer, client_of):
    theirs = client_of(edda)
    page = theirs.get("/shop/packs/new/").content.decode()
    assert "Price of a pack" not in page
    holds = re.search(r'<option value="([^"/]+/)"', page)[1]
    typed = {"holds": holds, "name": "Ten litres", "size_ml": "10 L", "price_minor": "1"}
    theirs.post("/shop/packs/new/", typed)
    pack = StockPack.objects.get()
    assert pack.price_minor is None
    send(tab, f"/shop/packs/{pack.pk}/", {"price_minor": "88"})
    pack.refresh_from_db()
    assert pack.price_minor == 8800
