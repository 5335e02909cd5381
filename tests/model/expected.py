"""What an act must store, what it may store besides, and when it must or may be refused."""

from __future__ import annotations

from typing import Any

from tests.model.books import Book
from tests.model.model import Model
from tests.model.visit import Act
from tests.model.web import Browser


class Expected:
    """What is expected of the acts on one visit."""

    book: Book
    model: Model

    def _expected(self, act: Act) -> tuple[list[Any], list[Any]]:  # noqa: PLR0911 - one for each kind
        """(kind, part of its body) that must be stored, each once; and what may be besides."""
        meant = act.meaning
        card = {"step": meant.get("card")}
        if act.kind == "mark":
            mark = meant["mark"]
            must = [
                ("tightened", {**card, "fastener": mark["fastener"], "index": mark["index"]}),
            ]
            whole = self._complete_with(meant["card"], mark)
            return must, [("done", {**card, "along": list(meant["along"])})] if whole else []
        if act.kind == "done":
            done = ("done", {**card, "along": list(meant["along"])})
            gate = self.book.steps[meant["card"]].gate
            may = [("gate_passed", {"gate": gate})] if gate else []
            return [*self._reads(meant), done], [*may, ("shown", {})]
        if act.kind == "over":
            return [*self._reads(meant), ("done", card)], []
        if act.kind == "begin":
            # what was done on the way is done now; the step itself when its wait is over
            gate = self.book.steps[meant["card"]].gate
            passed = [("gate_passed", {"gate": gate})] if gate else []
            return [*self._reads(meant), ("wait_begun", card)], [
                *passed,
                *(("done", {"step": one}) for one in meant["along"]),
            ]
        if act.kind == "undo":
            return [("corrected", {})], [("corrected", {})]
        kind = {
            "wont": "wont", "found": "found", "note": "noted", "skip": "skipped",
            "order": "plan_taken", "leave": "job_left", "walk": "walked_round", "look": "looked",
            "return": "returned", "close": meant.get("kind", "settled"),
        }.get(act.kind)  # fmt: skip
        if not kind:
            return [], []
        along = [("gate_passed", {"gate": "hand-back"}), ("odometer", {})]
        may = along if kind == "returned" else []
        return [(kind, meant.get("body", {}))], may

    def _reads(self, meant: dict[str, Any]) -> list[Any]:
        reads = []
        for (reading, place), value in meant["readings"].items():
            if value is not None:
                key = "words" if isinstance(value, str) else "value"
                body = {"step": meant["card"], "reading": reading, "index": place, key: value}
                if self.book.table("readings")[reading]["quantity"] == "words":
                    body.pop(key)
                    body["text"] = value
                reads.append(("read", body))
        return reads

    def _complete_with(self, step: str, mark: dict[str, Any]) -> bool:
        """Whether, with this mark, every proven fastener of the card has one of this round."""
        book, model = self.book, self.model
        read = {
            one.body["reading"]
            for at in model.live()
            if (one := model.log[at]).kind == "read" and one.body["step"] == step
        }
        if not read.issuperset(book.steps[step].names("readings")):
            return False
        wanted = {
            (fastener, place)
            for fastener in book.steps[step].names("tightens")
            if book.grade(fastener) == "proven"
            for place in range(1, book.count(fastener) + 1)
        }
        made = {(mark["fastener"], mark["index"])}
        for at in model.live():
            one = model.log[at]
            if one.kind == "done" and one.body["step"] == step and not model.gone_on(at, step):
                made = {(mark["fastener"], mark["index"])}
            elif one.kind == "tightened" and one.body["step"] == step:
                made.add((one.body["fastener"], one.body["index"]))
        return wanted <= made

    def _must_be_refused(self, person: Browser, act: Act) -> str:
        """Why this act may not be stored; empty where it may."""
        meant = act.meaning
        if act.kind in {"done", "begin"}:
            for (reading, place), value in meant.get("readings", {}).items():
                if value is None and not meant.get("cannot"):
                    return f"{reading} {place} was left empty"
                if value == "abc":
                    return f"{reading} {place} is no number"
        if act.kind == "done":
            for gate, (surely, _) in self._gates_of(meant):
                if surely and not meant.get("passed_by"):
                    return f"{gate} is blocked by {sorted(surely)}"
        if act.kind == "return":
            surely, _ = self.model.blocks("hand-back")
            if surely:
                return f"it is open: {sorted(surely)}"
        return ""

    def _gates_of(self, meant: dict[str, Any]) -> list[tuple[str, tuple[set[str], set[str]]]]:
        """The gates that a Done goes through, and what stands before each, once it comes to it."""
        steps = (*meant["along"], meant["card"])
        return [
            (gate, self.model.with_done(steps[:at]).blocks(gate))
            for at, step in enumerate(steps)
            if (gate := self.book.steps[step].gate)
        ]

    def _may_be_refused(self, act: Act) -> str:  # noqa: C901, PLR0911 - one for each reason
        meant = act.meaning
        if self.model.returned:
            return "it was handed back"
        if meant.get("odd"):
            return "it was filled in oddly"
        if act.kind in {"done", "begin"}:
            for gate, blocked in self._gates_of(meant):
                # a gate may ask for evidence of what the card would confirm along with it
                if any(blocked) or any(self.model.blocks(gate)):
                    return f"{gate} is blocked"
        if act.kind == "return" and any(self.model.blocks("hand-back")):
            return "it is open"
        if act.kind not in {
            "mark",
            "done",
            "begin",
            "over",
            "wont",
            "found",
            "note",
            "skip",
            "undo",
        }:
            return "what it is about may have gone"
        since = [one for at, one in enumerate(self.model.log) if at not in act.aware]
        if act.kind == "undo" and since:
            return "something happened since"
        taken = {one.person for one in self.model.log if one.id in meant.get("entries", ())}
        if act.kind == "undo" and taken != {act.sent.by}:
            return "a helper takes back only own work"
        about = {meant.get("card"), *meant.get("along", ())}
        if any(
            one.kind in {"corrected", "plan_taken"} or one.body.get("step") in about
            for one in since
        ):
            return "something happened to it since"
        return ""

    def _told_as(self, act: Act, entry: dict[str, Any]) -> list[tuple[str, dict[str, Any], str]]:
        """The model's entries for one stored entry; bodies are what was meant."""
        kind, body, name = entry["kind"], entry["body"], entry["id"]
        meant = act.meaning
        if kind == "done":
            along = list(meant["along"]) if act.kind in {"done", "mark"} else []
            if act.kind == "begin":
                steps = [*body["along"], body["step"]]
                return [("done", {"step": step}, f"{name}/{step}") for step in steps]
            return [
                *(("done", {"step": step}, f"{name}/{step}") for step in along),
                ("done", {"step": meant["card"]}, name),
            ]
        if kind == "tightened":
            return [(kind, {**meant["mark"], "step": meant["card"]}, name)]
        if kind == "read":
            key = (body["reading"], body["index"])
            return [
                (
                    kind,
                    {
                        "step": meant["card"],
                        "reading": key[0],
                        "index": key[1],
                        "value": meant["readings"][key],
                    },
                    name,
                )
            ]
        if kind == "corrected":
            return [(kind, {"entries": meant["entries"]}, name)]
        return [(kind, {**body, **meant.get("body", {})}, name)]
