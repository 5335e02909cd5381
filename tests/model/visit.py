"""What a person does on the pages of one visit, and what each act means by its words.

Forms are found by their place (`…/bench/confirm/`) and read by their labels and headings; what an
act *means* is what the person saw when acting, and never what a hidden field says.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import unquote, urlsplit

from tests.model.books import Book
from tests.model.web import Browser, Control, Form, Page, Sent

VISIT_IN_PATH = re.compile(r"/visits/([0-9a-f-]{36})/")
CARD = re.compile(r"[?&]card=([^&]+)")
GOOD_WORDS = ("all as it should be", "clean", "nothing", "none", "no codes")
UNTOUCHED = frozenset({"sign-out/", "look/"})


@dataclass
class Offer:
    """An act that a page offers: a form with one of its buttons."""

    kind: (
        str  # mark, done, wont, found, note, skip, undo, order, leave, close, look, walk, return …
    )
    form: Form
    button: Control | None
    card: str = ""  # the step in hand, by the words of its card
    along: tuple[str, ...] = ()  # what is confirmed with it


@dataclass
class Act:
    """Something sent, and what was meant by it."""

    kind: str
    sent: Sent
    meaning: dict[str, Any]
    ticket: str
    aware: frozenset[int] = field(
        default_factory=frozenset
    )  # of the model's log, when the page came
    answer: Page | None = None
    stored: bool = False


def where(form: Form) -> str:
    """`bench/confirm/` of `/visits/<id>/bench/confirm/`."""
    return VISIT_IN_PATH.split(form.path)[-1].lstrip("/")


def offers(page: Page, book: Book) -> list[Offer]:
    """All that can be sent from this page, but signing out and the look of the sheet."""
    found: list[Offer] = []
    if page.status != 200:  # what an answer offers is taken up at once, or not at all
        return found
    for form in page.forms:
        at = where(form)
        if form.method != "post" or at in UNTOUCHED:
            continue
        if at == "bench/confirm/":
            found += _card_offers(form, page, book)
        elif at.startswith(("bench/", "handback/")):
            kind = at.rstrip("/").split("/")[-1]
            buttons = [one for one in form.buttons() if not one.disabled]
            card, _ = _in_hand(page, book)
            found.append(Offer(kind, form, buttons[-1] if buttons else None, card))
    return found


def _card_offers(form: Form, page: Page, book: Book) -> list[Offer]:
    if over := _wait_over(form, book):
        return [over]
    card, along = _headed(form, page, book)
    found = []
    for button in form.buttons():
        if not button.name or button.disabled:
            continue
        kind = {"tight": "mark", "done": "done"}.get(button.name, button.name)
        if button.label.startswith("Start the wait"):
            kind = "begin"
        found.append(Offer(kind, form, button, card, along))
    return found


def _wait_over(form: Form, book: Book) -> Offer | None:
    """A wait that was begun: its form has no card, its button says what was waited for."""
    for button in form.buttons():
        if button.label.startswith("Wait over"):
            steps = [
                step.id
                for step in book.steps.values()
                if step.said.get("waits_for") and step.said["waits_for"] in button.label
            ]
            card = steps[0] if len(steps) == 1 else form.value("card")
            return Offer("over", form, button, card)
    return None


def _in_hand(page: Page, book: Book) -> tuple[str, tuple[str, ...]]:
    for form in page.forms:
        if where(form) == "bench/confirm/" and not _wait_over(form, book):
            return _headed(form, page, book)
    return "", ()


def _headed(form: Form, page: Page, book: Book) -> tuple[str, tuple[str, ...]]:
    """The step of a card and those confirmed along with it, by their headings."""
    title = next((words for tag, words in form.headings if tag == "h1"), "")
    steps = book.titled(title)
    asked = CARD.search(page.url)
    if len(steps) > 1 and asked and unquote(asked[1]) in steps:
        steps = [unquote(asked[1])]
    if len(steps) > 1:
        steps = [one for one in steps if book.all["jobs"][one.split("/")[0]]["text"] in form.words]
    assert len(steps) == 1, f"which step is the card “{title}”? {steps}"
    along = []
    for tag, words in form.headings:
        if tag == "h1":
            break
        if tag == "strong" and book.titled(words):
            along.append(book.titled(words)[0])
    return steps[0], tuple(along)


def cards(page: Page) -> list[str]:
    """The addresses of other cards, as the page lists them, each once."""
    found = []
    for address, _ in page.links:
        at = urlsplit(address)
        if "card=" in at.query and f"{at.path}?{at.query}" not in found:
            found.append(f"{at.path}?{at.query}")
    return found


# ---------------------------------------------------------------------- readings

READING = re.compile(r"^reading-(.+)-(\d+)$")


def readings_asked(form: Form) -> list[tuple[str, int, str]]:
    """(reading, place, name of its field), each once."""
    found: dict[str, tuple[str, int, str]] = {}
    for one in form.asked():
        if match := READING.match(one.name):
            found[one.name] = (match[1], int(match[2]), one.name)
    return list(found.values())


def value_for(book: Book, reading: str, how: str, form: Form, name: str) -> Any:  # noqa: PLR0911
    """What a person reads: good, bad (outside), absurd, words where a number belongs, missing."""
    about = book.table("readings")[reading]
    if how == "missing":
        return None
    if about["quantity"] == "words":
        choices = [one.value for one in form.controls if one.name == name]
        bad = [one for one in choices if one in about.get("bad", [])]
        good = [one for one in choices if one not in about.get("bad", [])]
        if not choices or not about.get("choices"):
            return "none"
        return bad[0] if how in {"bad", "absurd"} and bad else good[0]
    if how == "no number":
        return "abc"
    low, high = book.limits(reading)
    if how == "absurd":
        return round((low or high or 1) * 1000, 3)
    if how == "bad":
        return round(low * 0.5, 3) if low is not None else round((high or 1) * 2, 3)
    if low is not None and high is not None:
        return round((low + high) / 2, 3)
    return round(low * 1.1, 3) if low is not None else round((high or 1) * 0.9, 3)


# ---------------------------------------------------------------------- to the bench


def arrive(person: Browser, plate: str, title: str, jobs: list[str]) -> str:
    """Take a new machine in, agree jobs with its owner, take an order; the visit's id."""
    door = person.get("/arrive/")
    link = next(
        address for address, words in door.links if "book=" in address and words.startswith(title)
    )
    form = next(one for one in person.get(link).forms if one.path == "/arrive/" and one.asked())
    typed: dict[str, Any] = {
        "machine-plate": plate,
        "owner-name": f"Owner of {plate} (invented)",
        "odometer": "15000",
        "complaint": "",
        "may_ride": "yes",
    }
    typed.update({one.name: "cold" for one in form.controls if one.name == "state_engine"})
    known = {one.name for one in form.controls}
    page = person.post(person.fill(form, {k: v for k, v in typed.items() if k in known}))
    match = VISIT_IN_PATH.search(page.url)
    assert match, f"not taken in: {page.status} {page.told} {page.text[:2000]}"
    visit = match[1]
    _send(person, visit, "needs/", "needs/", {"job": jobs, "because": "asked for"})
    _send(person, visit, "price/", "price/offer/", {})
    _send(person, visit, "price/", "price/answers/", {"how": "in person"}, ("all", "yes"))
    take_order(person, visit)
    return visit


def take_order(person: Browser, visit: str) -> None:
    _send(person, visit, "order/", "order/take/", {})


def _send(
    person: Browser,
    visit: str,
    page: str,
    at: str,
    typed: dict[str, Any],
    button: tuple[str, str] | None = None,
) -> Page:
    shown = person.get(f"/visits/{visit}/{page}")
    if again := next((there for there, words in shown.links if words == "Look again"), None):
        shown = person.get(again)  # it was still being planned
    form = next((one for one in shown.forms if where(one) == at and one.method == "post"), None)
    assert form, f"no {at} on {shown.url}: {shown.text[:2000]}"
    pressed = next(
        (
            one
            for one in reversed(form.buttons())
            if button is None or (one.name, one.value) == button
        ),
        None,
    )
    answer = person.post(person.fill(form, typed, pressed))
    assert answer.status == 200, f"{at}: {answer.status} {answer.text[:2000]}"
    return answer
