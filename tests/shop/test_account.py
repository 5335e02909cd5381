"""Whatever is agreed, done, issued, cancelled, paid and paid back: ledger and open list agree to the cent."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fixtures.invoices import trading
from tests.shop.day import Person
from tests.shop.test_document_numbers import issued, ready
from witnessmark.shop import store
from witnessmark.shop.models import OwedRow
from witnessmark.shop.work import issuing
from witnessmark.shop.work.billing import kept_document

pytestmark = pytest.mark.postgres  # and on SQLite, as everything

AMOUNTS = st.integers(1, 7000).map(lambda minor: f"{minor / 100:.2f}")
ACTS = st.one_of(
    st.tuples(st.just("lines/tyre/"), st.just("done"), AMOUNTS),
    st.tuples(st.just("lines/lights/"), st.just("partly done"), AMOUNTS),
    st.tuples(st.just("lines/tyre/"), st.just("not done"), st.just("")),
    st.tuples(st.just("issue/"), st.just(""), st.just("")),
    st.tuples(st.just("issue/"), st.just(""), st.just("")),
    st.tuples(st.just("cancel/"), st.just(""), st.just("")),
    st.tuples(st.just("advance/"), st.sampled_from(["cash", "card"]), AMOUNTS),
    st.tuples(st.just("paid/"), st.just("cash"), AMOUNTS),
    st.tuples(st.just("paid/"), st.just("transfer"), AMOUNTS),
    st.tuples(st.just("paid/"), st.just("back"), AMOUNTS),
    st.tuples(st.just("paid/off/"), st.just(""), st.just("")),
    st.tuples(st.just("receipt/"), st.just(""), st.just("")),
    st.tuples(st.just("written-off/"), st.just(""), st.just("")),
)


def send(person: Person, visit, act) -> dict | None:
    """One act through its form, and what was sent; None where the page does not offer it, or it was refused."""
    to, how, amount = act
    page = f"/visits/{visit.pk}/invoice/"
    here = page + to if to.startswith("lines/") else page
    if to not in person.client.get(page).content.decode():
        return None
    try:
        form = person.form(here, page + to, 'name="back"' if how == "back" else "")
    except AssertionError:  # the page has no such form now
        return None
    if (how == "back") != ("back" in form):
        return None
    typed = {"how": how, "amount": amount} if to.startswith("lines/") else {"because": "why"}
    if amount and not to.startswith("lines/"):
        typed |= {"amount": amount, "by": "cash" if how == "back" else how}
    return form if person.post(page + to, form | typed).status_code == 303 else None


def in_minor(act) -> int:
    """What an act moves: up for what came, down for what went back."""
    to, how, amount = act
    if to not in ("paid/", "advance/"):
        return 0
    return round(float(amount) * 100) * (-1 if how == "back" else 1)


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=st.lists(ACTS, min_size=4, max_size=14))
def test_ledger_and_open_list_agree_to_the_cent(
    shop, desk, small_book, technician, client_of, acts
):
    """The test reckons what was paid by itself; what is asked for it reads in the kept documents."""
    trading(shop)
    desk.member.shop.refresh_from_db()
    visit = ready(desk, small_book, f"H-{store.ledger.new_entry_id()[-6:]}")
    person, paid = Person(client_of(technician)), 0
    for act in acts:
        before = store.state(visit).account
        sent = send(person, visit, act)
        if sent is not None:
            gone = before.payment(sent["entry"]) if act[0] == "paid/off/" else None
            paid += in_minor(act) - (gone.minor if gone else 0)
        account = store.state(visit).account
        standing = [one for one in account.documents if one.asks]
        asked = sum(kept_document(shop, one.said.document).totals.gross_minor for one in standing)
        assert (account.asked_minor, account.paid_minor) == (asked, paid)
        assert account.open_minor == asked - paid - account.off_minor
        assert (
            sum(row.open_minor for row in OwedRow.objects.filter(visit=visit)) == account.open_minor
        )
        assert 0 <= asked <= 5640  # never above what was agreed
    assert issuing.gaps(shop) == []
    names = issued()
    assert len(set(names)) == len(names)
