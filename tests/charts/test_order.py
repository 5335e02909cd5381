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
