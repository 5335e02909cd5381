"""Each paper says what its form says, as text a search finds, in an archival PDF."""

from datetime import date
from io import BytesIO

import pikepdf
import pypdf
import pytest

from witnessmark.papers import CallBack, EstimatePaper, JobCard, Paper, RoadTest, ServiceRecord, pdf
from witnessmark.papers.contents import (
    CardFigure,
    CardStep,
    Done,
    Doubtful,
    Heading,
    PaperMark,
    PaperReading,
    PriceLine,
    Section,
    SheetLine,
)

HEADING = Heading(
    shop="Invented Works",
    owner="Robin Example",
    machine="Invented T9",
    number="V-0042",
    printed=date(2026, 11, 25),
    invented=True,
    head="3f9c0a",
    book="b7e044",
)


def estimate(**more: object) -> EstimatePaper:
    line = PriceLine(
        text="Final-drive oil",
        why="due by distance",
        parts=[("Labour 28 min", "39.20")],
        sum="45.10 EUR",
    )
    form = {
        "heading": HEADING,
        "revision": "2",
        "lines": [line],
        "net": "45.10 EUR",
        "taxes": [("Tax 19 %", "8.57")],
    }
    return EstimatePaper.model_validate({**form, "total": "53.67 EUR", **more})


FORMS: list[Paper] = [
    estimate(),
    JobCard(
        heading=HEADING,
        attended="110 min",
        finish="2 h 35",
        proof="proven shortest",
        saving="22 min saved",
        kit=[("Parts", ["Oil filter × 1"])],
        steps=[
            CardStep(
                number=1,
                starts="0:03",
                text="Crack the plug",
                figures=[CardFigure(what="Fill plug", value="20 N·m", source="p. 3")],
            )
        ],
    ),
    RoadTest(
        heading=HEADING,
        cautions=["Ride only where you may."],
        sections=[
            Section(
                title="Before the ride",
                lines=[SheetLine(text="Lever", found="firm"), SheetLine(text="Leaks")],
            )
        ],
        open_for_ride=["Oil level after the ride"],
    ),
    ServiceRecord(
        heading=HEADING,
        arrived="25 November 2026, 09:00",
        handed_back="25 November 2026, 16:00",
        done=[Done(text="Final-drive oil", state="done")],
        marks=[
            PaperMark(
                fastener="Rear wheel bolt 1 of 5",
                figure="60 N·m",
                reached="clicked at 60 N·m",
                wrench="W2",
                who="Kim",
                when="14:40",
                proven=False,
                note="tight, wrench unproven",
            )
        ],
        readings=[
            PaperReading(
                what="Rear pad", value="3.2 mm", limit="1.5 mm or more", verdict="within the limit"
            )
        ],
        left_open=["Horn: does not sound, owner told"],
        next_due=[("Final-drive oil", "58 240 km")],
    ),
    CallBack(
        heading=HEADING,
        handed_back="25 Nov 2026, 16:00",
        ride="Do not ride it until it has been looked at.",
        why=["a wrench was found wrong"],
        fasteners=[
            Doubtful(
                fastener="Rear wheel bolt 1 of 5",
                safety=True,
                figure="60 N·m",
                likely="54 N·m",
                words="too loose",
            )
        ],
        found="The wrench was found 11.1 % off.",
    ),
]
SAYS = [
    ["Estimate", "Final-drive oil", "53.67 EUR", "never higher", "Authorisation"],
    ["Job card", "Crack the plug", "20 N·m", "p. 3", "Oil filter × 1", "22 min saved"],
    ["Road-test sheet", "Ride only where you may.", "firm", "Oil level after the ride"],
    [
        "Service record",
        "clicked at 60 N·m",
        "wrench unproven",
        "3.2 mm",
        "Horn: does not sound",
        "58 240 km",
    ],
    [
        "bring your machine back",
        "Do not ride it",
        "safety-critical",
        "54 N·m",
        "too loose",
        "11.1 %",
    ],
]


def text_of(printed: bytes) -> str:
    return " ".join(
        " ".join(page.extract_text().split()) for page in pypdf.PdfReader(BytesIO(printed)).pages
    )


@pytest.mark.parametrize(
    ("form", "words"), list(zip(FORMS, SAYS, strict=True)), ids=lambda x: type(x).__name__
)
def test_paper_says_what_its_form_says(form: Paper, words: list[str]) -> None:
    """Every text is found in the printed file, with machine, owner, ledger head and the word that it is invented."""
    text = text_of(pdf(form))
    heading = [
        "Invented Works",
        "Robin Example",
        "Invented T9",
        "V-0042",
        "3f9c0a",
        "b7e044",
        "invented makers",
    ]
    assert [w for w in [*words, *heading] if w not in text] == []


@pytest.mark.parametrize("form", FORMS, ids=lambda form: type(form).__name__)
def test_paper_declares_itself_archival_and_is_the_same_twice(form: Paper) -> None:
    """PDF/A part 2, level a (ISO 19005-2) stands in its metadata, and printing again gives the same bytes."""
    printed = pdf(form)
    with pikepdf.open(BytesIO(printed)) as document, document.open_metadata() as said:
        assert (said["pdfaid:part"], said["pdfaid:conformance"]) == ("2", "A")
    assert pdf(form) == printed


def test_words_that_are_markup_elsewhere_print_as_they_are() -> None:
    """What a person typed is never taken for layout commands."""
    typed = "*bold* #strong[x] $x^2$ <label> \\ @ref // not a comment"
    line = PriceLine(text=typed, sum="1.00 EUR")
    assert typed in text_of(pdf(estimate(lines=[line])))


def test_a_letter_no_font_has_prints_as_its_code_point() -> None:
    """A paper prints whatever was typed: a letter that no font has shows as its code, never as nothing."""
    unassigned = "\U0003fffd"
    assert "Rob [U+3FFFD] in" in text_of(
        pdf(estimate(lines=[PriceLine(text=f"Rob\x07{unassigned} in", sum="1.00 EUR")]))
    )
