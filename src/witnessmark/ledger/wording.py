"""What the ledger says to people: how an item stands, and what happened, in the trade's words."""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType

from witnessmark.ledger import bench_bodies as bench
from witnessmark.ledger import bodies as b
from witnessmark.ledger import ids
from witnessmark.ledger import own_bodies as own
from witnessmark.ledger.acts import Stand
from witnessmark.ledger.body import Body
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.ids import ItemId
from witnessmark.ledger.table import Item, Table
from witnessmark.money import amount_text
from witnessmark.wrenches.words import per_cent

_STANDS: dict[str, dict[Stand, str]] = {
    "fastener": {
        "open": "loosened, not made tight",
        "snug": "seated, not made tight to its figure",
        "turned": "kept turning or went past its figure",
        "want": "not shown tight",
        "void": "its figure was corrected, or it was made tight out of turn: make it tight again",
        "doubt": "the wrench was found wrong: make it tight again",
    },
    "round": {
        "open": "not shown",
        "want": "not shown",
        "void": "its figure was corrected: go through it again",
        "doubt": "the wrench was found wrong: loosen it, and go through it again",
    },
    "still": {"open": "go round until none moves any more", "want": "not shown"},
    "secured": {"open": "not shown", "want": "not shown"},
    "thread": {"open": "kept turning or went past its figure: judge it, and put it right"},
    "circuit": {
        "open": "not yet shown",
        "void": "done by a figure that was corrected: do it again",
    },
    "renewal": {"open": "disturbed, no new one fitted"},
    "ride": {"open": "to be ridden again"},
    "reading": {"want": "not read"},
    "outside": {"open": "outside its limits: write a finding, or put it right and read it again"},
    "second look": {"open": "somebody who did not do it has to look"},
    "codes": {"open": "found or cleared: read them again after the work"},
    "walk round": {"open": "not done since something was last opened"},
    "wont": {"open": "no answer yet"},
    "finding": {"open": "no answer yet"},
    "complaint": {"open": "no answer yet"},
}
_NO_OTHERS: Mapping[str, Entry] = MappingProxyType({})
NO_WORDS = "a line of the estimate"
_CONFLICT = "two entries that did not see each other: compare them at the machine and confirm"


def stands_in_words(item: str, stand: Stand) -> str:
    """How an open item stands, without what it is."""
    if stand == "conflict":
        return _CONFLICT
    return _STANDS.get(ItemId(item).kind, {}).get(stand, "open")


def happening(entry: Entry, table: Table, others: Mapping[str, Entry] = _NO_OTHERS) -> str:
    """One entry as a line of the history; ``others``: the visit's entries by id, for those that name one."""
    match said := entry.said:
        case b.Corrected() if named := others.get(said.entry):
            what = f"taken back: {happening(named, table, others)}"
            return what + (f" ({said.why})" if said.why else "")
        case bench.Settled() if named := others.get(said.entry):
            return f"{in_words(named.said, table)}: {in_words(said, table)}"
        case b.Overridden() | b.Looked() | b.Confirmed():
            names = {said.item} if isinstance(said, b.Overridden) else set(said.items)
            return in_words(said, _with_items_of(names, table, others))
        case _:
            return in_words(said, table)


def in_words(said: Body, table: Table) -> str:
    """What a body says, by itself."""
    say = _SAY.get(type(said))
    return say(said, table) if say else _plainly(said)


def _plainly(said: Body) -> str:
    """A body whose kind has no words of its own: what it is called, and its text."""
    kinds = (kind for kind, body in b.BODIES.items() if body is type(said))
    kind = next(kinds, "an entry").replace("_", " ")
    text = str(getattr(said, "text", "") or getattr(said, "reason", ""))
    return f"{kind}: {text}" if text else kind


def line_words(line: str, table: Table) -> str:
    """A job, or a line of an estimate."""
    return table.lines.get(line, NO_WORDS)


def _with_items_of(names: Iterable[str], table: Table, others: Mapping[str, Entry]) -> Table:
    """The table with those of the named items that only an entry knows."""
    found = {name: others.get(ItemId(name).name) for name in names if name not in table.items}
    known = {
        name: Item(words=in_words(entry.said, table)) for name, entry in found.items() if entry
    }
    return table.model_copy(update={"items": ChainMap(known, table.items)}) if known else table


def _step(name: str | None, table: Table) -> str:
    if name is None:
        return ""
    rule = table.steps.get(name)
    return rule.words if rule else "a step that the book does not have"


def _tightened(x: bench.Tightened, table: Table) -> str:
    rule = table.fasteners.get(x.fastener)
    name = rule.words if rule else "a fastener that the book does not have"
    which = f"{name}, {x.index} of {rule.count}" if rule and rule.count > 1 else name
    if x.outcome != "ok":
        return f"{which}: {x.outcome}"
    how = f"tight, round {x.round}" if x.round else "tight"
    if x.angle_deg is not None:
        return f"{which}: turned on by {x.angle_deg:g}°"
    if x.adapter is not None:
        how += f", {x.set_nm:.4g} N·m on the wrench, {x.value_nm:.4g} N·m at the fastener"
    elif x.value_nm is not None:
        how += f", {x.value_nm:g} N·m reached"
    elif x.set_nm is not None:
        how += f", {'clicked at' if x.clicked else 'set to'} {x.set_nm:g} N·m"
    return f"{which}: {how}" + ("" if x.wrench_proven else ", wrench unproven")


def _read(x: bench.Read, table: Table) -> str:
    rule = table.readings.get(x.reading)
    what = rule.words if rule else "a reading that the book does not have"
    twice = ", typed twice" if x.vouched else ""
    return f"{what}: {x.words or x.text or format(x.value, 'g')}{twice}"


def _state(name: str, state: str, table: Table) -> str:
    rule = table.conditions.get(name)
    if rule is None:
        return "a condition that the book does not have"
    return f"{rule.words} {rule.state_words.get(state, state)}"


def _because(why: str) -> str:
    return f", {why}" if why else ""


def _figure(x: b.FigureSet, table: Table) -> str:
    rule = table.figures.get(x.figure)
    value = x.value or f"{x.low} to {x.high}"
    what = rule.words if rule else "a figure that the book does not have"
    return f"{what}: {value}, source {x.source or 'not given'}"


def _items(names: list[str], table: Table) -> str:
    return "; ".join(_item(name, table) for name in names)


def _item(name: str, table: Table) -> str:
    """An item by its words; one that the table does not have by what it is."""
    if name in table.items:
        return table.items[name].words
    key = ItemId(name)
    if key.kind == "job":
        return line_words(key.name, table)
    if key.kind == "conflict":
        return _step(key.name, table) if key.about == "step" else line_words(key.name, table)
    return f"a {key.kind} that the book does not have"


def _codes_read(x: bench.CodesRead, _table: Table) -> str:
    codes = ", ".join(dict.fromkeys(one.code for one in x.codes)) or "none"
    return f"trouble codes {x.moment}{', another unit' if x.adds else ''}: {codes}"


def _done(x: bench.Done, table: Table) -> str:
    said = f"done: {_step(x.step, table)}"
    if x.along:
        said += f"; along with it: {', '.join(_step(s, table) for s in x.along)}"
    said += "".join(
        f"; {one.volume_ml:g} mL into {one.into or 'no container'}" for one in x.drained
    )
    for one in x.poured:
        why = f", refused ({'; '.join(one.refused)}) and used because: {one.because}"
        said += f"; from {one.bottle}" + (why if one.refused else "")
    if x.short_wait:
        said += f"; waited less than its time: {x.short_wait}"
    return said


def _shims(x: bench.ShimsFitted, _table: Table) -> str:
    changed = [v for v in x.valves if v.now_mm != v.was_mm]
    shims = ", ".join(f"{v.valve} {v.was_mm:.3f} to {v.now_mm:.3f} mm" for v in changed)
    return f"shims: {shims or 'all stay'}"


def _added(x: own.Added, _table: Table) -> str:
    count = f", {x.count}" if x.count > 1 else ""
    torque = f", {x.torque}" if x.torque else ""
    return f"opened, not in the service book: {x.words}{count}{torque}"


def _complaint_answered(x: own.ComplaintAnswered, table: Table) -> str:
    by = ", ".join(line_words(line, table) for line in x.lines)
    said = f"{x.how} by {by}" if by else x.how
    return f"complaint “{x.complaint}”: {said}" + (f", {x.text}" if x.text else "")


_SAY: dict[type[Body], Callable[..., str]] = {
    b.Arrived: lambda _x, _t: "arrived",
    b.OdometerRead: lambda x, _t: f"odometer: {x.text}",
    b.BookPinned: lambda _x, t: "service book pinned" + (f": {t.title}" if t.title else ""),
    b.StatesFound: lambda x, t: "found: " + ", ".join(_state(c, s, t) for c, s in x.states.items()),
    b.JobTaken: lambda x, t: f"job taken on: {line_words(x.job, t)}" + _because(x.because),
    b.JobLeft: lambda x, t: f"job left: {line_words(x.job, t)}" + _because(x.because),
    b.Offered: lambda x, t: f"offered: {', '.join(line_words(line, t) for line in x.lines)}",
    b.Answered: lambda x, t: f"owner says {x.verdict} to {line_words(x.line, t)}, {x.how}",
    b.LimitGiven: lambda x, _t: f"limit without asking: {amount_text(x.minor, x.currency)}",
    b.PlanTaken: lambda _x, _t: "order of work taken",
    bench.CodesRead: _codes_read,
    bench.CodesCleared: lambda x, _t: (
        "trouble codes cleared"
        + (f": {x.text}" if x.text else "")
        + ("" if x.copied else ", without having copied them")
    ),
    bench.Done: _done,
    bench.WaitBegun: lambda x, t: f"wait of {x.minutes:g} min begun: {_step(x.step, t)}",
    bench.ShimsFitted: _shims,
    bench.Tightened: _tightened,
    bench.Shown: lambda x, t: (
        _items([ids.still(x.fastener) if x.what == "still" else ids.secured(x.fastener)], t)
        + (": none moves any more" if x.what == "still" else ": seen")
    ),
    bench.Judged: lambda x, t: (
        f"{_items([ids.thread(x.fastener, x.index)], t)}: {x.verdict}, {x.text}"
    ),
    bench.Read: _read,
    bench.NotRead: lambda x, t: (
        f"{t.readings[x.reading].words if x.reading in t.readings else x.reading}"
        f": not read, {x.because}"
    ),
    bench.Found: lambda x, _t: f"found: {x.text}",
    bench.Photo: lambda x, _t: "picture" + (f": {x.text}" if x.text else ""),
    bench.Erased: lambda x, _t: f"picture erased: {x.why}",
    bench.Skipped: lambda x, t: f"not done: {_step(x.step, t)}, {x.reason}",
    bench.Wont: lambda x, t: (
        f"it won't: {_step(x.step, t)}, {x.what}" + (f", {x.text}" if x.text else "")
    ),
    bench.Settled: lambda x, _t: f"answered: {x.how}" + (f", {x.text}" if x.text else ""),
    bench.Noted: lambda x, _t: x.text,
    own.Added: _added,
    own.LineWritten: lambda x, _t: f"line written for the owner: {x.words}",
    own.ComplaintAnswered: _complaint_answered,
    b.FigureSet: _figure,
    b.Looked: lambda x, t: f"second look{', alone' if x.fallback else ''}: {_items(x.items, t)}",
    b.WalkedRound: lambda _x, _t: "walked round the machine, tools and rags counted",
    b.Confirmed: lambda x, t: f"compared and confirmed: {_items(x.items, t)}",
    b.WrenchDoubted: lambda x, _t: (
        f"a wrench was found wrong, {per_cent(x.found, signed=True)} at most: "
        f"{len(x.marks)} fastener{'s' if len(x.marks) > 1 else ''} made tight with it in doubt"
    ),
    b.Corrected: lambda x, _t: "taken back" + (f": {x.why}" if x.why else ""),
    b.GatePassed: lambda x, _t: (
        f"passed by: {x.gate}, with {len(x.open)} open, because: {x.because}"
        if x.because
        else f"passed: {x.gate}" + (f", with {len(x.open)} open" if x.open else "")
    ),
    b.Overridden: lambda x, t: f"let through: {_items([x.item], t)}, {x.reason} ({x.paper})",
    b.Returned: lambda x, _t: "handed back" + ("" if x.ridden_away else ", on a trailer"),
}
