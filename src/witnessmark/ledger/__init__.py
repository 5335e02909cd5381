"""The ledger: what happened, what is open, what may pass. Entries in, open items and verdicts out.

`entry` and `bodies` make and read entries, `seal` chains them on receipt, `effects` compiles a book to a
table of what opens and closes what, `fold` reads entries against it, `gates` judges, `verify` and
`anchor` find tampering; their functions are imported from there. See ``docs/ledger.md``.
"""

from witnessmark.ledger.effects import effects
from witnessmark.ledger.entry import (
    Entry,
    EntryError,
    EntryErrors,
    canonical,
    compose,
    entry_hash,
    read_entry,
)
from witnessmark.ledger.figures import book_with_overlay
from witnessmark.ledger.fold import visit_state
from witnessmark.ledger.gates import GateResult, gate
from witnessmark.ledger.seal import Head, Seal
from witnessmark.ledger.state import OpenItem, VisitState
from witnessmark.ledger.system import new_entry_id
from witnessmark.ledger.table import Table
from witnessmark.ledger.verify import VerifyFault

__all__ = [
    "Entry",
    "EntryError",
    "EntryErrors",
    "GateResult",
    "Head",
    "OpenItem",
    "Seal",
    "Table",
    "VerifyFault",
    "VisitState",
    "book_with_overlay",
    "canonical",
    "compose",
    "effects",
    "entry_hash",
    "gate",
    "new_entry_id",
    "read_entry",
    "visit_state",
]
