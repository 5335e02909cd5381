"""The timeline shows every step where the plan puts it."""

from xml.etree import ElementTree as ET

from witnessmark.charts import Bar, order_picture

SVG = "{http://www.w3.org/2000/svg}"
DRAWN = [
    Bar("Access", 1, 0, 3, 3),
    Bar("Final-drive oil", 2, 3, 5, 15),
    Bar("Brake fluid", 3, 5, 12, 12),
]


def test_every_lane_is_named_and_every_step_has_its_bar() -> None:
    """Three attended bars and one unattended, each lane labelled; nothing is fetched from anywhere."""
    svg = order_picture(DRAWN, width_px=800)
    root = ET.fromstring(svg)
    words = {text.text for text in root.iter(f"{SVG}text")}
    assert {"Access", "Final-drive oil", "Brake fluid", "1", "2", "3"} <= words
    bars = [p for p in root.iter(f"{SVG}path") if "bar" in (p.get("aria-roledescription") or "")]
    assert len(bars) == 4
    assert "href" not in svg


def test_same_plan_gives_the_same_picture_and_dark_differs() -> None:
    """The picture is a pure function of the plan and the theme."""
    assert order_picture(DRAWN) == order_picture(DRAWN) != order_picture(DRAWN, theme="dark")


def test_an_empty_plan_gives_an_empty_timeline() -> None:
    """Nothing to do is a picture with no bar, not an error."""
    assert "minutes from the start" in order_picture([])


def test_people_and_states_stand_with_the_jobs_and_narrow_names_stand_over_their_lanes():
    """Two technicians and a wheel that is off meanwhile, at the width of a phone."""
    from tests.planner.page_example import plain_example
    from witnessmark.charts import bars, people_bars, state_bars
    from witnessmark.planner import plan, problem_from

    data = plain_example()
    data["technicians"] = [{"name": "Ann"}, {"name": "Bo"}]
    data["operations"].append({"name": "lamp", "minutes": 20, "needs": {}, "sets": {}})
    problem = problem_from(data)
    answer = plan(problem)
    words = {"rear_wheel": ("Rear wheel", {"off": "taken off"}), "gear": ("Gear", {})}
    states = state_bars(problem, answer, words)

    [off] = [s for s in states if s.condition == "Rear wheel"]
    by = {step.name: step for step in answer.steps}
    assert (off.state, off.begin, off.end) == (
        "taken off",
        by["wheel off"].start,
        by["wheel on"].end,
    )
    svg = order_picture(
        bars(answer, {}, {}), people=people_bars(answer), states=states, width_px=350
    )
    said = "".join(ET.fromstring(svg).itertext())
    assert all(name in said for name in ("Ann", "Bo", "Access", "Rear wheel", "taken off"))
    assert float(ET.fromstring(svg).get("width")) <= 350
