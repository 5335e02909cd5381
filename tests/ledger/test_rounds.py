"""Stages, turn, order behind another, own gates, what is shown at the end: what counts, what opens again."""

import pytest

from tests.ledger.bench import WRENCH, Bench
from witnessmark.book.model import Book
from witnessmark.ledger.effects import effects
from witnessmark.ledger.entry import read_entry
from witnessmark.ledger.gates import gate
from witnessmark.ledger.wording import describe

SOURCE = {"source": "invented manual, page 7"}
SLACK = {"text": "chain slack", "quantity": "length", "unit": "mm", "again_after": ["axle"]}
BOOK = Book.model_validate({
    "format": 1, "name": "invented_rounds", "title": "Invented rounds", "invented": True,
    "figures": {
        "first": {"text": "head, first", "quantity": "torque", "value": "20 Nm"} | SOURCE,
        "second": {"text": "head, second", "quantity": "torque", "value": "40 Nm"} | SOURCE,
        "angle": {"text": "head, turned on", "quantity": "angle", "value": "90°", "tolerance": "5°"} | SOURCE,
        "axle": {"text": "axle", "quantity": "torque", "value": "95 Nm"} | SOURCE,
        "pinch": {"text": "pinch", "quantity": "torque", "value": "19 Nm"} | SOURCE,
    },
    "fasteners": {
        "head": {"text": "head bolt", "count": 2, "figure": "second", "stages": ["first"], "turn": "angle",
                 "sequence": "star", "secured_by": "stripe"},
        "axle": {"text": "axle nut", "figure": "axle", "safety": True},
        "pinch": {"text": "pinch bolt", "count": 2, "figure": "pinch", "behind": "axle", "safety": True,
                  "sequence": "alternate until still", "gate": "road test"},
    },
    "readings": {"slack": SLACK},
    "jobs": {"job": {"text": "job", "operations": {
        "undo": {"text": "undo", "minutes": 1, "loosens": ["head", "axle", "pinch"]},
        "do": {"text": "do", "minutes": 1, "after": ["undo"], "tightens": ["head", "axle", "pinch"],
               "readings": ["slack"]},
    }}},
})  # fmt: skip
TABLE = effects(BOOK, ["job"])


@pytest.fixture
def bench() -> Bench:
    bench = Bench()
    bench.done("job/undo")
    return bench


def opened(bench: Bench, *kinds: str) -> set[str]:
    return {i.id for i in bench.state(TABLE).items.values() if i.kind in kinds}


def head(bench: Bench, *rounds: int) -> None:
    for k in rounds:
        for i in (1, 2):
            how = {"angle_deg": 90.0, "wrench": None, "wrench_proven": False} if k == 3 else {}
            value = {} if k == 3 else {"value_nm": 20.0 * k}
            bench.tight("head", i, round=k, step="job/do", **value, **how)


def test_a_bolt_is_tight_after_its_last_round_and_each_round_is_owed(bench):
    """Two torques and an angle: the last closes the bolt; a round nobody went through stays open."""
    head(bench, 1)
    assert opened(bench, "fastener") >= {"fastener/head/1", "fastener/head/2"}
    assert opened(bench, "round") == {"round/head/1/2", "round/head/2/2"}
    head(bench, 3)
    assert "fastener/head/1" not in opened(bench, "fastener")
    assert opened(bench, "round") == {"round/head/1/2", "round/head/2/2"}
    head(bench, 2)
    assert opened(bench, "fastener") >= {"fastener/head/1"}  # a lower round after the last: seated
    head(bench, 3)
    assert not opened(bench, "round")
    marks = bench.state(TABLE).tallies["head"].marks
    assert [(mark.status, mark.angle_deg) for mark in marks] == [("tight", 90.0), ("tight", 90.0)]


@pytest.mark.parametrize("refuse", [False, True])
def test_a_wrench_that_proves_nothing_closes_a_round_unless_the_shop_refuses_it(refuse):
    said = BOOK.model_dump()
    said["fasteners"]["head"]["safety"] = True
    table = effects(Book.model_validate(said), ["job"], refuse_unproven_wrench=refuse)
    bench = Bench()
    bench.done("job/undo")
    bench.tight("head", 1, round=1, value_nm=20.0, wrench_proven=False)
    assert ("round/head/1/1" in bench.state(table).items) is refuse


def test_a_stage_short_of_its_figure_is_not_gone_through_and_a_turn_too_far_is_for_judgement(bench):
    bench.tight("head", 1, round=1, value_nm=15.0)
    assert "round/head/1/1" in opened(bench, "round")
    bench.tight("head", 2, round=3, angle_deg=120.0)
    assert opened(bench, "thread") == {"thread/head/2"}


def test_an_axle_made_tight_after_its_pinch_bolts_opens_them_again(bench):
    """The axle pulls the legs together: what pinched it before pinches it wrong."""
    for i in (1, 2):
        bench.tight("pinch", i, value_nm=19.0)
    bench.tight("axle", value_nm=95.0)
    assert opened(bench, "fastener") >= {"fastener/pinch/1", "fastener/pinch/2"}
    for i in (1, 2):
        bench.tight("pinch", i, value_nm=19.0)
    assert not opened(bench, "fastener") & {
        "fastener/pinch/1",
        "fastener/pinch/2",
        "fastener/axle/1",
    }


def test_an_axle_made_tight_once_more_asks_nothing_of_pinch_bolts_that_nobody_touched():
    bench = Bench()
    for _ in range(2):
        bench.tight("axle", value_nm=95.0)
        assert not opened(bench, "fastener")
    bench.tight("pinch", 1, value_nm=19.0)
    bench.tight("axle", value_nm=95.0)
    assert opened(bench, "fastener") == {"fastener/pinch/1"}


@pytest.mark.parametrize(("grade", "opens"), [("proven", False), ("counted", True)])
def test_a_card_that_closes_its_fastener_by_itself_opens_what_is_behind_it(grade, opens):
    """A proven axle was tight by its mark before; tapping its card does no more to the pinch bolts."""
    said = BOOK.model_dump()
    said["fasteners"]["axle"]["grade"] = grade
    tighten = {"text": "axle", "minutes": 1, "tightens": ["axle"]}
    said["jobs"]["job"]["operations"]["axle"] = tighten
    table, bench = effects(Book.model_validate(said), ["job"]), Bench()
    bench.done("job/undo")
    bench.tight("axle", value_nm=95.0)
    for i in (1, 2):
        bench.tight("pinch", i, value_nm=19.0)
    bench.done("job/axle")
    items = bench.state(table).items
    assert {f"fastener/pinch/{i}" in items for i in (1, 2)} == {opens}
    assert "fastener/axle/1" not in items


def test_each_round_of_each_bolt_is_named(bench):
    """Counted where there are several, by the figure of its round; the last has no item of its own."""
    told = {item: TABLE.items[item].words for item in TABLE.items if item.startswith("round/")}
    assert told == {
        f"round/head/{i}/{k}": f"head bolt, {i} of 2, round {k}: head, {figure}"
        for i in (1, 2)
        for k, figure in ((1, "first"), (2, "second"))
    }
    said = BOOK.model_dump()
    said["fasteners"]["head"]["count"] = 1
    items = effects(Book.model_validate(said), ["job"]).items
    assert items["round/head/1/1"].words == "head bolt, round 1: head, first"


def test_until_still_is_said_after_the_last_mark_and_what_secures_is_shown(bench):
    bench.say("shown", fastener="pinch", what="still")
    for i in (1, 2):
        bench.tight("pinch", i, value_nm=19.0)
    assert opened(bench, "still") == {"still/pinch"}
    bench.say("shown", fastener="pinch", what="still")
    assert bench.state(TABLE).history[-1].words == "pinch bolt: the last round: none moves any more"
    assert not opened(bench, "still")
    assert opened(bench, "secured") == {"secured/head"}
    bench.say("shown", fastener="head", what="secured", how="paint stripe")
    assert bench.state(TABLE).history[-1].words == "head bolt: paint stripe across it: seen"
    assert not opened(bench, "secured")
    bench.done("job/undo")
    assert opened(bench, "secured") == {"secured/head"}


def test_what_is_made_tight_owes_its_rounds_and_what_shows_that_it_lasts_though_nobody_loosened_it():
    bench = Bench()
    bench.done("job/do")
    bolts = {f"fastener/{name}/{i}" for name in ("head", "pinch") for i in (1, 2)}
    assert opened(bench, "secured", "still", "fastener") == bolts | {
        "secured/head",
        "still/pinch",
        "fastener/axle/1",
    }
    bench = Bench()
    bench.tight("pinch", 1, value_nm=19.0)
    head(bench, 3)
    owed = bench.state(TABLE).items
    assert {key: item.stands for key, item in owed.items() if item.kind in ("round", "secured", "still")} == {
        "secured/head": "want", "still/pinch": "open",
    } | {f"round/head/{i}/{k}": "want" for i in (1, 2) for k in (1, 2)}  # fmt: skip
    assert owed["secured/head"].words == "head bolt: paint stripe across it: not shown"
    assert (
        owed["still/pinch"].words
        == "pinch bolt: the last round: go round until none moves any more"
    )
    assert bench.state(TABLE).tallies["head"].rounds == ((), ())
    head(bench, 1)
    bench.tight("head", 2, round=2, value_nm=40.0)
    assert bench.state(TABLE).tallies["head"].rounds == ((1, 2), (2,))
    assert (bench.state(TABLE).shown, bench.state(TABLE).tallies.keys()) == ((), {"head", "pinch"})
    for _ in range(2):
        bench.say("shown", fastener="head", what="secured")
    assert bench.state(TABLE).shown == ("secured/head",)


def test_a_reading_is_wanted_again_when_the_fastener_after_it_is_tight(bench):
    bench.say("read", reading="slack", step="job/do", value=30.0, text="30 mm")
    assert not opened(bench, "reading")
    bench.tight("axle", value_nm=95.0)
    assert opened(bench, "reading") == {"reading/job/do/slack"}
    bench.say("read", reading="slack", step="job/do", value=29.0, text="29 mm")
    assert not opened(bench, "reading")


def test_an_access_step_reads_again_too_what_a_fastener_changed(bench):
    said = BOOK.model_dump()
    said["conditions"]["stand"] = {"text": "stand", "states": ["up", "down"], "start": "up"}
    raise_it = {"text": "raise it", "minutes": 1, "sets": {"stand": "up"}, "readings": ["slack"]}
    said["access"] = {"raise_it": raise_it}
    table = effects(Book.model_validate(said), ["job"])
    bench.say("read", reading="slack", step="raise_it", value=30.0)
    bench.tight("axle", value_nm=95.0)
    assert "reading/raise_it/slack" in bench.state(table).items


def test_a_gate_of_its_own_leaves_the_earlier_gates_alone(bench):
    """Seated pinch bolts with gate "road test" stop neither starter nor wheels; the axle beside them does."""
    for name, index in (("axle", 1), ("pinch", 1), ("pinch", 2)):
        bench.tight(name, index, value_nm=5.0)
    state = bench.state(TABLE)
    blocks = {
        name: {item.id for item in gate(name, state).blocking if item.kind == "fastener"}
        for name in ("starter", "wheels on the ground", "road test")
    }
    assert blocks["starter"] == blocks["wheels on the ground"] == {"fastener/axle/1"}
    assert blocks["road test"] == {"fastener/axle/1", "fastener/pinch/1", "fastener/pinch/2"}


def test_a_corrected_stage_opens_it_and_the_rounds_after_it(bench):
    head(bench, 1, 2, 3)
    bench.say("figure_set", figure="second", value="45 Nm", source="manual, page 8")
    assert opened(bench, "round") == {"round/head/1/2", "round/head/2/2"}
    assert opened(bench, "fastener") >= {"fastener/head/1", "fastener/head/2"}


def test_an_entry_of_before_rounds_is_read_as_the_last_one(bench):
    """What was written without a round keeps its bytes, and closes its fastener."""
    old = bench.tight("axle", value_nm=95.0).model_dump(mode="json")
    for key in ("round", "angle_deg", "treatment", "adapter"):
        del old["body"][key]
    bench.entries[-1] = read_entry(old)
    assert bench.entries[-1].body == old["body"]
    assert "fastener/axle/1" not in opened(bench, "fastener")


def test_a_turn_rests_on_the_torque_before_it_and_a_wrench_found_wrong_opens_that_round_alone(
    bench,
):
    """The first stage does not matter: the second was tightened over it."""
    head(bench, 1, 2, 3)
    assert not opened(bench, "fastener") & {"fastener/head/1", "fastener/head/2"}
    marks = [entry.id for entry in bench.entries if entry.kind == "tightened"]
    bench.say("wrench_doubted", wrench=WRENCH, check=WRENCH, marks=marks, found=0.1)
    assert opened(bench, "round") == {"round/head/1/2", "round/head/2/2"}
    head(bench, 2, 3)
    assert not opened(bench, "round")


def test_what_a_step_was_to_reach_is_not_reached_while_a_fastener_of_it_is_not_tight():
    """An axle gone on from finger tight is loose still; made tight on any card, it is tight."""
    said = BOOK.model_dump()
    said["conditions"] = {
        "wheel": {"text": "wheel", "states": ["tight", "loose"], "start": "tight"}
    }
    axle = {"text": "axle", "minutes": 1}
    said["access"] = {
        "undone": axle | {"sets": {"wheel": "loose"}, "loosens": ["axle"]},
        "tight": axle | {"sets": {"wheel": "tight"}, "tightens": ["axle"]},
    }
    table, bench = effects(Book.model_validate(said), ["job"]), Bench()
    bench.done("undone")
    gone_on = bench.done("tight", not_tight=["axle nut"])
    assert bench.state(table).states["wheel"] == "loose"
    assert describe(gone_on, table) == "gone on, not tight: axle nut (axle)"

    bench.tight("axle", value_nm=95.0, step="job/do")
    assert bench.state(table).states["wheel"] == "tight"
    bench.done("undone")
    bench.tight("axle", value_nm=95.0, step="tight")
    assert describe(bench.done("tight"), table) == "done: axle"
    assert bench.state(table).states["wheel"] == "tight"
