"""Hand-back: nothing passes while one item is open, and each says what closes it."""

import re
from datetime import timedelta
from io import BytesIO
from typing import Any
from urllib.parse import urlencode

import pytest
from axes.models import AccessFailureLog
from django.utils.timezone import now
from PIL import Image

from tests.fixtures.shop import PASSWORD
from tests.fixtures.tour import bolts, done, put
from tests.shop.day import form_to
from tests.shop.filled import Forms, faults_of
from witnessmark.shop import store
from witnessmark.shop.models import Visit
from witnessmark.shop.pages.handback import forms
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.postgres  # and on SQLite, as everything
BACK = {"keys": "2", "fobs": "1", "odometer": "48225", "old_parts": "yes", "leaves": "ridden away"}


@pytest.fixture
def tab(technician, client_of):
    """The technician's tablet."""
    return client_of(technician)


@pytest.fixture
def helpers_tab(helper, client_of):
    return client_of(helper)


def at(visit: Visit, act: str = "") -> str:
    return f"/visits/{visit.pk}/handback/{act}"


def form_on(page: str, act: str, holding: str = "") -> dict[str, Any]:
    """What the form for one act would send as it stands; `holding`: a text of the one meant."""
    every = re.findall(rf'<form[^>]*action="[^"]*/handback/{act}/".*?</form>', page, re.DOTALL)
    (form,) = [one for one in every if holding in one]
    return dict(Forms(form).found[0][1])


def tap(client, visit: Visit, act: str, holding: str = "", **typed: Any):
    """Open the page, and send one of its forms with some fields typed over."""
    page = client.get(at(visit)).content.decode()
    sent = form_on(page, act, holding) | typed
    return client.post(at(visit, f"{act}/"), {k: v for k, v in sent.items() if v is not None})


def ticket() -> dict[str, str]:
    return {"entry_id": store.ledger.new_entry_id(), "seen": "{}"}


def kinds(visit: Visit) -> list[str]:
    return [entry.kind for entry in store.entries(visit)]


def photo() -> BytesIO:
    out = BytesIO()
    Image.new("RGB", (300, 200), (200, 190, 170)).save(out, "JPEG")
    out.seek(0)
    out.name = "signed.jpg"
    return out


def made_clear(desk, helper_desk, visit: Visit, wrench) -> None:
    """All that was opened is closed again, as at the end of a good day."""
    put(helper_desk, visit, ("looked", {"items": [
        item for item in read(visit).state.items if item.startswith("second look/")]}))  # fmt: skip
    put(desk, visit, ("gate_passed", {"gate": "road test"}), *done("ride/ride", "ride/look"))
    put(desk, visit, ("walked_round", {}))


# ---------------------------------------------------------------- refused


def test_a_machine_with_untorqued_wheel_bolts_is_not_handed_back(tab, desk, tour):
    """The page says no, names the bolts and their card; a form sent all the same is refused and leaves no entry."""
    put(desk, tour, *done("wheel_off", "wheel_on"))
    before = kinds(tour)
    page = tab.get(at(tour)).content.decode()

    assert "Not to be handed back" in page
    assert "wheel bolt, 1, 2, 3, 4, 5 of 5: seated, not made tight to its figure" in page
    assert "/bench/?card=drive_oil/wheel_tight" in page
    assert "Hand it back" not in page
    answer = tab.post(
        at(tour, "return/"), ticket() | {"keys": 2, "fobs": 1, "leaves": "ridden away"}
    )
    assert answer.status_code == 422
    assert "Not to be handed back: 2 things are open." in answer.content.decode()
    assert kinds(tour) == before


def test_nobody_lets_a_loose_wheel_through_the_road_test(tab, desk, technician, tour):
    """Not even a signed paper, which would let it through hand-back."""
    put(desk, tour, *done("wheel_off", "wheel_on"))
    loose = [item for item in read(tour).state.items if item.startswith("fastener/")]
    put(desk, tour, *(("overridden", {
        "item": item, "reason": "collected on a trailer", "person": str(technician.pk),
        "paper": "not to be ridden", "signature": "c" * 64}) for item in loose))  # fmt: skip

    answer = tab.post(at(tour, "road-test/"), ticket())
    assert answer.status_code == 422
    assert "Not to be ridden: 1 thing is open." in answer.content.decode()
    assert "Ready for the road" not in answer.content.decode()
    assert "gate_passed" not in kinds(tour)


def test_the_ride_waits_at_the_bench_until_its_gate_passes(tab, desk, tour, wrench):
    """The card is refused while a bolt is loose; then one tap records the passing, and the ride after it."""
    put(desk, tour, *done("wheel_off", "wheel_on"))
    bench = f"/visits/{tour.pk}/bench/"
    ride = {"card": "ride/ride", "done": "1"}

    held = tab.post(f"{bench}confirm/", ticket() | ride)
    assert (held.status_code, "ride/ride" in read(tour).state.done) == (422, False)
    assert "Not to be ridden: 1 thing is open." in held.content.decode()
    put(desk, tour, *bolts(wrench), *done("drive_oil/wheel_tight"))
    assert tab.post(f"{bench}confirm/", ticket() | ride).status_code == 303
    assert kinds(tour)[-2:] == ["gate_passed", "done"]


# ---------------------------------------------------------------- looking again


def test_whoever_did_the_work_is_not_offered_the_second_look(tab, helpers_tab, helper, worked_on):
    """The doer's tap closes nothing; another person's closes all, in his name."""
    wanted = [i for i in read(worked_on).state.items if i.startswith("second look/")]
    refused = tab.post(at(worked_on, "look/"), ticket() | {"look": wanted})
    assert (refused.status_code, len(wanted)) == (422, 2)
    assert "handback/look/" not in tab.get(at(worked_on)).content.decode()

    page = helpers_tab.get(at(worked_on)).content.decode()
    assert page.count("done by Mara") == 2
    assert tap(helpers_tab, worked_on, "look", look=wanted).status_code == 303
    assert [i for i in read(worked_on).state.items if i.startswith("second look/")] == []
    assert store.entries(worked_on)[-1].author == str(helper.pk)


def test_a_second_look_has_what_to_look_against_and_no_box_ticked(helpers_tab, worked_on):
    """Both boxes came ticked: one tap signed for a look at a torque that stood nowhere."""
    page = helpers_tab.get(at(worked_on)).content.decode()
    assert "60 N·m, Middle click" in page
    assert "look" not in form_on(page, "look")
    assert tap(helpers_tab, worked_on, "look").status_code == 422
    assert "looked" not in kinds(worked_on)


def test_a_look_that_somebody_else_had_meanwhile_is_told(tab, helpers_tab, helper_desk, worked_on):
    """Nothing is recorded for what is not wanted any more; who looked is named."""
    page = helpers_tab.get(at(worked_on)).content.decode()
    wanted = [i for i in read(worked_on).state.items if i.startswith("second look/")]
    put(helper_desk, worked_on, ("looked", {"items": wanted[:1]}))
    before = kinds(worked_on)
    told = helpers_tab.post(at(worked_on, "look/"), form_on(page, "look") | {"look": wanted})
    assert told.status_code == 409
    assert "(Tomas, " in told.content.decode()
    assert kinds(worked_on) == before


@pytest.mark.parametrize(
    ("typed", "fault"),
    [
        ({"minutes": "10"}, "At least 15 minutes: go away, then look again."),
        ({"looked_again": None}, "Look again for these, then tick this."),
        ({"not_ridden_because": ""}, "Say why it was not ridden since."),
    ],
)
def test_a_lone_workers_look_takes_the_whole_fallback(tab, worked_on, monkeypatch, typed, fault):
    """Fifteen minutes, another order, leaks, stripes and levels, and a ride or the reason for none."""
    whole = {
        "apart": "other work", "minutes": "20", "other_order": "on", "looked_again": "on",
        "not_ridden_because": "no plate on it",
        "look": [i for i in read(worked_on).state.items if i.startswith("second look/")],
    }  # fmt: skip
    early = tap(tab, worked_on, "alone", **whole)
    assert (early.status_code, len(faults_of(early))) == (422, 1)
    assert "Only 0 minutes have passed since the work at" in faults_of(early)[0]
    later = now() + timedelta(minutes=21)
    monkeypatch.setattr(forms, "now", lambda: later)
    answer = tap(tab, worked_on, "alone", **whole | typed)
    assert (answer.status_code, faults_of(answer)) == (422, [fault])
    assert len(form_on(answer.content.decode(), "alone")["look"]) == 2
    assert 'value="no plate on it"' in answer.content.decode() or "not_ridden_because" in typed
    assert "looked" not in kinds(worked_on)

    assert tap(tab, worked_on, "alone", **whole).status_code == 303
    state = read(worked_on).state
    assert [i for i in state.items if i.startswith("second look/")] == []
    assert {one.how.minutes for one in state.fallbacks} == {20}


# ---------------------------------------------------------------- what closes what


CLOSING = {
    "a finding is answered": (
        [("found", {"text": "horn is quiet"})],
        "finding/", "close", {"how": "nothing wrong"}, "settled"),
    "a step that would not go is answered": (
        [("wont", {"step": "covers/turn", "what": "stuck", "safe_now": "nut sits"})],
        "wont/", "close", {"how": "told and declined", "text": "next time"}, "settled"),
    "a thread is judged": (
        [("tightened", {"fastener": "wheel_bolts", "index": 3, "outcome": "kept turning"})],
        "thread/wheel_bolts/3", "close", {"verdict": "repaired", "text": "insert fitted"}, "judged"),
    "a reading outside its limits becomes a finding": (
        [("read", {"reading": "pad", "step": "brake/push_back", "value": 1.2, "text": "1.2 mm"})],
        "outside/pad/1", "close", {"text": "pads worn out", "safety": "on"}, "found"),
    "an agreed job is left, with a reason": (
        [("offered", {"estimate": "b" * 64, "lines": ["covers"]}),
         ("answered", {"estimate": "b" * 64, "line": "covers", "verdict": "yes",
                       "by": "01900000-0000-7000-8000-000000000001", "how": "in person"})],
        "job/covers", "leave", {"because": "owner in a hurry"}, "job_left"),
    "an entry the book knows nothing of is taken back": (
        [*done("no_such_step")], "unknown/", "close", {}, "corrected"),
}  # fmt: skip


@pytest.mark.parametrize(("acts", "item", "act", "typed", "kind"), CLOSING.values(), ids=CLOSING)
def test_what_no_card_closes_is_closed_on_the_page(tab, desk, tour, acts, item, act, typed, kind):
    """One form, one entry, and the item is gone."""
    put(desk, tour, *acts)
    assert [one for one in read(tour).state.items if one.startswith(item)]

    answer = tap(tab, tour, act, f'name="item" value="{item}', **typed)
    assert (answer.status_code, kinds(tour)[-1]) == (303, kind)
    assert [one for one in read(tour).state.items if one.startswith(item)] == []


def test_a_figure_without_a_source_is_asked_for_on_its_page_which_leads_back(tab, desk, tour):
    """What blocks names the page of the figure; with its source there the item is gone."""
    put(desk, tour, *done("drive_oil/drain", "drive_oil/fill"))
    page, back = f"/visits/{tour.pk}/figures/drive_fill/", f"/visits/{tour.pk}/handback/"
    assert f'href="{page}?only=1&amp;back={back}"' in tab.get(back).content.decode()

    to = f"{page}set/?{urlencode({'back': back, 'only': 1})}"
    form = form_to(tab.get(f"{page}?only=1&back={back}").content.decode(), page, to)
    answer = tab.post(to, form | {"value": "180", "unit": "mL", "document": "manual", "page": "9"})
    assert (answer.status_code, answer.url) == (303, back)
    assert "figure/drive_fill" not in read(tour).state.items


def test_two_entries_that_did_not_meet_are_compared_and_confirmed(
    tab, desk, helper_desk, worked_on, wrench
):
    """Both stand on the page with who said what; the confirmation closes what both of them close."""
    seen = store.heads(worked_on)
    put(desk, worked_on, *bolts(wrench, 2))
    put(helper_desk, worked_on, *bolts(wrench, 2), seen=seen)
    page = tab.get(at(worked_on)).content.decode()
    assert "Mara: wheel bolt, 2 of 5: tight, clicked at 60 N·m" in page
    assert "Tomas: wheel bolt, 2 of 5: tight, clicked at 60 N·m" in page

    answer = tap(tab, worked_on, "close", "fastener/wheel_bolts/2", text="both clicked")
    assert (answer.status_code, kinds(worked_on)[-1]) == (303, "confirmed")
    assert "fastener/wheel_bolts/2" not in read(worked_on).state.items


def test_a_state_left_behind_leads_to_the_card_that_puts_it_back(tab, desk, tour):
    """The pannier came on, so the card is the one that puts it on."""
    put(desk, tour, *done("pannier_off"))
    page = tab.get(at(tour)).content.decode()
    assert "/bench/?card=pannier_on" in page
    assert "/bench/?card=pannier_off" not in page


# ---------------------------------------------------------------- overrides


def test_a_safety_critical_item_passes_only_with_a_signed_paper_and_leaves_on_a_trailer(
    tab, desk, helper_desk, technician, worked_on, wrench
):
    """Without the photo, or with one that is none, nothing is recorded and nothing typed is lost."""
    made_clear(desk, helper_desk, worked_on, wrench)
    put(desk, worked_on, ("found", {"text": "fork seal weeps", "safety": True}))
    item = next(i for i in read(worked_on).state.items if i.startswith("finding/"))
    override = at(worked_on, f"override/?item={item}")
    typed = {
        "reason": "owner fetches it with a van",
        "paper": "not to be ridden",
        "password": PASSWORD,
    }

    def send(**more):
        page = tab.get(override).content.decode()
        return tab.post(at(worked_on, "override/"), form_on(page, "override") | typed | more)

    assert "printed in the record" not in tab.get(override).content.decode()
    for problem in ({}, {"signature": BytesIO(b"no picture")}):
        answer = send(**problem)
        assert (answer.status_code, "overridden" in kinds(worked_on)) == (422, False)
        assert "owner fetches it with a van" in answer.content.decode()
    assert send(signature=photo()).status_code == 303
    said = store.entries(worked_on)[-1].said
    assert (said.item, said.person, said.paper) == (item, str(technician.pk), "not to be ridden")

    assert tap(tab, worked_on, "return", **BACK).status_code == 422
    assert tap(tab, worked_on, "return", **BACK | {"leaves": "on a trailer"}).status_code == 303
    passed, _, returned = store.entries(worked_on)[-3:]
    assert (passed.said.open, returned.said.ridden_away) == ([item], False)


def test_a_shop_may_let_nothing_safety_critical_through(tab, desk, shop, worked_on, technician):
    """Where local law forbids the release, no form is offered, and none that is sent counts."""
    shop.refuse_override = True
    shop.save()
    put(desk, worked_on, ("found", {"text": "fork seal weeps", "safety": True}))
    item = next(i for i in read(worked_on).state.items if i.startswith("finding/"))
    sent = ticket() | {
        "item": item, "password": PASSWORD, "reason": "x", "paper": "not to be ridden",
        "signature": photo(),
    }  # fmt: skip
    answer = tab.post(at(worked_on, "override/"), sent)

    assert answer.status_code == 422
    assert "This shop signs off nothing safety-critical as it is" in answer.content.decode()
    assert "overridden" not in kinds(worked_on)


def test_an_override_is_by_who_is_signed_in_and_repeats_the_password(
    tab, desk, worked_on, technician, helper
):
    """Whoever else the form names; a wrong password stores nothing, loses nothing typed, and counts as refused."""
    put(desk, worked_on, ("found", {"text": "fork seal weeps", "safety": True}))
    item = next(i for i in read(worked_on).state.items if i.startswith("finding/"))
    said = {"reason": "owner fetches it", "paper": "not to be ridden", "person": str(helper.pk)}
    page = tab.get(at(worked_on, f"override/?item={item}")).content.decode()
    sent = form_on(page, "override") | said

    problem = tab.post(
        at(worked_on, "override/"), sent | {"password": "cotter", "signature": photo()}
    )
    again = problem.content.decode()
    assert (problem.status_code, "overridden" in kinds(worked_on)) == (422, False)
    assert "That is not your password" in again
    assert "owner fetches it" in again
    assert AccessFailureLog.objects.filter(username__startswith="mara").count() == 1

    sent = (
        form_on(again, "override") | said | {"password": PASSWORD}
    )  # the photo came the first time
    assert tab.post(at(worked_on, "override/"), sent).status_code == 303
    made = store.entries(worked_on)[-1]
    assert (made.kind, made.said.person, made.author) == (
        "overridden", str(technician.pk), str(technician.pk))  # fmt: skip
    assert made.said.signature == store.entries(worked_on)[-2].said.sha256


# ---------------------------------------------------------------- the return


def test_what_goes_back_is_counted_and_read_not_filled_in(
    tab, desk, helper_desk, technician, worked_on, wrench
):
    """Walk round, then keys, odometer, parts and how it leaves: each is asked for, and said beside its field."""
    put(helper_desk, worked_on, ("looked", {"items": [
        i for i in read(worked_on).state.items if i.startswith("second look/")]}))  # fmt: skip
    put(desk, worked_on, ("gate_passed", {"gate": "road test"}), *done("ride/ride", "ride/look"))

    assert tap(tab, worked_on, "walk").status_code == 303
    empty = tap(tab, worked_on, "return", keys="2")
    assert (empty.status_code, len(faults_of(empty))) == (422, len(BACK) - 1)
    assert form_on(empty.content.decode(), "return")["keys"] == "2"
    answer = tap(tab, worked_on, "return", **BACK)
    assert (answer.status_code, answer.url) == (303, at(worked_on))
    passed, odometer, returned = store.entries(worked_on)[-3:]
    assert (passed.said.gate, passed.said.open, odometer.said.km) == ("hand-back", [], 48225.0)
    assert returned.said.model_dump() == {
        "keys": 2, "fobs": 1, "old_parts_given": True, "ridden_away": True, "text": "",
    }  # fmt: skip
    assert returned.author == str(technician.pk)
    assert "Handed back" in tab.get(at(worked_on)).content.decode()


def test_a_return_is_taken_back_while_nothing_else_has_happened(
    tab, desk, helper_desk, technician, colleague, helpers_tab, client_of, worked_on, wrench
):
    """Sent twice, by the wrong person, from an old page, after something else: each has its answer in words."""
    made_clear(desk, helper_desk, worked_on, wrench)
    tap(tab, worked_on, "return", **BACK)
    form = form_on(tab.get(at(worked_on)).content.decode(), "take-back")
    assert len(form["entry"]) == 3
    assert "Take it back" not in helpers_tab.get(at(worked_on)).content.decode()
    assert helpers_tab.post(at(worked_on, "take-back/"), form).status_code == 403

    assert tab.post(at(worked_on, "take-back/"), form).status_code == 303
    state = read(worked_on).state
    assert (state.returned, state.odometer_km) == (None, 48210.0)
    assert tab.post(at(worked_on, "take-back/"), form).status_code == 303  # the same tap
    late = tab.post(at(worked_on, "take-back/"), form | ticket())
    assert (late.status_code, kinds(worked_on).count("corrected")) == (409, 3)

    assert tap(tab, worked_on, "return", **BACK).status_code == 303
    old = form_on(tab.get(at(worked_on)).content.decode(), "take-back")
    put(helper_desk, worked_on, ("noted", {"text": "left mirror loose?"}))
    assert "Take it back" not in tab.get(at(worked_on)).content.decode()
    refused = tab.post(at(worked_on, "take-back/"), old)
    assert (refused.status_code, read(worked_on).closed) == (422, True)
    assert "It can no longer be taken back" in refused.content.decode()


def test_an_odometer_that_cannot_be_is_asked_about(tab, desk, helper_desk, worked_on, wrench):
    """Less than it came in with, or more than a road test rides: kept when somebody says that it is so."""
    made_clear(desk, helper_desk, worked_on, wrench)
    for typed, fault in (("48100", "It read 48 210 km before."), ("84225", "36 015 km more")):
        answer = tap(tab, worked_on, "return", **BACK | {"odometer": typed})
        assert answer.status_code == 422
        assert any(fault in one.replace("\u202f", " ") for one in faults_of(answer))
    assert (
        tap(tab, worked_on, "return", **BACK | {"odometer": "48100", "so": "on"}).status_code == 303
    )


def test_a_key_too_few_warns_and_passes_when_it_is_so(tab, desk, helper_desk, worked_on, wrench):
    """The count goes into the ledger as it is; what else was typed is not lost on the way."""
    made_clear(desk, helper_desk, worked_on, wrench)
    typed = BACK | {"keys": "1", "text": "bed the pads in gently"}
    warned = tap(tab, worked_on, "return", **typed)
    assert warned.status_code == 422
    assert any(fault.startswith("2 keys came in.") for fault in faults_of(warned))
    assert "bed the pads in gently" in warned.content.decode()
    assert "returned" not in kinds(worked_on)

    again = form_on(warned.content.decode(), "return") | {"so": "on"}
    assert tab.post(at(worked_on, "return/"), again).status_code == 303
    assert store.entries(worked_on)[-1].said.keys == 1


def test_what_came_in_since_the_page_was_shown_stops_the_return(
    tab, desk, helper_desk, worked_on, wrench
):
    """Two people at once: whoever taps on an old page is shown the new one, and nothing is recorded."""
    made_clear(desk, helper_desk, worked_on, wrench)
    old = form_on(tab.get(at(worked_on)).content.decode(), "return") | BACK
    put(helper_desk, worked_on, ("noted", {"text": "left mirror loose?"}))

    answer = tab.post(at(worked_on, "return/"), old)
    assert answer.status_code == 422
    assert "Something was recorded since this page was shown" in answer.content.decode()
    assert "returned" not in kinds(worked_on)
    assert (
        tab.post(at(worked_on, "return/"), form_on(answer.content.decode(), "return")).status_code
        == 303
    )


def test_a_double_tap_hands_back_once(tab, desk, helper_desk, worked_on, wrench):
    made_clear(desk, helper_desk, worked_on, wrench)
    form = form_on(tab.get(at(worked_on)).content.decode(), "return") | BACK
    answers = [tab.post(at(worked_on, "return/"), form).status_code for _ in range(2)]

    assert answers == [303, 303]
    assert kinds(worked_on).count("returned") == 1


def test_an_entry_after_hand_back_is_a_recall_and_can_be_handed_back_again(
    tab, desk, helper_desk, worked_on, wrench
):
    """The note stands on top with the owner's telephone; what the entry opened must be closed before it goes again."""
    made_clear(desk, helper_desk, worked_on, wrench)
    seen = store.heads(worked_on)
    tap(tab, worked_on, "return", **BACK)
    put(helper_desk, worked_on, *done("pannier_off"), seen=seen)

    page = tab.get(at(worked_on)).content.decode()
    assert page.index("Call the owner") < page.index("Not to be handed back")
    assert "555 0100" in page
    put(desk, worked_on, *done("pannier_on"))
    tap(tab, worked_on, "walk")
    assert tap(tab, worked_on, "return", **BACK).status_code == 303
    assert read(worked_on).state.recalls == ()


def test_a_visit_that_has_not_begun_is_told_so(tab, desk, machine):
    """Nothing is open on a machine nobody took in; the page answers all the same."""
    page = tab.get(at(store.open_visit(desk, machine)))
    assert page.status_code == 200
