"""What the ledger says to people: how an item stands, and what happened, in the trade's words."""

from __future__ import annotations

from collections.abc import Callable

from witnessmark.ledger import bench_bodies as bench
from witnessmark.ledger import bodies as b
from witnessmark.ledger import own_bodies as own
from witnessmark.ledger.acts import Stand
from witnessmark.ledger.body import Body
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.table import Table
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
    "reading": {"want": "not read"},
    "outside": {"open": "outside its limits: write a finding, or put it right and read it again"},
    "second look": {"open": "somebody who did not do it has to look"},
    "codes": {"open": "found or cleared: read them again after the work"},
    "walk round": {"open": "not done since something was last opened"},
    "wont": {"open": "no answer yet"},
    "finding": {"open": "no answer yet"},
    "complaint": {"open": "no answer yet"},
}
_CONFLICT = "two entries that did not see each other: compare them at the machine and confirm"


def stands_in_words(item: str, stand: Stand) -> str:
    """How an open item stands, without what it is."""
    if stand == "conflict":
        return _CONFLICT
    return _STANDS.get(item.split("/", 1)[0], {}).get(stand, "open")


def happening(entry: Entry, table: Table) -> str:
    """One entry as a line of the history."""
    said = entry.said
    return _SAY[type(said)](said, table)


def _step(name: str | None, table: Table) -> str:
    if name is None:
        return ""
    rule = table.steps.get(name)
    return rule.words if rule else name


def line_words(line: str, table: Table) -> str:
    """A job, or a line of an estimate."""
    return table.lines.get(line, "a line of the estimate")


def _tightened(x: bench.Tightened, table: Table) -> str:
    rule = table.fasteners.get(x.fastener)
    name = rule.words if rule else x.fastener
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
    return f"{rule.words if rule else x.reading}: {x.words or x.text or format(x.value, 'g')}"


def _figure(x: b.FigureSet, table: Table) -> str:
    rule = table.figures.get(x.figure)
    value = x.value or f"{x.low} to {x.high}"
    return f"{rule.words if rule else x.figure}: {value}, source {x.source or 'not given'}"


def _items(names: list[str], table: Table) -> str:
    return "; ".join(table.items[n].words if n in table.items else n for n in names)


def _codes_read(x: bench.CodesRead, _table: Table) -> str:
    codes = ", ".join(dict.fromkeys(one.code for one in x.codes)) or "none"
    return f"trouble codes {x.moment}{', another unit' if x.adds else ''}: {codes}"


def _done(x: bench.Done, table: Table) -> str:
    said = "done: " + ", ".join(_step(s, table) for s in (*x.along, x.step))
    said += "".join(
        f"; {one.volume_ml:g} mL into {one.into or 'no container'}" for one in x.drained
    )
    for one in x.poured:
        why = f", refused ({'; '.join(one.refused)}) and used because: {one.because}"
        said += f"; from {one.bottle}" + (why if one.refused else "")
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
    b.BookPinned: lambda x, _t: f"works by service book revision {x.revision[:12]}",
    b.StatesFound: lambda x, t: (
        "found: "
        + ", ".join(
            f"{t.conditions[c].words if c in t.conditions else c} {s}" for c, s in x.states.items()
        )
    ),
    b.JobTaken: lambda x, t: (
        f"job taken on: {line_words(x.job, t)}" + (f", {x.because}" if x.because else "")
    ),
    b.JobLeft: lambda x, t: (
        f"job left: {line_words(x.job, t)}" + (f", {x.because}" if x.because else "")
    ),
    b.Offered: lambda x, _t: f"estimate {x.estimate[:12]} offered, {len(x.lines)} lines",
    b.Answered: lambda x, t: f"owner says {x.verdict} to {line_words(x.line, t)}, {x.how}",
    b.LimitGiven: lambda x, _t: f"limit without asking: {x.minor} minor units of {x.currency}",
    b.PlanTaken: lambda x, _t: f"order of work {x.plan[:12]} taken",
    bench.CodesRead: _codes_read,
    bench.CodesCleared: lambda x, _t: (
        "trouble codes cleared"
        + (f": {x.text}" if x.text else "")
        + ("" if x.copied else ", without having copied them")
    ),
    bench.Done: _done,
    bench.ShimsFitted: _shims,
    bench.Tightened: _tightened,
    bench.Shown: lambda x, t: (
        _items([f"{x.what}/{x.fastener}"], t)
        + (": none moves any more" if x.what == "still" else ": seen")
    ),
    bench.Judged: lambda x, t: (
        f"{_items([f'thread/{x.fastener}/{x.index}'], t)}: {x.verdict}, {x.text}"
    ),
    bench.Read: _read,
    bench.Found: lambda x, _t: f"found: {x.text}",
    bench.Photo: lambda x, _t: "picture" + (f": {x.text}" if x.text else ""),
    bench.Erased: lambda x, _t: f"picture {x.sha256[:12]} erased: {x.why}",
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
    b.Corrected: lambda x, _t: "undone" + (f": {x.why}" if x.why else ""),
    b.GatePassed: lambda x, _t: (
        f"passed: {x.gate}" + (f", with {len(x.open)} open" if x.open else "")
    ),
    b.Overridden: lambda x, t: f"let through: {_items([x.item], t)}, {x.reason} ({x.paper})",
    b.Returned: lambda x, _t: "handed back" + ("" if x.ridden_away else ", on a trailer"),
}
