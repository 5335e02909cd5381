"""The drawings of the build sheet: one for every block, none of what is not there, each inside its field."""

import re

from witnessmark.book import build
from witnessmark.charts.build import drawn, picture
from witnessmark.charts.parts import HEIGHT, WIDTH


def names() -> tuple[set[str], set[str]]:
    """What is drawn of the blocks on offer: each block, and each choice of each option."""
    blocks, choices = set(), set()
    for slot in build.asked():
        kind = next(iter(slot.blocks.values())).parent.name
        for block in build.blocks_of(slot):
            blocks.add(f"{kind}/{block.name}")
            choices |= {
                f"{kind}/{block.name}/{option.name}/{choice}"
                for option in block.options
                for choice in option.choices
            }
    return blocks, choices


def test_every_block_has_its_drawing_and_no_drawing_is_of_nothing():
    blocks, choices = names()
    assert blocks - drawn() == set()
    assert drawn() - blocks - choices == set()


def test_a_drawing_stays_in_its_field_and_is_passed_over_when_read_out():
    for name in drawn():
        svg = picture(name)
        assert 'aria-hidden="true"' in svg, name
        assert "<title>" not in svg, name
        numbers = re.findall(r'\b(x1|x2|cx|x|y1|y2|cy|y)="(-?[\d.]+)"', svg)
        numbers += [("x", x) for x in re.findall(r"[ML](-?[\d.]+) ", svg)]
        for axis, value in numbers:
            most = WIDTH if "x" in axis else HEIGHT
            assert 0 <= float(value) <= most, (name, axis, value)
    assert picture("engine/none") == ""
