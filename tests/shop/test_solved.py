"""What was worked out once is kept as data: nothing that lies in the folder can run or be taken for an answer."""

import pickle
from pathlib import Path

import pytest

from witnessmark.planner import Answer, Board, LastMoment, PlanStep, Problem, Saving
from witnessmark.shop import solved
from witnessmark.shop.pages.order.moments import CachedMoment

STEP = PlanStep(name="a/b", kind="operation", start=0.0, end=4.5, tail_end=9.0, technicians=("A",),
                for_=("a",))  # fmt: skip
ANSWER = Answer(status="optimal", finish_minutes=9.0, attended_minutes=4.5, steps=(STEP,))
PROBLEM = Problem.model_validate({
    "conditions": {}, "moves": [], "technicians": [{"name": "A"}],
    "operations": [{"name": "a/b", "job": "a", "minutes": 4.5}],
})  # fmt: skip
WORKED_OUT = [
    (Answer, ANSWER),
    (Saving, Saving(None, {"a": 4.5, "b": None})),
    (Board, Board(PROBLEM, ANSWER, {"1 AB": 9.0, "2 CD": None}, 0.0)),
    (
        CachedMoment,
        CachedMoment(LastMoment(4.5, STEP, 1.5, None, 12.0, out_of_turn=False, proven=True)),
    ),
    (CachedMoment, CachedMoment(None)),
]


@pytest.fixture
def folder(settings, tmp_path: Path) -> Path:
    settings.SOLVED = tmp_path / "solved"
    return settings.SOLVED


@pytest.mark.parametrize(("kind", "found"), WORKED_OUT, ids=lambda one: type(one).__name__)
def test_each_kind_comes_back_as_it_was_kept(folder, kind, found):
    solved.keep("plan-1", kind, found)
    assert solved.get("plan-1", kind) == found


class Harm:
    def __reduce__(self):
        return Path.touch, (Path("harm"),)


@pytest.mark.parametrize(
    "content",
    [pickle.dumps(Harm()), b"", b"{", b"null", b'{"status": "sure"}', b"[" * 100_000, b"\xff\x00"],
    ids=["pickle", "empty", "cut off", "null", "another form", "deep", "no text"],
)
def test_what_is_not_understood_is_as_if_it_were_not_there(folder, monkeypatch, content):
    folder.mkdir()
    monkeypatch.chdir(folder)
    for name in ("plan-1.json", "plan-1.djcache"):  # the second: as earlier versions named them
        (folder / name).write_bytes(content)

    assert solved.get("plan-1", Answer) is None
    assert not (folder / "harm").exists()
    solved.keep("plan-1", Answer, ANSWER)
    assert solved.get("plan-1", Answer) == ANSWER


def test_the_older_half_goes_when_there_are_too_many(folder, monkeypatch):
    monkeypatch.setattr(solved, "MOST_FILES", 6)
    for number in range(9):
        solved.keep(f"plan-{number}", Answer, ANSWER)
    assert len(list(folder.iterdir())) <= 6
    assert solved.get("plan-8", Answer) == ANSWER


def test_a_folder_that_cannot_be_written_costs_nobody_the_answer(settings, tmp_path):
    settings.SOLVED = tmp_path / "file" / "solved"
    settings.SOLVED.parent.write_text("a file where the folder should stand")
    solved.keep("plan-1", Answer, ANSWER)
    assert solved.get("plan-1", Answer) is None
