"""What the owner was offered and said, and which jobs make up the visit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, TypeVar

from witnessmark.ledger import ids
from witnessmark.ledger.bodies import Answered, JobLeft, JobTaken, LimitGiven, Offered
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.item_effects import ItemStatus
from witnessmark.ledger.open_items import open_item
from witnessmark.ledger.phrases import line_words
from witnessmark.ledger.repairs import Standing, repairs_now
from witnessmark.ledger.state import AgreedLimit, Answer, Offer, OpenItem
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Item, Table

Key = TypeVar("Key", bound=Hashable)
Write = tuple[Entry, Answered]


@dataclass(frozen=True)
class OwnerSays:
    """Jobs, offers and answers as they stand; ``unmet`` answers differ and did not see each other."""

    jobs: dict[str, Literal["taken", "left"]]
    offers: tuple[Offer, ...]
    answers: dict[str, Answer]  # by line, over all estimates
    unmet: dict[str, tuple[Entry, ...]]
    limit: AgreedLimit | None

    def lines(self, verdict: Literal["yes", "no"]) -> tuple[str, ...]:
        """The lines so answered."""
        return tuple(line for line, a in self.answers.items() if a.verdict == verdict)


def owner_says(story: Story) -> OwnerSays:
    """Read jobs, offers, answers and the limit. Of answers that did not meet, the "no" counts."""
    repairs = repairs_now(story)
    answered = [
        (e, said) for e, said in story.of(Answered) if _stands(said.line, e, repairs, story)
    ]
    newest = _newest(answered, lambda said: said.line, story)
    return OwnerSays(
        jobs=_jobs(story),
        offers=tuple(_offers(story, answered, repairs)),
        answers={line: _answer(writes) for line, writes in newest.items()},
        unmet={
            line: tuple(entry for entry, _ in writes)
            for line, writes in newest.items()
            if len({said.verdict for _, said in writes}) > 1
        },
        limit=_limit(story),
    )


def unmet_answers(says: OwnerSays, table: Table) -> Iterator[OpenItem]:
    """An open item per line with two answers that did not see each other and differ."""
    for line, entries in says.unmet.items():
        item = Item(text=f"the owner's answer to {line_words(line, table)}")
        words = "two answers that did not see each other: ask, and record it again"
        stood = ItemStatus("open", entries)
        yield open_item(ids.conflict("answer", line), item, stood, words)


def _newest(
    answered: list[Write], of: Callable[[Answered], Key], story: Story
) -> dict[Key, list[Write]]:
    """The newest answers to each thing that they are `of`."""
    every: dict[Key, list[Write]] = defaultdict(list)
    for write in answered:
        every[of(write[1])].append(write)
    return {key: story.causal.newest(writes, lambda w: w[0]) for key, writes in every.items()}


def _answer(writes: list[Write]) -> Answer:
    entry, said = next((w for w in writes if w[1].verdict == "no"), writes[-1])
    return Answer(entry=entry.id, at=entry.at, **said.model_dump(exclude={"finding"}))


def _jobs(story: Story) -> dict[str, Literal["taken", "left"]]:
    """By the order in which they were first named; taken, where entries did not see each other."""
    named = [(e, s.job, "taken") for e, s in story.of(JobTaken)]
    named += [(e, s.job, "left") for e, s in story.of(JobLeft)]
    of_job: dict[str, list[tuple[Entry, str, str]]] = defaultdict(list)
    for one in sorted(named, key=lambda x: story.place[x[0].id]):
        of_job[one[1]].append(one)
    jobs: dict[str, Literal["taken", "left"]] = {}
    for job, every in of_job.items():
        newest = story.causal.newest(every, lambda x: x[0])
        jobs[job] = "taken" if any(x[2] == "taken" for x in newest) else "left"
    return jobs


def _stands(line: str, entry: Entry, repairs: Mapping[str, Standing], story: Story) -> bool:
    """Whether what was offered or said of a line is of the repair as it is now: a change is asked again."""
    repair = repairs.get(line)
    return repair is None or story.causal.before(repair.asked, entry)


def _offers(
    story: Story, answered: list[Write], repairs: Mapping[str, Standing]
) -> Iterator[Offer]:
    newest = _newest(answered, lambda said: (said.estimate, said.line), story)
    for entry, said in story.of(Offered):
        lines = tuple(line for line in said.lines if _stands(line, entry, repairs, story))
        yield Offer(
            entry=entry.id,
            estimate=said.estimate,
            lines=lines,
            answers={
                line: _answer(newest[said.estimate, line])
                for line in lines
                if (said.estimate, line) in newest
            },
        )


def _limit(story: Story) -> AgreedLimit | None:
    """The newest; the lowest, where several did not see each other."""
    newest = story.causal.newest(story.of(LimitGiven), lambda w: w[0])
    if not newest:
        return None
    entry, said = min(newest, key=lambda w: (w[1].minor, w[0].id))
    return AgreedLimit(entry=entry.id, **said.model_dump())
