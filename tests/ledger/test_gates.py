"""Gates: what stands in the way, what may be let through, and what happens after hand-back."""

from typing import get_args

import pytest

from tests.ledger.bench import ANN, BO, BOOK, SIGNATURE, Bench, name
from witnessmark.book.model import Book
from witnessmark.ledger.effects import effects
from witnessmark.ledger.gates import gate, lines
from witnessmark.ledger.item_effects import Stand

BOLT = "fastener/wheel_bolts/4"
WHEEL_LOOK = "second look/fastener/wheel_bolts"


@pytest.fixture
def bench():
    """The drive oil done and the wheel back on, but for bolt 4."""
    bench = Bench()
    bench.done("wheel_off")
    bench.done("drive_oil/drain")
    bench.say("read", reading="magnet", step="drive_oil/drain", words="clean")
    bench.say("figure_set", figure="drive_fill", value="180 ml", source="manual p. 88")
    bench.tight("drain_plug", set_nm=25, clicked=True)
    bench.done("drive_oil/fill")
    bench.done("wheel_on")
    bench.tight_wheel(1, 2, 3, 5)
    bench.say("looked", items=[WHEEL_LOOK], author=BO)
    bench.say("walked_round")
    return bench


def blocking(bench, name, **more):
    return {item.id for item in gate(name, bench.state(), **more).blocking}


def test_one_open_bolt_stops_every_gate_and_says_where_and_which_card_closes_it(bench):
    for name_ in ("starter", "wheels on the ground", "road test", "hand-back"):
        verdict = gate(name_, bench.state())
        assert not verdict.passes
        (line,) = verdict.words
        assert line.startswith("wheel bolt, 4 of 5: seated, not made tight to its figure")
        assert line.endswith("where: rear; card: drive_oil/wheel_tight")


def test_fasteners_of_a_group_that_stand_alike_share_a_line(bench):
    bench.done("wheel_off")
    bench.tight_wheel(2)
    lines = gate("road test", bench.state()).words
    assert lines[0].startswith("wheel bolt, 1, 3, 4, 5 of 5: loosened, not made tight")
    assert len(lines) == 1


def test_hand_back_passes_once_nothing_is_open(bench):
    bench.tight_wheel(4)
    assert blocking(bench, "road test") == set()
    assert blocking(bench, "hand-back") == {WHEEL_LOOK}
    bench.say("looked", items=[WHEEL_LOOK], author=BO)
    assert gate("hand-back", bench.state()).passes


def test_a_wheel_that_is_off_does_not_stop_the_starter_but_keeps_the_machine_on_its_stand(bench):
    """Common practice, no source: a wheel is tight, or it is off."""
    bench.done("wheel_off")
    assert blocking(bench, "starter") == set()
    assert len(blocking(bench, "wheels on the ground")) == 5


def test_a_seated_fastener_stops_the_starter_however_it_comes_to_be_only_that(bench):
    """Loosened it is off the machine, for all the starter knows; a thread that gave way has an item of its own."""
    state = bench.state()
    stops = {}
    for stands in get_args(Stand):
        item = state.items[BOLT].model_copy(update={"stands": stands})
        stops[stands] = not gate("starter", state.model_copy(update={"items": {BOLT: item}})).passes
    assert {stands for stands, stopped in stops.items() if stopped} == {
        "snug", "conflict", "void", "doubt", "want",
    }  # fmt: skip


def test_each_gate_asks_for_what_the_book_puts_before_it():
    bench = Bench()
    bench.done("drive_oil/drain")
    bench.done("brake/push_back")
    bench.say("read", reading="pad", step="brake/push_back", value=3.0)
    drain, lever = "fastener/drain_plug/1", "circuit/rear_brake/lever_firm"
    assert blocking(bench, "starter") == {"circuit/drive/filled"}
    assert blocking(bench, "wheels on the ground") == {lever, drain}
    assert blocking(bench, "road test") == {
        "circuit/drive/filled",
        "circuit/drive/level",
        drain,
        lever,
    }
    assert "circuit/rear_brake/heat" in blocking(bench, "hand-back"), "only a ride can close it"


def test_a_reading_waits_for_the_gate_the_book_gives_it_or_that_of_its_weight():
    said = BOOK.model_dump()
    said["readings"]["magnet"]["gate"] = "starter"
    items = effects(Book.model_validate(said), list(BOOK.jobs)).items
    gates = {name: items[f"outside/{name}/1"].gate for name in ("magnet", "pad", "lining")}
    assert gates == {"magnet": "starter", "pad": "hand-back", "lining": "road test"}
    assert items["reading/drive_oil/drain/magnet"].gate == "starter"


def test_the_road_test_has_no_override(bench):
    bench.say("overridden", item=BOLT, reason="owner waits", person=ANN,
              paper="not to be ridden", signature=SIGNATURE)  # fmt: skip
    assert blocking(bench, "road test") == {BOLT}


@pytest.mark.parametrize(
    ("paper", "refuse", "passes"),
    [
        ({}, False, False),
        ({"paper": "not to be ridden", "signature": SIGNATURE}, False, True),
        ({"paper": "defect told and declined", "signature": SIGNATURE}, False, True),
        ({"paper": "not to be ridden", "signature": SIGNATURE}, True, False),
    ],
)
def test_a_safety_critical_item_is_let_through_only_by_a_signed_paper(bench, paper, refuse, passes):
    bench.say("overridden", item=BOLT, reason="thread is gone", person=ANN, **paper)
    verdict = gate("hand-back", bench.state(), refuse_override=refuse)
    assert verdict.passes is passes
    told = "the sign-off does not cover this: it needs a signed paper"
    assert any(line.endswith(told) for line in verdict.words) is not passes
    if passes:
        assert [item.id for item in verdict.let_through] == [BOLT]
        assert ("it leaves on a trailer" in " ".join(verdict.words)) == (
            paper["paper"] == "not to be ridden"
        )


def test_an_override_covers_one_item_and_only_as_it_was_known():
    bench = Bench()
    bench.done("pannier_off")
    for item in ("condition/pannier", "walk round"):
        assert not gate("hand-back", bench.state()).passes
        bench.say("overridden", item=item, reason="owner takes it in the car", person=ANN)
    assert gate("hand-back", bench.state()).passes
    bench.done("pannier_on")
    bench.done("pannier_off")
    assert blocking(bench, "hand-back") == {"condition/pannier", "walk round"}


def test_what_is_let_through_stands_on_a_line_of_its_own_and_one_paper_keeps_it_off_the_road(bench):
    bench.say("found", text="mirror scratched")
    bench.done("wheel_off")
    assert [line.places for line in lines(bench.state().items.values()) if line.places] == [
        (1, 2, 3, 4, 5)
    ]
    said = {"reason": "on a trailer", "person": ANN}
    for item in bench.state().items:
        bench.say(
            "overridden", item=item, **said, paper="defect told and declined", signature=SIGNATURE
        )
    bench.say("overridden", item=BOLT, **said, paper="not to be ridden", signature=SIGNATURE)
    told = [line.places for line in lines(bench.state().items.values()) if line.places]
    assert told == [(1, 2, 3, 5), (4,)]
    verdict = gate("hand-back", bench.state())
    assert (verdict.passes, verdict.words) == (True, ("not to be ridden: it leaves on a trailer",))


def test_what_is_not_safety_critical_holds_the_machine_at_hand_back_alone():
    bench = Bench()
    bench.done("covers/off")
    bench.tight("nut", value_nm=15.0)
    assert "fastener/nut/1" in blocking(bench, "hand-back")
    for name_ in ("starter", "wheels on the ground", "road test"):
        assert blocking(bench, name_) == set()


def test_an_override_that_knew_of_one_of_two_does_not_let_the_other_through():
    bench = Bench()
    bench.done("pannier_off")
    said = {"item": "condition/pannier", "reason": "in the car", "person": ANN}
    bench.say("overridden", **said)
    bench.done("pannier_off", device="phone", blind=True)
    assert "condition/pannier" in blocking(bench, "hand-back")
    bench.say("overridden", **said)
    assert "condition/pannier" not in blocking(bench, "hand-back")


def test_hand_back_waits_for_every_device_that_worked_on_the_visit(bench):
    bench.tight_wheel(4)
    bench.say("looked", items=[WHEEL_LOOK], author=BO, device="phone")
    tablet, phone = name("tablet"), name("phone")
    made = sum(1 for e in bench.entries if e.device == tablet)
    good = {tablet: made, phone: 1}
    assert gate("hand-back", bench.state(), heads=good).passes
    assert blocking(bench, "hand-back", heads=good | {phone: 2}) == {f"device/{phone}"}
    assert blocking(bench, "hand-back", heads=good | {phone: None}) == {f"device/{phone}"}
    assert blocking(bench, "hand-back", online=False) == {"network"}
    lost = bench.entries.pop(made // 2)
    words = gate("hand-back", bench.state()).words
    assert any(f"entries not come in: {lost.seq}" in line for line in words)


def test_a_lost_device_is_let_through_by_name(bench):
    bench.tight_wheel(4)
    bench.say("looked", items=[WHEEL_LOOK], author=BO)
    heads = {name("phone"): 3}
    bench.say("overridden", item=f"device/{name('phone')}", reason="fell in the oil", person=ANN)
    assert gate("hand-back", bench.state(), heads=heads).passes


def test_an_entry_that_comes_in_after_hand_back_opens_its_items_and_raises_a_recall(bench):
    bench.tight_wheel(4)
    bench.say("looked", items=[WHEEL_LOOK], author=BO)
    bench.say("gate_passed", gate="hand-back")
    bench.say("returned", keys=2)
    assert bench.state().recalls == ()
    bench.say("noted", text="oil stain on the floor", device="desk")
    late = bench.done("brake/push_back", device="phone", blind=True)
    state = bench.state()
    assert [r.entry for r in state.recalls] == [late.id]
    assert "circuit/rear_brake/lever_firm" in state.items
    assert not gate("hand-back", state).passes
