"""Anchors are made and trusted outside the database."""

import json
from pathlib import Path

import pytest
from django.core.management import call_command

from witnessmark.errors import WitnessError
from witnessmark.ledger.anchor import anchor_faults
from witnessmark.ledger.system import read_anchors
from witnessmark.shop import store


@pytest.fixture
def places(tmp_path: Path) -> dict[str, Path]:
    """A key and a file where the test wants them."""
    return {"key": tmp_path / "safe" / "anchor.pem", "file": tmp_path / "anchors.jsonl"}


def test_each_anchor_signs_what_is_new_and_follows_the_one_before(visit, desk, places, capsys):
    """The public key that is printed is the one that the file is signed with; nothing new makes no line."""
    call_command("anchor", **places)
    key = capsys.readouterr().out.rsplit("public key ", 1)[1].strip()
    call_command("anchor", **places)
    assert capsys.readouterr().out == "nothing new to sign\n"
    store.record(desk, visit, "noted", {"text": "fuel tap stiff"})
    call_command("anchor", **places)

    lines = read_anchors(places["file"])
    assert [one.number for one in lines] == [1, 2]
    assert [head.number for one in lines for head in one.heads.values()] == [5, 6]
    assert list(anchor_faults(lines, [key])) == []
    assert places["key"].stat().st_mode & 0o077 == 0


def test_a_file_signed_anew_with_another_key_is_told_by_the_key_written_down(
    visit, places, tmp_path, capsys
):
    """Who owns the machine can sign everything again; he cannot have the public key that was written down."""
    call_command("anchor", **places)
    written_down = read_anchors(places["file"])[0].key
    forged = {"key": tmp_path / "forged.pem", "file": tmp_path / "forged.jsonl"}
    call_command("anchor", **forged)

    call_command("verify", **places, trusted=[written_down])
    with pytest.raises(SystemExit):
        call_command("verify", **forged, trusted=[written_down])
    assert "signed with a key that is not trusted" in capsys.readouterr().out
    places["key"].unlink()
    with pytest.raises(SystemExit):
        call_command("verify", **places)
    assert "the key is gone" in capsys.readouterr().out


def test_a_line_that_is_no_anchor_is_named_by_file_and_line(visit, places, capsys):
    """A torn file is never signed on, and never passes for sound; the rest is verified all the same."""
    call_command("anchor", **places)
    with places["file"].open("a") as file:
        file.write(json.dumps({"number": 2}) + "\n")

    with pytest.raises(WitnessError, match=r"anchors\.jsonl:2: is not an anchor"):
        call_command("anchor", **places)
    with pytest.raises(SystemExit):
        call_command("verify", **places)
    said = capsys.readouterr().out
    assert "anchors.jsonl:2: is not an anchor" in said
    assert "checked: visits: 1, entries: 5, seals: 5," in said


def test_a_lost_key_is_not_made_again_over_another(visit, places):
    """A key file that holds something else is refused, not overwritten."""
    places["key"].parent.mkdir()
    places["key"].write_text("not a key")
    with pytest.raises(WitnessError, match="holds no key"):
        call_command("anchor", **places)
    assert places["key"].read_text() == "not a key"
