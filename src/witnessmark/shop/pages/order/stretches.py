"""The steps of an order in a dozen stretches at most, each of which opens."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from witnessmark.planner import PlanStep

MOST = 10
MOST_NAMED = 2  # jobs in a stretch's heading; more are counted


@dataclass(frozen=True)
class Stretch:
    """Consecutive steps, by their place in the order; ``words``: the jobs that take most of it."""

    first: int
    last: int  # inclusive
    words: str
    begin: float
    end: float


def stretches(
    steps: Sequence[PlanStep], job_of: Mapping[str, str], texts: Mapping[str, str]
) -> list[Stretch]:
    """Runs of one job with the access before it, the shortest neighbours joined until there are `MOST`.

    Those of one name say what they begin with. ``job_of``: the job of an operation; ``texts``: the words of each job
    and step.
    """
    runs = _runs(steps, job_of)
    while len(runs) > MOST:
        place = min(range(len(runs) - 1), key=lambda n: _minutes(steps, runs[n] + runs[n + 1]))
        runs[place : place + 2] = [runs[place] + runs[place + 1]]
    made = [_stretch(steps, run, job_of, texts) for run in runs]
    named = Counter(one.words for one in made)
    return [
        replace(one, words=f"{one.words}: {texts[_first_of(steps, one, job_of)]}")
        if named[one.words] > 1
        else one
        for one in made
    ]


def _first_of(steps: Sequence[PlanStep], one: Stretch, job_of: Mapping[str, str]) -> str:
    """Its first operation, else its first step."""
    names = [step.name for step in steps[one.first : one.last + 1]]
    return next((name for name in names if job_of.get(name)), names[0])


def _runs(steps: Sequence[PlanStep], job_of: Mapping[str, str]) -> list[list[int]]:
    runs: list[list[int]] = []
    before: list[int] = []  # access steps that belong to what comes after them
    current = ""
    for place, step in enumerate(steps):
        job = job_of.get(step.name, "")
        before.append(place)
        if job:
            if job == current:
                runs[-1] += before
            else:
                runs.append(before)
            current, before = job, []
    if before:
        runs = [*runs[:-1], [*(runs[-1] if runs else []), *before]]
    return runs


def _minutes(steps: Sequence[PlanStep], places: Sequence[int]) -> float:
    return sum(steps[place].end - steps[place].start for place in places)


def _stretch(
    steps: Sequence[PlanStep],
    places: Sequence[int],
    job_of: Mapping[str, str],
    texts: Mapping[str, str],
) -> Stretch:
    spent: Counter[str] = Counter()
    for place in places:
        step = steps[place]
        if job := job_of.get(step.name, ""):
            spent[job] += round((step.end - step.start) * 10)
    names = [texts[job] for job, _ in spent.most_common()] or [texts[steps[places[0]].name]]
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    within = [steps[place] for place in places]
    return Stretch(
        places[0],
        places[-1],
        ", ".join(names[:MOST_NAMED]) + more,
        min(step.start for step in within),
        max(step.end for step in within),
    )
