"""The papers of a visit say what its entries say, and nothing else."""

import re
from io import BytesIO
from zoneinfo import ZoneInfo

import pypdf
import pytest

from tests.fixtures.tour import bolts, done, put, tour_book
from witnessmark.book.model import Book
from witnessmark.ledger.seal import seal_hash
from witnessmark.shop import content_store, store
from witnessmark.shop.models import Seal, Visit
from witnessmark.shop.work import planning, pricing
from witnessmark.shop.work.planned import Planned
from witnessmark.shop.work.visit import read


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


def at(visit: Visit, slug: str = "") -> str:
    return f"/visits/{visit.pk}/papers/" + (f"{slug}.pdf" if slug else "")


def text_of(tab, visit: Visit, slug: str, query: str = "") -> str:
    """The text of a paper, as a search would find it."""
    answer = tab.get(at(visit, slug) + query)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    pages = pypdf.PdfReader(BytesIO(answer.content)).pages
    return " ".join(" ".join(page.extract_text().split()) for page in pages)


def missing_in(text: str, *words: str) -> list[str]:
    return [one for one in words if one not in text]


def offer(desk, visit: Visit) -> pricing.Priced:
    """An estimate of the jobs taken on, shown to the owner."""
    made = pricing.priced(read(visit), list(read(visit).state.taken))
    sha256 = pricing.keep_estimate(desk.shop, made.estimate)
    lines = [line.id for line in made.estimate.lines]
    put(desk, visit, ("offered", {"estimate": sha256, "lines": lines}))
    return made


def answer(desk, visit: Visit, line: str, verdict: str) -> None:
    put(desk, visit, ("answered", {
        "estimate": read(visit).state.offers[-1].estimate, "line": line, "verdict": verdict,
        "by": str(visit.machine.owner_id), "how": "by telephone"}))  # fmt: skip


def take_order(desk, visit: Visit) -> Planned:
    made = planning.planned(read(visit), planning.to_do(read(visit)))
    put(desk, visit, ("plan_taken", {"plan": planning.keep(desk.shop, made)}))
    return made


def hand_back(desk, visit: Visit, **more) -> None:
    put(desk, visit, ("walked_round", {}), ("gate_passed", {"gate": "hand-back"}),
        ("returned", {"keys": 2, "fobs": 1, "old_parts_given": True, **more}))  # fmt: skip


# ---------------------------------------------------------------- service record


def test_the_record_tells_each_mark_with_figure_wrench_and_who(tab, shop, worked_on):
    """Group, figure with its source, how it was reached, wrench with its calibration, name, time of the shop's zone."""
    shop.time_zone = "Pacific/Marquesas"  # half an hour off, all year
    shop.save()
    text = text_of(tab, worked_on, "service-record")
    mark = next(e for e in store.entries(worked_on) if e.kind == "tightened")
    clock = mark.instant.astimezone(ZoneInfo(shop.time_zone)).strftime("%H:%M")

    assert missing_in(
        text, "wheel bolt, all 5", "60 N·m", "invented manual, page 1", "clicked at 60 N·m",
        "Middle click, certificate C-20", "Mara", clock,
        "pad thickness 4.1 mm at least 2 mm within limits",
        "rear brake soft", "48 210 km", "12-QX-81", "Ines Calder", "invented makers",
    ) == []  # fmt: skip


def test_a_wrench_out_of_calibration_is_said_beside_its_mark(tab, desk, tour, wrench):
    put(desk, tour, *done("wheel_off", "wheel_on"))
    for kind, body in bolts(wrench):
        put(desk, tour, (kind, body | {"wrench_proven": body["index"] != 4}))
    text = text_of(tab, tour, "service-record")

    assert (
        missing_in(
            text, "wheel bolt, 1, 2, 3, 5 of 5", "wheel bolt, 4 of 5", "tight, wrench unproven"
        )
        == []
    )


def test_a_record_before_hand_back_says_that_it_is_not_final(tab, worked_on):
    """It lists what is open; the page says the same."""
    text = text_of(tab, worked_on, "service-record")
    assert (
        missing_in(text, "Not handed back: this record is not final.", "Second look: wheel bolt")
        == []
    )
    assert "not final" in tab.get(at(worked_on)).content.decode()


def test_a_final_record_says_first_what_was_let_through(tab, desk, technician, worked_on):
    """Then who gave it back, what went with it, the look alone as that, and what was found and answered."""
    looks = [i for i in read(worked_on).state.items if i.startswith("second look/")]
    fallback = {"apart": "break", "minutes": 25, "other_order": True, "looked_again": True}
    put(desk, worked_on, ("gate_passed", {"gate": "road test"}), *done("ride/ride", "ride/look"))
    put(desk, worked_on, ("looked", {"items": looks, "fallback": fallback}))
    put(desk, worked_on, ("found", {"text": "horn is quiet"}))
    item = next(i for i in read(worked_on).state.items if i.startswith("finding/"))
    put(desk, worked_on, ("overridden", {
        "item": item, "reason": "owner knows, horn on order", "person": str(technician.pk)}))  # fmt: skip
    hand_back(desk, worked_on, text="come back for the horn")
    text = text_of(tab, worked_on, "service-record")

    let = "horn is quiet: no answer yet. Signed off as is by Mara: owner knows, horn on order."
    assert text.index("Left open, signed off as is") < text.index(let) < text.index("Arrived")
    assert missing_in(
        text, "Given back 2 keys, 1 fob", "ridden away", "come back for the horn",
        "no second person. Mara", "after a break of 25 min, in another order", "after a road test",
    ) == []  # fmt: skip
    assert "not final" not in text
    assert "final" in tab.get(at(worked_on)).content.decode()


def test_what_was_not_done_is_said_with_its_reason(tab, desk, tour):
    """Partly done, left, declined: each by its word."""
    put(
        desk,
        tour,
        *done("covers/off"),
        ("skipped", {"step": "covers/on", "reason": "screw ordered"}),
    )
    put(desk, tour, ("job_left", {"job": "brake", "because": "pads still good"}))
    offer(desk, tour)
    answer(desk, tour, "ride", "no")
    text = text_of(tab, tour, "service-record")

    assert re.search(r"covers Not done: covers on, screw ordered .* partly done", text)
    assert re.search(r"rear brake .* not done pads still good", text)
    assert re.search(r"ride after declined by telephone", text)


def test_the_record_names_what_access_steps_fitted(tab, desk, shop, tour):
    """They belong to no job, but what they fit is charged; a part fitted again is not called new."""
    said = tour_book().model_dump()
    said["access"]["pannier_on"] |= {"parts": {"ring": 2}, "renews": ["lock_nut"]}
    book = content_store.keep_book(shop, Book.model_validate(said))
    pinned = ("book_pinned", {"revision": book.current.sha256})
    put(
        desk,
        tour,
        pinned,
        *done("pannier_off"),
        ("done", {"step": "pannier_on", "reused": ["lock_nut"]}),
    )
    text = text_of(tab, tour, "service-record")

    assert "Fitted: sealing ring × 2 Fitted again, not new: self-locking nut" in text


def test_a_job_left_half_done_says_why_what_is_safe_and_that_it_comes_again(tab, desk, tour):
    """On the record, on hand-back and among what is due next, by the same words."""
    wont = {"step": "covers/on", "what": "part missing", "safe_now": "covers in the top box"}
    put(desk, tour, *done("covers/off"), ("wont", wont))
    put(desk, tour, ("job_left", {"job": "covers", "because": "screw comes on Friday"}))
    text = text_of(tab, tour, "service-record")

    assert re.search(r"covers Left for later: .* partly done screw comes on Friday", text)
    assert "covers on: part missing (safe now: covers in the top box)" in text
    assert re.search(r"left for later on this visit covers", text)
    page = tab.get(f"/visits/{tour.pk}/handback/").content.decode()
    said = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))
    assert re.search(r"Left for later covers Screw comes on Friday .*? partly done", said)


def test_the_next_interval_counts_from_this_visit(tab, desk, worked_on, wrench):
    """Done whole at 48 210 km, every 10 000 km."""
    before = text_of(tab, worked_on, "service-record")
    assert "now: when it was last done is not known" in before
    put(
        desk, worked_on,
        ("figure_set", {"figure": "drive_fill", "value": "190 ml", "source": "manual, page 9", "was": "180 ml"}),
        *done("drive_oil/drain"), ("read", {"reading": "magnet", "step": "drive_oil/drain", "words": "clean"}),
        ("tightened", {"fastener": "drain_plug", "figure": "drain_torque", "set_nm": 25.0, "clicked": True,
                       "wrench": str(wrench.pk), "wrench_proven": True, "step": "drive_oil/fill"}),
        *done("drive_oil/fill"),
    )  # fmt: skip
    after = text_of(tab, worked_on, "service-record")
    assert "at 58 210 km" in after
    assert "drive oil: 190 ml (the book had 180 ml), manual, page 9" in after


def test_the_same_state_prints_the_same_bytes_and_anchors_the_ledger(tab, desk, worked_on):
    """The newest seal stands on the paper; a further entry makes another paper."""
    first = tab.get(at(worked_on, "service-record")).content
    assert tab.get(at(worked_on, "service-record")).content == first
    head = Seal.objects.filter(visit=worked_on).order_by("-number").first()
    assert f"Seal {head.number}, {seal_hash(store.sealed(head))}" in text_of(
        tab, worked_on, "service-record"
    )

    put(desk, worked_on, ("noted", {"text": "left mirror stiff"}))
    assert tab.get(at(worked_on, "service-record")).content != first


# ---------------------------------------------------------------- estimate, job card, road test


def test_the_estimate_prints_each_line_with_its_answer_and_the_sums_that_were_kept(
    tab, desk, shop, visit
):
    """Who said what, how and when; the limit; the shop's own words above the signature; each revision by its number."""
    shop.labour_per_hour, shop.tax_rates, shop.usual_tax = 60, {"standard": "20"}, "standard"
    shop.estimate_text = "Parts taken off are kept for a week."
    shop.save()
    visit = Visit.objects.get(pk=visit.pk)
    first = offer(desk, visit).estimate
    answer(desk, visit, "tyre", "yes")
    answer(desk, visit, "lights", "no")
    put(desk, visit, ("limit_given", {
        "minor": 8000, "currency": "EUR", "by": str(visit.machine.owner_id), "how": "by telephone"}))  # fmt: skip
    text = text_of(tab, visit, "estimate")

    assert (first.net_minor, first.gross_minor) == (4700, 5640), (
        "44 and 3 minutes at 60 an hour, and a fifth"
    )
    assert missing_in(
        text, "Change the rear tyre", "€44.00", "Agreed by telephone, ", "€3.00", "Declined by telephone, ",
        "€47.00", "20 % of €47.00", "€9.40", "€56.40", "up to €80.00 in all", "kept for a week", "Authorisation",
    ) == []  # fmt: skip

    shop.labour_per_hour = 90
    shop.save()
    offer(desk, Visit.objects.get(pk=visit.pk))
    assert "Estimate 2 of 2" in text_of(tab, visit, "estimate")
    assert "€56.40" not in text_of(tab, visit, "estimate")
    assert "€56.40" in text_of(tab, visit, "estimate", "?revision=1")
    assert tab.get(f"{at(visit, 'estimate')}?revision=3").status_code == 404


def test_the_job_card_follows_the_plan_with_figures_in_both_units(tab, desk, visit):
    """Every step in planned order, kit and limits beside; what is done carries who and when."""
    plan = take_order(desk, visit)
    put(desk, visit, *done("wheel_off"))
    tab.cookies["units"] = "us"
    text = text_of(tab, visit, "job-card")

    steps = [read(visit).steps[step.name].text for step in plan.answer.steps]
    places = [text.index(words) for words in steps]
    assert places == sorted(places)
    assert missing_in(
        text, "60 N·m", "44.3 lbf·ft", "Rear wheel bolt × 2, in a star", "page 12", "Depth of tread",
        "at least 1.6 mm (0.063 in)", "proven: none is shorter", "rear tyre worn",
    ) == []  # fmt: skip
    put(desk, visit, ("done", {"step": "tyre/swap"}))
    assert re.search(r"Change the tyre.* \d\d:\d\d Mara", text_of(tab, visit, "job-card"))


def test_the_job_card_keeps_what_was_done_when_an_order_is_taken_anew(tab, desk, visit):
    """Done first, then what is left, numbered on; a card without an order shows what was done."""
    take_order(desk, visit)
    put(desk, visit, *done("wheel_off", "tyre/swap"))
    take_order(desk, visit)
    text = text_of(tab, visit, "job-card")

    before, _, left = text.partition("Done before this order")[2].partition("Order of work")
    assert re.search(r"1 .*Change the tyre.* \d\d:\d\d Mara", before)
    assert "Change the tyre" not in left
    assert missing_in(left, "Rear wheel bolt", "Switch every light on") == []


def test_an_owner_gets_every_paper_in_german_and_the_workshop_its_own(tab, desk, shop, visit):
    """Numbers, money and days as German writes them; what a person typed, and a book without German, as it stands."""
    shop.labour_per_hour, shop.tax_rates, shop.usual_tax = 60, {"standard": "20"}, "standard"
    shop.save()
    visit = Visit.objects.get(pk=visit.pk)
    owner = visit.machine.owner
    owner.language = "de"
    owner.save()
    offer(desk, visit)
    answer(desk, visit, "tyre", "yes")
    take_order(desk, visit)
    put(
        desk,
        visit,
        ("read", {"reading": "tread", "step": "tyre/swap", "value": 1.2, "text": "1.2 mm"}),
    )

    assert missing_in(
        text_of(tab, visit, "estimate"), "Kostenvoranschlag 1 von 1", "Change the rear tyre", "44,00 €",
        "Zugestimmt telefonisch", "Steuer (Normalsatz), 20 % auf 47,00 €", "Unterschrift",
    ) == []  # fmt: skip
    assert missing_in(
        text_of(tab, visit, "service-record"), "Servicenachweis", "rear tyre worn", "1,2 mm", "mindestens 1,6 mm",
        "unter der Grenze von 1,6 mm", "zugestimmt, noch nicht erledigt", "nicht erledigt", "48 210 km",
    ) == []  # fmt: skip
    assert missing_in(text_of(tab, visit, "job-card"), "Job card", "at least 1.6 mm") == []


def test_the_road_test_sheet_stands_before_the_ride_and_after_it(tab, desk, worked_on):
    """Blank before; what stops the ride is said on it; what only the ride can close is listed until it is."""
    text = text_of(tab, worked_on, "road-test")
    assert missing_in(text, "Ride only where you may.", "lever firm before it rolls", "no leak anywhere",
                      "rear brake: disc and hub cool after the ride", "Ridden by") == []  # fmt: skip
    assert "Not to be ridden. Open:" not in text

    put(desk, worked_on, *done("wheel_off"))
    assert "Not to be ridden. Open:" in text_of(tab, worked_on, "road-test")
    put(desk, worked_on, *done("ride/ride", "ride/look"))
    after = text_of(tab, worked_on, "road-test")
    assert (
        missing_in(
            after, "Ridden, and looked at again", "ridden ", "confirmed", "Mara", "rear brake soft"
        )
        == []
    )
    assert "Only this ride can close" not in after


# ---------------------------------------------------------------- the page


def test_a_paper_that_does_not_exist_is_said_so_and_has_no_address(tab, desk, visit):
    """Nothing offered, no order taken, no ride: 404, and no link on the page. Once it is there, it is linked."""
    page = tab.get(at(visit)).content.decode()
    assert missing_in(page, "Nothing was offered yet.", "No order of work was taken yet.",
                      "No job of this visit has a ride.") == []  # fmt: skip
    for slug in ("estimate", "job-card", "road-test", "invoice"):
        assert tab.get(at(visit, slug)).status_code == 404
        assert at(visit, slug) not in page
    assert at(visit, "service-record") in page

    offer(desk, visit)
    assert at(visit, "estimate") in tab.get(at(visit)).content.decode()


def test_a_paper_of_another_shop_is_not_there(worked_on, stranger, client_of):
    assert client_of(stranger).get(at(worked_on, "service-record")).status_code == 404


def test_a_paper_is_named_after_machine_and_visit(tab, machine, worked_on):
    """A plate in any script is kept beside a plain name (RFC 6266)."""
    machine.plate = "ΑΒΓ 1/2"
    machine.save()
    said = tab.get(at(worked_on, "service-record"))["Content-Disposition"]

    assert said.startswith('inline; filename="service-record 0001 ___ 1_2.pdf"')
    assert said.endswith("filename*=UTF-8''service-record%200001%20%CE%91%CE%92%CE%93%201%2F2.pdf")


def test_the_record_charges_what_was_done_at_the_price_it_was_accepted_at(tab, desk, shop, visit):
    """Both lines were agreed at 60 an hour; only the lights were done, and the rate has gone up since."""
    shop.labour_per_hour, shop.tax_rates, shop.usual_tax = 60, {"standard": "20"}, "standard"
    shop.save()
    visit = Visit.objects.get(pk=visit.pk)
    offer(desk, visit)
    for line in ("tyre", "lights"):
        answer(desk, visit, line, "yes")
    put(desk, visit, *done("lights/look"))
    shop.labour_per_hour = 90
    shop.save()
    text = text_of(tab, visit, "service-record")

    charge = text[text.index("Charged at most") :]
    assert missing_in(charge, "Look at the lights €3.00", "20 % €0.60", "With tax €3.60") == []
    assert "tyre" not in charge
