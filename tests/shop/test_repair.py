"""A repair that no book lists: written step by step, priced, planned, closed like a job of the book, and kept."""

import pytest

from tests.fixtures.tour import put, tour_book
from tests.shop.day import Person, form_to, text_of, words
from tests.shop.test_beyond_book import agree, at, items, seen
from witnessmark.shop import content_store, store
from witnessmark.shop.models import PartPrice, RepairDraft, StockPack, Visit
from witnessmark.shop.work import planning
from witnessmark.shop.work.visit import read, work_of

pytestmark = pytest.mark.postgres_long

HEAD = {
    "text": "Stop the leak at the fuel tap",
    "why": "Fuel drips.",
    "cause": "Ring torn.",
    "with_it": "drive_oil",
}
TESTS = {"test_1": "Voltage at rest", "found_1": "12.1 V", "low_1": "12.4 V", "source_1": "p. 9"}
OFF = {
    "text": "Take the tap off", "minutes": "10", "place": "left", "need_1": "wheel/off",
    "undone_1": "Tap screw", "what_1": "fastener", "count_1": "2", "grade_1": "proven",
    "torque_1": "8 Nm", "tsource_1": "p. 3", "safety_1": "on",
    "undone_2": "Fuel hose", "what_2": "pipe", "count_2": "1",
    "tools": "10 mm key\nRag", "cautions": "Fuel: no flame.",
}  # fmt: skip
ON = {
    "text": "Fit the tap", "minutes": "12.5",
    "closes": ["fasteners/tap_screw", "circuits/fuel_hose/refitted"],
    "part_1": "Ring of the tap", "quantity_1": "2", "each_1": "2.50", "renewal_1": "sealing ring",
    "read_1": "Drops under the tap",
}  # fmt: skip


@pytest.fixture(autouse=True)
def prices(shop):
    for part in ("ring", "nut"):
        PartPrice(shop=shop, part=part, name=part, price_minor=120).save()
    StockPack(shop=shop, name="Gear oil", fluid="gear_oil", size_ml=1000, price_minor=900).save()


def page(visit: Visit, of: str = "", step: str | None = None) -> str:
    asked = [f"of={of}"] * bool(of) + [f"step={step}"] * bool(step)
    return at(visit, "repair/step/" if step is not None else "repair/") + "?" + "&".join(asked)


def press(mara: Person, visit: Visit, go: str, of: str = "", **typed):
    return mara.do(page(visit, of), at(visit, "repair/"), go=go, **typed)


def add_step(mara: Person, visit: Visit, of: str = "", **typed):
    return mara.do(page(visit, of, ""), at(visit, "repair/step/"), go="done", **typed)


def write(mara: Person, visit: Visit) -> str:
    """The whole repair, from its name to its two steps, written down; its id."""
    press(mara, visit, "step", **HEAD, **TESTS)
    add_step(mara, visit, **OFF)
    add_step(mara, visit, **ON)
    press(mara, visit, "write")
    return next(iter(read(visit).state.repairs))


def do_card(mara: Person, visit: Visit, card: str, **typed):
    return mara.do(
        f"{at(visit, 'bench/')}?card={card}",
        at(visit, "bench/confirm/"),
        "card-form",
        done="1",
        **typed,
    )


# ---------------------------------------------------------------- the sunny path


def test_it_is_planned_priced_carded_and_closed_like_a_job_of_the_book(mara, tour, desk):
    name = write(mara, tour)
    work = work_of(desk, tour.pk)
    said = work.state.repairs[name]
    assert [step.text for step in said.job.steps] == ["Take the tap off", "Fit the tap"]
    assert (said.cause, said.tests[0].verdict, said.prices) == (
        "Ring torn.",
        "outside",
        {"ring_of_the_tap": 250},
    )
    assert name in work.state.taken
    assert work.book.fasteners[f"{name}_tap_screw"].count == 2
    price = text_of(mara.client.get(at(tour, "price/")))
    assert "Stop the leak at the fuel tap" in price
    assert "2 × Ring of the tap" in price or "Ring of the tap" in price
    agree(mara.client, tour)
    work = work_of(desk, tour.pk)
    assert name in work.state.agreed
    order = planning.planned(work, planning.to_do(work))
    names = [step.name for step in order.answer.steps]
    assert names.count("wheel_off") == 1, "the wheel comes off once, for it and the others"
    assert names.index("wheel_off") < names.index(f"{name}/take_the_tap_off")
    assert names.index(f"{name}/fit_the_tap") < names.index("wheel_on")


def test_its_cards_open_and_close_what_is_its_own(mara, tour, desk):
    name = write(mara, tour)
    agree(mara.client, tour)
    put(desk, tour, ("done", {"step": "wheel_off"}))
    card = text_of(mara.client.get(f"{at(tour, 'bench/')}?card={name}/take_the_tap_off"))
    assert "Fuel: no flame." in card
    do_card(mara, tour, f"{name}/take_the_tap_off")
    opened = {key for key in items(tour) if name in key and not key.startswith("job")}
    screws = {f"fastener/{name}_tap_screw/1", f"fastener/{name}_tap_screw/2"}
    assert opened == screws | {f"circuit/{name}_fuel_hose/refitted"}
    at_card = f"{at(tour, 'bench/')}?card={name}/fit_the_tap"
    assert "8 N·m" in text_of(mara.client.get(at_card))


FINE = {
    "thread_1": "M8",
    "treatment_1": "oil",
    "sequence_1": "alternate",
    "stages_1": "4 Nm; 6 Nm",
    "turn_1": "60°",
}


def test_a_fastener_has_thread_order_stages_and_angle_where_the_manual_gives_them(mara, tour, desk):
    press(mara, tour, "step", **HEAD, **TESTS)
    add_step(mara, tour, **OFF | FINE)
    again = page(tour, step="take_the_tap_off")
    form = form_to(mara.client.get(again).content.decode(), again, at(tour, "repair/step/"))
    assert {key: form[key] for key in FINE} == FINE
    add_step(mara, tour, **ON)
    press(mara, tour, "write")
    name = next(iter(read(tour).state.repairs))
    book = read(tour).book
    screw = book.fasteners[f"{name}_tap_screw"]
    figures = [book.figures[one] for one in (*screw.stages, screw.figure, screw.turn)]
    assert [one.value for one in figures] == ["4 Nm", "6 Nm", "8 Nm", "60°"]
    assert {one.source for one in figures} == {"p. 3"}
    assert (screw.joint.thread.name, screw.treatment, screw.sequence) == ("M8", "oil", "alternate")
    agree(mara.client, tour)
    card = text_of(mara.client.get(f"{at(tour, 'bench/')}?card={name}/fit_the_tap"))
    assert "4 N·m" in card


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"thread_1": "wide"}, "thread"),
        ({"stages_1": "4; 6 Nm"}, "no unit"),
        ({"stages_1": "4 Nm", "torque_1": "", "tsource_1": ""}, "Stages lead to a torque"),
        ({"turn_2": "60°"}, "A pipe has none"),
    ],
)
def test_what_no_fastener_can_have_is_told_at_its_field(mara, tour, typed, told):
    press(mara, tour, "step", **HEAD, **TESTS)
    to = at(tour, "repair/step/")
    answer = mara.post(to, mara.form(page(tour, "", ""), to, "") | OFF | typed | {"go": "done"})
    assert (answer.status_code, told in text_of(answer)) == (422, True)
    form = form_to(answer.content.decode(), to, to)
    assert {key: form[key] for key in typed} == typed


def test_without_a_book_it_is_planned_by_itself(mara, technician, client_of):
    from tests.shop.filled import send
    from tests.shop.test_arrival import NEW

    send(mara.client, "/arrive/?book=none", NEW | {"odometer": "32000", "complaint": "Fuel drips."})
    visit = Visit.objects.get()
    typed = {key: value for key, value in OFF.items() if key != "need_1"}
    press(mara, visit, "step", **HEAD | {"with_it": ""})
    add_step(mara, visit, **typed)
    add_step(mara, visit, **ON)
    press(mara, visit, "write")
    name = next(iter(read(visit).state.repairs))
    agree(mara.client, visit)
    order = text_of(mara.client.get(at(visit, "order/")))
    assert "Take the tap off" in order
    assert f"{name}/take_the_tap_off" in seen(
        mara.client, visit, f"bench/?card={name}/take_the_tap_off"
    )


# ---------------------------------------------------------------- half written, wrong, old, twice


def test_half_written_it_counts_nothing_and_says_so(mara, tour):
    press(mara, tour, "save", **HEAD)
    for where in ("price/", "needs/", "bench/", "handback/"):
        assert "Half written, and not counted yet: Stop the leak" in text_of(
            mara.client.get(at(tour, where), follow=True)
        ), where
    assert read(tour).state.repairs == {}
    press(mara, tour, "drop")
    assert not RepairDraft.objects.exists()
    assert "Half written" not in text_of(mara.client.get(at(tour, "price/")))


def test_what_is_undone_and_never_closed_is_told_at_its_step_and_nothing_is_lost(mara, tour):
    press(mara, tour, "step", **HEAD)
    add_step(mara, tour, **OFF)
    form = mara.form(page(tour), at(tour, "repair/")) | {"go": "write"}
    answer = mara.post(at(tour, "repair/"), form)
    assert answer.status_code == 422
    told = text_of(answer)
    assert "“Tap screw” is undone here, and not closed by this step or one after it" in told
    assert "“Fuel hose” is undone here" in told
    assert "wheel bolt" not in told
    assert "Stop the leak at the fuel tap" in answer.content.decode()
    assert read(tour).state.repairs == {}
    add_step(mara, tour, **ON)
    press(mara, tour, "write")
    assert len(read(tour).state.repairs) == 1


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"text": ""}, "Write it here"),
        ({"minutes": "-3"}, "0.1"),
        ({"torque_1": "8"}, "has no unit"),
        ({"what_1": ""}, "Fastener, pipe, connector, cover or circuit?"),
        ({"what_1": "pipe"}, "A pipe has no torque"),
        ({"undone_1": ""}, "What is it? Say it in words."),
        ({"part_1": "", "each_1": "3"}, "Which part is it?"),
        ({"read_1": "Volts", "rlow_1": "low"}, "number"),
        ({"read_1": "Volts", "rlow_1": "12 V", "rhigh_1": "3 mm"}, "one kind"),
        ({"fluid_1": "Oil"}, "Of which kind is it?"),
        ({"waits_for": "glue"}, "How long is waited?"),
    ],
)
def test_a_step_that_cannot_be_read_comes_back_as_it_was_typed(mara, tour, typed, told):
    press(mara, tour, "step", **HEAD)
    before = RepairDraft.objects.get().said
    fields = mara.form(page(tour, "", ""), at(tour, "repair/step/")) | OFF | typed | {"go": "done"}
    answer = mara.post(at(tour, "repair/step/"), fields)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert "10 mm key" in answer.content.decode()
    assert RepairDraft.objects.get().said == before


def test_an_old_page_changes_nothing_and_keeps_what_was_typed(mara, tour):
    press(mara, tour, "step", **HEAD)
    old = mara.form(page(tour), at(tour, "repair/"))
    press(mara, tour, "save", **HEAD | {"text": "Tap renewed"})
    answer = mara.post(at(tour, "repair/"), old | {"text": "My own words", "go": "save"})
    assert answer.status_code == 422
    assert "changed since the page was shown" in text_of(answer)
    assert "My own words" in answer.content.decode()
    assert RepairDraft.objects.get().said["job"]["text"] == "Tap renewed"
    again = form_to(answer.content.decode(), at(tour, "repair/"), at(tour, "repair/"))
    assert mara.post(at(tour, "repair/"), again | {"go": "save"}).status_code == 303
    assert RepairDraft.objects.get().said["job"]["text"] == "My own words"


def test_sent_twice_it_is_written_once(mara, tour):
    press(mara, tour, "step", **HEAD)
    add_step(mara, tour, **OFF)
    add_step(mara, tour, **ON)
    form = mara.form(page(tour), at(tour, "repair/")) | {"go": "write"}
    first, second = mara.post(at(tour, "repair/"), form), mara.post(at(tour, "repair/"), form)
    assert first.headers["Location"] == second.headers["Location"]
    assert len(read(tour).state.repairs) == 1
    assert [e.kind for e in read(tour).entries].count("repair_written") == 1


def test_steps_go_up_and_down_and_out_and_what_they_alone_undid_goes_with_them(mara, tour):
    press(mara, tour, "step", **HEAD)
    add_step(mara, tour, **OFF)
    add_step(mara, tour, **ON)
    press(mara, tour, "up/fit_the_tap")
    names = [one["name"] for one in RepairDraft.objects.get().said["job"]["steps"]]
    assert names == ["fit_the_tap", "take_the_tap_off"]
    press(mara, tour, "down/fit_the_tap")
    press(mara, tour, "remove/take_the_tap_off")
    job = RepairDraft.objects.get().said["job"]
    assert [one["name"] for one in job["steps"]] == ["fit_the_tap"]
    assert (job["fasteners"], job["circuits"], job["figures"], job["cautions"]) == ({}, {}, {}, {})
    assert job["steps"][0]["tightens"] == []
    assert list(job["parts"]) == ["ring_of_the_tap"]


def test_a_step_kept_again_as_it_stands_is_the_same(mara, tour):
    press(mara, tour, "step", **HEAD)
    add_step(mara, tour, **OFF)
    add_step(mara, tour, **ON)
    before = RepairDraft.objects.get().said
    for step in ("take_the_tap_off", "fit_the_tap"):
        mara.do(page(tour, "", step), at(tour, "repair/step/"), go="done")
    assert RepairDraft.objects.get().said == before


# ---------------------------------------------------------------- after it was written


def test_what_costs_more_than_agreed_is_agreed_again_and_a_step_worked_on_stays(mara, tour, desk):
    name = write(mara, tour)
    agree(mara.client, tour)
    put(desk, tour, *[("done", {"step": s}) for s in ("wheel_off", f"{name}/take_the_tap_off")])
    mara.do(page(tour, name, "fit_the_tap"), at(tour, "repair/step/"), go="done", minutes="40")
    press(mara, tour, "write", of=name)
    state = read(tour).state
    assert name in state.taken
    assert name not in state.agreed
    assert "Stop the leak at the fuel tap" in text_of(mara.client.get(at(tour, "price/")))
    agree(mara.client, tour)
    assert name in read(tour).state.agreed
    gone = mara.form(page(tour, name), at(tour, "repair/")) | {"go": "remove/take_the_tap_off"}
    assert "It was worked on" in text_of(mara.post(at(tour, "repair/"), gone))
    mara.do(
        page(tour, name, "take_the_tap_off"),
        at(tour, "repair/step/"),
        go="done",
        undone_2="",
        what_2="",
    )
    answer = mara.post(
        at(tour, "repair/"), mara.form(page(tour, name), at(tour, "repair/")) | {"go": "write"}
    )
    assert answer.status_code == 422
    assert "what it undoes, closes and reads stays" in text_of(answer)


def test_a_repair_does_not_decide_what_is_due(mara, desk, machine, shop):
    machine.book = content_store.keep_book(shop, tour_book())
    machine.save()
    visit = store.open_visit(desk, machine)
    put(desk, visit, ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id)}),
        ("odometer", {"km": 48210.0, "text": "48210 km"}),
        ("book_pinned", {"revision": machine.book.current.sha256}))  # fmt: skip
    proposed = mara.form(at(visit, "needs/"))["job"]
    write(mara, visit)
    assert {*proposed} <= {*mara.form(at(visit, "needs/"))["job"]}
    assert "Nothing is booked yet" in text_of(mara.client.get(at(visit, "needs/")))


def test_a_finding_has_its_answer_in_the_repair(mara, tour, desk):
    put(desk, tour, ("found", {"text": "tap wet"}))
    finding = read(tour).state.findings[0].entry
    shown = mara.client.get(f"{at(tour, 'repair/')}?finding={finding}").content.decode()
    form = form_to(shown, at(tour, "repair/"), at(tour, "repair/"))
    assert form["why"] == "tap wet"
    mara.post(at(tour, "repair/"), form | HEAD | {"go": "step"})
    add_step(mara, tour, **OFF)
    add_step(mara, tour, **ON)
    press(mara, tour, "write")
    assert read(tour).state.findings[0].settled == "booked as Stop the leak at the fuel tap"


def test_who_may_not_write_one_and_what_is_not_there_are_told(mara, tour, helper, client_of):
    assert client_of(helper).get(at(tour, "repair/")).status_code == 403
    assert mara.client.get(page(tour, "own_000000000000")).status_code == 400
    press(mara, tour, "step", **HEAD)
    answer = mara.client.get(page(tour, "", "no_such"), follow=True)
    assert "That step was taken out meanwhile." in text_of(answer)


# ---------------------------------------------------------------- for the next machine


def test_kept_for_the_model_it_is_a_job_of_its_book_once(mara, desk, machine, small_book):
    visit = store.open_visit(desk, machine)
    put(desk, visit, ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id)}),
        ("book_pinned", {"revision": small_book.current.sha256}))  # fmt: skip
    press(mara, visit, "step", **HEAD | {"with_it": ""})
    add_step(mara, visit, **OFF | {"need_1": "rear_wheel/off"})
    add_step(mara, visit, **ON)
    press(mara, visit, "write")
    name = next(iter(read(visit).state.repairs))
    to = at(visit, "repair/keep/")
    old = mara.form(f"{to}?of={name}", to)
    mara.do(f"{to}?of={name}", to, fit_the_tap="15")
    small_book.refresh_from_db()
    revision = small_book.current.sha256
    book = content_store.book_of(small_book.shop, revision)
    job = book.jobs["stop_the_leak_at_the_fuel_tap"]
    assert {key: o.minutes for key, o in job.operations.items()} == {
        "take_the_tap_off": 10.0,
        "fit_the_tap": 15.0,
    }
    assert job.operations["fit_the_tap"].after == ["take_the_tap_off"]
    assert job.operations["take_the_tap_off"].needs == {"rear_wheel": ["off"]}
    assert book.fasteners["tap_screw"].figure == "tap_screw_torque"
    assert PartPrice.objects.get(part="ring_of_the_tap", book=book.name).price_minor == 250
    for answer in (mara.client.get(f"{to}?of={name}"), mara.post(to, old | {"fit_the_tap": "99"})):
        assert answer.status_code == 303
    assert any("is in the service book already" in one for one in words(answer))
    small_book.refresh_from_db()
    assert small_book.current.sha256 == revision
    assert name in read(visit).state.repairs, "this visit keeps the book it was pinned to"
