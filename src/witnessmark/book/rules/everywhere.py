"""Rules for work of every kind: what is taken off, what is spoiled, what can hurt, what is read."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from witnessmark.book.errors import Fault
from witnessmark.book.model import Book, Job, RenewalKind, Step
from witnessmark.book.rules.brakes_and_wheels import PADS, TYRES
from witnessmark.book.rules.engine_and_fuel import HYDRAULIC
from witnessmark.book.rules.rule import Rule, fault, setting
from witnessmark.book.select import steps
from witnessmark.errors import listed

BOLTED = {  # by condition: the states in which something is off that screws, lines or plugs hold
    "front_wheel": "off", "rear_wheel": "off", "front_caliper": "off", "rear_caliper": "off", "fork": "out",
    "steering": "open", "swinging_arm": "out", "rear_damper": "out", "camshaft": "out", "valve_cover": "off",
    "tank": "off", "carburettors": "off", "exhaust": "off", "clutch_cover": "off", "variator_cover": "off",
    "spark_plugs": "out", "oil_filter": "off", "oil_plug": "out", "fairing": "off", "engine_guard": "off",
    "air_box": "open",
}  # fmt: skip
LINES = {"tank": "off", "carburettors": "off", "fairing": "off"}  # behind them
GASKETS = {"valve_cover": "off", "clutch_cover": "off", "variator_cover": "off", "exhaust": "off"}
SPRINGS = ("clutch_springs", "damper_mounts", "cam_chain_tensioner", "variator_nut")
SHOES = ("front_shoes", "rear_shoes")
BY_EVIDENCE: dict[str, RenewalKind] = {"pin": "split pin", "tab": "tab washer"}


def _held_by_something(book: Book) -> Iterator[Fault]:
    for condition, state in BOLTED.items():
        ways = [
            (name, step) for name, step in setting(book, condition) if step.sets[condition] != state
        ]
        taken = list(setting(book, condition, state))
        every = [step for _, step in (*ways, *taken)]
        if taken and not any(step.loosens for step in every):
            name = taken[0][0]
            yield fault(
                name,
                "loosens",
                f"{condition} comes off, and no fastener is loosened",
                "declare what holds it",
            )


def _lines_together(book: Book) -> Iterator[Fault]:
    for condition, state in LINES.items():
        for name, step in setting(book, condition, state):
            if not step.opens:
                problem = f"{condition} comes off, and no line or connector is open"
                yield fault(name, "opens", problem, "open a circuit: what is connected again")


def _safety_counted(book: Book) -> Iterator[Fault]:
    for name, fastener in book.fasteners.items():
        if fastener.safety and fastener.grade == "counted":
            path = ("fasteners", name, "grade")
            yield Fault(path, "safety-critical, and only counted", "give it a figure")


def _renewals_named(book: Book) -> Iterator[Fault]:
    for name, step in steps(book).items():
        kinds = {book.renewals[renewal].kind for renewal in step.disturbs}
        for fastener in step.loosens:
            one = book.fasteners[fastener]
            wanted = BY_EVIDENCE.get(one.secured_by or "")
            if wanted is not None and wanted not in kinds:
                yield fault(
                    name,
                    "disturbs",
                    f"{one.text}: its {wanted} is not named",
                    f"disturb a {wanted}",
                )
            if one.kind == "plug" and not step.disturbs:
                yield fault(
                    name,
                    "disturbs",
                    f"{one.text}: its ring is not named",
                    "disturb its sealing ring",
                )
    for condition, state in GASKETS.items():
        for name, step in setting(book, condition, state):
            if not step.disturbs:
                yield fault(
                    name, "disturbs", f"the gasket of {condition} is not named", "disturb it"
                )


def _opens(book: Book, step: Step, *families: str) -> bool:
    fluids = (
        book.circuits[circuit].fluid for circuit, what in step.opens.items() if what == ["all"]
    )
    return any(book.fluids[fluid].family in families for fluid in fluids if fluid)


def _burns(book: Book) -> bool:
    return book.build.get("engine", {}).get("is") != "electric"


Danger = tuple[str, str, Callable[[Book, Step], bool]]  # the caution, what is done, whether it is
DANGERS: tuple[Danger, ...] = (
    ("hot_oil", "oil is drained", lambda b, s: _opens(b, s, "engine oil", "gear oil")),
    ("hot_coolant", "the cooling system is opened",
     lambda b, s: _opens(b, s, "coolant") or "cooling_pump" in s.tools),
    ("springs", "a spring is let go",
     lambda b, s: _opens(b, s, "fork oil") or bool(set(SPRINGS) & set(s.loosens))),
    ("brake_fluid", "brake or clutch fluid is about",
     lambda b, s: any(b.fluids[f].family in HYDRAULIC for f in s.fluids) or _opens(b, s, *HYDRAULIC)),
    ("brake_dust", "linings are handled", lambda _, s: bool({*PADS, *SHOES} & s.parts.keys())),
    ("fuel", "fuel is open", lambda _, s: "fuel" in s.opens),
    ("battery", "the battery is worked on",
     lambda _, s: "battery_terminals" in s.loosens or "charger" in s.tools),
    ("exhaust", "the engine runs", lambda b, s: s.gate == "starter" and _burns(b)),
    ("road_test", "it is ridden", lambda _, s: s.gate == "road test"),
    ("lifting", "it goes onto or off the lift or its stand", lambda _, s: bool({"place", "stand"} & s.sets.keys())),
    ("balance", "the balance changes",
     lambda _, s: any(s.sets.get(c) == BOLTED[c] for c in ("front_wheel", "rear_wheel", "fork", "swinging_arm"))),
    ("tyre_seating", "a tyre is seated", lambda _, s: bool(set(TYRES) & s.parts.keys())),
)  # fmt: skip


def _cautioned(book: Book) -> Iterator[Fault]:
    for name, step in steps(book).items():
        for caution, done, is_done in DANGERS:
            if caution not in step.cautions and is_done(book, step):
                yield fault(name, "cautions", f"{done}, and nobody is warned", f'add "{caution}"')


def _strapped(book: Book) -> Iterator[Fault]:
    for name, step in setting(book, "place", "lift"):
        if "straps" not in step.tools:
            yield fault(name, "tools", "nothing holds it on the lift", 'add tools = ["straps"]')


def _read(book: Book) -> Iterator[Fault]:
    read: set[str] = set()
    tools = {name: tool.text for name, tool in book.tools.items()}
    for name, step in steps(book).items():
        for reading in step.readings:
            read.add(reading)
            instrument = book.readings[reading].instrument
            if instrument and instrument not in {tools[tool] for tool in step.tools}:
                problem = f"{reading} is read, and {instrument} is not among the tools"
                yield fault(name, "tools", problem, "add it, so that it lies ready")
    for name, one in book.readings.items():
        path = ("readings", name)
        if name not in read:
            yield Fault(path, "no step reads it", "name it under readings of a step")
        if one.quantity != "words" and not one.instrument:
            yield Fault(
                (*path, "instrument"), "nothing is said to read it with", 'give instrument = "…"'
            )
        if one.quantity != "words" and one.low is None and one.high is None:
            yield Fault(
                (*path, "low"), "nothing says what is too little or too much", "give low or high"
            )


def _after_its_test(book: Book) -> Iterator[Fault]:
    reads = {name: _read_by(job) for name, job in book.jobs.items()}
    for name, job in book.jobs.items():
        path = ("jobs", name, "after_test")
        for place, test in enumerate(job.after_test):
            if not reads[test]:
                problem = f"{test} reads nothing that could tell"
                yield Fault((*path, place), problem, "name the job that reads it")
        tests = [
            other
            for other, one in book.jobs.items()
            if other != name and {*job.early} & reads[other] - {*one.early}
        ]
        by_interval = job.every_distance or job.every_time
        if tests and not by_interval and not {*tests} & {*job.after_test}:
            problem = f"{listed(tests)} reads what tells whether it is wanted"
            yield Fault(path, problem, f'write after_test = ["{tests[0]}"]')


def _read_by(job: Job) -> set[str]:
    return {reading for step in job.operations.values() for reading in step.readings}


RULES = (
    Rule(
        "held_by_something",
        "Whatever comes off was held by fasteners that the book names, so that each is seen tight again.",
        "What is not named is not missed when it is left off.",
        _held_by_something,
        "common practice, no source; a general check that nothing is left off as in Part-145, 145.A.48, for aircraft",
    ),
    Rule(
        "lines_together",
        "Fuel lines and connectors that come apart are seen together again.",
        "A lamp that stays dark, or a line that is not home, is found on the road.",
        _lines_together,
    ),
    Rule(
        "safety_at_a_figure",
        "A safety-critical fastener is made tight to a figure.",
        "Counted is not tight.",
        _safety_counted,
    ),
    Rule(
        "renewals_named",
        "Rings, gaskets, split pins and tab washers are named wherever they are disturbed.",
        "What was squeezed or bent once does not hold a second time.",
        _renewals_named,
    ),
    Rule(
        "cautioned",
        "Where work can hurt, its card says the usual caution.",
        "Who has done it a hundred times no longer thinks of it.",
        _cautioned,
    ),
    Rule(
        "strapped_on_the_lift",
        "On a lift the machine is strapped.",
        "A machine that falls from a lift kills.",
        _strapped,
    ),
    Rule(
        "limits_read",
        "Every limit has a reading that somebody takes, with an instrument that lies ready.",
        "A limit that nobody reads protects nobody.",
        _read,
        "common practice, no source; instruments by which work is judged as in 14 CFR 145.109(b), for aircraft",
    ),
    Rule(
        "renewed_after_its_test",
        "What is renewed or set by a reading comes after the job that takes that reading.",
        "A part that was not read is renewed for nothing, or left when it is worn out.",
        _after_its_test,
    ),
)  # fmt: skip
