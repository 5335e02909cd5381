"""`kill -9` of worker and master with requests under way: nothing lost, nothing doubled."""

from __future__ import annotations

import threading
from collections import Counter

from tests.model.books import Book
from tests.model.server import Workshop
from tests.model.visit import Offer, arrive, offers
from tests.model.web import Browser, Page, Sent, Unanswered, same_answer

JOBS = ["gearbox_oil", "rear_balance", "brake_wear", "ride_after"]
BOOK = Book("sistrel_m12")
# Acts that any state of the visit accepts, so that each must be stored.
KINDS = ("note", "found", "done", "note")


class Poster(threading.Thread):
    """Somebody who sends act after act, each again until it is answered, until told to stop."""

    def __init__(self, shop: Workshop, person: Browser, visit: str, stop: threading.Event) -> None:
        super().__init__(daemon=True)
        self.shop, self.person, self.visit, self.stop = shop, person, visit, stop
        self.answered: list[tuple[Sent, str, str, Page]] = []  # request, ticket, words, answer
        self.sent_again = 0
        self.under_way = threading.Event()
        self.fault: BaseException | None = None

    def run(self) -> None:
        try:
            while not self.stop.is_set():
                self._act(len(self.answered))
        except BaseException as fault:  # noqa: BLE001 - told by the test, in its own thread
            self.fault = fault
            self.stop.set()
        finally:
            self.under_way.set()

    def _act(self, number: int) -> None:
        kind = KINDS[number % len(KINDS)]
        page = self._until(lambda: self.person.get(f"/visits/{self.visit}/bench/"))
        offer = next((one for one in offers(page, BOOK) if one.kind == kind), None)
        if offer is None:  # no card is left: a note can always be written
            return
        words = f"{self.person.name} {self.visit} {number}"
        sent = self.person.fill(offer.form, _typed(offer, words), offer.button)
        self.under_way.set()
        answer = self._until(lambda: self.person.post(sent))
        assert answer.status < 500, f"{kind}: {answer.status}\n{self.shop.tail()}"
        self.answered.append((sent, offer.form.value("entry_id"), words, answer))

    def _until(self, ask) -> Page:
        while True:
            try:
                return ask()
            except Unanswered:
                self.sent_again += 1
                self.shop.until_it_answers()


def _typed(offer: Offer, words: str) -> dict[str, str]:
    if offer.kind == "done":
        return {}
    return {f"{offer.kind}-text": words}


def crash(shop: Workshop, people: list[Browser], kills: int) -> None:
    """Kill worker or master so many times while people send acts; then hold all against the store."""
    # two at one machine, and one of them at another as well
    visits = [arrive(people[0], f"{name}-{kills}", BOOK.title, JOBS) for name in ("KA", "KB")]
    at = [(people[0], visits[0]), (people[1], visits[0]), (people[1], visits[1])]
    before = {one["id"] for one in shop.entries()}
    stop = threading.Event()
    posters = [Poster(shop, person, visit, stop) for person, visit in at]
    for one in posters:
        one.start()
    for number in range(kills):
        poster = posters[number % len(posters)]
        poster.under_way.clear()
        while not poster.under_way.wait(timeout=1) and not stop.is_set():
            pass  # until a request is being sent
        if stop.is_set():
            break
        if number % 3 == 2:
            shop.kill_master()
        else:
            shop.kill_worker(number)
    stop.set()
    for one in posters:
        one.join()
        assert one.fault is None, one.fault
    _all_is_there(shop, posters, before)


def _all_is_there(shop: Workshop, posters: list[Poster], before: set[str]) -> None:
    """Each act that was answered as stored is there once; each sent again changes nothing."""
    entries = shop.entries()
    there = Counter(one["id"] for one in entries)
    assert max(there.values()) == 1
    tickets = {ticket for one in posters for _, ticket, _, _ in one.answered}
    lost = [
        (said, answer.told)
        for one in posters
        for sent, ticket, said, answer in one.answered
        if answer.status == 200 and ticket not in there
        # a step that another has done meanwhile may be refused, in words
        if "-text" in str(sent.fields) or not answer.told
    ]
    assert not lost, f"told as stored, and not there: {lost}"
    words = Counter(str(one["body"].get("text", "")) for one in entries)
    doubled = [said for one in posters for _, _, said, _ in one.answered if words[said] > 1]
    assert not doubled, f"stored twice: {doubled}"
    nobodys = [
        (one["kind"], one["body"])
        for one in entries
        if one["id"] not in before and one["id"] not in tickets
        if one["kind"] not in {"read", "gate_passed"}
    ]
    assert not nobodys, f"nobody sent: {nobodys}"
    for one in posters:
        for sent, ticket, said, first in one.answered:
            again = one.person.post(sent)
            assert same_answer(first, again) or ticket not in there, (
                f"{said}: {first.told}, and then {again.told}"
            )
    assert Counter(one["id"] for one in shop.entries()) == there
    told = shop.told("verify")
    assert told.returncode == 0, told.stdout + told.stderr
    assert sum(one.sent_again for one in posters), "no kill met a request: nothing was tried"
