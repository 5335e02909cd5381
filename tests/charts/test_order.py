"""The timeline shows who works when, and what is open or runs meanwhile, where the plan puts it."""

from xml.etree import ElementTree as ET

from tests.planner.page_example import plain_example
from witnessmark.charts.order import Bar, ChartRow, meanwhile, order_picture
from witnessmark.planner import plan, problem_from

SVG = "{http://www.w3.org/2000/svg}"
ROWS = [
    ChartRow("Work", (Bar(0, 30, "1"), Bar(30, 60, "2")), work=True),
    ChartRow("Engine oil drains", (Bar(5, 20, runs=True),)),
]


def drawn(rows, finish=60, **how):
    return ET.fromstring(order_picture("Timeline", rows, finish, **how))


def test_each_bar_stands_at_its_minutes_with_its_words_and_each_row_is_named():
    root = drawn(ROWS, width_px=608)  # ten pixels a minute, four at the edge
    boxes = [(float(b.get("x")), float(b.get("width"))) for b in root.iter(f"{SVG}rect")]
    assert boxes == [(4, 300), (304, 300), (54, 150)]
    dashed = [b.get("stroke-dasharray") is not None for b in root.iter(f"{SVG}rect")]
    assert dashed == [False, False, True]
    said = [text.text for text in root.iter(f"{SVG}text")]
    assert {"Work", "Engine oil drains", "1", "2", "0:00", "0:30", "1:00"} <= set(said)


def test_on_a_phone_everything_stays_within_its_width():
    root = drawn(ROWS, finish=480, width_px=340)
    assert root.get("width") == "340"
    for one in root.iter(f"{SVG}rect"):
        assert float(one.get("x")) + float(one.get("width")) <= 340


def test_what_the_work_opens_and_closes_has_a_row_and_what_does_not_change_has_none():
    example = plain_example()
    example["conditions"]["key"] = {"states": ["in", "out"], "start": "in"}
    problem = problem_from(example)
    answer = plan(problem)
    words = {"rear_wheel": ("Rear wheel", {"off": "taken off"}), "key": ("Key", {})}
    rows = meanwhile(
        problem, answer, words, {step.name: (step.name, "runs out") for step in answer.steps}
    )

    by = {step.name: step for step in answer.steps}
    [wheel] = [row for row in rows if row.name == "Rear wheel"]
    assert wheel.bars == (Bar(by["wheel off"].start, by["wheel on"].end, "taken off"),)
    assert "Key" not in {row.name for row in rows}
    running = {row.name for row in rows if row.bars[0].runs}
    assert running == {step.name for step in answer.steps if step.tail_end > step.end}


def test_what_a_bar_is_too_short_to_say_stands_beside_its_row():
    """Of several the first and the last; only what some bar of the row says needs no repeating."""
    short = tuple(
        Bar(n, n + 1, words) for n, words in enumerate(("open", "drawn down", "topped up"))
    )
    rows = [
        ChartRow("Reservoir", short),
        ChartRow("Seat", (Bar(0, 1, "off"), Bar(10, 40, "off"))),
        ChartRow("A name that leaves no room for its words", (Bar(0, 1, "upright on its stand"),)),
        ChartRow("Front brake reservoir", (Bar(0, 1, "open, drawn down to just above the port"),)),
    ]
    said = [text.text for text in drawn(rows, width_px=340).iter(f"{SVG}text")]
    want = {
        "Reservoir: open … topped up",
        "Seat",
        "off",
        rows[2].name,
        "Front brake reservoir: open",
    }
    assert want <= set(said)
