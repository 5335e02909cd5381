"""Second looks: what wants one, and who looked."""

from __future__ import annotations

from tests.model.log import CLOSED, OPEN, UNSURE, Log, Told


class Looks(Log):
    """Second looks are wanted once what they look at was made or done."""

    def _look_items(self, found: dict[str, str]) -> None:
        """Second looks: wanted once what they look at was made or done."""
        acts: dict[str, list[tuple[int, str, bool]]] = {}
        for at, one in self._entries("done", "tightened", "wait_begun"):
            for item, made in self._wanting(at, one):
                ended = made and one.kind != "wait_begun"
                acts.setdefault(item, []).append((at, one.person, ended))
        looks = list(self._entries("looked"))
        for item, about in acts.items():
            mine = [(at, one) for at, one in looks if item in one.body["items"]]
            found[item] = self._looked(about, mine)

    def _looked(self, acts: list[tuple[int, str, bool]], looks: list[tuple[int, Told]]) -> str:
        doers = {person for _, person, _ in acts}
        made = [at for at, _, is_made in acts if is_made]
        after = [one for look, one in looks if all(at in self.log[look].seen for at in made)]
        again = bool(made) and any(made[-1] in self.log[at].seen for at, _, _ in acts)
        if not made or again:
            return UNSURE  # opened, or open again, and not yet made: the documents do not say
        if any(one.person not in doers for one in after):
            return CLOSED
        # somebody among several doers, or one who looked before the last of it: they do not say
        several = len(doers) > 1 and bool(looks)
        alone = any(one.body.get("fallback") for _, one in looks)
        return UNSURE if several or alone else OPEN

    def steps_under(self, looks: set[str]) -> list[str]:
        """The steps done that made what these second looks look at, the first of each."""
        found = {}
        for at, one in self._entries("done"):
            for item, made in self._wanting(at, one):
                if item in looks and (made or item.startswith("second look/fastener")):
                    found.setdefault(item, one.body["step"])
        return list(dict.fromkeys(found.values()))

    def _was_opened(self, at: int, circuit: str) -> bool:
        return any(
            circuit in self.book.steps[one.body["step"]].table("opens")
            for before, one in self._entries("done", "wait_begun")
            if before == at or before in self.log[at].seen
        )

    def _wanting(self, at: int, one: Told) -> list[tuple[str, bool]]:
        """Second looks this entry bears on, and whether it made or did what they look at."""
        fasteners, circuits = self.book.table("fasteners"), self.book.table("circuits")
        if one.kind == "tightened":
            wanted = fasteners[one.body["fastener"]].get("second_look")
            return [(f"second look/fastener/{one.body['fastener']}", True)] if wanted else []
        step, found = self.book.steps[one.body["step"]], []
        for fastener in dict.fromkeys([*step.names("tightens"), *step.names("loosens")]):
            if fasteners[fastener].get("second_look"):
                by_card = self.book.grade(fastener) != "proven"
                made = by_card and fastener in step.names("tightens")
                found.append((f"second look/fastener/{fastener}", made))
        for circuit in dict.fromkeys([*step.table("closes"), *step.table("opens")]):
            if circuits[circuit].get("second_look"):
                made = circuit in step.table("closes") and self._was_opened(at, circuit)
                found.append((f"second look/circuit/{circuit}", made))
        if step.said.get("second_look"):
            found.append((f"second look/step/{step.id}", True))
        return found
