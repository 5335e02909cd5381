"""What holds of every answer of a calculator, and of every refusal."""

import re
from xml.etree import ElementTree as ET

from witnessmark.calculators import Calculated
from witnessmark.errors import WitnessError

SVG = "{http://www.w3.org/2000/svg}"


def sound(answer: Calculated) -> None:
    """A sentence, its formula, what was understood, its source; a picture that stands as XML."""
    assert answer.said.strip().endswith((".", "?"))
    assert answer.formula.strip()
    assert answer.source.strip()
    assert all(label and text for label, text in (*answer.lines, *answer.put_in))
    ours = " ".join([answer.said, *(text for _, text in answer.lines)])
    ours = re.sub(r"“[^”]*”", "", ours)  # what was typed may say anything
    assert not re.search(r"\b(nan|inf|None)\b", ours), ours
    if answer.picture is not None:
        root = ET.fromstring(answer.picture)
        assert root.tag == f"{SVG}svg"
        assert root.find(f"{SVG}title").text
        allowed = {"svg", "title", "g", "line", "path", "rect", "circle", "polygon", "polyline", "text",
                   "tspan", "ellipse", "desc"}  # fmt: skip
        assert {one.tag.removeprefix(SVG) for one in root.iter()} <= allowed
        assert not any("style" in one.attrib for one in root.iter())


def told(errors, texts):
    """Each at a field of the form, with what is wrong and what would be right."""
    assert errors
    for error in errors:
        assert isinstance(error, WitnessError)
        assert error.place in texts, error
        assert error.problem
        assert error.expected
