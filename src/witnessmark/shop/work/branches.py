"""The branches of an order in words: what each answer of a reading brings, and how many minutes more or less."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from witnessmark.ledger.state import Happening
from witnessmark.planner import Alternative, Branch, PlanStep, Stretch, lasting
from witnessmark.shop.work.deciding import asked_by, decider, steps_of, way
from witnessmark.shop.work.likely import chances, percent
from witnessmark.shop.work.planned import Fork, Planned
from witnessmark.shop.work.visit import Work

NEAR = 0.05  # minutes: half of the finest that a plan tells


@dataclass(frozen=True)
class BranchShown:
    """One answer against the way that the order takes."""

    answer: str  # Chain slack outside its limits
    chance: str
    minutes: str  # "12 min more"; empty where it takes as long
    comes: tuple[str, ...]  # steps it brings
    falls: tuple[str, ...]  # steps of the way that fall away
    steps: tuple[str, ...] = ()  # all of it up to the end, as likely from there
    decides_again: bool = False  # whether another reading decides on it


@dataclass(frozen=True)
class TreeShown:
    """What is known of an order in which readings decide."""

    expected: str
    least: str
    most: str
    proof: str
    worth: tuple[str, ...]
    chances: tuple[str, ...]
    alternatives: tuple[str, ...]  # where the likeliest answers are planned alone
    left_out: tuple[str, ...]


def others(work: Work, fork: Fork) -> list[BranchShown]:
    """The branches that the order does not take; those that bring the same are one."""
    alike: dict[BranchShown, list[Branch]] = {}
    for branch in fork.others:
        shown = replace(_shown(work, branch, fork.taken), answer="", chance="")
        alike.setdefault(shown, []).append(branch)
    return [
        replace(
            shown,
            answer=_either(work, branches, fork.taken),
            chance=percent(sum(branch.probability for branch in branches)),
        )
        for shown, branches in alike.items()
    ]


def to_come(work: Work, made: Planned | None, step: str, reading: str) -> list[str]:
    """What a reading of a card will bring, a line for each answer; nothing where it decides nothing more."""
    for fork in made.forks if made else ():
        about = [name for name in fork.names if decider(work, name).reading == reading]
        if about and made and _reads(made, fork, step):
            likeliest: dict[tuple[bool, ...], Branch] = {}
            for one in (fork.taken, *sorted(fork.others, key=lambda one: -one.probability)):
                likeliest.setdefault(tuple(one.answers[name] for name in about), one)
            return [_beside(work, one, fork.taken, about) for one in likeliest.values()]
    return []


def decided(work: Work, made: Planned | None, read: Sequence[str]) -> list[str]:
    """What readings just taken have decided, against what was likeliest before; ``read``: readings by name."""
    told = []
    for fork in made.forks if made else ():
        about = [
            name
            for name in fork.names
            if decider(work, name).reading in read and name in work.state.answers
        ]
        if about:
            likeliest = max((fork.taken, *fork.others), key=lambda branch: branch.probability)
            new = [name for name in about if fork.taken.answers[name] != likeliest.answers[name]]
            shown = _shown(work, fork.taken, likeliest, new or about)
            told.append(_line(shown, as_planned=fork.taken is likeliest))
    return told


def newly_decided(work: Work, made: Planned | None, lines: Iterable[Happening]) -> list[str]:
    """What the readings of the newest form have decided; nothing once the machine is handed back."""
    if work.closed or made is None:
        return []
    keys = {line.entry for line in lines}
    read = [one.reading for one in work.state.readings if one.entry in keys]
    return decided(work, made, read)


@dataclass(frozen=True)
class OffTheWay:
    """A way that an order would take by other answers, from the reading on that tells them."""

    answer: str
    chance: str
    steps: tuple[PlanStep, ...]


def off_the_way(work: Work, made: Planned | None) -> Iterator[OffTheWay]:
    """Every way by other answers than the likeliest that readings to come may tell; the likeliest of them first."""
    for fork in made.forks if made else ():
        if not {*fork.names} <= work.state.answers.keys():
            yield from _off(work, (fork.taken, *fork.others), fork.taken, {}, 1.0)


def _off(
    work: Work,
    branches: Sequence[Branch],
    taken: Branch,
    told: Mapping[str, bool],
    share: float,
) -> Iterator[OffTheWay]:
    for branch in sorted(branches, key=lambda one: -one.probability):
        if branch is taken:
            continue
        other = {n: yes for n, yes in branch.answers.items() if taken.answers[n] != yes}
        answers, chance = {**told, **other}, share * branch.probability
        steps = tuple(_likely(branch.then))
        yield OffTheWay(answer_words(work, answers), percent(chance), steps)
        stretch = branch.then
        while stretch.branches:
            likeliest = max(stretch.branches, key=lambda one: one.probability)
            yield from _off(work, stretch.branches, likeliest, answers, chance)
            chance *= likeliest.probability
            stretch = likeliest.then


@dataclass(frozen=True)
class TakeAs:
    """What a reading that cannot be read may be taken as, and what is done then."""

    yes: str
    no: str


def take_as(work: Work, step: str, reading: str) -> list[TakeAs]:
    """The choices, one for each thing that a reading of a step decides (`deciding.asked_by`)."""
    return [
        TakeAs(*(_choice(work, name, yes=yes) for yes in (True, False)))
        for name in asked_by(work, step, reading)
    ]


def _choice(work: Work, name: str, *, yes: bool) -> str:
    wanted = [work.steps[step].text for step in steps_of(work, name, yes=yes)]
    then = _("{steps} is done").format(steps=_some(wanted)) if wanted else _("no more is done")
    return f"{way(work, name, yes=yes)}: {then}"


def tree_shown(work: Work, made: Planned) -> TreeShown | None:
    """What is known of its tree; None without one."""
    tree = made.tree
    if tree is None or made.undecided is None:
        return None
    proof = _("No order is shorter, even for somebody who knew every answer at the door.")
    if tree.status != "optimal" and tree.gap_minutes is not None:
        proof = _("At most {minutes} more than for somebody who knew every answer at the door.")
        proof = proof.format(minutes=lasting(tree.gap_minutes))
    if tree.how == "likeliest":
        proof = _(
            "The likeliest answers are planned; what another answer costs is worked out beside it."
        )
    known = chances(work.visit.shop, work.book)
    return TreeShown(
        expected=lasting(round(tree.expected_attended_minutes)),
        least=_outcome(tree.least.attended_minutes, tree.least.probability),
        most=_outcome(tree.worst.attended_minutes, tree.worst.probability),
        proof=proof,
        worth=tuple(
            _("{what}: to know it at the door would save {minutes}.").format(
                what=answer_words(work, {name: True}), minutes=lasting(minutes)
            )
            for name, minutes in tree.worth.items()
            if minutes >= 1
        ),
        chances=tuple(
            f"{answer_words(work, {name: True})}: {known[name].words}"
            for name in made.undecided.unknowns
            if name in known
        ),
        alternatives=tuple(alternatives(work, tree.alternatives)),
        left_out=tuple(answer_words(work, {name: True}) for name in made.left_out),
    )


def alternatives(work: Work, others: Iterable[Alternative]) -> Iterator[str]:
    """What other answers than the likeliest cost: ``Slack outside its limits (40 %): labour 12 min more``."""
    for other in others:
        yield _("{answer} ({chance}): labour {minutes}").format(
            answer=answer_words(work, other.answers),
            chance=percent(other.probability),
            minutes=_minutes(other.attended_minutes) or _("as long"),
        )


def answer_words(work: Work, answers: Mapping[str, bool]) -> str:
    """Answers as a technician says them. Example: ``Chain slack outside its limits``."""
    return ", ".join(
        f"{work.book.readings[decider(work, name).reading].text} {way(work, name, yes=yes, short=True)}"
        for name, yes in answers.items()
    )


def _either(work: Work, branches: Sequence[Branch], taken: Branch) -> str:
    """What sets branches apart from the one taken, each at its least: ``Inlet outside, or outlet outside``."""
    told = [
        {name: yes for name, yes in branch.answers.items() if taken.answers[name] != yes}
        for branch in branches
    ]
    least = [one for one in told if not any(other.items() < one.items() for other in told)]
    return _(", or ").join(answer_words(work, one) for one in least)


def _reads(made: Planned, fork: Fork, step: str) -> bool:
    assert made.undecided is not None
    return any(made.undecided.unknowns[name].revealed_by == step for name in fork.names)


def _shown(work: Work, branch: Branch, against: Branch, about: Sequence[str] = ()) -> BranchShown:
    here, there = [*_likely(branch.then)], [*_likely(against.then)]
    names, others_ = [s.name for s in here], {s.name for s in there}
    known = {name: yes for name, yes in branch.answers.items() if not about or name in about}
    return BranchShown(
        answer=answer_words(work, known),
        chance=percent(branch.probability),
        minutes=_minutes(branch.then.expected_minutes - against.then.expected_minutes),
        comes=tuple(work.steps[n].text for n in names if "/" in n and n not in others_),
        falls=tuple(
            work.steps[s.name].text for s in there if "/" in s.name and s.name not in names
        ),
        steps=tuple(work.steps[n].text for n in names),
        decides_again=bool(branch.then.branches),
    )


def _likely(stretch: Stretch) -> Iterator[PlanStep]:
    """The steps from here on by the likeliest answers."""
    yield from stretch.steps
    if stretch.branches:
        yield from _likely(max(stretch.branches, key=lambda one: one.probability).then)


def _beside(work: Work, branch: Branch, taken: Branch, about: Sequence[str]) -> str:
    """An answer beside the field that gives it, which names the reading: ``outside its limits: …``."""
    ways = ", ".join(way(work, name, yes=branch.answers[name], short=True) for name in about)
    shown = replace(_shown(work, branch, taken), answer=ways)
    return _line(shown, as_planned=branch is taken)


def _line(shown: BranchShown, *, as_planned: bool) -> str:
    """One answer in a line: ``Chain slack outside its limits: “Adjust the chain” comes in, 12 min more``."""
    said = []
    if shown.comes:
        said.append(_("{steps} comes in").format(steps=_some(shown.comes)))
    if shown.falls:
        said.append(_("{steps} is not needed").format(steps=_some(shown.falls)))
    if shown.minutes:
        said.append(shown.minutes)
    if as_planned or not said:
        said = [_("as planned")]
    return f"{shown.answer}: {', '.join(said)}"


def _some(texts: Sequence[str], most: int = 1) -> str:
    named = ", ".join(f"“{text}”" for text in texts[:most])
    if len(texts) > most:
        return _("{names} and {n} more").format(names=named, n=len(texts) - most)
    return named


def _minutes(more: float) -> str:
    if abs(more) < NEAR:
        return ""
    words = _("{minutes} more") if more > 0 else _("{minutes} less")
    whole = round(abs(more)) or round(abs(more), 1)
    return words.format(minutes=lasting(whole))


def _outcome(minutes: float, probability: float) -> str:
    return f"{lasting(minutes)} ({percent(probability)})"
