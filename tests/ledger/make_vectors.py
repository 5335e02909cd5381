"""Make the shared vectors again: ``PYTHONPATH=src:. python -m tests.ledger.make_vectors``.

A vector is a list of entries and what is open after all of them, for whoever else interprets the
table. What is open is written here by hand, so that a fault of the fold cannot write itself in.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.ledger.bench import BO, BOOK, ESTIMATE, OWNER, TABLE, WRENCH, Bench, name
from witnessmark.book.own_job import beside
from witnessmark.ledger.effects import effects
from witnessmark.ledger.repairs import repairs_in

FOLDER = Path(__file__).parent / "vectors"
WHEEL = {f"fastener/wheel_bolts/{i}": "open" for i in range(1, 6)}
LOOK = "second look/fastener/wheel_bolts"
WALK = {"walk round": "open"}

TAP = {  # a repair
    "text": "Stop the leak at the tap",
    "steps": [
        {"name": "off", "text": "Tap off", "minutes": 10, "loosens": ["screws"], "opens": {"hose": ["all"]}},
        {"name": "on", "text": "Tap on", "minutes": 12, "tightens": ["screws"], "closes": {"hose": ["refitted"]},
         "readings": ["drops"]},
    ],
    "figures": {"screws_torque": {"text": "Tap screws", "quantity": "torque", "value": "8 Nm", "source": "p. 3"}},
    "fasteners": {"screws": {"text": "Tap screw", "count": 2, "figure": "screws_torque", "safety": True}},
    "circuits": {"hose": {"text": "Fuel hose", "closed_by": {"refitted": {"text": "refitted"}}}},
    "readings": {"drops": {"text": "Drops", "quantity": "words", "choices": ["none", "some"], "bad": ["some"]}},
}  # fmt: skip

Scenario = tuple[Callable[[Bench], Any], dict[str, str]]


def _wheel_off_and_on(bench: Bench) -> None:
    bench.done("wheel_off")
    bench.done("wheel_on")


def _proven_each(bench: Bench) -> None:
    _wheel_off_and_on(bench)
    bench.tight_wheel(1, 3, 5)
    bench.done("drive_oil/wheel_tight")


def _off_again(bench: Bench) -> None:
    _wheel_off_and_on(bench)
    bench.tight_wheel()
    bench.done("drive_oil/wheel_tight")
    bench.say("looked", items=[LOOK], author=BO)
    bench.say("walked_round")
    bench.done("wheel_off")


def _on_the_card(bench: Bench) -> None:
    bench.tight("nut", set_nm=25, clicked=True, step="covers/turn")
    bench.done("covers/turn")


def _kept_turning(bench: Bench) -> None:
    bench.tight("nut", outcome="kept turning")
    bench.tight("nut", value_nm=25.0)


def _short_and_past(bench: Bench) -> None:
    bench.tight("wheel_bolts", 1, value_nm=56.0)
    bench.tight("wheel_bolts", 2, value_nm=64.0)


def _repair_half_done(bench: Bench) -> None:
    """Off, one screw of two tight again; then its second step confirmed, and the drops seen."""
    repair = "own_" + bench.say("repair_written", job=TAP, prices={}).id[-12:]
    bench.say("job_taken", job=repair)
    bench.say("offered", estimate=ESTIMATE, lines=[repair])
    bench.say("answered", estimate=ESTIMATE, line=repair, verdict="yes", by=OWNER, how="in person")
    bench.done(f"{repair}/off")
    bench.tight(f"{repair}_screws", 1, set_nm=8, clicked=True, step=f"{repair}/on")
    bench.say("read", reading=f"{repair}_drops", step=f"{repair}/on", words="some")
    bench.done(f"{repair}/on", not_tight=[f"{repair}_screws/2"])


def _two_marks(bench: Bench) -> None:
    bench.tight("nut", device="tablet")
    bench.tight("nut", device="phone", blind=True)


def _loose_for_one(bench: Bench) -> None:
    bench.tight("nut", device="tablet")
    bench.done("covers/off", device="phone", blind=True)
    items = ["fastener/nut/1"]
    bench.say("confirmed", items=items, device="desk")


def _corrected_figure(bench: Bench) -> None:
    bench.tight("nut", value_nm=25.0)
    bench.say("figure_set", figure="drain_torque", value="35 Nm", source="manual p. 4")


def _figure_confirmed(bench: Bench) -> None:
    bench.say(
        "figure_set", figure="rack_torque", value="9 Nm", source="manual p. 8", photo="a" * 64
    )
    bench.say("figure_confirmed", figure="rack_torque", of="9 Nm", source="manual p. 8", author=BO)


def _wrench_doubted(bench: Bench) -> None:
    """Of three marks of a wrench found wrong one was made anew with another before, one is loose again."""
    _wheel_off_and_on(bench)
    marks = [bench.tight("wheel_bolts", i, set_nm=60.0, clicked=True) for i in (1, 2, 3)]
    bench.tight("wheel_bolts", 2, set_nm=60.0, clicked=True)
    bench.tight("nut", set_nm=25.0, clicked=True)
    nut = bench.entries[-1]
    bench.done("covers/off")
    doubted = [entry.id for entry in (*marks, nut)]
    bench.say("wrench_doubted", wrench=WRENCH, check=name("check"), marks=doubted, found=0.11)
    bench.tight("wheel_bolts", 3, set_nm=60.0, clicked=True)


def _undone(bench: Bench) -> None:
    off = bench.done("wheel_off")
    undo = bench.say("corrected", entry=off.id)
    bench.say("corrected", entry=undo.id)


def _as_found(bench: Bench) -> None:
    bench.say("states_found", states={"pannier": "off"})
    bench.done("pannier_on")


def _drained(bench: Bench) -> None:
    bench.done("drive_oil/drain")


def _chips(bench: Bench) -> None:
    bench.say("read", reading="magnet", step="drive_oil/drain", words="chips")


def _codes_read(bench: Bench) -> None:
    bench.say("codes_read", moment="before the work", pasted="P0301", codes=[{"code": "P0301"}])


def _codes_cleared_again(bench: Bench) -> None:
    """Read after the work, then cleared: what was shown is over."""
    _codes_read(bench)
    bench.say("codes_cleared", text="engine unit")
    bench.say("codes_read", moment="after the work", pasted="none", none=True)
    bench.say("codes_cleared")


def _looked_without_a_ride(bench: Bench) -> None:
    bench.done("brake/push_back")
    bench.done("brake/pump")
    bench.done("brake/after_ride")


def _worked_on_after_the_ride(bench: Bench) -> None:
    bench.done("ride/ride")
    _wheel_off_and_on(bench)


def _lining_worn_out(bench: Bench) -> None:
    bench.say("read", reading="lining", step="linings/measure", value=1.5)
    bench.say("found", text="worn", reading="lining", safety=False)
    bench.say("settled", entry=bench.entries[-1].id, how="put right")


def _not_read(bench: Bench) -> None:
    for step, reading in (("drive_oil/drain", "magnet"), ("linings/measure", "lining")):
        bench.say("not_read", reading=reading, step=step, because="no gauge here")
    taken = {"reading": "magnet", "step": "drive_oil/drain", "taken_as": {"magnet outside": True}}
    bench.say("not_read", **taken, because="the plug has none")


def _let_be(bench: Bench) -> None:
    bench.say("read", reading="lining", step="linings/measure", value=2.0)
    said = {"entry": bench.entries[-1].id, "reading": "lining", "step": "linings/measure"}
    bench.say("let_be", **said, words="lining: 2 mm, at the limit of 2 mm")


def _waiting(bench: Bench) -> None:
    _looked_without_a_ride(bench)
    bench.done("brake/push_back")
    bench.say("wait_begun", step="hold/hold", minutes=15)


def _drained_by_itself(bench: Bench) -> None:
    """The plug is made tight while it still drips; the end of the wait takes nothing of that back."""
    drained = [{"fluid": "gear_oil", "family": "gear oil", "volume_ml": 180.0, "into": "Drum"}]
    bench.say("wait_begun", step="drive_oil/drain", minutes=10, drained=drained)
    bench.say("wait_stopped", step="drive_oil/drain", because="tray full")
    begun = bench.say("wait_begun", step="drive_oil/drain", minutes=10)
    bench.tight("drain_plug", 1, clicked=True, set_nm=25.0)
    bench.done("drive_oil/drain", began=begun.id, short_wait="no drop for a minute")


def _passed_by(bench: Bench) -> None:
    bench.done("pannier_off")
    said = {"open": ["condition/pannier"], "because": "the lift is needed"}
    bench.say("gate_passed", gate="wheels on the ground", **said)


def _beyond_the_book(bench: Bench) -> None:
    """A bolt of two made tight, a line closed and not yet bled, a pipe back on and off again."""
    bolt = {"count": 2, "grade": "proven", "torque": "24 Nm", "source": "manual p. 9"}
    bench.say("added", what="fastener", words="banjo bolt", safety=True, **bolt)
    bench.tight("own_000000000001", 1, set_nm=24.0, clicked=True)
    bench.say("added", what="circuit", words="clutch line", bleed=True)
    bench.done("own_000000000003/close")
    bench.say("added", what="pipe", words="breather")
    bench.done("own_000000000005/refit")
    bench.say("added", what="cover", words="belly pan", count=2)
    bench.done("own_000000000007/refit")
    bench.done("own_000000000007/open")


def _own_line(bench: Bench) -> None:
    """Agreed, and the owner's complaint is said to be put right by it: both wait for its card."""
    bench.say("arrived", machine=name("machine"), owner=OWNER, complaint="front brake squeals")
    bench.say("line_written", words="new brake hose", minutes=30, safety=True)
    line = "own_000000000002"
    bench.say("offered", estimate=ESTIMATE, lines=[line])
    yes = {"verdict": "yes", "by": OWNER, "how": "in person"}
    bench.say("answered", estimate=ESTIMATE, line=line, **yes)
    right = {"how": "put right", "lines": [line]}
    bench.say("complaint_answered", complaint="front brake squeals", **right)


def _complaint_in_other_words(bench: Bench) -> None:
    """An answer speaks for the words it names; other words want another one."""
    came = {"machine": name("machine"), "owner": OWNER}
    first = bench.say("arrived", complaint="brake squeals", **came)
    nothing = {"how": "nothing found", "text": "ridden hot and cold"}
    bench.say("complaint_answered", complaint="brake squeals", **nothing)
    bench.say("corrected", entry=first.id)
    bench.say("arrived", complaint="the front brake squeals when cold", **came)


SCENARIOS: dict[str, Scenario] = {
    "nothing_said": (lambda _b: None, {}),
    "wheel_seated": (_wheel_off_and_on, WALK | dict.fromkeys(WHEEL, "snug")),
    "proven_each": (
        _proven_each,
        WALK
        | {"fastener/wheel_bolts/2": "snug", "fastener/wheel_bolts/4": "snug", LOOK: "open"},
    ),
    "off_again_voids_the_marks": (_off_again, WALK | WHEEL | {"condition/wheel": "open"}),
    "marks_on_the_card_stand": (_on_the_card, WALK),
    "a_second_value_does_not_close_a_thread": (_kept_turning, WALK | {"thread/nut/1": "open"}),
    "short_of_its_figure_and_past_it": (
        _short_and_past,
        WALK
        | {
            "fastener/wheel_bolts/1": "snug",
            "fastener/wheel_bolts/2": "turned",
            "thread/wheel_bolts/2": "open",
        },
    ),
    "two_marks_unseen": (_two_marks, {"fastener/nut/1": "conflict"}),
    "loose_for_one_of_two": (
        _loose_for_one,
        WALK
        | {f"fastener/screws/{i}": "open" for i in range(1, 5)}
        | {f"fastener/rack/{i}": "open" for i in range(1, 3)}
        | {"fastener/nut/1": "open"},
    ),
    "a_figure_confirmed": (_figure_confirmed, {}),
    "a_corrected_figure_voids": (_corrected_figure, {"fastener/nut/1": "void"}),
    "a_wrench_found_wrong": (
        _wrench_doubted,
        WALK
        | {f"fastener/screws/{i}": "open" for i in range(1, 5)}
        | {f"fastener/rack/{i}": "open" for i in range(1, 3)}
        | {"fastener/nut/1": "open", LOOK: "open"}
        | {"fastener/wheel_bolts/1": "doubt"}
        | {f"fastener/wheel_bolts/{i}": "snug" for i in (4, 5)},
    ),
    "an_undo_undone": (_undone, WALK | WHEEL | {"condition/wheel": "open"}),
    "as_found": (_as_found, {"condition/pannier": "open"}),
    "drained": (
        _drained,
        WALK
        | {
            "fastener/drain_plug/1": "open",
            "renewal/drain_ring": "open",
            "circuit/drive/filled": "open",
            "circuit/drive/level": "open",
            "reading/drive_oil/drain/magnet": "want",
        },
    ),
    "codes_found": (_codes_read, {"codes": "open"}),
    "codes_cleared_after_the_last_reading": (_codes_cleared_again, {"codes": "open"}),
    "looked_without_a_ride": (
        _looked_without_a_ride,
        WALK | {"circuit/rear_brake/heat": "open", "second look/step/brake/pump": "open"}
        | {"reading/brake/push_back/pad": "want"},
    ),
    "worked_on_after_the_ride": (
        _worked_on_after_the_ride,
        WALK | dict.fromkeys(WHEEL, "snug") | {"ride": "open"},
    ),
    "a_lining_worn_out": (_lining_worn_out, {"outside/lining/1": "open"}),
    "not_read": (_not_read, {"reading/linings/measure/lining": "want"}),
    "a_reading_at_its_limit_let_be": (_let_be, {}),
    "waiting": (
        _waiting,
        WALK | {"circuit/rear_brake/heat": "open", "circuit/rear_brake/lever_firm": "open"}
        | {"second look/step/brake/pump": "open", "reading/brake/push_back/pad": "want"}
        | {"wait/hold/hold": "open"},
    ),
    "drained_by_itself": (
        _drained_by_itself,
        WALK | {"circuit/drive/filled": "open", "circuit/drive/level": "open"}
        | {"renewal/drain_ring": "open", "reading/drive_oil/drain/magnet": "want"},
    ),
    "a_gate_passed_by": (_passed_by, WALK | {"condition/pannier": "open"}),
    "beyond_the_book": (
        _beyond_the_book,
        WALK
        | {
            "fastener/own_000000000001/2": "open",
            "second look/fastener/own_000000000001": "open",
            "circuit/own_000000000003/bleed": "open",
            "circuit/own_000000000003/leaks": "open",
            "circuit/own_000000000007/refitted_1": "open",
            "circuit/own_000000000007/refitted_2": "open",
        },
    ),
    "an_own_line_and_the_complaint": (
        _own_line,
        {"job/own_000000000002": "open", "complaint": "open"},
    ),
    "the_complaint_in_other_words": (_complaint_in_other_words, {"complaint": "open"}),
    "chips_on_the_magnet": (_chips, {"outside/magnet/1": "open"}),
    "a_repair_half_done": (
        _repair_half_done,
        {
            "fastener/own_000000000001_screws/2": "open",
            "outside/own_000000000001_drops/1": "open",
        }
        | WALK,
    ),
}  # fmt: skip


def vector(scenario: Scenario) -> dict[str, Any]:
    """Entries as they are kept, what is open by item id, and the table where it is another one: of book and repairs."""
    play, expected = scenario
    bench = Bench()
    play(bench)
    repairs = {name: one.said.job for name, one in repairs_in(bench.entries).items()}
    book = beside(BOOK, repairs)
    table = {"table": effects(book, list(repairs)).model_dump(mode="json")} if repairs else {}
    return {
        "entries": [entry.model_dump(mode="json") for entry in bench.entries],
        "open": dict(sorted(expected.items())),
    } | table


def files() -> dict[str, str]:
    """Every file's name and text."""
    made = {f"{name}.json": vector(scenario) for name, scenario in SCENARIOS.items()}
    table = {"table.json": TABLE.model_dump(mode="json")}
    return {
        name: json.dumps(data, indent=1, ensure_ascii=False, sort_keys=True) + "\n"
        for name, data in (made | table).items()
    }


if __name__ == "__main__":
    for file, text in files().items():
        (FOLDER / file).write_text(text, encoding="utf-8")
