"""Rules for brakes, wheels, tyres, steering and suspension, by the places and states of the vocabulary."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from witnessmark.book.errors import Fault
from witnessmark.book.model import Book
from witnessmark.book.rides import asks_for_ride, ridden_again, rides_after
from witnessmark.book.rules.rule import Rule, assured, fault, setting
from witnessmark.book.select import earlier, job_of, operations, path_of, steps, with_brought

ENDS = (("front", "front_lever"), ("rear", "rear_pedal"))
LEVERS = dict(ENDS).values()
HOLDS_LIVES = (
    "front_wheel", "rear_wheel", "front_caliper", "rear_caliper", "fork", "steering", "swinging_arm", "rear_damper",
)  # fmt: skip
BESIDE = ("front_sensor", "rear_sensor", "mudguard")  # come off on the way, and hold no life
SETTLE = ("front_spokes", "rear_spokes", "wheel_bolts", "head_bolts")
TYRES = ("front_tyre", "rear_tyre")
PADS = ("front_pads", "rear_pads")
LININGS = {*PADS, "front_shoes", "rear_shoes"}


def _soft(book: Book, lever: str) -> list[str]:
    condition = book.conditions[lever]
    return [state for state in condition.states if state != condition.finish]


def _firm_before_it_moves(book: Book) -> Iterator[Fault]:
    for lever in LEVERS:
        if lever not in book.conditions:
            continue
        if book.conditions[lever].finish is None:
            expected = 'give finish = "firm", or whatever it is called'
            yield Fault(("conditions", lever), "nothing asks for it at the end", expected)
        soft = set(_soft(book, lever))
        for name, step in setting(book, "place", "floor"):
            forbidden = any(
                soft <= set(row.when.get(lever, ())) and "floor" in row.when.get("place", ())
                for row in book.never.values()
            )
            if not forbidden and soft & set(step.needs.get(lever, soft)):
                expected = f'write needs = {{ {lever} = ["{book.conditions[lever].finish}"] }}, or a [never]'
                yield fault(name, "needs", f"the machine may move with {lever} soft", expected)


def _pushed_back(book: Book) -> Iterator[Fault]:
    for name, step in steps(book).items():
        if "piston_spreader" not in step.tools and not set(PADS) & step.parts.keys():
            continue
        if not any(condition.endswith("_reservoir") for condition in step.needs):
            expected = "name the reservoir of this brake under needs"
            yield fault(name, "needs", "nobody minds the reservoir", expected)
        if not any(
            step.sets.get(lever) in _soft(book, lever)
            for lever in LEVERS
            if lever in book.conditions
        ):
            expected = "set its lever soft, so that only pumping makes it firm"
            yield fault(name, "sets", "the lever counts as firm", expected)
        if not any(circuit.endswith("_brake") for circuit in step.opens):
            yield fault(name, "opens", "the brake counts as closed", "open its circuit")


def _opened_before_pushing(book: Book) -> Iterator[Fault]:
    """Where pistons may go back below a closed cap, what opens that cap later waits for the lever to be firm again."""
    below_closed = {
        condition
        for step in steps(book).values()
        if "piston_spreader" in step.tools
        for condition, states in step.needs.items()
        if condition.endswith("_reservoir") and "closed" in states
    }
    for end, lever in ENDS:
        reservoir = f"{end}_reservoir"
        if lever not in book.conditions or reservoir not in below_closed:
            continue
        for name, step in setting(book, reservoir):
            may_be_soft = set(_soft(book, lever)) & set(step.needs.get(lever, _soft(book, lever)))
            if "closed" in step.needs.get(reservoir, ()) and may_be_soft:
                expected = f'write needs = {{ {lever} = ["{book.conditions[lever].finish}"] }}'
                yield fault(name, "needs", "pistons may be pushed back before it", expected)


def _reservoir_opened(book: Book) -> Iterator[Fault]:
    for condition in ("front_reservoir", "rear_reservoir", "clutch_reservoir"):
        for name, step in setting(book, condition):
            opens = "closed" in step.needs.get(condition, ()) and step.sets[condition] != "closed"
            if opens and "paint_cover" not in step.tools:
                expected = 'add tools = ["paint_cover"]'
                yield fault(name, "tools", "the paint is not covered", expected)


def _pads_seated(book: Book) -> Iterator[Fault]:
    for end, lever in ENDS:
        if lever not in book.conditions or not _on_an_axle(book, f"{end}_wheel"):
            continue
        for name, step in setting(book, f"{end}_wheel", "off"):
            if step.needs.get(f"{end}_caliper") == ["off"]:
                continue
            if step.sets.get(lever) not in _soft(book, lever):
                expected = f"set {lever} soft, or need the caliper off (which does)"
                yield fault(name, "sets", f"{lever} counts as firm with the wheel out", expected)


def _on_an_axle(book: Book, wheel: str) -> bool:
    """Whether hub and disc come out with the wheel; wheel bolts leave them where they are."""
    loosened = {fastener for _, step in setting(book, wheel) for fastener in step.loosens}
    return any(book.fasteners[fastener].kind == "axle" for fastener in loosened)


def _what_holds_lives(book: Book) -> Iterator[Fault]:
    names = {
        fastener
        for condition in HOLDS_LIVES
        for _, step in setting(book, condition)
        for fastener in step.loosens
        if fastener not in BESIDE
    }
    for name in sorted(names):
        one, path = book.fasteners[name], ("fasteners", name)
        if one.figure is None or one.grade != "proven":
            yield Fault(
                (*path, "grade"),
                "not made tight one by one, to a figure",
                'give figure, and grade = "proven"',
            )
        if not one.safety:
            yield Fault((*path, "safety"), "not said to be safety-critical", "write safety = true")
        if not one.second_look:
            yield Fault((*path, "second_look"), "nobody looks again", "write second_look = true")


def _wheel_in(book: Book) -> Iterator[Fault]:
    for end, _ in ENDS:
        condition = f"{end}_wheel"
        if condition not in book.conditions:
            continue
        back = [
            (name, step) for name, step in setting(book, condition) if step.sets[condition] != "off"
        ]
        bolts = [(name, f) for name, step in back for f in step.tightens]
        out = list(setting(book, condition, "off"))
        if out and not bolts:
            yield fault(
                out[0][0],
                "loosens",
                "nothing is made tight when it is in again",
                "declare its fasteners",
            )
        wanted = ["turns freely"] if out else []
        if out and any(book.fasteners[f].kind == "axle" for _, f in bolts):
            wanted.append("spacers in order")
        for mark in wanted:
            if bolts and not any(mark in step.assures for _, step in back):
                yield from assured(bolts[-1][0], steps(book)[bolts[-1][0]], mark)


def _ride_after(book: Book) -> Iterator[Fault]:
    every, rides = steps(book), rides_after(book)
    told: set[str] = set()
    for job in book.jobs:
        taken = operations(book, with_brought(book, [job]))
        work, again = ridden_again(book, taken)
        ridden = [ride for ride in rides if ride in taken]
        if work and not again & set(ridden):
            yield Fault(
                ("jobs", job, "brings"), "no ride proves it", "bring the job with the ride after"
            )
            continue
        before_it = {name for ride in ridden for name in _before(ride, earlier(book))}
        for name in sorted(work - before_it - told):
            told.add(name)
            if asks_for_ride(book, every[name]) or job_of(name) == job:
                expected = f'name it under "after" of {ridden[0]}'
                yield Fault((*path_of(name),), "no ride waits for it", expected)


def _before(last: str, follows: Mapping[str, frozenset[str]]) -> set[str]:
    found: set[str] = set()
    pending = [last]
    for name in pending:
        fresh = follows[name] - found
        found |= fresh
        pending += fresh
    return found


def _tightened_again(book: Book) -> Iterator[Fault]:
    for name, step in steps(book).items():
        for fastener in set(SETTLE) & set(step.tightens):
            figure = f"{fastener}_again"
            if figure not in step.figures:
                problem = f"nobody asks whether {fastener} are tightened again"
                yield fault(
                    name,
                    "figures",
                    problem,
                    f'show a figure "{figure}" here: when, as the manual says',
                )


def _tyre_fitted(book: Book) -> Iterator[Fault]:
    for name, step in steps(book).items():
        job = book.jobs.get(job_of(name))
        seen = {mark for one in (job.operations if job else {}).values() for mark in one.assures}
        for tyre in set(TYRES) & step.parts.keys():
            wanted = ("direction arrow", "age told", "balanced")
            yield from assured(name, step, *(mark for mark in wanted if mark not in seen))
            if "valve" not in step.parts:
                yield fault(name, "parts", "the old valve stays in", "add a new valve (or tube)")
            if f"{tyre}_pressure" not in step.figures:
                expected = f'show "{tyre}_pressure"'
                yield fault(name, "figures", "its pressure is not shown", expected)


def _linings_tried(book: Book) -> Iterator[Fault]:
    for name, job in book.jobs.items():
        fitted = [step for step, one in job.operations.items() if LININGS & one.parts.keys()]
        if not fitted:
            continue
        last = fitted[-1]
        if not any("turns freely" in one.assures for one in job.operations.values()):
            yield from assured(f"{name}/{last}", job.operations[last], "turns freely")
        if not any("bed_in" in one.cautions for one in job.operations.values()):
            expected = 'add cautions = ["bed_in"], and tell the owner'
            yield fault(
                f"{name}/{last}", "cautions", "nobody says how they are bedded in", expected
            )


def _clip_forward(book: Book) -> Iterator[Fault]:
    for name, step in steps(book).items():
        if "clip_link" in step.parts:
            yield from assured(name, step, "clip forward")


RULES = (
    Rule(
        "lever_firm_before_it_moves",
        "The machine moves on its wheels only with every brake lever and pedal firm.",
        "After pistons were pushed back the first pull does nothing.",
        _firm_before_it_moves,
    ),
    Rule(
        "pistons_pushed_back",
        "Where pistons are pushed back the reservoir is minded, the lever counts as soft and the brake as open.",
        "The fluid rises and runs over, and the pads stand off the disc until somebody pumps.",
        _pushed_back,
    ),
    Rule(
        "opened_before_pistons_go_back",
        "A reservoir of the brake that is opened and drawn down is so before pistons are pushed back, not after.",
        "Below a closed cap the fluid that comes back has nowhere to go, and bursts out when the cap comes off.",
        _opened_before_pushing,
    ),
    Rule(
        "reservoir_opened",
        "A reservoir of brake fluid is opened with the paint around it covered.",
        "Brake fluid lifts paint within minutes.",
        _reservoir_opened,
    ),
    Rule(
        "pads_seated_after_a_wheel",
        "With a wheel out its brake counts as soft, until somebody has pumped or set it.",
        "The disc comes out from between the pads, or the rod off the drum.",
        _pads_seated,
    ),
    Rule(
        "what_holds_lives",
        "What holds wheels, calipers, steering and suspension is made tight one by one, to a figure, and seen by a "
        "second pair of eyes.",
        "One of these that is loose kills, and whoever forgot it does not see it.",
        _what_holds_lives,
        "common practice, no source; the second pair of eyes after 14 CFR 121.371(c), for aircraft",
    ),
    Rule(
        "wheel_in",
        "A wheel that goes in is made tight, with its spacers in order, and turns freely.",
        "A spacer on the wrong side ruins bearing and brake.",
        _wheel_in,
    ),
    Rule(
        "ride_after_work",
        "Where brakes, wheels, steering, suspension or final drive were disturbed, a ride comes after.",
        "Only the road shows that they are well together.",
        _ride_after,
    ),
    Rule(
        "tightened_again",
        "Where spokes, wheel bolts or a cylinder head are made tight, the card says when they are tightened again.",
        "They settle, and the manual often asks for it after a distance.",
        _tightened_again,
    ),
    Rule(
        "tyre_fitted",
        "A tyre is fitted by its arrow, with a new valve, balanced, to its pressure, and the owner is told its age.",
        "A tyre that runs the wrong way sheds water badly; an old one grips badly however deep its tread.",
        _tyre_fitted,
        "common practice, no source; arrow and date are marked by 49 CFR 574.5 and 571.119",
    ),
    Rule(
        "linings_tried",
        "With new pads or shoes in, the wheel is seen to turn freely, and the card says how they are bedded in.",
        "What drags burns; what is braked hard before it has bedded in glazes.",
        _linings_tried,
    ),
    Rule(
        "clip_forward",
        "The closed end of a chain's clip runs forward.",
        "What hits the open end pushes the clip off.",
        _clip_forward,
    ),
)  # fmt: skip
