"""Compile a book to the table of events and items.

Events: ``done:<step>`` (in two of a step that waits: ``begun:<step>`` opens, ``ended:<step>`` is the rest),
``reused:<renewal>``, ``tightened:<fastener>:<index>``,
``round:<fastener>:<index>:<round>`` (of those before the last), ``still:<fastener>``, ``secured:<fastener>``,
``tightened unproven:…``, ``round unproven:…`` (the wrench without or out of calibration),
``turned:…`` (kept turning, overshot), ``judged:…``, ``read:<step>:<reading>``,
``not_read:<step>:<reading>``, ``within:<reading>:<index>``,
``outside:…``, ``figure_set:<figure>``, ``walked_round``, ``codes there``, ``codes cleared``, ``codes read after``.
``looked`` and ``confirmed`` name their items themselves.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from witnessmark.book.figures import figure_state, figures_of
from witnessmark.book.model import Book, Fastener, Figure, Gate, Operation, Step
from witnessmark.book.rides import asks_for_ride, is_ride, rides_after
from witnessmark.book.select import steps, with_brought
from witnessmark.book.sequence import rounds
from witnessmark.ledger import fastener_effects, ids
from witnessmark.ledger.answers import only_if_of, unknowns_of
from witnessmark.ledger.ids import CODES, WALK, Looked, StepId
from witnessmark.ledger.limits import span
from witnessmark.ledger.table import (
    ConditionRule,
    Do,
    Effect,
    FastenerRule,
    FigureRule,
    Item,
    ReadingRule,
    StepRule,
    Table,
)

Events = dict[str, tuple[Effect, ...]]


def effects(
    book: Book, jobs: Collection[str] = (), *, refuse_unproven_wrench: bool = False
) -> Table:
    """The whole book as a table; ``jobs`` (the visit's) come first where several cards close an item.

    ``refuse_unproven_wrench``: a safety-critical fastener stays open after a wrench without or out
    of calibration (a shop's choice).
    """
    compiler = _Compiler(book, jobs, refuse=refuse_unproven_wrench)
    return Table(
        items=dict(compiler.items()),
        events=book.once(_events_of_refusing if refuse_unproven_wrench else _events_of),
        conditions={c: _condition(book, c) for c in book.conditions},
        figures={f: figure_rule(figure) for f, figure in book.figures.items()},
        fasteners={f: _fastener(fastener) for f, fastener in book.fasteners.items()},
        readings={
            r: ReadingRule(words=x.text, low=x.low, high=x.high, bad=tuple(x.bad), safety=x.safety)
            for r, x in book.readings.items()
        },
        steps={s: compiler.step_rule(s) for s in compiler.steps},
        unknowns=unknowns_of(book, compiler.steps),
        title=book.title,
        lines={j: job.text for j, job in book.jobs.items()},
        brought={j: tuple(with_brought(book, [j])[1:]) for j in book.jobs},
        refuse_unproven_wrench=refuse_unproven_wrench,
    )


def _events_of(book: Book) -> Events:
    """What each event does: the same whatever jobs a visit has."""
    return _Compiler(book, (), refuse=False).events()


def _events_of_refusing(book: Book) -> Events:
    return _Compiler(book, (), refuse=True).events()


def figure_rule(figure: Figure) -> FigureRule:
    """A figure as the table holds it; proven with a value and a source, unproven without a source."""
    return FigureRule(
        words=figure.text,
        quantity=figure.quantity,
        state=figure_state(figure),
        span=span(figure),
        written=figure.written,
    )


def _condition(book: Book, name: str) -> ConditionRule:
    condition = book.conditions[name]
    return ConditionRule(
        words=condition.text,
        start=condition.start,
        finish=condition.finish,
        lapses={state: lapse.to for state, lapse in condition.lapse.items()},
        state_words=condition.state_words,
    )


def _fastener(fastener: Fastener) -> FastenerRule:
    return FastenerRule(
        words=fastener.text,
        count=fastener.count,
        figure=fastener.figure,
        grade=fastener.grade,
        look_again=fastener.look_again,
        safety=fastener.safety,
        rounds=rounds(fastener),
    )


def _gate(*, safety: bool) -> Gate:
    return "road test" if safety else "hand-back"


class _Compiler:
    """One book on its way to a table."""

    def __init__(self, book: Book, jobs: Collection[str], *, refuse: bool) -> None:
        self.book = book
        self.refuse = refuse
        self.steps = steps(book)
        self.first = {s for s in self.steps if s in book.access or StepId(s).job in jobs}
        self.rides_after = rides_after(book)

    # ------------------------------------------------------------ items

    def items(self) -> Iterator[tuple[str, Item]]:
        yield from self._fastener_items()
        yield from self._circuit_items()
        yield from self._other_items()
        yield from self._reading_items()
        yield from self._second_looks()
        yield WALK, Item(text="the walk round the machine, tools and rags counted")
        if not any(circuit.trouble_codes for circuit in self.book.circuits.values()):
            yield CODES, Item(text="trouble codes")

    def _fastener_items(self) -> Iterator[tuple[str, Item]]:
        for f, fastener in self.book.fasteners.items():
            item = self._item(
                fastener.text,
                self._closers(s for s, step in self.steps.items() if f in step.tightens),
                safety=fastener.safety,
            )
            if fastener.gate:
                item = item.model_copy(update={"gate": fastener.gate, "own_gate": True})
            for i in range(1, fastener.count + 1):
                one = fastener_effects.one_of(fastener, i, item)
                yield ids.fastener(f, i), one
                thread = {"text": f"thread and bolt of: {fastener.text}", "closed_by": ()}
                yield ids.thread(f, i), one.model_copy(update=thread)
            yield from fastener_effects.items(self.book, f, item)

    def _circuit_items(self) -> Iterator[tuple[str, Item]]:
        for c, circuit in self.book.circuits.items():
            for r, wanted in circuit.closed_by.items():
                closers = self._closers(
                    s
                    for s, step in self.steps.items()
                    if r in circuit.wanted(step.closes.get(c, ()))
                )
                item = self._item(f"{circuit.text}: {wanted.text}", closers, safety=circuit.safety)
                gate = wanted.gate or ("hand-back" if wanted.ride else item.gate)
                yield (
                    ids.circuit(c, r),
                    item.model_copy(update={"gate": gate, "ride": wanted.ride}),
                )

    def _other_items(self) -> Iterator[tuple[str, Item]]:
        for n, renewal in self.book.renewals.items():
            closers = self._closers(s for s, step in self.steps.items() if n in step.renews)
            yield ids.renewal(n), self._item(renewal.text, closers, safety=renewal.safety)
        for c, condition in self.book.conditions.items():
            closers = self._closers(
                s
                for s, step in self.steps.items()
                if c in step.sets and condition.finish in (step.sets[c], "as found")
            )
            yield ids.condition(c), self._item(condition.text, closers)
        grave = {x for f in self.book.fasteners.values() if f.safety for x in rounds(f)}
        for g, figure in self.book.figures.items():
            yield ids.figure(g), self._item(f"figure: {figure.text}", (), safety=g in grave)

    def _reading_items(self) -> Iterator[tuple[str, Item]]:
        for s, step in self.steps.items():
            for r in step.readings:
                yield ids.reading(s, r), self._reading(r, (s,))
        for r, reading in self.book.readings.items():
            closers = self._closers(s for s, step in self.steps.items() if r in step.readings)
            for i in range(1, reading.repeat + 1):
                yield ids.outside(r, i), self._reading(r, closers)

    def _reading(self, name: str, closers: tuple[str, ...]) -> Item:
        reading = self.book.readings[name]
        item = self._item(reading.text, closers, safety=reading.safety)
        return item.model_copy(update={"gate": reading.gate or item.gate})

    def _second_looks(self) -> Iterator[tuple[str, Item]]:
        """They stand before hand-back, not before the ride: a lone worker's look comes after it."""
        for f, fastener in self.book.fasteners.items():
            if fastener.second_look:
                yield self._look("fastener", f, fastener.text, safety=fastener.safety)
        for c, circuit in self.book.circuits.items():
            if circuit.second_look:
                yield self._look("circuit", c, circuit.text, safety=circuit.safety)
        for s, step in self.steps.items():
            if step.second_look:
                yield self._look("step", s, step.text, safety=self._grave(step))

    def _look(self, kind: Looked, name: str, text: str, *, safety: bool) -> tuple[str, Item]:
        item = Item(text=f"second look: {text}", safety=safety)
        return ids.look(kind, name), item

    def _item(self, text: str, closers: tuple[str, ...], *, safety: bool = False) -> Item:
        where = next((self.steps[s].place for s in closers if self.steps[s].place), "")
        return Item(
            text=text, where=where, gate=_gate(safety=safety), safety=safety, closed_by=closers
        )

    def _closers(self, steps: Iterable[str]) -> tuple[str, ...]:
        """The visit's own cards; those of other jobs only where the visit has none."""
        every = tuple(steps)
        return tuple(s for s in every if s in self.first) or every

    # ------------------------------------------------------------ events

    def events(self) -> Events:
        events: Events = {}
        for s, step in self.steps.items():
            opened, rest = self._opened(step), self._shown(s, step)
            events[f"done:{s}"] = (*opened, *rest)
            if step.unattended:  # whoever began it did the work that is to be looked at
                looks = (_do("open", look) for look in self._looks_wanted(s, step))
                events[f"begun:{s}"], events[f"ended:{s}"] = (*opened, *looks), rest
        for f, fastener in self.book.fasteners.items():
            events |= self._fastener_events(f, fastener)
        for n, renewal in self.book.renewals.items():
            events[f"reused:{n}"] = (_do("close" if renewal.reuse else "open", ids.renewal(n)),)
        for s, step in self.steps.items():
            for r in step.readings:
                item = ids.reading(s, r)
                events[f"read:{s}:{r}"] = (_do("close", item),)
                grave = self.book.readings[r].safety  # it stays open until it is read
                events[f"not_read:{s}:{r}"] = (_do("want" if grave else "close", item),)
        for r, reading in self.book.readings.items():
            for i in range(1, reading.repeat + 1):
                events[f"within:{r}:{i}"] = (_do("close", ids.outside(r, i)),)
                events[f"outside:{r}:{i}"] = (_do("open", ids.outside(r, i)),)
        events |= {f"figure_set:{g}": self._rested(g) for g in self.book.figures}
        events["walked_round"] = (_do("close", WALK),)
        return events | self._codes_events()

    def _codes_events(self) -> Events:
        """Codes found or cleared are read again after the work; what only a ride can close is left to its card."""
        wanted = {
            ids.circuit(c, r): requirement.ride
            for c, circuit in self.book.circuits.items()
            if circuit.trouble_codes
            for r, requirement in circuit.closed_by.items()
        } or {CODES: False}
        opened = tuple(_do("open", item) for item in wanted)
        closed = tuple(_do("close", item) for item, ride in wanted.items() if not ride)
        return {"codes there": opened, "codes cleared": opened, "codes read after": closed}

    def _opened(self, step: Step) -> tuple[Effect, ...]:
        """What a step opens: it comes first at the machine."""
        acts = [_do("open", i) for f in step.loosens for i in self._group(f)]
        acts += [
            _do("open", i) for f in step.loosens for i in fastener_effects.opened_too(self.book, f)
        ]
        acts += [_do("snug", i) for f in step.snugs for i in self._group(f)]
        acts += [_do("open", i) for i in self._circuits(step.opens)]
        acts += [_do("open", ids.renewal(n)) for n in step.disturbs]
        if acts or self._leaves_finish(step):
            acts.append(_do("open", WALK))
        return tuple(acts)

    def _shown(self, name: str, step: Step) -> tuple[Effect, ...]:
        """What a step sets, makes tight, closes and asks for, in the order it happens."""
        acts = [Effect(do="set", item=ids.condition(c), state=x) for c, x in step.sets.items()]
        for f in step.tightens:
            close: Do = "want" if self.book.fasteners[f].grade == "proven" else "close"
            acts += [_do(close, i) for i in self._group(f)]
            acts += [_do("want", i) for i in fastener_effects.shown_of(self.book.fasteners[f], f)]
            if close == "close":
                acts += fastener_effects.behind(self.book, f, tuple(step.tightens))
        acts += [_do("close", i) for i in self._circuits(step.closes)]
        acts += [_do("close", ids.renewal(n)) for n in step.renews]
        acts += [_do("want", ids.reading(name, r)) for r in step.readings]
        acts += [_do("use", ids.figure(g)) for g in sorted(set(figures_of(self.book, step)))]
        acts += [_do("open", i) for i in self._looks_wanted(name, step)]
        acts += [_do("void", i) for i in self._looks_at(step.closes)]  # a look before that saw less
        return tuple(acts)

    def _looks_wanted(self, name: str, step: Step) -> Iterator[str]:
        if step.second_look:
            yield ids.look("step", name)
        for f in step.tightens:
            fastener = self.book.fasteners[f]
            if fastener.second_look and fastener.grade != "proven":
                yield ids.look("fastener", f)
        yield from self._looks_at(step.opens)

    def _looks_at(self, circuits: Iterable[str]) -> Iterator[str]:
        return (ids.look("circuit", c) for c in circuits if self.book.circuits[c].second_look)

    def _fastener_events(self, name: str, fastener: Fastener) -> Events:
        events: Events = {}
        used = tuple(_do("use", ids.figure(figure)) for figure in rounds(fastener)[-1:])
        refused = self.refuse and fastener.safety
        look = (_do("open", ids.look("fastener", name)),) if fastener.second_look else ()
        for i in range(1, fastener.count + 1):
            item, tail = ids.fastener(name, i), f"{name}:{i}"
            tight = (
                _do("close", item),
                *used,
                *look,
                *fastener_effects.tightening(self.book, name),
            )
            events[f"tightened:{tail}"] = tight
            events[f"tightened unproven:{tail}"] = (_do("snug", item), *used) if refused else tight
            events[f"short:{tail}"] = (_do("snug", item), *used)
            events[f"turned:{tail}"] = (
                _do("turned", item),
                _do("open", ids.thread(name, i)),
                _do("open", WALK),
                *used,
            )
            events[f"judged:{tail}"] = (_do("close", ids.thread(name, i)),)
        return events | fastener_effects.events(self.book, name, refused=refused)

    def _rested(self, figure: str) -> tuple[Effect, ...]:
        """What was closed by this figure and must be closed again when it changes."""
        items = list(fastener_effects.rests_on(self.book, figure))
        for step in self.steps.values():
            if any(use.figure == figure for use in step.fluids.values()):
                items += self._circuits(step.closes)
        return tuple(_do("void", i) for i in dict.fromkeys(items))

    # ------------------------------------------------------------ what a step touches

    def _group(self, fastener: str) -> list[str]:
        count = self.book.fasteners[fastener].count
        return [ids.fastener(fastener, i) for i in range(1, count + 1)]

    def _circuits(self, named: dict[str, list[str]]) -> list[str]:
        return [
            ids.circuit(c, r)
            for c, wanted in named.items()
            for r in self.book.circuits[c].wanted(wanted)
        ]

    def _leaves_finish(self, step: Step) -> bool:
        """Whether it takes off, opens or disconnects: a required state is left."""
        for c, state in step.sets.items():
            condition = self.book.conditions[c]
            home = condition.start if condition.finish == "as found" else condition.finish
            if home is not None and home != state:
                return True
        return False

    def _grave(self, step: Step) -> bool:
        fasteners = (self.book.fasteners[f] for f in (*step.loosens, *step.snugs, *step.tightens))
        circuits = (self.book.circuits[c] for c in (*step.opens, *step.closes))
        return any(x.safety for x in fasteners) or any(x.safety for x in circuits)

    def step_rule(self, name: str) -> StepRule:
        step = self.steps[name]
        job = StepId(name).job if isinstance(step, Operation) else None
        return StepRule(
            words=step.text,
            where=step.place,
            job=job,
            safety=self._grave(step),
            ride=is_ride(step),
            asks_for_ride=asks_for_ride(self.book, step),
            looks_back=tuple(ride for ride, behind in self.rides_after.items() if name in behind),
            proves_work=name in self.rides_after,
            only_if=only_if_of(step),
            always_with=tuple(step.always_with) if isinstance(step, Operation) else (),
        )


def _do(do: Do, item: str) -> Effect:
    return Effect(do=do, item=item)
