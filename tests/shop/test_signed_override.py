"""The two sheets of an override: printed to be signed, signed on the tablet, printed with the signature."""

from io import BytesIO

import pypdf
import pytest

from tests.fixtures.shop import PASSWORD
from tests.fixtures.tour import put
from witnessmark.shop import store
from witnessmark.shop.photos import path_of
from witnessmark.shop.work.visit import read

SAYS = {
    "not-ridden": ["Not to be ridden", "leaves on a trailer", "fork seal weeps", "safety-critical"],
    "declined": ["Told and declined", "do not want them put right now", "fork seal weeps"],
}


@pytest.fixture
def weeping(desk, worked_on):
    """A safety-critical finding that is open."""
    put(desk, worked_on, ("found", {"text": "fork seal weeps", "safety": True}))
    return next(i for i in read(worked_on).state.items if i.startswith("finding/"))


def printed(client, visit, slug: str, query: str = "") -> pypdf.PdfReader:
    answer = client.get(f"/visits/{visit.pk}/papers/{slug}.pdf{query}")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return pypdf.PdfReader(BytesIO(answer.content))


def text_of(paper: pypdf.PdfReader) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in paper.pages)


@pytest.mark.parametrize("slug", SAYS)
def test_each_sheet_is_reached_from_the_override_and_names_what_is_open(
    technician, client_of, desk, worked_on, weeping, slug
):
    """One item where the override asks for it; from the page of papers all that is open, or recorded as declined."""
    tab = client_of(technician)
    put(desk, worked_on, ("settled", {"entry": weeping.split("/")[1], "how": "told and declined"}))
    page = tab.get(f"/visits/{worked_on.pk}/handback/override/?item={weeping}").content.decode()
    link = f"/visits/{worked_on.pk}/papers/{slug}.pdf"
    assert f'href="{link}?item={weeping}"' in page
    assert f'href="{link}"' in tab.get(f"/visits/{worked_on.pk}/papers/").content.decode()
    text = text_of(printed(tab, worked_on, slug, f"?item={weeping}"))
    assert [words for words in [*SAYS[slug], "Owner's signature"] if words not in text] == []
    assert "Second look" not in text
    every = text_of(printed(tab, worked_on, slug))
    assert ("Second look" in every) == (slug == "not-ridden"), "unfinished work is not declined"
    assert tab.get(f"{link}?item=finding/none").status_code == 404


def test_nothing_is_told_and_declined_that_was_not_recorded_so(
    technician, client_of, desk, worked_on, weeping
):
    """A finding without an answer is on no such sheet; asked for by itself it claims no answer before the signature."""
    tab, link = client_of(technician), f"/visits/{worked_on.pk}/papers/declined.pdf"
    put(desk, worked_on, ("found", {"text": "front tyre worn", "safety": True}))
    assert tab.get(link).status_code == 404
    assert f'href="{link}"' not in tab.get(f"/visits/{worked_on.pk}/papers/").content.decode()
    alone = text_of(printed(tab, worked_on, "declined", f"?item={weeping}"))
    assert "Valid only with the owner's signature" in alone
    assert "has declined" not in alone

    put(desk, worked_on, ("settled", {"entry": weeping.split("/")[1], "how": "told and declined"}))
    text = text_of(printed(tab, worked_on, "declined"))
    assert "fork seal weeps: told and declined" in text
    assert "front tyre worn" not in text
    assert "no answer yet" not in text
    record = text_of(printed(tab, worked_on, "service-record"))
    assert "fork seal weeps (told and declined)" in record


@pytest.mark.browser
def test_the_owner_signs_on_the_tablet_and_the_sheet_carries_it(
    live_server, page, sign_in, client_of, technician, worked_on, weeping
):
    sign_in(page, technician)
    page.goto(f"{live_server.url}/visits/{worked_on.pk}/handback/override/?item={weeping}")
    pad = page.locator("canvas")
    pad.scroll_into_view_if_needed()
    box = pad.bounding_box()
    page.mouse.move(box["x"] + 40, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + 300, box["y"] + 90, steps=5)
    page.mouse.up()
    page.get_by_label("Why?").fill("fetched with a van")
    page.get_by_label("not to be ridden", exact=True).check()
    page.get_by_label("Your password").fill(PASSWORD)
    with page.expect_navigation():
        page.locator("main form button.act").click()

    photo, said = (entry.said for entry in store.entries(worked_on)[-2:])
    assert (said.paper, said.signature) == ("not to be ridden", photo.sha256)
    assert path_of(said.signature).exists()
    sheet = printed(client_of(technician), worked_on, "not-ridden")
    (signature,) = sheet.pages[0].images
    assert signature.image.convert("L").getextrema()[0] < 60, "ink on white"
    assert "Signed off as is by Mara: fetched with a van" in text_of(sheet)
    none = client_of(technician).get(f"/visits/{worked_on.pk}/papers/declined.pdf")
    assert none.status_code == 404, "no defect is left that could be declined"
