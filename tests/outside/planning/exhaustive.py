"""The best plan of a tiny problem by trying everything, minute by minute, for the whole planning
model.

For problems whose times are whole minutes and whose horizon is short. Whole minutes are enough: in
any fixed order of steps the times are bounded by differences of whole numbers, so a best plan has
whole ones. Written without the planner and without the checker: it walks forward through the
clock, where the checker looks back over intervals.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import NamedTuple

from witnessmark.planner import Operation, Problem, Step

DAY = 1440


class Running(NamedTuple):
    """A step under way: which, how long it is attended yet, how long until it is over, by whom."""

    step: int
    attended: int
    left: int
    people: tuple[str, ...]


@dataclass(frozen=True)
class Moment:
    """All that matters at a minute: states and ages, what runs, what is over, what was just
    exposed.
    """

    states: tuple[tuple[str, int], ...]
    running: tuple[Running, ...]
    over: frozenset[int]
    was_exposed: frozenset[int] = frozenset()  # told at the end of a day only


@dataclass(frozen=True)
class Best:
    """A best plan: when all is finished, the attended minutes, and (step, start, technicians) in
    order.
    """

    finish: int
    attended: int
    steps: tuple[tuple[str, int, tuple[str, ...]], ...]


Layer = dict[Moment, tuple[int, tuple]]  # attended minutes so far, and the steps as a linked list


class World:
    """The rules of a problem, for one minute at a time."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.names = list(problem.conditions)
        self.conditions = list(problem.conditions.values())
        self.steps: tuple[Step, ...] = problem.steps
        self.number = {step.name: at for at, step in enumerate(self.steps)}
        self.at = {name: at for at, name in enumerate(self.names)}
        self.day_ends = _day_ends(problem)

    def first(self) -> Moment:
        """Minute 0."""
        now = self.problem.now
        states = []
        for name, condition in self.problem.conditions.items():
            state, age = condition.start, condition.age
            if now and name in now.states:
                state, age = now.states[name], 0
            if now and name in now.ages:
                age = now.ages[name]
            states.append(self._aged(self.at[name], state, int(age)))
        running = [
            Running(
                self.number[one.name],
                int(one.minutes),
                int(one.minutes + one.unattended),
                one.technicians,
            )
            for one in (now.running if now else ())
        ]
        over = frozenset(self.number[name] for name in (now.done if now else ()))
        return Moment(tuple(states), tuple(sorted(running)), over)

    def _aged(self, at: int, state: str, age: int) -> tuple[str, int]:
        lapse = self.conditions[at].lapse
        while state in lapse and age >= lapse[state].after:
            state, age = lapse[state].to, age - int(lapse[state].after)
        return state, age if state in lapse else 0

    def _changing(self, moment: Moment) -> dict[int, str]:
        """Conditions being changed, and to what."""
        return {
            self.at[name]: new
            for one in moment.running
            for name, new in self.steps[one.step].sets.items()
        }

    def starts(
        self, moment: Moment, minute: int, least: int = 0
    ) -> Iterator[tuple[Moment, int, tuple]]:
        """Every way to start some of the steps from number ``least`` on at this minute, or none."""
        yield moment, 0, ()
        changing = self._changing(moment)
        for number in range(least, len(self.steps)):
            if not self._may_start(moment, changing, number, minute):
                continue
            for people in self._people(moment, number, minute):
                step = self.steps[number]
                one = Running(number, int(step.minutes), step.tenths // 10, people)
                begun = replace(moment, running=tuple(sorted((*moment.running, one))))
                for after, cost, more in self.starts(begun, minute, number + 1):
                    yield (
                        after,
                        cost + step.effort_tenths // 10,
                        ((step.name, minute, people), *more),
                    )

    def _may_start(
        self, moment: Moment, changing: dict[int, str], number: int, minute: int
    ) -> bool:
        step = self.steps[number]
        if isinstance(step, Operation):
            if number in moment.over or any(one.step == number for one in moment.running):
                return False
            if step.release > minute:
                return False
            if any(self.number[name] not in moment.over for name in step.after):
                return False
        touched = {self.at[name] for name in (*step.needs, *step.sets)}
        if not touched.isdisjoint(changing):
            return False
        return all(moment.states[self.at[c]][0] in allowed for c, allowed in step.needs.items())

    def _people(self, moment: Moment, number: int, minute: int) -> Iterator[tuple[str, ...]]:
        step = self.steps[number]
        if not step.minutes:
            yield ()
            return
        busy = {name for one in moment.running if one.attended > 0 for name in one.people}
        there = {
            person.name
            for person in self.problem.technicians
            if person.shifts is None
            or any(a <= minute and minute + step.minutes <= b for a, b in person.shifts)
        }
        fit = [name for name in self.skilled(step) if name in there - busy]
        yield from combinations(fit, step.hands)

    def skilled(self, step: Step) -> list[str]:
        """Who can do the step."""
        return [
            person.name
            for person in self.problem.technicians
            if person.skills is None or set(step.skills) <= set(person.skills)
        ]

    def is_sound(self, moment: Moment, minute: int) -> bool:
        """Whether the minute that now begins may be as it is."""
        changing = self._changing(moment)
        held = [{state} for state, _ in moment.states]
        for at, new in changing.items():
            held[at].add(new)
        for one in moment.running:
            step = self.steps[one.step]
            for name, allowed in step.needs.items():
                at = self.at[name]
                if name not in step.sets and (
                    at in changing or moment.states[at][0] not in allowed
                ):
                    return False
        for combination in self.problem.never:
            if all(held[self.at[c]] & set(states) for c, states in combination.items()):
                return False
        if minute in self.day_ends and self._exposed(held) & moment.was_exposed:
            return False
        return self._fits(moment, held)

    def _fits(self, moment: Moment, held: list[set[str]]) -> bool:
        for resource, capacity in self.problem.resources.items():
            used = sum(self.steps[one.step].uses.get(resource, 0) for one in moment.running)
            for condition, states in zip(self.conditions, held, strict=True):
                used += max(condition.holds.get(state, {}).get(resource, 0) for state in states)
            if used > capacity:
                return False
        return True

    def _exposed(self, held: list[set[str]]) -> frozenset[int]:
        return frozenset(
            at
            for at, (condition, states) in enumerate(zip(self.conditions, held, strict=True))
            if states & set(condition.exposed)
        )

    def next(self, moment: Moment, minute: int) -> Moment:
        """One minute later."""
        changing = self._changing(moment)
        states = [
            (state, 0) if at in changing else self._aged(at, state, age + 1)
            for at, (state, age) in enumerate(moment.states)
        ]
        held = [{state} for state, _ in moment.states]
        for at, new in changing.items():
            held[at].add(new)
        running, over = [], set(moment.over)
        for one in moment.running:
            if one.left > 1:
                running.append(one._replace(attended=max(0, one.attended - 1), left=one.left - 1))
                continue
            if isinstance(self.steps[one.step], Operation):
                over.add(one.step)
            for name, new in self.steps[one.step].sets.items():
                states[self.at[name]] = self._aged(self.at[name], new, 0)
        was_exposed = self._exposed(held) if minute + 1 in self.day_ends else frozenset()
        return Moment(tuple(states), tuple(sorted(running)), frozenset(over), was_exposed)

    def is_finished(self, moment: Moment) -> bool:
        """All operations over, nothing under way, every finish state there."""
        operations = sum(isinstance(self.steps[number], Operation) for number in moment.over)
        return (
            not moment.running
            and operations == len(self.problem.operations)
            and all(
                condition.finish is None or condition.finish == state
                for condition, (state, _) in zip(self.conditions, moment.states, strict=True)
            )
        )


def _day_ends(problem: Problem) -> set[int]:
    last: dict[int, int] = {}
    for person in problem.technicians:
        if person.shifts is None:
            return set()
        for start, stop in person.shifts:
            last[int(start) // DAY] = max(int(stop), last.get(int(start) // DAY, 0))
    return set(last.values())


def best(problem: Problem, objective: str = "finish") -> Best | None:
    """The best plan by finish, then attended minutes (or the other way round); None if there is
    none.

    ``problem.horizon`` must be set: the search ends there.
    """
    assert problem.horizon is not None
    world = World(problem)
    layer: Layer = {world.first(): (0, ())}
    found: list[Best] = []
    for minute in range(int(problem.horizon) + 1):
        sound = {
            m: c for m, c in layer.items() if world.is_finished(m) and _still(world, m, minute)
        }
        found += [Best(minute, cost, _listed(path)) for cost, path in sound.values()]
        if found and objective == "finish":
            break
        layer = _after(world, layer, minute)
    if objective == "finish":
        return min(found, key=lambda one: (one.finish, one.attended), default=None)
    return min(found, key=lambda one: (one.attended, one.finish), default=None)


def _still(world: World, moment: Moment, finish: int) -> bool:
    """The instant of the finish counts for what may never be; what is exposed then stands on."""
    if not world.is_sound(replace(moment, was_exposed=frozenset()), -1):
        return False
    for minute in range(finish, max(world.day_ends, default=0) + 1):
        exposed = world._exposed([{state} for state, _ in moment.states])
        if minute in world.day_ends and exposed & moment.was_exposed:
            return False
        moment = world.next(moment, minute)
    return True


def _after(world: World, layer: Layer, minute: int) -> Layer:
    following: Layer = {}
    for moment, (cost, path) in layer.items():
        for begun, more, steps in world.starts(moment, minute):
            if not world.is_sound(begun, minute):
                continue
            later = world.next(begun, minute)
            if later not in following or following[later][0] > cost + more:
                following[later] = (cost + more, (path, steps))
    return following


def _listed(path: tuple) -> tuple[tuple[str, int, tuple[str, ...]], ...]:
    steps: list[tuple[str, int, tuple[str, ...]]] = []
    while path:
        path, latest = path
        steps[:0] = latest
    return tuple(steps)


Listed = tuple[tuple[str, int, tuple[str, ...]], ...]


def accepts(problem: Problem, steps: Listed) -> int | None:
    """Walk through a given plan minute by minute; the finish, or None as soon as something is
    wrong.
    """
    world = World(problem)
    moment, minute = world.first(), 0
    waiting = sorted(steps, key=lambda step: step[1])
    while waiting or not world.is_finished(moment):
        if problem.horizon is not None and minute >= problem.horizon:
            return None
        while waiting and waiting[0][1] == minute:
            begun = _begun(world, moment, minute, waiting.pop(0))
            if begun is None:
                return None
            moment = begun
        if not world.is_sound(moment, minute):
            return None
        later = world.next(moment, minute)
        if not waiting and not moment.running and later.states == moment.states:
            return None  # nothing will ever change again
        moment, minute = later, minute + 1
    return minute if _still(world, moment, minute) else None


def _begun(
    world: World, moment: Moment, minute: int, listed: tuple[str, int, tuple[str, ...]]
) -> Moment | None:
    name, _, people = listed
    number = world.number[name]
    if not world._may_start(moment, world._changing(moment), number, minute):
        return None
    step = world.steps[number]
    choices = [set(choice) for choice in world._people(moment, number, minute)]
    if not step.minutes:  # keeps nobody, but may name those who could do it
        choices += [set(choice) for choice in combinations(world.skilled(step), step.hands)]
    if set(people) not in choices:
        return None
    one = Running(number, int(step.minutes), step.tenths // 10, people)
    return replace(moment, running=tuple(sorted((*moment.running, one))))


def exposure(problem: Problem, steps: Listed, finish: int) -> int:
    """Minutes that exposed states last in a sound plan, condition by condition."""
    world = World(problem)
    moment, total = world.first(), 0
    for minute in range(finish):
        for listed in steps:
            if listed[1] == minute:
                moment = _begun(world, moment, minute, listed) or moment
        held = [{state} for state, _ in moment.states]
        for at, new in world._changing(moment).items():
            held[at].add(new)
        total += len(world._exposed(held))
        moment = world.next(moment, minute)
    return total
