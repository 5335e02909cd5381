"""People at one machine: what they send, what they are told, and whether the store keeps its word."""

from __future__ import annotations

import re
import threading
import uuid
from collections.abc import Iterable
from typing import Any

from tests.model.books import Book
from tests.model.expected import Expected
from tests.model.log import OPEN, Told
from tests.model.model import Model
from tests.model.server import Workshop
from tests.model.visit import (
    Act,
    Offer,
    arrive,
)
from tests.model.web import Browser, Control, Form, Page, Sent, Unanswered, same_answer

MODELLED = (
    "fastener", "circuit", "renewal", "condition", "reading", "outside", "thread", "secured",
    "wont", "finding", "job", "walk round", "second look", "ride",
)  # fmt: skip
ONE_OF = re.compile(r"(.*), \d+ of \d+: ")
HELD = re.compile(r"Not to be (ridden|started|set on its wheels)")
OPEN_NOW = re.compile(r"^Open now: (\d+)(?:, \d+ for safety)?$", re.MULTILINE)
FORBIDDEN = 403  # its page says who may
TRIES_AFTER_A_KILL = 20


class Broken(AssertionError):  # noqa: N818 - a promise, not an error of the test
    """The program did not do what the design says."""


class Bench(Expected):
    """One visit at the bench, the people, their pages of any age, and the model of it all."""

    def __init__(
        self, workshop: Workshop, people: list[Browser], book: str, jobs: list[str]
    ) -> None:
        self.workshop, self.people, self.book = workshop, people, Book(book)
        self.story: list[str] = []
        self.broken = False
        self.told_meanwhile = 0
        plate = f"MB-{uuid.uuid4().hex[:8]}"
        self.visit = arrive(people[0], plate, self.book.title, jobs)
        self.model = Model(self.book, jobs, {"engine": "cold"})
        self.pages: dict[str, list[tuple[Page, frozenset[int]]]] = {one.name: [] for one in people}
        self.known = {one["id"] for one in workshop.entries(self.visit)}
        self.history: list[Act] = []
        self.taps = 0
        self.authors: dict[str, str] = {}
        self.places: dict[int, tuple[str, int]] = {}  # of the log: device and its sequence
        self.unmodelled: set[str] = set()

    def at(self, page: str = "bench/") -> str:
        return f"/visits/{self.visit}/{page}"

    def fail(self, words: str) -> None:
        self.broken = True
        told = "\n".join(self.story[-60:])
        raise Broken(f"{words}\n\nwhat happened on {self.visit} ({self.book.title}):\n{told}")

    def aware(self) -> frozenset[int]:
        """All there is to know: what a page fetched now shows."""
        return frozenset(range(len(self.model.log)))

    def look(self, person: Browser, path: str = "") -> Page:
        page = self._answered(lambda: person.get(path or self.at()))
        self._keep(person, page)
        if page.status != 200:
            self.fail(f"{person.name} looks at {page.url}: {page.status}\n{self.workshop.tail()}")
        return page

    def _keep(self, person: Browser, page: Page) -> None:
        if page.status >= 500:
            self.fail(f"{page.url} answered {page.status}\n{self.workshop.tail()}")
        if f"/visits/{self.visit}/" in page.path:
            kept = self.pages[person.name]
            kept.append((page, self.aware()))
            del kept[:-8]

    def _answered(self, ask: Any) -> Page:
        for _ in range(TRIES_AFTER_A_KILL):
            try:
                answer: Page = ask()
            except Unanswered:
                self.workshop.until_it_answers()
            else:
                return answer
        raise Broken(f"no answer any more: {self.workshop.tail()}")

    def send(
        self,
        person: Browser,
        offer: Offer,
        typed: dict[str, Any],
        meaning: dict[str, Any],
        aware: frozenset[int],
        kill: Any = None,
    ) -> Act:
        """Send the offer as a person would; what came of it is held against the model."""
        sent = person.fill(offer.form, typed, offer.button)
        if before := self._sent_before(offer.form.value("entry_id")):
            return self._ticket_again(person, before, sent, offer)
        act = Act(offer.kind, sent, meaning, offer.form.value("entry_id"), aware)
        self.story.append(f"{person.name}: {offer.kind} {offer.card} {meaning}")
        before = len(self.model.log)
        if kill:
            self._post_and_kill(person, sent, kill)
        act.answer = self._answered(lambda: person.post(sent))
        self._settle(person, act)
        self._insist(person, act)
        if act.stored:
            self.history.append(act)
        words = act.answer.told or ("" if act.stored else _faults(act.answer))
        self.story.append(
            f"    {act.answer.status} {'stored' if act.stored else 'NOT stored'} {words}"
        )
        # the page that came back shows what is there now
        self._keep(person, act.answer)
        self.check(act.answer)
        assert len(self.model.log) >= before
        return act

    def _insist(self, person: Browser, act: Act) -> None:
        """Told what happened meanwhile, every other one says: record it all the same."""
        again = _all_the_same(act.answer) if act.answer else None
        self.told_meanwhile += bool(again)
        if again is None or act.stored or self.told_meanwhile % 2:
            return
        form, button = again
        self.story.append(f"    {act.answer.status}: told what happened; all the same")
        act.sent = person.fill(form, {}, button)
        act.ticket = form.value("entry_id") or act.ticket
        act.aware = self.aware()
        act.meaning["odd"] = True  # it may ask again what it finds not ready
        act.answer = self._answered(lambda: person.post(act.sent))
        self._settle(person, act)

    def _post_and_kill(self, person: Browser, sent: Sent, kill: Any) -> None:
        """Send it while the server is killed; whether it was answered, nobody minds."""

        def post() -> None:
            try:
                person.post(sent)
            except Unanswered:
                self.story.append("    (no answer)")

        sending = threading.Thread(target=post)
        sending.start()
        kill()
        sending.join()
        self.story.append("    (killed, sent again)")

    def _sent_before(self, ticket: str) -> Act | None:
        return next((one for one in self.history if one.ticket == ticket), None)

    def _ticket_again(self, person: Browser, before: Act, sent: Sent, offer: Offer) -> Act:
        """A page sent from twice: to the letter it is the same act; else it is told in words."""
        if sent.fields == before.sent.fields:
            self.resend(person, before)
            return before
        self.story.append(f"{person.name}: {offer.kind} from a form that was sent before")
        answer = self._answered(lambda: person.post(sent))
        self._keep(person, answer)
        if new := self._new():
            self.fail(f"one ticket, stored twice: {[(one['kind'], one['body']) for one in new]}")
        if not (answer.told or _faults(answer) or _meanwhile(answer)):
            self.fail(f"other content under one ticket, and not a word: {answer.text[-1500:]}")
        self.check(answer)
        return Act(offer.kind, sent, {}, before.ticket, answer=answer)

    def resend(self, person: Browser, act: Act) -> None:
        """The same request to the letter: the same answer, and nothing new."""
        first = act.answer
        assert first
        self.story.append(f"{person.name}: again {act.kind} {act.meaning}")
        answer = self._answered(lambda: person.post(act.sent))
        self._keep(person, answer)
        new = self._new()
        if new:
            self.fail(f"sent twice, stored again: {[(one['kind'], one['body']) for one in new]}")
        if not same_answer(first, answer):
            self.fail(
                f"sent twice, answered otherwise: first {first.status} “{first.told}”, then"
                f" {answer.status} “{answer.told}”"
            )
        self.check(answer)

    def _new(self) -> list[dict[str, Any]]:
        return [one for one in self.workshop.entries(self.visit) if one["id"] not in self.known]

    def _settle(self, person: Browser, act: Act) -> None:
        new = self._new()
        must, may = self._expected(act)
        act.stored = bool(new)
        forbidden = self._must_be_refused(person, act)
        if not new:
            self._refused(act, forbidden)
            return
        if forbidden:
            self.fail(f"{act.kind} {act.meaning} was stored, but {forbidden}")
        if new[0]["id"] != act.ticket:
            self.fail(f"{act.kind}: the first entry is not the ticket {act.ticket}: {new}")
        left = list(new)
        for kind, body in must:
            match = next((one for one in left if _fits(one, kind, body)), None)
            if match is None:
                self.fail(
                    f"meant {kind} {body}; stored {[(one['kind'], one['body']) for one in new]}"
                )
            left.remove(match)
        for one in left:
            if not any(_fits(one, kind, body) for kind, body in may):
                self.fail(f"{act.kind} {act.meaning} also stored {one['kind']} {one['body']}")
        self._add(person, act, new)

    def _add(self, person: Browser, act: Act, new: list[dict[str, Any]]) -> None:
        self.taps += 1
        own = self.authors.setdefault(person.name, new[0]["author"])
        others = {one for name, one in self.authors.items() if name != person.name}
        for one in new:
            if one["author"] != own or own in others:
                self.fail(f"{one['kind']} of {person.name} is put down to somebody else")
            self.known.add(one["id"])
            before = self._came_after(act, one)
            for kind, body, name in self._told_as(act, one):
                told = Told(name, kind, person.name, one["device"], body, self.taps)
                self.places[len(self.model.log)] = (one["device"], one["seq"])
                self.model.add(told, before)
        if act.kind == "return":
            self.model.returned = True

    def _came_after(self, act: Act, entry: dict[str, Any]) -> frozenset[int]:
        """Places of the log this entry says it had seen: those its page showed."""
        seen = frozenset(
            at
            for at, (device, seq) in self.places.items()
            if device != entry["device"] and seq <= entry["seen"].get(device, 0)
        )
        shown = frozenset(at for at in act.aware if self.places[at][0] != entry["device"])
        if seen != shown:
            self.fail(f"{entry['kind']} says it had seen {sorted(seen)}; its page {sorted(shown)}")
        return seen

    def _refused(self, act: Act, forbidden: str) -> None:
        assert act.answer
        if not (forbidden or self._may_be_refused(act)):
            self.fail(
                f"{act.kind} {act.meaning} was refused for no reason: {act.answer.status}"
                f" {act.answer.told}\n{_faults(act.answer)}"
            )
        in_words = act.answer.told or _faults(act.answer) or _meanwhile(act.answer)
        if not in_words and act.answer.status != FORBIDDEN:
            self.fail(
                f"{act.kind} {act.meaning} was dropped without a word ({act.answer.status}):"
                f"\n{act.answer.text[-1500:]}"
            )

    def check(self, page: Page | None = None) -> None:
        """What the program says is open, against the model."""
        told = self.workshop.open_items(self.visit)
        model = self.model.items()
        self.unmodelled |= {one for one in told if not one.startswith(MODELLED)}
        if missing := {item for item, how in model.items() if how == OPEN} - told:
            self.fail(f"open, and not told: {sorted(missing)}")
        if extra := {one for one in told if one.startswith(MODELLED)} - set(model):
            self.fail(f"told as open, and closed: {sorted(extra)}")
        lines = self.workshop.open_lines(self.visit)
        if page and (said := OPEN_NOW.search(page.text)) and int(said[1]) != lines:
            self.fail(f"the page says “{said[0]}”; the store holds {sorted(told)}")

    def words_of(self, items: Iterable[str]) -> dict[str, str]:
        """What the store calls each of these open items, without how it stands."""
        rows = {
            one["item"]: one["words"] for one in self.workshop.rows("shop_openitemrow", self.visit)
        }
        found = {}
        for item in items:
            words = rows[item].removeprefix("second look: ")
            many = ONE_OF.match(words)
            found[item] = many[1] if many else words.rpartition(": ")[0] or words
        return found

    def _all_said(self, page: Page, items: Iterable[str], where: str) -> None:
        if missing := [
            item for item, words in self.words_of(items).items() if words not in page.text
        ]:
            self.fail(f"open, and not said {where}: {sorted(missing)}\n{page.text[:3000]}")

    def look_at_gates(self, person: Browser) -> None:
        """The card of a step at each gate, and hand-back, say all that surely holds them."""
        gated = {
            step.gate: step
            for step in self.book.steps.values()
            if step.gate and step.id not in self.over()
            if not step.job or step.job in self.model.jobs
        }
        for gate, step in gated.items():
            page = self.look(person, self.at(f"bench/?card={step.id}"))
            surely, perhaps = self.model.blocks(gate)
            self._all_said(page, surely, f"on the card of {step.id}")
            if HELD.search(page.text) and not surely | perhaps:
                self.fail(f"{step.id} is held for nothing: {page.text[:3000]}")
        page = self.look(person, self.at("handback/"))
        if not self.model.returned:
            surely, _ = self.model.blocks("hand-back")
            self._all_said(page, surely - {"walk round"}, "at hand-back")

    def over(self) -> set[str]:
        """The steps done or left out."""
        return {
            self.model.log[at].body["step"]
            for at in self.model.live()
            if self.model.log[at].kind in {"done", "skipped"}
        }


def _fits(entry: dict[str, Any], kind: str, body: dict[str, Any]) -> bool:
    if entry["kind"] != kind:
        return False
    for name, value in body.items():
        there = entry["body"].get(name)
        if isinstance(value, float) and isinstance(there, (int, float)):
            if abs(there - value) > 1e-6 * max(1, abs(value)):
                return False
        elif there != value:
            return False
    return True


def _meanwhile(page: Page) -> str:
    """What a page tells that records nothing, since something happened meanwhile."""
    return page.text.partition("Since your page was made")[2] if page.status == 409 else ""


def _all_the_same(page: Page) -> tuple[Form, Control] | None:
    """What a page offers that tells what happened meanwhile, and records nothing yet."""
    for form in page.forms:
        for button in form.buttons():
            if "anyway" in button.label:
                return form, button
    return None


def _faults(page: Page) -> str:
    """The words beside a field, and those of a refusal."""
    found = re.findall(
        r'class="(?:fault|message error)\b[^>]*>(.*?)</(?:p|div)>', page.html, re.DOTALL
    )
    return " · ".join(re.sub(r"<[^>]+>|\s+", " ", one).strip() for one in found)
