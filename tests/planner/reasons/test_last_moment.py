"""Last moments, held against every instant of the plan and a search that knows nothing of the planner."""

import heapq
from functools import partial
from itertools import count

import pytest

from tests.planner.generator import random_problem
from tests.planner.page_example import plain_example
from witnessmark.planner import last_moment, plan, problem_from, snapshot_at

least_work = partial(plan, objective="attended")


class Sequences:
    """The least attended minutes of all plans with a given beginning, one step after the other."""

    def __init__(self, data):
        self.data, self.names = data, list(data["conditions"])
        self.steps = {s["name"]: s for s in [*data["moves"], *data["operations"]]}
        self.operations = {o["name"] for o in data["operations"]}

    def effort(self, step):
        return step["minutes"] * step.get("hands", 1)

    def after(self, step, states, done):
        """States and operations done after a step; None where it may not be done."""
        now = dict(zip(self.names, states, strict=True))
        needs = all(now[c] in s for c, s in step.get("needs", {}).items())
        if not needs or not set(step.get("after", [])) <= done or step["name"] in done:
            return None
        counts = {c: {state, step.get("sets", {}).get(c, state)} for c, state in now.items()}
        if any(all(counts[c] & set(s) for c, s in n.items()) for n in self.data.get("never", [])):
            return None
        then = tuple(step.get("sets", {}).get(c, s) for c, s in now.items())
        return then, done | ({step["name"]} & self.operations)

    def over(self, states, done):
        wanted = (self.data["conditions"][c].get("finish") for c in self.names)
        ends = all(w in (None, s) for w, s in zip(wanted, states, strict=True))
        return ends and done == self.operations

    def least(self, begun):
        at, spent = (tuple(c["start"] for c in self.data["conditions"].values()), frozenset()), 0.0
        for name in begun:
            at, spent = self.after(self.steps[name], *at), spent + self.effort(self.steps[name])
        tie, seen, queue = count(), set(), [(spent, 0, at)]
        while queue:
            cost, _, at = heapq.heappop(queue)
            if self.over(*at):
                return round(cost, 1)
            if at in seen:
                continue
            seen.add(at)
            for step in self.steps.values():
                then = self.after(step, *at)
                if then is not None:
                    heapq.heappush(queue, (cost + self.effort(step), next(tie) + 1, then))
        return None


def without(data, name):
    """The problem less one operation."""
    kept = [
        o | {"after": [a for a in o.get("after", []) if a != name]}
        for o in data["operations"]
        if o["name"] != name
    ]
    return data | {"operations": kept}


def tyre_asked_late():
    """The final drive's oil is agreed; the tyre, on the same wheel, waits for an answer."""
    data = plain_example()
    data["operations"].append(
        {
            "name": "change tyre",
            "minutes": 15,
            "needs": {"rear_wheel": ["off"]},
            "sets": {},
            "job": "tyre",
        }
    )
    return data, "change tyre"


def random_cases():
    for seed in range(60):
        data = random_problem(seed)
        if len(data["operations"]) > 1:
            yield data, data["operations"][-1]["name"]


@pytest.mark.parametrize(("data", "asked"), [tyre_asked_late(), *list(random_cases())[:9]])
def test_the_last_moment_is_the_one_found_by_trying_every_instant(data, asked):
    """Also that the work never gets less the later the yes, which is why halving finds it."""
    answer = plan(problem_from(without(data, asked)))
    if answer.status != "optimal" or plan(problem_from(data)).status != "optimal":
        return
    found = last_moment(answer, problem_from(data), least_work)

    instants = sorted({step.start for step in answer.steps} | {answer.finish_minutes})
    sequences = Sequences(data)
    costs = [
        sequences.least([s.name for s in answer.steps if s.start < instant]) for instant in instants
    ]
    as_numbers = [float("inf") if cost is None else cost for cost in costs]
    assert as_numbers == sorted(as_numbers)
    last = max(n for n, cost in enumerate(costs) if cost == costs[0])
    assert found.minute == instants[last]
    assert found.with_it == costs[0]
    assert found.proven
    if last + 1 < len(costs):
        more = costs[last + 1]
        assert found.more == (None if more is None else pytest.approx(more - costs[0]))
    else:
        assert found.before is None


def test_the_tyre_is_in_time_until_the_wheel_goes_back_on():
    data, asked = tyre_asked_late()
    answer = plan(problem_from(without(data, asked)))
    found = last_moment(answer, problem_from(data), least_work)

    assert found.before.name == "wheel on"
    assert found.minute == next(step.start for step in answer.steps if step.name == "wheel on")
    assert found.more == 13.0  # the wheel once more: 6 off, 7 on, the gear still engaged
    assert found.at_the_end == 19.0  # and the lift: 3 up, 3 down


def test_from_any_minute_on_the_plan_ends_when_it_would_have():
    """While the oil runs, half-way through a step, between two: following on is best, so nothing is lost."""
    problem = problem_from(plain_example())
    answer = plan(problem)
    for minute in (0.0, 1.0, 3.3, 9.0, 14.5, 20.0, 36.5, 41.9):
        here = snapshot_at(problem, answer.steps, minute)
        rest = plan(here.problem)
        assert minute + rest.finish_minutes == pytest.approx(answer.finish_minutes), minute
        assert here.spent + rest.attended_minutes == pytest.approx(answer.attended_minutes), minute


def test_what_should_come_after_the_job_is_begun_only_after_the_answer():
    """The lamp waits for an answer; closing the oil is to come after it, though they share no access."""
    data = plain_example()
    data["operations"].append(
        {"name": "lamp", "minutes": 9, "job": "lamp", "needs": {}, "sets": {}}
    )
    fill = next(o for o in data["operations"] if o["name"] == "fill and close")
    answer = plan(problem_from(without(data, "lamp")))
    fill["after"] = [*fill["after"], "lamp"]
    found = last_moment(answer, problem_from(data), least_work)

    assert (found.before.name, found.out_of_turn, found.more) == ("fill and close", True, 0.0)
    assert found.minute == next(s.start for s in answer.steps if s.name == "fill and close")


def test_two_technicians_are_told_the_same_moment():
    data, asked = tyre_asked_late()
    data["technicians"] = [{"name": "A"}, {"name": "B"}]
    answer = plan(problem_from(without(data, asked)))
    found = last_moment(answer, problem_from(data), least_work)
    assert (found.before.name, found.more, found.proven) == ("wheel on", 13.0, True)
