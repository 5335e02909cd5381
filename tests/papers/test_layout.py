"""No paper prints one word over another, whatever the longest text of a book, or of somebody who typed it."""

from collections.abc import Iterator
from datetime import date
from itertools import combinations

import pypdfium2 as pdfium
import pytest
from django.utils import translation
from django.utils.translation import gettext

from witnessmark.book import archetypes, load_book
from witnessmark.papers import (
    CallBack,
    EstimatePaper,
    JobCard,
    Paper,
    RoadTest,
    ServiceRecord,
    SignedOverride,
    pdf,
)
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
    SignedOff,
)

BOOKS = [load_book(path) for path in archetypes().values()]
TYPED = "Unbroken" * 8  # no space to break it at


def longest(table: str, language: str) -> str:
    """The longest text of one kind in all books, in a language."""
    words = [
        (book.translations.get(language, {}).get(text, text))
        for book in BOOKS
        for one in getattr(book, table).values()
        for text in (one.text, *getattr(one, "choices", ()))
    ]
    return max(words, key=len)


def step(language: str) -> str:
    every = [s for b in BOOKS for j in b.jobs.values() for s in j.operations.values()]
    return max(
        (b.translations.get(language, {}).get(s.text, s.text) for b in BOOKS for s in every),
        key=len,
    )


def choices(language: str) -> str:
    """The choices of the reading that has most to say, as its limits are printed."""
    every = [(b, r) for b in BOOKS for r in b.readings.values()]
    said = [
        " / ".join(b.translations.get(language, {}).get(c, c) for c in r.choices) for b, r in every
    ]
    return max(said, key=len)


def forms(language: str) -> Iterator[Paper]:
    job, fastener, reading = (longest(one, language) for one in ("jobs", "fasteners", "readings"))
    figure, caution, work = (
        longest("figures", language),
        longest("cautions", language),
        step(language),
    )
    torque, source = (
        "27,1 N·m (20 lbf·ft) bis 33,9 N·m (25 lbf·ft)",
        "invented workshop manual, 3rd edition, p. 120",
    )
    who, when = "Bartholomew Featherstonehaugh", "29. November, 14:05 bis 30. November, 09:41"
    long = f"{job}; {work}; {fastener}"
    heading = Heading(
        shop=f"{TYPED} Works", shop_lines=[job, source], owner=TYPED, owner_lines=[source, TYPED],
        machine=f"Invented {TYPED}", machine_lines=[TYPED, source, "38 240 km (23,761 mi)"], number="0042-12",
        printed=date(2026, 11, 25), day="25. November 2026", language=language, invented=True,
        head=f"412, {'3f9c0a1b' * 8}", book=job,
    )  # fmt: skip
    yield EstimatePaper(
        heading=heading, revision="10 von 12", net="123.456,00 €", total="146.912,64 €", total_words=long,
        lines=[PriceLine(text=text, why=long, parts=[(long, "12.345,00 €"), (TYPED, "1,00 €")], sum="1.234.567,00 €",
                         verdict=f"{job}, {when}") for text in (job, TYPED)],
        taxes=[(long, "23.456,64 €")], limit=long, notes=[long],
    )  # fmt: skip
    card = CardStep(
        number=88, starts="12:05", text=work, place=fastener, job=job, first=[work, work], does=[caution, TYPED],
        figures=[CardFigure(what=f"{fastener} × 12, {figure}", value=torque, also=torque, source=source)] * 2,
        says=[(figure, caution, source)], reads=[(reading, choices(language), choices(language)), (reading, TYPED, "")],
        cautions=["A", "AB"], waits=caution, done=f"{when} {who}",
    )  # fmt: skip
    yield JobCard(
        heading=heading, attended="12 h 05", finish="12 h 05", proof=f"best found; {job}", complaint=long,
        kit=[(fastener, [job, long, TYPED])], cautions=[("A", caution)],
        answers=[(long, long, who), (TYPED, TYPED, TYPED)], before=[card],
        steps=[card, card.model_copy(update={"figures": []})],
    )  # fmt: skip
    lines = [
        SheetLine(text=work, limit=choices(language), found=found)
        for found in ("", reading, TYPED, long)
    ]
    yield RoadTest(
        heading=heading, cautions=[caution], complaint=long, odometer="38 240 km (23,761 mi)",
        odometer_after="38 312 km (23,806 mi)",
        sections=[Section(title=work, note=f"{job}, {when} {who}", lines=lines)], stops=[long, TYPED],
        open_for_ride=[long], verdict="",
    )  # fmt: skip
    rows = [(f"{reading}, 8 ({work})", choices(language), choices(language), f"über der Grenze von {torque}"),
            (TYPED, TYPED, TYPED, TYPED),
            (reading, torque, f"mindestens {torque}, höchstens {torque}", work)]  # fmt: skip
    read = [
        PaperReading(what=what, value=value, limit=limit, verdict=verdict)
        for what, value, limit, verdict in rows
    ]
    mark = PaperMark(
        fastener=f"{fastener}, 1, 2, 3, 4, 5, 6, 7 von 8", figure=torque, reached=f"{torque} am Schlüssel, {torque}",
        wrench=f"{who}, {source}", who=who, when=when, source=source, proven=False, note=job,
    )  # fmt: skip
    yield ServiceRecord(
        heading=heading, arrived=when, handed_back=f"{when}, {who}", facts=[(fastener, long), (job, TYPED)],
        done=[Done(text=job, state="partly done", words=long, lines=[long, TYPED], proven=True),
              Done(text=TYPED, state="not done", words=TYPED)],
        marks=[mark, mark.model_copy(update={"fastener": TYPED, "wrench": TYPED, "who": TYPED, "note": TYPED})],
        readings=read, codes=[(fastener, long), (job, TYPED)], corrections=[long], left_open=[long, TYPED],
        passed_by=[long], came_after=[long], second_looks=[long], findings=[long],
        next_due=[(long, when), (TYPED, f"{job}, {when}")], charge=[(long, "12.345,00 €"), (TYPED, "1,00 €")],
        charge_total="123.456,00 €", photos=12,
    )  # fmt: skip
    yield CallBack(
        heading=heading, handed_back=when, ride=caution, why=[long], found=caution,
        fasteners=[Doubtful(fastener=f"{text}, 4 von 5", safety=True, figure=torque, likely=torque, words=job)
                   for text in (fastener, TYPED)],
    )  # fmt: skip
    yield SignedOverride(
        heading=heading,
        kind="told and declined",
        items=[SignedOff(text=long, why=long, safety=True), SignedOff(text=TYPED)],
    )


Box = tuple[float, float, float, float]


def words(page: pdfium.PdfPage) -> Iterator[tuple[str, Box]]:
    """Every word, or its part on one line, with the box of its ink: left, bottom, right, top, in points."""
    text = page.get_textpage()
    letters = [(text.get_text_range(n, 1), text.get_charbox(n)) for n in range(text.count_chars())]
    said, boxes = "", []
    for letter, box in [*letters, (" ", (0, 0, 0, 0))]:
        apart = letter in " \r\n\ufffe" or (boxes and box[0] < boxes[-1][0] - 1)
        if apart and boxes:
            left, bottom, expected, top = zip(*boxes, strict=True)
            yield said, (min(left), min(bottom), max(expected), max(top))
        if apart:
            said, boxes = "", []
        if letter not in " \r\n\ufffe":  # the last: a hyphen at the end of a line
            said += letter
            boxes.append(box)


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes share more than an edge: neighbouring lines may touch."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return wide > 0.7 and high > 0.3 * min(one[3] - one[1], other[3] - other[1])


def printed_over(printed: bytes) -> list[str]:
    found = []
    document = pdfium.PdfDocument(printed)
    for page in document:
        width = page.get_width()
        every = list(words(page))
        found += [
            f"{a} over {b}" for (a, at), (b, there) in combinations(every, 2) if overlap(at, there)
        ]
        found += [
            f"{word} beyond the page" for word, box in every if box[0] < 20 or box[2] > width - 20
        ]
    return found


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_word_is_printed_over_another_or_beyond_the_page(language):
    with translation.override(language):
        found = {type(form).__name__: printed_over(pdf(form, gettext)) for form in forms(language)}
    assert {name: faults for name, faults in found.items() if faults} == {}
