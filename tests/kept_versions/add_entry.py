"""Add the vector of a new kind of entry to the newest file; what stands there is never made anew.

python -m tests.kept_versions.add_entry KIND BODY     # BODY: JSON with every field said
"""

import json
import sys
from datetime import UTC, datetime
from pathlib import Path

from tests.ledger.bench import ANN, SHOP, VISIT, name
from witnessmark.ledger.entry import canonical, compose, entry_hash
from witnessmark.ledger.system import new_entry_id


def line(kind: str, body: str) -> str:
    entry = compose(
        kind, json.loads(body), shop=SHOP, visit=VISIT, device=name("tablet"), author=ANN,
        at=datetime(2026, 5, 4, 9, tzinfo=UTC), entry_id=new_entry_id(),
    )  # fmt: skip
    said = {"hash": entry_hash(entry), "entry": json.loads(canonical(entry))}
    return json.dumps(said, ensure_ascii=False, sort_keys=True) + "\n"


if __name__ == "__main__":
    newest = max(Path(__file__).parent.glob("entries-*.jsonl"))
    with newest.open("a", encoding="utf-8") as file:
        file.write(line(*sys.argv[1:3]))
