"""Acts of people at a bench: a form that a page offers, filled in as it asks."""

from __future__ import annotations

import re
from typing import Any

from tests.model.bench import Bench
from tests.model.visit import Act, Offer, readings_asked, value_for
from tests.model.web import Browser

UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
SHORT_WAIT, AFTER_ALL, LOOSE = "short-wait", "after-all", "loose-because"


class Acts(Bench):
    """A bench whose people know how its forms are filled in."""

    def mark(self, person: Browser, offer: Offer, aware: frozenset[int], kill: Any = None) -> Act:
        assert offer.button
        parts = offer.button.value.split("/")
        mark = {"fastener": parts[0], "index": int(parts[1]), "outcome": "ok"}
        typed, field = {}, f"reached-{parts[0]}"
        if field in offer.form.names:
            figure = self.book.table("fasteners")[parts[0]]["figure"]
            typed[field] = self.book.table("figures")[figure]["value"].split()[0]
        return self.send(
            person,
            offer,
            typed,
            {"card": offer.card, "along": offer.along, "mark": mark},
            aware,
            kill,
        )

    def done(
        self, person: Browser, offer: Offer, aware: frozenset[int], how: str, kill: Any = None
    ) -> Act:
        readings, typed, odd = {}, {}, False
        for reading, place, name in readings_asked(offer.form):
            value = value_for(self.book, reading, how, offer.form, name)
            readings[reading, place] = value
            typed[name] = None if value is None else str(value)
            if value is None and any(
                one.name == name and one.kind not in {"radio", "checkbox"}
                for one in offer.form.controls
            ):
                typed[name] = ""
            odd |= how in {"absurd", "no number", "missing"}
        meaning = {"card": offer.card, "along": offer.along, "readings": readings, "odd": odd}
        for one in offer.form.asked():
            if one.name == SHORT_WAIT:
                typed[one.name] = "it ran dry before"
        if answered := [one.value for one in offer.form.controls if one.name == AFTER_ALL]:
            typed[AFTER_ALL] = answered
        early = offer.kind == "over" and SHORT_WAIT not in typed
        loose = bool(offer.button and offer.button.label.startswith("Go on,"))
        meaning["odd"] |= early or loose
        act = self.send(person, offer, typed, meaning, aware, kill)
        if early and not act.stored and act.answer:
            return self._say_why(
                person, act, "Wait over", "over", SHORT_WAIT, "it ran dry", odd=False
            )
        if loose and not act.stored and act.answer:
            return self._say_why(person, act, "Go on,", "done", LOOSE, "no nut yet", odd=odd)
        return act

    def _say_why(
        self, person: Browser, act: Act, label: str, kind: str, field: str, why: str, *, odd: bool
    ) -> Act:
        """The answer asks why it was long enough (nobody waits in a test), or why one goes on loose: it is told."""
        assert act.answer
        for form in act.answer.forms:
            button = next((one for one in form.buttons() if one.label.startswith(label)), None)
            if button and field in form.names:
                offer = Offer(kind, form, button, act.meaning["card"])
                meaning = {**act.meaning, "odd": odd}
                return self.send(person, offer, {field: why}, meaning, self.aware())
        return act

    def other(self, person: Browser, offer: Offer, aware: frozenset[int], pick: int = 0) -> Act:
        """It cannot be done, found, note, skip, undo, and what hand-back offers, filled as it asks."""
        form, card = offer.form, offer.card
        words = f"words {len(self.history)}"
        typed: dict[str, Any] = {}
        meaning: dict[str, Any] = {"card": card, "body": {}}
        if offer.kind == "wont":
            whats = [one.value for one in form.controls if one.name == "wont-what"]
            typed = {"wont-what": whats[pick % len(whats)], "wont-safe_now": words}
            typed["wont-stops"] = [one.value for one in form.controls if one.name == "wont-stops"]
            meaning["body"] = {"step": card, "what": typed["wont-what"], "safe_now": words}
        elif offer.kind == "found":
            typed = {"found-text": words, "found-safety": "on" if pick % 2 else None}
            meaning["body"] = {"step": card, "text": words, "safety": bool(pick % 2)}
        elif offer.kind == "note":
            typed = {"note-text": words}
            meaning["body"] = {"text": words}
        elif offer.kind == "skip":
            typed = {"skip-reason": words}
            meaning["body"] = {"step": card, "reason": words}
        elif offer.kind == "undo":
            meaning["entries"] = self._taken_back(offer)
        elif offer.kind == "leave":
            typed = {"because": words}
            meaning["body"] = {"job": form.value("item").split("/")[1]}
        elif offer.kind == "close":
            typed, meaning = self._close(offer, words, pick)
        elif offer.kind == "return":
            counted = {"keys": "1", "odometer": "15010", "leaves": "ridden away"}
            typed = {name: value for name, value in counted.items() if name in form.names}
        elif offer.kind == "look":
            looks = [one.value for one in form.controls if one.name == "look"]
            typed = {"look": looks}
            meaning["body"] = {"items": looks}
        return self.send(person, offer, typed, meaning, aware)

    def _close(self, offer: Offer, words: str, pick: int) -> tuple[dict[str, Any], dict[str, Any]]:
        form = offer.form
        hows = [one.value for one in form.controls if one.name == "how"]
        item = form.value("item")
        if hows:
            how = hows[pick % len(hows)]
            body = {"how": how, "entry": item.split("/")[-1]}
            return {"how": how, "text": words}, {"card": "", "body": body, "kind": "settled"}
        body = {"text": words}
        if item.startswith("outside/"):
            body["reading"] = item.split("/")[1]
        return {"text": words}, {"card": "", "body": body, "kind": "found", "odd": True}

    def _taken_back(self, offer: Offer) -> list[str]:
        """All entries of the tap that the page names."""
        named = {
            found
            for one in offer.form.controls
            if one.name not in {"entry_id", "seen", "csrfmiddlewaretoken"}
            for found in UUID.findall(one.value)
        }
        taps = {one.tap for one in self.model.log if one.id in named}
        return [one.id for one in self.model.log if one.tap in taps]

    def undo_is_of_ours(self, offer: Offer) -> bool:
        return bool(self._taken_back(offer))
