"""How far the work of a visit has come: what is to be done, what is left of the order followed, whether it fits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import chain

from witnessmark.book.model import Book, Operation
from witnessmark.book.model_step import before
from witnessmark.book.rides import is_ride, ridden_again, rides_after
from witnessmark.book.select import decided_by, steps, with_brought
from witnessmark.ledger.answers import names_in, only_if_of, unknowns_of
from witnessmark.ledger.bodies import Done
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.gates import stands_before
from witnessmark.ledger.ids import RIDE, StepId
from witnessmark.ledger.state import VisitState
from witnessmark.ledger.stuck import (
    finish_of,
    known_states,
    operations_of,
    stays_open,
    stuck,
    unanswered,
)
from witnessmark.planner import (
    PlanStep,
    Problem,
    RemainingWork,
    Technician,
    compile_problem,
    state_in_words,
)

ONE = (Technician(name="A"),)
TAKEN_AGAIN = ("circuit", "renewal", "reading")  # kinds of items; a fastener is made tight any time


def to_do(book: Book, state: VisitState) -> list[str]:
    """The jobs to be done now: taken on, and agreed where they were offered; before any offer, all taken on.

    What an agreed job brings is agreed with it: it stands on no line of its own. A ride that work done since made
    void is ridden again, also where its job was left: nothing is handed back before.
    """
    taken_on = [job for job in state.taken if job in book.jobs]
    if state.offers:
        agreed = {*with_brought(book, [job for job in state.agreed if job in taken_on])}
        taken_on = [job for job in taken_on if job in agreed and job not in state.declined]
    ridden = (
        [StepId(ride).job for ride in state.items[RIDE].closed_by] if RIDE in state.items else []
    )
    if not {*ridden} & {*taken_on}:
        taken_on += [job for job in ridden[-1:] if job in book.jobs]
    return taken_on


def asked_by_ride(book: Book, state: VisitState, jobs: Iterable[str]) -> list[str]:
    """Operations of these jobs, done or left out, for which a ride to come waits: only they close what is open
    before it. None where no ride is to come.
    """
    every, over = operations_of(book, jobs), state.over
    if not any(is_ride(step) for name, step in every.items() if name not in over):
        return []
    found: dict[str, None] = {}
    for item in state.items.values():
        closers = item.closed_by if item.kind in TAKEN_AGAIN else ()
        if not closers or not stands_before("road test", item):
            continue
        if over.issuperset(closers) and every.keys() >= {*closers}:
            found[next((name for name in closers if name in state.done), closers[0])] = None
    return [*found]


def left_of(
    book: Book,
    state: VisitState,
    jobs: Sequence[str],
    *,
    resources: Mapping[str, int] | None = None,
    technicians: Sequence[Technician] = ONE,
    among_others: bool = False,
) -> RemainingWork:
    """What is left of these jobs, from the states the machine is in now.

    Steps done or left out are over, but those done that a ride asks for again; so is, until the answer, what waits
    for it (`stuck`). Access steps among these are had only where they are asked for again. What stays open until then
    need not be brought to its finish.
    """
    held = stuck(book, state, jobs)
    waiting = held - set(state.done)
    over = {*state.over} - waiting - _asked_again(book, state, jobs)
    known = {*operations_of(book, jobs)}
    _, ridden = ridden_again(book, sorted(known - over - waiting))
    again_later = ridden & set(state.done)  # a ride is ridden again after what is still to come
    over -= again_later
    waiting |= again_later & held
    stays = stays_open(book, state, jobs)

    def compiled(states: Mapping[str, str], again: Iterable[str]) -> Problem:
        again = {*again}
        return compile_problem(
            book,
            jobs,
            states=states,
            done=sorted((over | waiting) & known),
            came_in=known_states(book, state.found),
            resources=resources,
            technicians=technicians,
            among_others=among_others,
            again=sorted(again - book.access.keys()),
            without=(waiting & book.access.keys()) - again,
            stays=stays,
            strict=False,
        )

    return RemainingWork(
        book=book,
        jobs=tuple(jobs),
        states=known_states(book, state.states),
        over=frozenset(over),
        waiting=frozenset(waiting),
        compiled=compiled,
    )


def steps_left(
    book: Book,
    state: VisitState,
    entries: Iterable[Entry],
    jobs: Collection[str],
    order: Iterable[PlanStep],
) -> tuple[PlanStep, ...]:
    """Of an order taken: operations not over, and copies of steps had at will not yet used up since it was taken."""
    order, done = tuple(order), {*state.done}
    held = stuck(book, state, jobs)
    over = {*state.over, *held}
    used = _done_since(state, entries)
    # Done before this order was taken, it is in it once more: a ride, for work it has not seen is to come.
    twice = {s.name for s in order if s.kind == "operation" and s.name in done} - used.keys()
    again = twice & _repeated(book, state, jobs) if twice else twice
    left = []
    for step in order:
        if step.kind == "operation":
            if step.name not in over or step.name in again:
                left.append(step)
        elif step.name in held:
            continue
        elif used[step.name]:
            used[step.name] -= 1
        else:
            left.append(step)
    return tuple(left)


def misfits(
    book: Book,
    state: VisitState,
    left: Sequence[PlanStep],
    problem: Problem,
    jobs: Collection[str],
    later: Collection[str] = (),
) -> list[str]:
    """Why what is left of an order can no longer be followed: other jobs, a step it cannot come to, what it leaves.

    ``problem``: what the order was made for; a finish it gave up on purpose is not missed. ``jobs``: those it was
    made for; ``later``: those it left for another time. Where a step failed since, that is the reason, whatever state
    the machine is in by it.
    """
    other = [*_other_jobs(book, state, left, jobs, later), *_missing(book, state, left, jobs)]
    if other:
        return other
    unmet = _unmet(book, state, left, problem, jobs)
    return unmet and (_failed_since(book, state) or unmet)


def for_nothing(
    book: Book, state: VisitState, left: Sequence[PlanStep], jobs: Collection[str]
) -> list[PlanStep]:
    """What nothing needs any more: steps of jobs left or declined since, access for these and what is stuck, and the
    way back from that; and, behind the last operation, what only brings to its finish what stays open.
    """
    wanted, held, every = {*to_do(book, state)}, stuck(book, state, jobs), steps(book)

    def idle(name: str) -> bool:
        return (
            name in held
            or name in state.not_needed
            or ("/" in name and StepId(name).job not in wanted)
        )

    found: set[int] = set()
    stays = stays_open(book, state, jobs)
    for place, one in reversed([*enumerate(left)]):
        served = one.for_ if one.kind != "operation" else (one.name,)
        if served and all(map(idle, served)):
            found.add(place)
        elif one.kind == "operation":
            stays = set()  # it may need what was changed before it
        elif stays & every[one.name].sets.keys():
            found.add(place)
    states = known_states(book, state.states)
    for place, one in enumerate(left):
        sets = every[one.name].sets
        if place in found:
            continue
        if held and one.kind != "operation" and sets.items() <= states.items():
            found.add(place)
        states |= sets
    return [one for place, one in enumerate(left) if place in found]


def _failed_since(book: Book, state: VisitState) -> list[str]:
    """The steps that failed since the order was taken, and have no answer yet."""
    place = {line.entry: n for n, line in enumerate(state.history)}
    orders = (one for one in state.history if one.kind == "plan_taken" and one.undone is None)
    taken = [place[one.entry] for one in orders]
    every = steps(book)
    return [
        f"“{every[one.step].text}” cannot be done: {one.text}"
        for one in unanswered(state)
        if one.step and one.step in every and place[one.entry] > max(taken, default=-1)
    ]


def _other_jobs(
    book: Book,
    state: VisitState,
    left: Sequence[PlanStep],
    jobs: Collection[str],
    later: Collection[str],
) -> Iterator[str]:
    wanted = to_do(book, state)
    for job in wanted:
        if job not in jobs and (job not in later or not left):
            yield f"“{book.jobs[job].text}” is to be done and is not in this order"
    for job in jobs:
        ours = (step.kind == "operation" and step.name.startswith(f"{job}/") for step in left)
        if job not in wanted and any(ours):
            yield f"“{book.jobs[job].text}” is in this order and is no longer to be done"


def _missing(
    book: Book, state: VisitState, left: Sequence[PlanStep], jobs: Collection[str]
) -> Iterator[str]:
    """What is to be done, or to be done again, and was not when the order was made.

    Nothing while a step waits for its answer: the order may have given up what only that step makes possible.
    """
    if stuck(book, state, jobs):
        return
    every, here = operations_of(book, jobs), {step.name for step in left}
    over = state.over | here | undecided(book, state, here) | waits_beside(state, left)
    wanted = to_do(book, state)
    for name in every:
        if name not in over and StepId(name).job in wanted:
            yield f"“{every[name].text}” is to be done and is not in this order"
    for name in sorted(_asked_again(book, state, jobs) - here):
        yield f"the ride waits for “{every[name].text}”, which is to be done again"


def undecided(book: Book, state: VisitState, here: Collection[str]) -> set[str]:
    """The steps about which a reading to come decides; ``here``: what is left of the order.

    Also those of which the reading itself is in such a step.
    """
    every = steps(book)
    rules, taken = unknowns_of(book, every), state.taken
    asked = {
        name: [one for one in names_in(only_if_of(step)) if one not in state.answers]
        for name, step in every.items()
        if decided_by(step, taken)
    }
    found, told = set[str](), {*here}
    while (
        more := {
            name
            for name, names in asked.items()
            if any(told & {*rules[one].readers} for one in names)
        }
        - found
    ):
        found |= more
        told |= more
    return found


def _unmet(
    book: Book,
    state: VisitState,
    left: Sequence[PlanStep],
    problem: Problem,
    jobs: Collection[str],
) -> list[str]:
    states, every = dict(known_states(book, state.states)), steps(book)
    here = {step.name for step in left}
    beside = waits_beside(state, left) & every.keys()
    over = {*state.over, *(undecided(book, state, here) - here)} | beside
    for name in beside:
        states |= every[name].sets
    for planned in left:
        step = every[planned.name]
        if planned.kind == "operation" and isinstance(step, Operation):
            own = planned.name.partition("/")[0]
            for name in (before(own, after) for after in step.after):
                if name not in over and name.partition("/")[0] in jobs:
                    return [
                        f"“{step.text}” comes after “{every[name].text}”, which is to be done again"
                    ]
            over.add(planned.name)
        for condition, allowed in step.needs.items():
            now = states[condition]
            if now not in allowed and not lapses_to(book, condition, now, allowed):
                needed = state_in_words(book, condition, allowed)
                found = book.conditions[condition].state_words.get(now, now)
                return [f"“{step.text}” needs {needed}; it is now {found}"]
        states |= step.sets
    wanted = [job for job in jobs if job in to_do(book, state)]
    released = stays_open(book, state, jobs) - stays_open(book, state, wanted)
    return [
        f"{state_in_words(book, name, [states[name]])} would be left so"
        for name, condition in book.conditions.items()
        if name in released
        or not (name in problem.conditions and problem.conditions[name].finish is None)
        if (finish := finish_of(book, state, name)) not in (None, states[name])
        and not lapses_to(book, name, states[name], [finish or ""])
    ]


def waits_beside(state: VisitState, left: Iterable[PlanStep]) -> set[str]:
    """Steps that wait by themselves and are in no order: it was made beside them, and comes after them."""
    waiting = {name for name, step in state.steps.items() if step.status == "waiting"}
    return waiting - {step.name for step in left}


def steps_that_free(book: Book, state: VisitState, left: Sequence[PlanStep]) -> list[str]:
    """Every step that sets a condition which is not as the next step left, or the end, wants it."""
    every = steps(book)
    needs = every[left[0].name].needs if left else {}
    violation = {
        name
        for name, now in known_states(book, state.states).items()
        if now not in needs.get(name, [now]) or finish_of(book, state, name) not in (None, now)
    }
    return [name for name, step in every.items() if violation & step.sets.keys()]


def lapses_to(book: Book, condition: str, state: str, wanted: Sequence[str]) -> bool:
    """Whether a state becomes a wanted one by itself; lapses never lead round (`book.refer`)."""
    lapse = book.conditions[condition].lapse
    while state in lapse:
        state = lapse[state].to
        if state in wanted:
            return True
    return False


def _repeated(book: Book, state: VisitState, jobs: Collection[str]) -> set[str]:
    """What may be in an order although it was done: rides, what is behind them, what they ask for."""
    rides = rides_after(book)
    return {*rides, *chain(*rides.values()), *_asked_again(book, state, jobs)}


def _asked_again(book: Book, state: VisitState, jobs: Collection[str]) -> set[str]:
    """What a ride asks for that was done: what it showed was opened again. What was left out is not taken unasked."""
    asked = {*asked_by_ride(book, state, jobs)} & {*state.done}
    return asked - stuck(book, state, jobs)


def _done_since(state: VisitState, entries: Iterable[Entry]) -> Counter[str]:
    """How often each step was confirmed since the last order was taken; what was undone does not count."""
    undone = state.undone
    count: Counter[str] = Counter()
    for entry in entries:
        if entry.id in undone:
            continue
        if entry.kind == "plan_taken":
            count.clear()
        elif entry.kind == "done":
            said = entry.said
            assert isinstance(said, Done)
            count.update((*said.along, said.step))
    return count
