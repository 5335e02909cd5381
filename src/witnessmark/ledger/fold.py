"""Fold the entries of a visit into its state: a pure function of the set of entries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping

from witnessmark.ledger import ids
from witnessmark.ledger.account import account_of
from witnessmark.ledger.answers import answers, not_needed
from witnessmark.ledger.beyond_book import own_now, with_own
from witnessmark.ledger.bodies import (
    Added,
    Arrived,
    BookPinned,
    CodesCleared,
    Corrected,
    Done,
    FigureSet,
    Found,
    GatePassed,
    Judged,
    OdometerRead,
    Overridden,
    PlanTaken,
    Read,
    Returned,
    ShimsFitted,
    Shown,
    StatesFound,
    Tightened,
    WaitBegun,
    WaitStopped,
    Wont,
    WrenchDoubted,
)
from witnessmark.ledger.complaint import complaint_now
from witnessmark.ledger.conditions import conditions_now
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.events import Happened, happened
from witnessmark.ledger.figures import figures_now
from witnessmark.ledger.findings import findings
from witnessmark.ledger.item_effects import ItemStatus
from witnessmark.ledger.open_items import acts_by_item, open_item, open_items
from witnessmark.ledger.owner import OwnerSays, owner_says, unmet_answers
from witnessmark.ledger.phrases import line_words
from witnessmark.ledger.progress import (
    drains,
    history,
    pours,
    readings,
    remarks,
    steps_in_conflict,
    steps_now,
    tallies,
    unread,
    waits_not_ended,
    without_broken_waits,
)
from witnessmark.ledger.repairs import repairs_now
from witnessmark.ledger.rides import Rides, rides_of
from witnessmark.ledger.second_look import fallbacks, work_to_look_at, work_to_ride
from witnessmark.ledger.state import OpenItem, Override, Passage, Recall, VisitState
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Item, Table
from witnessmark.ledger.wording import describe
from witnessmark.ledger.worked import StepState


def visit_state(entries: Iterable[Entry], table: Table) -> VisitState:
    """Everything the entries of one visit say, read against its table (`effects`).

    Order, device by device, comes from sequence numbers and from what was seen; clocks and the
    order of arrival play no part. Entries of other visits must not be among them.
    """
    story = Story(entries)
    table = with_own(table, story.causal.entries)
    figures = figures_now(story, table)
    what = happened(story.live, table, figures.rules)
    acts = acts_by_item(story, table, figures, what)
    conditions = conditions_now(story, table, what, acts)
    rides = rides_of(story, table, what)
    for item in [i for i in acts if i in table.items and table.items[i].ride]:
        acts[item] = rides.proven(acts[item])
    says = owner_says(story)
    found = list(findings(story, table))
    of_the_table = list(open_items(acts, story, table, figures, conditions, what))
    steps = without_broken_waits(steps_now(story), acts, story, table)
    steps = rides.steps(steps, of_the_table)
    operations = {s: x for s, x in steps.items() if s in table.steps and table.steps[s].job}
    done = tuple(s for s, x in operations.items() if x.status == "done")
    taken, missed = tuple(readings(story, table, figures)), tuple(unread(story))
    told = answers(table, taken, missed, figures.rules)
    needless = not_needed(table, told, steps, [j for j, way in says.jobs.items() if way == "taken"])
    complaint, unanswered = complaint_now(story, table, (*done, *needless))
    items = [
        *(rides.ridden_first(item) for item in of_the_table),
        *rides.item(),
        *(item for _, item in found if item),
        *unmet_answers(says, table),
        *steps_in_conflict(steps, story, table),
        *waits_not_ended(steps, story, table),
        *_jobs_not_done(says, steps, needless, story, table),
        *_not_in_the_book(story, table, what),
        *([unanswered] if unanswered else []),
    ]
    arrived, odometer = story.last(Arrived), story.last(OdometerRead)
    pinned, plan = story.last(BookPinned), story.last(PlanTaken)
    back = story.last(Returned)
    looks = work_to_look_at(acts, story, table)
    to_look = {item: work for item, work in looks.items() if work}
    return VisitState(
        machine=arrived[1].machine if arrived else None,
        owner=arrived[1].owner if arrived else None,
        odometer_km=odometer[1].km if odometer else None,
        book=pinned[1].revision if pinned else None,
        plan=plan[1].plan if plan else None,
        states=conditions.now,
        found=conditions.found,
        items={item.id: item for item in _overridden(items, story)},
        steps=steps,
        done=done,
        not_done={
            s: x.reason
            for s, x in operations.items()
            if x.status == "skipped"
            and s not in needless
            and table.steps[s].job in {*says.jobs, *says.lines("yes")}
        },
        tallies=tallies(acts, story, table),
        shown=tuple(dict.fromkeys(f"{x.what}/{x.fastener}" for _, x in story.of(Shown))),
        answers=told,
        not_needed=needless,
        readings=taken,
        unread=missed,
        drains=tuple(drains(story)),
        pours=tuple(pours(story)),
        shims={said.step: said for _, said in story.of(ShimsFitted)},
        findings=tuple(finding for finding, _ in found),
        remarks=tuple(remarks(story)),
        figures=figures.over,
        figures_set=figures.signed,
        figures_seen_twice=figures.seen_twice,
        figure_rules=figures.rules,
        own=own_now(story),
        repairs={name: one.said for name, one in repairs_now(story).items()},
        complaint=complaint,
        jobs=says.jobs,
        offers=says.offers,
        agreed=says.lines("yes"),
        declined=says.lines("no"),
        limit=says.limit,
        account=account_of(story),
        gates=tuple(_passages(story, rides)),
        overrides={said.item: _override(e, said) for e, said in story.of(Overridden)},
        fallbacks=tuple(fallbacks(acts, story, table)),
        to_look=to_look,
        to_ride=work_to_ride(acts, to_look, table),
        returned=back[0].id if back else None,
        recalls=tuple(_recalls(back[0], story, table)) if back else (),
        heads=_heads(story),
        unreported=story.causal.unreported(),
        history=tuple(history(story, table)),
    )


def _jobs_not_done(
    says: OwnerSays,
    steps: Mapping[str, StepState],
    needless: Collection[str],
    story: Story,
    table: Table,
) -> Iterator[OpenItem]:
    """Agreed work with operations neither done, nor skipped with a reason, nor found not to be needed."""
    over = {s for s, x in steps.items() if x.status in ("done", "skipped")} | {*needless}
    for job, answer in _agreed(says, table).items():
        left = tuple(s for s in table.operations(job) if s not in over)
        if left and says.jobs.get(job) != "left":
            words = "agreed, not yet done"
            if ids.job(job) not in table.items:
                words += ": " + ", ".join(table.steps[s].words for s in left)
            stood = ItemStatus("open", (story.by_id[answer],))
            item = Item(text=line_words(job, table), closed_by=left)
            yield open_item(ids.job(job), table.items.get(ids.job(job), item), stood, words)


def _agreed(says: OwnerSays, table: Table) -> dict[str, str]:
    """The lines agreed and the jobs that they bring, each with the answer that agreed to it."""
    agreed = {line: says.answers[line].entry for line in says.lines("yes")}
    for line, answer in list(agreed.items()):
        for job in table.brought.get(line, ()):
            if says.jobs.get(job) == "taken" and job not in says.answers:
                agreed[job] = answer
    return agreed


def _not_in_the_book(story: Story, table: Table, what: Happened) -> Iterator[OpenItem]:
    """Entries about something the table does not have: never dropped in silence."""
    for entry in story.live:
        strange = [e for e in what.events[entry.id] if e not in table.events]
        if strange:
            words = "names what the pinned book does not have"
            item = Item(text=describe(entry, table))
            yield open_item(ids.unknown(entry.id), item, ItemStatus("open", (entry,)), words)


def _overridden(items: Iterable[OpenItem], story: Story) -> Iterator[OpenItem]:
    """Each item with the newest override that knew all that is open about it."""
    said_of: dict[str, list[tuple[Entry, Overridden]]] = defaultdict(list)
    for entry, said in story.of(Overridden):
        said_of[said.item].append((entry, said))
    for item in items:
        by = [story.by_id[i] for i in item.opened_by]
        override = None
        for entry, said in said_of.get(item.id, ()):
            if all(story.causal.before(e, entry) for e in by):
                override = _override(entry, said)
        yield item.model_copy(update={"override": override}) if override else item


def _override(entry: Entry, said: Overridden) -> Override:
    return Override(entry=entry.id, **said.model_dump(exclude={"item"}))


def _passages(story: Story, rides: Rides) -> Iterator[Passage]:
    for entry, said in story.of(GatePassed):
        yield Passage(
            entry=entry.id,
            gate=said.gate,
            open=tuple(said.open),
            because=said.because,
            void=said.gate == "road test" and bool(rides.since(entry)),
            author=entry.author,
            at=entry.at,
        )


_WORK = (
    Added, CodesCleared, Corrected, Done, FigureSet, Found, Judged, Read, ShimsFitted, Shown, StatesFound, Tightened,
    WaitBegun, WaitStopped, Wont, WrenchDoubted,
)  # fmt: skip


def _recalls(back: Entry, story: Story, table: Table) -> Iterator[Recall]:
    """Work that hand-back did not know of."""
    for entry in story.live:
        if isinstance(entry.said, _WORK) and not story.causal.before(entry, back):
            words = f"came in after hand-back, which did not know of it: {describe(entry, table)}"
            yield Recall(entry=entry.id, words=words)


def _heads(story: Story) -> dict[str, int]:
    heads: dict[str, int] = {}
    for entry in story.causal.entries:
        heads[entry.device] = max(heads.get(entry.device, entry.seq), entry.seq)
    return dict(sorted(heads.items()))
