"""The same form sent again is answered the same, at every address, whatever happened since."""

import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils.timezone import now

import witnessmark.shop
from tests.fixtures.shop import PASSWORD
from tests.fixtures.tour import tour_book
from tests.shop.day import Person, form_to, not_for_people, text_of, words
from tests.shop.marked import marked_catalogue, unmarked, with_marks
from tests.shop.test_arrival import NEW
from tests.shop.test_books_sent import TEXT, file_of
from tests.shop.test_papers import text_of as paper_of
from witnessmark.book.model import Book
from witnessmark.shop import content_store, store
from witnessmark.shop.models import Owner, PartPrice, Receipt, Shop, StockPack, StoredBook, Visit
from witnessmark.shop.pages.handback import forms
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.postgres_long

PAGES = Path(witnessmark.shop.__file__).parent / "pages"
A_FORM = re.compile(r"<form\b.*?</form>", re.DOTALL)
BOLT = store.ledger.new_entry_id()
OWN_PAGE = {  # forms that go to their own page, where the folder has several
    "owner.html": "bench-owner",
    "line.html": "own-line",
    "opened.html": "own-opened",
    "complaint.html": "complaint",
    "step.html": "repair-step",
    "keep.html": "repair-keep",
    "new.html": "book-new",
    "build.html": "book-build",
    "change.html": "book-change",
    "came_in.html": "book-take-in",
    "decide.html": "invoice-line",
    "extra.html": "invoice-extra",
}


def with_tickets() -> set[str]:
    """The names of all addresses that a form with a ticket goes to, from the templates themselves."""
    found = set()
    for file in PAGES.rglob("*.html"):
        for form in A_FORM.findall(file.read_text()):
            if "{% ticket" in form and file.name != "meanwhile.html":
                to = re.search(r"action=\"\{% url '([\w-]+)'", form)
                found.add(to[1] if to else OWN_PAGE.get(file.name, file.parent.name))
    return found


@pytest.fixture
def day(shop, desk, mara, nuno, monkeypatch) -> Visit:
    """A machine from the door to hand-back: a form at every address that takes one, but the shims."""
    said = tour_book().model_dump()
    said["readings"]["pad"]["safety"] = True
    said["jobs"]["linings"] |= {"early": ["lining", "magnet"], "likely": 0.2}
    book = content_store.keep_book(shop, with_marks(Book.model_validate(said)))
    sibling = sibling_of(shop, said)
    for part in ("ring", "nut"):
        PartPrice(shop=shop, part=part, name=part, price_minor=120).save()
    StockPack(shop=shop, name="Gear oil", fluid="gear_oil", size_ml=1000, price_minor=900).save()
    came = NEW | {"odometer": "32000", "complaint": "rear brake soft", "keys": "2"}
    mara.do("/arrive/?book=none", "/arrive/", **came)
    visit = Visit.objects.get()
    at = f"/visits/{visit.pk}"
    a_model_with_its_build_changed(mara)
    a_book_of_another_shop(mara)
    mara.do(f"{at}/arrival/", f"{at}/arrival/book/", book=str(book.pk))
    mara.do(f"{at}/arrival/", holding='name="complaint"', complaint="rear brake soft, squeals")
    jobs = ["drive_oil", "brake", "covers", "ride"]
    mara.do(f"{at}/needs/", holding='name="because"', job=jobs)
    mara.do(f"{at}/figures/rack_torque/", f"{at}/figures/rack_torque/same/", **{"from": sibling})
    mara.do(f"{at}/figures/rack_torque/", f"{at}/figures/rack_torque/set/",
            value="9", unit="N·m", document="manual", page="8")  # fmt: skip
    wheel = f"{at}/figures/wheel_torque/"
    nuno.do(wheel, f"{wheel}confirm/")
    mara.do(f"{at}/line/", words="Clean the wheel", minutes="10")
    mara.do(f"{at}/price/", f"{at}/line/strike/")
    mara.do(f"{at}/repair/", text="Stop the rattle", go="step")
    mara.do(f"{at}/repair/step/", text="Bracket off and on", minutes="10", go="done")
    mara.do(f"{at}/repair/", go="write")
    mara.do(f"{at}/price/", f"{at}/price/offer/")
    mara.do(f"{at}/price/", f"{at}/price/answers/", all="yes", how="in person")
    mara.do(f"{at}/price/", f"{at}/price/change/", answer="no/covers", told="1", how="in person")
    mara.do(f"{at}/price/", f"{at}/price/brought/", job="linings")
    mara.do(f"{at}/price/", f"{at}/price/answers/", answer__linings="no", how="in person")
    mara.do(f"{at}/price/", f"{at}/price/limit/", limit__amount="20", limit__how="in person")
    mara.do(f"{at}/order/", f"{at}/order/take/")
    standing = mara.form(f"{at}/bench/", f"{at}/bench/note/")
    mara.post(f"{at}/order/stands/", standing | {"stand": "engine/cold"})
    mara.do(f"{at}/codes/", holding='name="pasted"', pasted="P0301")
    mara.do(f"{at}/codes/", f"{at}/codes/cleared/", clear__text="engine unit")
    mara.do(f"{at}/codes/", f"{at}/codes/undo/")
    mara.do(f"{at}/bench/owner/", add="covers")
    mara.do(f"{at}/bench/", f"{at}/bench/order/")
    first = f"{at}/bench/?card=drive_oil/drain"
    mara.do(first, f"{at}/bench/confirm/", done="1", reading__magnet__1="clean")
    mara.do(f"{at}/bench/", f"{at}/bench/undo/")
    held = f"{at}/bench/?card=hold/hold"
    mara.do(held, f"{at}/bench/confirm/", done="1")
    mara.do(held, f"{at}/bench/wait-stopped/", stop__because="lever wanted for the pads")
    for _ in range(2):
        mara.do(f"{at}/bench/", f"{at}/bench/undo/")
    thin = {"reading__pad__1": "1.5 mm"}
    mara.do(f"{at}/bench/?card=brake/push_back", f"{at}/bench/confirm/", **thin)
    misread = mara.form(f"{at}/bench/", f"{at}/bench/undo/")
    mara.do(f"{at}/bench/", f"{at}/bench/mend/")
    mara.post(f"{at}/bench/undo/", misread)
    owner = mara.client.get(f"{at}/bench/owner/").content.decode()
    mara.do(f"{at}/bench/owner/", answer=re.search(r'"(no/own_\w+)"', owner)[1])
    mara.do(f"{at}/opened/", what="cover", words="Small lid on the left", count="1")
    (lid,) = read(visit).state.added
    mara.do(f"{at}/bench/?card={lid}/refit", f"{at}/bench/confirm/", done="1")
    mara.do(first, f"{at}/bench/note/", note__text="plug was dry")
    mara.do(first, f"{at}/bench/found/", found__text="hose cracked",
            found__line="Renew the hose", found__minutes="20")  # fmt: skip
    owner = mara.client.get(f"{at}/bench/owner/").content.decode()
    mara.do(f"{at}/bench/owner/", answer=re.search(r'"(no/own_\w+)"', owner)[1])
    mara.do(f"{at}/bench/", f"{at}/bench/settle/", settle__how="nothing wrong")
    mara.do(first, f"{at}/bench/wont/", wont__what="stuck", wont__safe_now="closed and dry")
    mara.do(f"{at}/bench/?card=covers/off", f"{at}/bench/skip/", skip__reason="owner wants it left")
    mara.do(f"{at}/bench/?card=covers/on", f"{at}/bench/leave/", leave__because="not today")
    mara.do(f"{at}/bench/", f"{at}/bench/undo/")
    bolt = {
        "fastener": "wheel_bolts",
        "index": 1,
        "figure": "wheel_torque",
        "outcome": "kept turning",
    }
    store.record(desk, visit, "tightened", bolt, entry_id=BOLT)
    tight = f"{at}/bench/?card=drive_oil/wheel_tight"
    mara.do(tight, f"{at}/bench/judge/", judge__verdict="sound", judge__text="tried by hand")
    for place in range(1, 6):
        mara.do(tight, f"{at}/bench/confirm/", tight=f"wheel_bolts/{place}/0")
    end = f"{at}/handback/"
    mara.do(end, f"{end}close/", 'value="wont/', how="put right")
    mara.do(f"{at}/bench/?card=brake/pump", f"{at}/bench/confirm/", done="1")
    mara.do(f"{at}/complaint/", how="nothing found", text="lever firm, cold and warm")
    later = now() + timedelta(minutes=21)
    monkeypatch.setattr(forms, "now", lambda: later)
    mara.do(end, f"{end}alone/", look="second look/fastener/wheel_bolts", apart="break", minutes="20",
            other_order="on", looked_again="on", not_ridden_because="it rains")  # fmt: skip
    looks = re.findall(r'name="look" value="([^"]+)"', nuno.client.get(end).content.decode())
    nuno.do(end, f"{end}look/", look=looks)
    mara.do(end, f"{end}road-test/")
    for job in [*jobs, *read(visit).state.repairs]:
        mara.do(end, f"{end}leave/", f'value="job/{job}"', because="no time left")
    mara.do(f"{at}/codes/", holding='name="pasted"', pasted="no codes", moment="after the work")
    mara.do(f"{end}override/?item=walk round", f"{end}override/",
            reason="owner waits", password=PASSWORD)  # fmt: skip
    mara.do(end, f"{end}take-back/")
    mara.do(end, f"{end}walk/")
    back = {"keys": "2", "fobs": "0", "odometer": "32010", "leaves": "ridden away"}
    mara.do(end, f"{end}return/", **back)
    mara.do(end, f"{end}take-back/")
    mara.do(end, f"{end}return/", **back)
    an_invoice_and_its_money(mara, visit)
    return visit


def an_invoice_and_its_money(mara: Person, visit: Visit) -> None:
    """Every form of the invoice: after hand-back they work as before it."""
    Owner.objects.update(address="Rua Nova 7\n9000-34 Funchal")
    where = {"address": "Quay 4\n9000-12 Funchal", "tax_number": "500 100"}
    Shop.objects.filter(pk=visit.shop_id).update(**where)
    at = f"/visits/{visit.pk}/invoice/"
    line = read(visit).state.agreed[0]
    mara.do(f"{at}lines/{line}/", how="done", amount="10", consent="in person")
    mara.do(f"{at}beside/", what="deposit", text="Old calliper", amount="25")
    mara.do(at, f"{at}beside/agreed/", how="in person")
    mara.do(f"{at}beside/", what="discount", text="Rebate", because="long wait", amount="1")
    mara.do(at, f"{at}beside/off/")
    mara.do(at, f"{at}advance/", amount="0.50", by="cash")
    mara.do(at, f"{at}issue/")
    mara.do(at, f"{at}paid/", amount="5", by="card")
    mara.do(at, f"{at}paid/off/")
    mara.do(at, f"{at}paid/", amount="1", by="card")
    mara.do(at, f"{at}receipt/")
    mara.do(at, f"{at}written-off/", because="moved away")
    mara.do(at, f"{at}cancel/", because="wrong sum")


def sibling_of(shop, said: dict) -> str:
    """Another model of the maker, which has the torque of the rack: the revision of its book."""
    rack = said["figures"]["rack_torque"] | {
        "value": "8 N·m",
        "source": "manual of another, page 3",
    }
    other = {
        "name": "brannock_t8",
        "title": "Brannock T8",
        "figures": said["figures"] | {"rack_torque": rack},
    }
    book = Book.model_validate(said | other)
    return content_store.keep_book(shop, with_marks(book)).current.sha256


def a_model_with_its_build_changed(mara: Person) -> None:
    """What is shown first is not stored; what is saved behind it is."""
    mara.do("/books/new/?begin=moped", maker="Orlo", model="50")
    build = f"/books/{StoredBook.objects.get(name='orlo_50').pk}/build/"
    shown = mara.post(build, mara.form(build) | {"rear_brake": "disc"})
    assert shown.status_code == 200
    assert mara.post(build, form_to(shown.content.decode(), build, build)).status_code == 303
    page = build.replace("/build/", "/change/minutes/")
    typed = mara.form(f"{page}?of=tyres/read_front", page) | {"minutes": "7"}
    looked = mara.post(page, typed)
    assert mara.post(page, form_to(looked.content.decode(), page, page)).status_code == 303


def a_book_of_another_shop(mara: Person) -> None:
    """The file is looked at first; the form of the page that shows what it brings takes it in."""
    file = SimpleUploadedFile("books.json", file_of(TEXT))
    shown = mara.client.post("/books/take-in/", {"file": file}).content.decode()
    fields = form_to(shown, "/books/take-in/", "/books/take-in/") | {"compared": "yes"}
    assert mara.post("/books/take-in/", fields).status_code == 303


def test_a_day_sent_again_is_answered_as_it_was_and_nothing_is_stored_twice(
    day, mara, nuno, settings, tmp_path
):
    """Every form, after the machine was handed back: the same way on, the same words, the same entries.

    With other content, or by somebody else, it is told so, and counts for nothing.
    """
    assert with_tickets() - {one.name for one in (*mara.sent, *nuno.sent)} == {
        "shims-fit",
        "repair-keep",  # wants a sound book: tests/shop/test_repair.py
    }
    before = [entry.id for entry in store.entries(day)]
    made = [key for row in Receipt.objects.filter(visit=day) for key in row.entries]
    assert sorted(set(before) - set(made)) == [BOLT]  # all but what no form brought
    assert len(made) == len(set(made))

    for who, other in ((mara, nuno), (nuno, mara)):
        for one in list(who.sent):
            again = who.client.post(one.path, one.fields)
            assert (again.status_code, again.headers.get("Location"), words(again)) == (
                303, one.to, one.said), one.name  # fmt: skip
            assert told_apart(who.client.post(one.path, one.fields | {"text": "changed"})), one
            theirs = other.client.post(one.path, one.fields)
            assert theirs.status_code == 303
            assert "sent this form before; it counts once" in words(theirs)[0], one
    assert [entry.id for entry in store.entries(day)] == before
    assert read(day).closed
    assert Visit.objects.count() == 1
    assert not_for_people(pages_read(mara, nuno, day)) == {}
    marked_catalogue(settings, tmp_path / "locale")
    assert unmarked(mara.client, day) == {}, "papers in the owner's language"


def pages_read(mara: Person, nuno: Person, day: Visit) -> dict[str, str]:
    """Every page that was opened on the day, every page and paper at its end, and the history, as people read them."""
    at = f"/visits/{day.pk}"
    names = (
        "arrival",
        "needs",
        "price",
        "order",
        "bench",
        "bench/owner",
        "handback",
        "papers",
        "codes",
    )
    paths = [*(f"{at}/{name}/" for name in names), f"/machines/{day.machine_id}/", "/", "/books/"]
    pages = {path: text_of(mara.client.get(path)) for path in paths}
    for slug in (
        "service-record",
        "estimate",
        "job-card",
    ):  # seal and book are printed whole, for they prove
        pages[slug] = re.sub(r"\b[0-9a-f]{64}\b", "", paper_of(mara.client, day, slug))
    pages["history"] = " ".join(line.words for line in read(day).state.history)
    return mara.seen | nuno.seen | pages


def told_apart(answer) -> bool:
    return answer.status_code == 303 and "stored before with other content" in words(answer)[0]
