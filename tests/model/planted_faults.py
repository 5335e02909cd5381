"""Plant faults in a copy of the program, one at a time, and see the walks over HTTP find each.

    PYTHONPATH=. .venv/bin/python -m tests.model.planted_faults [NAME ...] [--visits 0 3] [--walks 8]

For each fault: `src/` is copied, one text in it changed, a workshop served from the copy, and people
let loose on it: first the bad days of every kind of visit, then random walks. Prints a table: what was
planted, and in which words it was found. Exit 1 when one was not. Takes minutes for each.
"""

# ruff: noqa: T201 - it talks to the terminal

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

from tests.model.server import Workshop
from tests.model.test_model import VISITS, days_at, people_of, walk

SOURCE = Path(__file__).resolve().parents[2] / "src"


class Fault(NamedTuple):
    """A text of one file, and what stands there instead."""

    file: str
    expected: str
    problem: str


# Not among them: that who did it may look at it. Page and fold both refuse it, so one fault alone shows nowhere.
FAULTS = {
    "a card's Done closes what only its marks prove": Fault(
        "ledger/effects.py",
        'close: Do = "want" if self.book.fasteners[f].grade == "proven" else "close"',
        'close: Do = "close"',
    ),
    "the last fastener of a group is forgotten": Fault(
        "ledger/effects.py",
        "return [ids.fastener(fastener, i) for i in range(1, count + 1)]",
        "return [ids.fastener(fastener, i) for i in range(1, max(count, 2))]",
    ),
    "a disturbed ring is not to be renewed": Fault(
        "ledger/effects.py",
        'acts += [_do("open", ids.renewal(n)) for n in step.disturbs]',
        "acts += []",
    ),
    "an opened circuit stays closed": Fault(
        "ledger/effects.py",
        'acts += [_do("open", i) for i in self._circuits(step.opens)]',
        "acts += []",
    ),
    "nobody has to walk round": Fault(
        "ledger/effects.py", 'acts.append(_do("open", WALK))', "pass"
    ),
    "what is done along with a card is not done": Fault(
        "ledger/kinds/bench.py",
        "        return (*self.along, self.step)",
        "        return (self.step,)",
    ),
    "a reading beyond its limit is within": Fault(
        "ledger/kinds/readings.py",
        'in ("low", "high", "bad")\n        yield',
        'in ("none",)\n        yield',
    ),
    "a state left standing is fine": Fault(
        "ledger/conditions.py",
        'ItemStatus("closed" if fine else "open"',
        'ItemStatus("closed" if fine or name != "" else "open"',
    ),
    "an undo counts for nothing": Fault(
        "ledger/story.py",
        "if e.id not in self.undone]",
        'if e.id not in self.undone or e.kind == "done"]',
    ),
    "a finding is answered by itself": Fault(
        "ledger/findings.py",
        "if stood.open else None",
        'if stood.open and finding.kind != "found" else None',
    ),
    "what would not go is forgotten": Fault(
        "ledger/findings.py",
        "if stood.open else None",
        'if stood.open and finding.kind == "found" else None',
    ),
    "agreed work need not be done": Fault(
        "ledger/fold.py", "if left and says.jobs.get(job)", "if not left and says.jobs.get(job)"
    ),
    "hand-back overlooks rings and pins": Fault(
        "ledger/gates.py",
        'case "hand-back":\n            return True',
        'case "hand-back":\n            return item.kind != "renewal"',
    ),
    "hand-back overlooks the second look": Fault(
        "ledger/gates.py",
        'case "hand-back":\n            return True',
        'case "hand-back":\n            return item.kind != "second look"',
    ),
    "the ride overlooks open circuits": Fault(
        "ledger/gates.py",
        'return safety or item.gate in ("starter", "wheels on the ground", "road test")',
        'return item.kind != "circuit" and (safety or item.gate in ("starter", "road test"))',
    ),
    "the wheels overlook loose fasteners": Fault(
        "ledger/gates.py",
        'return item.gate == "wheels on the ground" or fastener',
        'return item.gate == "wheels on the ground"',
    ),
    "the starter turns over a loose plug": Fault(
        "ledger/gates.py",
        'return item.gate == "starter" or (fastener and seated)',
        "return fastener and seated",
    ),
    "on the ride is closed without one": Fault(
        "ledger/rides.py",
        'return [act for act in acts if act.do != "close" or self._ridden_before(act, acts)]',
        "return acts",
    ),
    "an entry has seen what its page did not show": Fault(
        "shop/store.py",
        "return {device: min(seq, newest[device]) for device, seq in told.items() if device in newest}",
        "return newest",
    ),
    "another's name is put down": Fault(
        "shop/store.py",
        "author=str(desk.member.pk)",
        "author=str(min(type(desk.member).objects.values_list('pk', flat=True)))",
    ),
    "a seal is dropped": Fault(
        "shop/store.py",
        "seal = seal_next(entry, last",
        'if entry.kind == "noted":\n        return last\n    seal = seal_next(entry, last',
    ),
    "the receipt is forgotten": Fault(
        "shop/receipts.py",
        "receipt = request.desk.all(Receipt).filter(pk=ticket_of(request).entry_id).first()",
        "receipt = request.desk.all(Receipt).filter(to=None).first()",
    ),
    "sent again, stored again": Fault(
        "shop/store.py", "key = ticket.id_of(place)", "key = str(new_id())"
    ),
    "take back leaves all but the last": Fault(
        "shop/work/undoing.py", "for line in one.lines]", "for line in one.lines[-1:]]"
    ),
    "a tap marks the first of its group": Fault(
        "shop/pages/bench/acts.py",
        "evidence.tightened(card, group.shown, place,",
        "evidence.tightened(card, group.shown, 1,",
    ),
    "Done records what comes next": Fault(
        "shop/pages/bench/acts.py",
        "assert at.card is not None  # `bench_at` refuses a form without it\n    return at.card",
        "return at.cards[-1] if at.cards else at.card",
    ),
    "the ride is not held": Fault(
        "shop/work/hand_back.py",
        "if judged.passes:\n        return None\n    words",
        "if judged.passes or judged.blocking:\n        return None\n    words",
    ),
    "a note is kept without its words": Fault(
        "shop/pages/bench/off_plan.py", '{"text": form.cleaned_data["text"]', '{"text": "-"'
    ),
}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("names", nargs="*", help="parts of the faults' names; all where none")
    parser.add_argument("--visits", type=int, nargs="+", default=[*range(len(VISITS))])
    parser.add_argument("--walks", type=int, default=8)
    parser.add_argument("--steps", type=int, default=25)
    options = parser.parse_args()
    chosen = {
        name: fault
        for name, fault in FAULTS.items()
        if not options.names or any(part in name for part in options.names)
    }
    if gone := [name for name, fault in chosen.items() if not _plant(fault, SOURCE)]:
        sys.exit(f"no longer in the program, or there more than once: {gone}")
    with tempfile.TemporaryDirectory() as folder:
        base = Path(folder, "base")
        base.mkdir()
        Workshop(base, None).build()
        found = {}
        for number, (name, fault) in enumerate(chosen.items()):
            here = Path(folder, str(number))
            found[name] = _found(fault, base, here, options)
            print(f"{name:<52} {found[name] or 'NOT FOUND'}", flush=True)
            shutil.rmtree(here)
    print(f"{sum(map(bool, found.values()))} of {len(found)} planted faults found")
    return 0 if all(found.values()) else 1


def _plant(fault: Fault, source: Path) -> str:
    """The file with the fault in it; empty where its text does not stand there just once."""
    text = (source / "witnessmark" / fault.file).read_text(encoding="utf-8")
    once = text.count(fault.expected) == 1
    return text.replace(fault.expected, fault.problem) if once else ""


def _found(fault: Fault, base: Path, here: Path, options: argparse.Namespace) -> str:
    """In which words the fault is found; empty when it is not."""
    shutil.copytree(SOURCE, here / "src", ignore=shutil.ignore_patterns("__pycache__"))
    file = here / "src" / "witnessmark" / fault.file
    file.write_text(_plant(fault, here / "src"), encoding="utf-8")
    home = here / "home"
    shutil.copytree(base, home)
    shop = Workshop(home, None, here / "src")
    try:
        shop.start()
        people = people_of(shop)
        for which in options.visits:
            days_at(shop, people, VISITS[which])
        if options.walks:
            walk(shop, people, options.walks, options.steps)
    except AssertionError as told:
        return " ".join(str(told).split("\n\n")[0].split())[:150]
    finally:
        shop.stop()
    return ""


if __name__ == "__main__":
    sys.exit(main())
