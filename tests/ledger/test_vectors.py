"""The shared vectors: entries in, open items out, for every interpreter of the table."""

import json

import pytest

from tests.ledger import make_vectors
from witnessmark.ledger.entry import read_entry
from witnessmark.ledger.fold import visit_state
from witnessmark.ledger.table import Table


def _read(file: str):
    return json.loads((make_vectors.FOLDER / file).read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", make_vectors.SCENARIOS)
def test_the_fold_gives_what_the_vector_says_is_open(name):
    vector = _read(f"{name}.json")
    table = Table.model_validate(vector.get("table") or _read("table.json"))
    state = visit_state(map(read_entry, vector["entries"]), table)
    assert {i.id: i.stands for i in state.items.values()} == vector["open"]


def test_the_files_are_what_their_maker_makes():
    kept = {f.name: f.read_text(encoding="utf-8") for f in make_vectors.FOLDER.glob("*.json")}
    assert kept == make_vectors.files(), "run python -m tests.ledger.make_vectors"
