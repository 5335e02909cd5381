"""Tiny random problems of the whole planning model, in whole minutes: small enough to try
everything.
"""

from hypothesis import strategies as st

from witnessmark.planner import Problem, ProblemError, problem_from

STATES = ("a", "b", "c")
Draw = st.DrawFn


@st.composite
def problems(draw: Draw, *, plain: bool = False) -> Problem:
    """A problem that the form accepts; it may well have no plan.

    ``plain``: one technician and no clocks, shifts, skills, resources or work begun.
    """
    people = draw(st.integers(1, 2))
    conditions = {f"c{at}": _condition(draw) for at in range(draw(st.integers(1, 3)))}
    data = {
        "conditions": conditions,
        "never": [_combination(draw, conditions) for _ in range(_few(draw, 2))],
        "moves": _moves(draw, conditions, people),
        "operations": _operations(draw, conditions, people),
        "technicians": [_technician(draw, name) for name in "AB"[:people]],
        "resources": {"r": draw(st.integers(1, 3))},
        "horizon": draw(st.integers(9, 14)),
    }
    machines = {one["machine"] for one in data["operations"] if "machine" in one}
    data["due_by"] = {machine: draw(st.integers(0, 6)) for machine in sorted(machines)}
    if _rarely(draw):
        data["now"] = _now(draw, data)
    if plain:
        _make_plain(data)
    try:
        return problem_from(data)
    except ProblemError as refused:  # an honest problem is never refused: see what is
        raise AssertionError(f"{refused}: {data}") from refused


def _make_plain(data: dict) -> None:
    for key in ("now", "technicians", "resources"):
        data.pop(key, None)
    for condition in data["conditions"].values():
        for key in ("lapse", "age", "holds"):
            condition.pop(key, None)
    for step in data["moves"] + data["operations"]:
        step["hands"] = min(1, step.get("hands", 1))
        for key in ("skills", "uses", "release"):
            step.pop(key, None)


def _rarely(draw: Draw) -> bool:
    return draw(st.integers(0, 3)) == 3


def _few(draw: Draw, most: int) -> int:
    return draw(st.integers(0, most)) if _rarely(draw) else 0


def _some(draw: Draw, values: list[str] | tuple[str, ...], least: int, most: int) -> list[str]:
    most = min(most, len(values))
    chosen = draw(st.sets(st.sampled_from(values), min_size=min(least, most), max_size=most))
    return sorted(chosen)


def _condition(draw: Draw) -> dict:
    states = list(STATES[: draw(st.integers(2, 3))])
    condition: dict = {"states": states, "start": draw(st.sampled_from(states))}
    if draw(st.booleans()):
        condition["finish"] = draw(st.sampled_from(states)) if _rarely(draw) else condition["start"]
    if _rarely(draw):
        at = draw(st.integers(0, len(states) - 2))
        condition["lapse"] = {
            states[at]: {
                "after": draw(st.integers(1, 6)),
                "to": draw(st.sampled_from(states[at + 1 :])),
            }
        }
        if _rarely(draw):
            condition["lapse"][states[-2]] = {"after": draw(st.integers(1, 3)), "to": states[-1]}
        condition["age"] = draw(st.integers(0, 3))
    if _rarely(draw):
        condition["holds"] = {s: {"r": draw(st.integers(1, 2))} for s in _some(draw, states, 1, 2)}
    if _rarely(draw):
        condition["exposed"] = _some(draw, states, 1, 2)
    return condition


def _combination(draw: Draw, conditions: dict) -> dict:
    names = _some(draw, sorted(conditions), 1, 2)
    return {name: _some(draw, conditions[name]["states"], 1, 1) for name in names}


def _step(draw: Draw, name: str, conditions: dict, people: int) -> dict:
    minutes = draw(st.sampled_from((1, 2, 3, 0)))
    step: dict = {"name": name, "minutes": minutes, "needs": {}, "sets": {}}
    least = 0 if step["minutes"] else 1
    step["unattended"] = max(least, draw(st.integers(-3, 3)))
    for condition in _some(draw, sorted(conditions), draw(st.integers(0, 1)), 2):
        states = conditions[condition]["states"]
        step["needs"][condition] = _some(draw, states, 1, len(states) - 1)
    if not minutes:  # whether an attended part of no length takes anybody is left open
        step["hands"] = 0
    elif _rarely(draw):
        step["hands"] = draw(st.integers(0, people))
    if _rarely(draw) and minutes:
        step["skills"] = _some(draw, ("brakes", "welding"), 0, 1)
    if _rarely(draw):
        step["uses"] = {"r": draw(st.integers(1, 2))}
    return step


def _moves(draw: Draw, conditions: dict, people: int) -> list[dict]:
    """There and back for every condition, and sometimes another move or one less."""
    moves = []
    for condition, described in conditions.items():
        there, back = described["states"][:2]
        for old, new in ((there, back), (back, there)):
            step = _step(draw, f"{condition} {old} to {new}", conditions, people)
            moves.append(step | {"sets": {condition: new}})
            step["needs"].pop(condition, None)
    if _rarely(draw):
        del moves[draw(st.integers(0, len(moves) - 1))]
    return moves + [_move(draw, conditions, people, at) for at in range(_few(draw, 2))]


def _move(draw: Draw, conditions: dict, people: int, at: int) -> dict:
    step = _step(draw, f"m{at}", conditions, people)
    for condition in _some(draw, sorted(conditions), 1, 2 if _rarely(draw) else 1):
        step["sets"][condition] = draw(st.sampled_from(conditions[condition]["states"]))
    return step


def _operations(draw: Draw, conditions: dict, people: int) -> list[dict]:
    operations: list[dict] = []
    for at in range(draw(st.integers(1, 4))):
        step = _step(draw, f"o{at}", conditions, people)
        for condition in _some(draw, sorted(conditions), 0, 1):
            step["sets"][condition] = draw(st.sampled_from(conditions[condition]["states"]))
        if operations and _rarely(draw):
            step["after"] = _some(draw, [one["name"] for one in operations], 1, 2)
        if _rarely(draw):
            step["release"] = draw(st.integers(1, 5))
        for key in ("job", "place", "machine"):
            if _rarely(draw):
                step[key] = draw(st.sampled_from("xy"))
        operations.append(step)
    return operations


def _technician(draw: Draw, name: str) -> dict:
    technician: dict = {"name": name}
    if _rarely(draw):
        technician["skills"] = _some(draw, ("brakes", "welding"), 0, 2)
    if _rarely(draw):
        first = draw(st.integers(3, 8))
        technician["shifts"] = [[0, first]]
        if draw(st.booleans()):
            technician["shifts"].append([first + 1, first + draw(st.integers(2, 6))])
    return technician


def _now(draw: Draw, data: dict) -> dict:
    states = {
        name: draw(st.sampled_from(data["conditions"][name]["states"]))
        for name in _some(draw, sorted(data["conditions"]), 0, 2)
    }
    ages = (
        {name: draw(st.integers(0, 3)) for name in _some(draw, sorted(states), 0, 1)}
        if states
        else {}
    )
    now: dict = {"states": states, "ages": ages, "done": [], "running": []}
    first, *others = data["operations"]
    if others and draw(st.booleans()):
        now["done"] = [first["name"]]
    if draw(st.booleans()):
        step = draw(st.sampled_from(data["moves"] + others))
        attended = draw(st.integers(0, step["minutes"]))
        left = {"name": step["name"], "minutes": attended, "unattended": step["unattended"]}
        left["technicians"] = ["A", "B"][: step.get("hands", 1)] if attended else []
        if attended + step["unattended"]:
            now["running"] = [left]
    return now
