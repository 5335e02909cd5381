"""Books between two shops in the browser: sent as a file, looked at, taken in by choice; and all that can go wrong."""

import hashlib
import json
import re
import stat
from io import BytesIO
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image
from typer.testing import CliRunner

from screenshots import SIZES, faults
from tests.browser.first_screen import OFF_SCREEN
from tests.fixtures.shop import SMALL_BOOK
from tests.shop.filled import faults_of, form_of
from tests.sweep import either_size
from witnessmark.book import load_book_text, parcel
from witnessmark.book.figures import figure_state
from witnessmark.book.figures_written import with_figures
from witnessmark.cli.book import app
from witnessmark.shop import content_store, photos, store
from witnessmark.shop.models import ChangeKept, KnownSender, PhotoKept, StoredBook
from witnessmark.shop.work import books_sent

TEXT = SMALL_BOOK.read_text()
NAME = "brannock_t9_small"
KEY = Ed25519PrivateKey.from_private_bytes(b"k" * 32)
BOLTS = f"of-{NAME}-figures.wheel_bolts"
OTHER = with_figures(TEXT, {"wheel_bolts": {"value": "65 N·m"}})


def file_of(*texts: str, shop: str = "Harbour Street", key=KEY) -> bytes:
    return parcel.sealed(shop, "Ada", "2026-01-31T08:00:00Z", texts, key)


def jpeg(width: int, height: int) -> bytes:
    out = BytesIO()
    Image.linear_gradient("L").resize((width, height)).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


def looked(tab, raw: bytes):
    return tab.post("/books/take-in/", {"file": SimpleUploadedFile("books.json", raw)})


def decide(tab, answer, **typed):
    """Send the form of the page that shows what a file brings."""
    said = form_of(answer.content.decode(), "parcel") | typed
    return tab.post("/books/take-in/", {name: one for name, one in said.items() if one is not None})


def words(answer) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", answer.content.decode()).split())


def now(name: str = NAME):
    stored = StoredBook.objects.get(name=name)
    return content_store.book_of(stored.shop, stored.current.sha256)


def test_a_book_goes_from_one_shop_to_the_other_and_is_unproven_there(
    tab, shop, small_book, stranger, client_of
):
    """Sent as a file, compared by its digits, taken in, remembered; the key is its owner's alone."""
    page = tab.get(f"/books/send/?book={small_book.pk}")
    digits = re.search(r"(?:\d{5} ){4}\d{5}", page.content.decode())[0]
    answer = tab.post("/books/send/", form_of(page.content.decode(), "book"))
    assert answer.headers["Content-Disposition"].startswith('attachment; filename="books-')
    key = Path(settings.HOME) / "keys" / f"books-{shop.pk}.pem"
    assert stat.S_IMODE(key.stat().st_mode) == 0o600

    there = client_of(stranger)
    shown = looked(there, answer.content)
    assert (shown.status_code, digits in words(shown)) == (200, True)
    assert "This sender is not known here" in words(shown)
    assert StoredBook.objects.count() == 1
    taken = decide(there, shown, compared="yes", name="The harbour")
    assert taken.status_code == 303
    (stored,) = StoredBook.objects.filter(shop=stranger.shop)
    book = content_store.book_of(stored.shop, stored.current.sha256)
    assert {figure_state(one) for one in book.figures.values()} == {"unproven"}
    assert book.figures["wheel_bolts"].source.startswith("from The harbour: ")
    page = words(there.get(taken.headers["Location"]))
    assert "unproven here: The harbour sent it" in page
    assert "3 unproven" in page

    assert str(KnownSender.objects.get()) == "The harbour"
    assert "Its signature is that of the shop known here" in words(looked(there, answer.content))
    assert not StoredBook.objects.filter(shop=shop).exclude(pk=small_book.pk).exists()


def test_the_photo_of_a_page_goes_along_where_one_lets_it(
    tab, desk, shop, small_book, stranger, client_of
):
    """Smaller than it was kept, under its own hash, found again beside its figure; unproven stays unproven."""
    kept = photos.keep(desk, BytesIO(jpeg(2000, 1500)))
    text = with_figures(TEXT, {"wheel_bolts": {"photo": kept.sha256}})
    content_store.keep_book(shop, load_book_text(text), text)
    page = tab.get(f"/books/send/?book={small_book.pk}")
    form = form_of(page.content.decode(), "book")
    without = tab.post("/books/send/", {k: v for k, v in form.items() if k != "pages"})
    assert (json.loads(without.content)["photos"], form["pages"]) == ({}, ["on"])
    file = tab.post("/books/send/", form).content
    assert len(json.loads(file)["photos"]) == 1
    there = client_of(stranger)
    shown = looked(there, file)
    assert "1 photo of a page comes along" in words(shown)
    assert not PhotoKept.objects.filter(shop=stranger.shop).exists()
    decide(there, shown, compared="no")
    (stored,) = StoredBook.objects.filter(shop=stranger.shop)
    figure = content_store.book_of(stored.shop, stored.current.sha256).figures["wheel_bolts"]
    row = PhotoKept.objects.get(shop=stranger.shop)
    assert (figure.photo, figure_state(figure), photos.fault(row)) == (row.sha256, "unproven", "")
    assert max(row.width, row.height) == 1280
    assert str(row.pk) in there.get(f"/books/{stored.pk}/").content.decode()
    assert "Nothing new" in words(looked(there, file))


def test_photos_without_room_stay_and_what_is_no_picture_is_left_out(tab, desk, shop, monkeypatch):
    kept = photos.keep(desk, BytesIO(jpeg(64, 48)))
    text = with_figures(TEXT, {"wheel_bolts": {"photo": kept.sha256}})
    stored = content_store.keep_book(shop, load_book_text(text), text)
    monkeypatch.setattr(parcel, "MOST_PHOTOS", 10)
    file = books_sent.file_of(desk.member, [stored], timezone.now())
    assert (json.loads(file.raw)["photos"], file.left_out) == ({}, 1)
    bad = b"<script>alert(1)</script>"
    sha256 = hashlib.sha256(bad).hexdigest()
    text = with_figures(OTHER, {"wheel_bolts": {"photo": sha256}})
    raw = parcel.sealed("Harbour Street", "Ada", "2026-01-31T08:00:00Z", [text], KEY, {sha256: bad})
    shown = looked(tab, raw)
    assert "1 photo cannot be read as a picture and is left out" in words(shown)
    decide(tab, shown, compared="no", **{BOLTS: "theirs"})
    assert (now().figures["wheel_bolts"].value, now().figures["wheel_bolts"].photo) == (
        "65 N·m",
        None,
    )
    assert PhotoKept.objects.count() == 1


def test_who_sends_is_asked_about_until_somebody_says(tab, shop):
    """Unsaid: nothing is stored. Not compared: taken in, and asked again the next time."""
    shown = looked(tab, file_of(TEXT))
    refused = decide(tab, shown)
    assert refused.status_code == 422
    assert faults_of(refused) == ["Say whether they agree."]
    assert not StoredBook.objects.exists()
    assert decide(tab, refused, compared="no").status_code == 303
    assert (StoredBook.objects.count(), KnownSender.objects.count()) == (1, 0)
    assert "Nothing new: there is nothing in it to take in" in words(looked(tab, file_of(TEXT)))


def test_a_known_name_under_another_key_is_told(tab, shop):
    decide(tab, looked(tab, file_of(TEXT)), compared="yes")
    other = file_of(OTHER, key=Ed25519PrivateKey.from_private_bytes(b"x" * 32))
    assert "Harbour Street is known here by another key" in words(looked(tab, other))
    page = tab.get("/books/take-in/").content.decode()
    tab.post("/books/take-in/", {"forget": re.search(r'name="forget" value="([^"]+)"', page)[1]})
    assert not KnownSender.objects.exists()
    assert ChangeKept.objects.filter(about__icontains="known sender", what="taken away").exists()


def test_own_figures_stay_unless_chosen_and_visits_keep_their_book(tab, shop, visit, small_book):
    before, pinned = now(), store.state(visit).book
    shown = looked(tab, file_of(OTHER))
    assert "Yours: 60 N·m" in words(shown)
    assert "Theirs: 65 N·m" in words(shown)

    decide(tab, shown, compared="no")
    assert now() == before
    decide(tab, looked(tab, file_of(OTHER)), compared="no", **{BOLTS: "theirs"})
    assert now().figures["wheel_bolts"].value == "65 N·m"
    assert figure_state(now().figures["wheel_bolts"]) == "unproven"
    assert {n for n, one in now().figures.items() if one != before.figures[n]} == {"wheel_bolts"}
    assert store.state(visit).book == pinned
    assert store.reading(visit).pinned.figures["wheel_bolts"].value == "60 N·m"


def test_a_form_sent_twice_or_over_a_book_that_was_changed_meanwhile(tab, shop, small_book):
    shown = looked(tab, file_of(OTHER))
    decide(tab, shown, compared="no", **{BOLTS: "theirs"})
    again = decide(tab, shown, compared="no", **{BOLTS: "theirs"})
    assert (again.status_code, now().figures["wheel_bolts"].value) == (303, "65 N·m")

    shown = looked(tab, file_of(TEXT))
    mine = with_figures(TEXT, {"wheel_bolts": {"value": "70 N·m"}})
    content_store.keep_book(shop, content_store.books.load_book_text(mine), mine)
    told = decide(tab, shown, compared="no", **{BOLTS: "theirs"})
    assert told.status_code == 422
    assert "Somebody changed the book here meanwhile" in words(told)
    assert now().figures["wheel_bolts"].value == "70 N·m"
    assert form_of(told.content.decode(), "parcel")[BOLTS] == "theirs"
    assert decide(tab, told).status_code == 303
    assert now().figures["wheel_bolts"].value == "60 N·m"


def test_one_book_that_cannot_be_used_is_told_and_the_others_are_taken_in(tab, shop):
    """Put together by a block that is not here: its fault has file and line."""
    text = TEXT.replace(NAME, "other").replace('title = "', 'title = "Other ')
    said = parcel.opened(file_of(TEXT, text)).model_dump(mode="json")
    (other,) = (one for one in said["books"] if one["name"] == "other")
    other["text"] = 'extends = "nothing_here"\n' + other["text"]
    said["signature"] = KEY.sign(parcel._signed(said)).hex()
    shown = looked(tab, parcel.rfc8785.dumps(said))
    assert "It cannot be used here: other:1" in words(shown)
    decide(tab, shown, compared="no")
    assert [one.name for one in StoredBook.objects.all()] == [NAME]


@pytest.mark.parametrize(
    ("raw", "problem"),
    [
        (b"", "empty"),
        (b"x" * 3_000_001, "Larger than a file of books"),
        (b"PK\x03\x04../up", "Is not a file of books"),
        (file_of(TEXT).replace(b"60 N", b"66 N"), "Was altered since it was signed"),
        (file_of(TEXT).replace(b'"format":1', b'"format":9'), "Was made by a newer version"),
    ],
    ids=["empty", "too large", "an archive", "altered", "newer"],
)
def test_a_file_that_cannot_be_used_is_told_beside_its_field(tab, shop, raw, problem):
    answer = looked(tab, raw)
    assert answer.status_code == 422
    assert any(problem in fault for fault in faults_of(answer)), faults_of(answer)


def test_nothing_to_send_and_nothing_ticked_are_told(tab, shop):
    assert "No service book is here yet" in words(tab.get("/books/send/"))
    content_store.keep_book(shop, content_store.books.load_book_text(TEXT), TEXT)
    refused = tab.post("/books/send/", {})
    assert (refused.status_code, faults_of(refused)) == (422, ["Which? Tick at least one."])


def test_books_of_the_store_go_out_and_come_in(shop, technician, small_book, tmp_path):
    """Sent, changed here, shown with what differs, taken in by choice; who is not known is not taken from unasked."""
    user = ["--user", technician.user.username]
    sent = CliRunner().invoke(app, ["export", small_book.name, *user])
    assert sent.exit_code == 0, sent.output
    file = tmp_path / "books.json"
    file.write_bytes(sent.stdout_bytes)
    text = with_figures(small_book.text, {"wheel_bolts": {"value": "65 N·m"}})
    content_store.keep_book(shop, content_store.books.load_book_text(text), text)

    def run(*args: str):
        return CliRunner().invoke(app, ["import", str(file), *user, *args])

    line = f"{small_book.name}:figures.wheel_bolts"
    shown = run()
    assert (shown.exit_code, line in shown.output, "not known here" in shown.output) == (
        0,
        True,
        True,
    )
    assert run("--take").exit_code == 1
    assert run("--take", "--remember", "Ourselves", "--theirs", line).exit_code == 0
    small_book.refresh_from_db()
    assert (
        content_store.book_of(shop, small_book.current.sha256).figures["wheel_bolts"].value
        == "60 N·m"
    )
    wrong = run("--theirs", "nothing:at.all")
    assert "no difference" in str(wrong.exception)
    assert "no such book" in str(CliRunner().invoke(app, ["export", "nothing", *user]).exception)


@pytest.mark.browser
@either_size
def test_the_pages_fit_and_their_action_is_on_the_first_screen(
    page, live_server, sign_in, technician, small_book, size
):
    sign_in(page, technician)
    page.set_viewport_size(SIZES[size])
    page.goto(f"{live_server.url}/books/send/?book={small_book.pk}")
    assert page.evaluate(OFF_SCREEN, {"digits": ".digits", "action": ".act"}) == []
    assert faults(page) == []
    page.goto(f"{live_server.url}/books/take-in/")
    assert page.evaluate(OFF_SCREEN, {"field": "#id_file", "action": ".act"}) == []
    assert faults(page) == []
    file = {"name": "b.json", "mimeType": "application/json", "buffer": file_of(OTHER)}
    page.locator("#id_file").set_input_files([file])
    page.get_by_role("button", name="Look at it").click()
    page.get_by_label("They agree").wait_for()
    page.wait_for_load_state()
    assert page.evaluate(OFF_SCREEN, {"digits": ".digits", "action": ".act"}) == []
    assert faults(page) == []
    page.get_by_label("They agree").check()
    page.get_by_label("Theirs: 65").check()
    page.get_by_role("button", name="Take it in").click()
    page.get_by_role("heading", level=1, name=small_book.title).wait_for()
    assert now().figures["wheel_bolts"].value == "65 N·m"
