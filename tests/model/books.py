"""A service book as docs/service-book.md describes the format: merged, and asked by the model."""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from witnessmark.book import canonical, load_book

BOOKS = Path(str(files("witnessmark")))
FOLDERS = (BOOKS / "book" / "archetypes", BOOKS / "demo" / "books")
GATES = ("starter", "wheels on the ground", "road test", "hand-back")


@dataclass(frozen=True)
class Step:
    """An operation (`job/operation`) or an access step (its id)."""

    id: str
    text: str
    job: str
    said: dict[str, Any]

    def names(self, key: str) -> list[str]:
        """Fasteners, renewals, readings …: a list of ids."""
        return list(self.said.get(key, []))

    def table(self, key: str) -> dict[str, Any]:
        """Conditions needed or set, circuits opened or closed."""
        return dict(self.said.get(key, {}))

    @property
    def gate(self) -> str:
        return str(self.said.get("gate", ""))


class Book:
    """One model's book with what it extends."""

    def __init__(self, name: str) -> None:
        self.all = _merged(name)
        self.steps: dict[str, Step] = {}
        for one, said in self.all.get("access", {}).items():
            self.steps[one] = Step(one, said["text"], "", said)
        for job, about in self.all["jobs"].items():
            for one, said in about.get("operations", {}).items():
                step = f"{job}/{one}"
                self.steps[step] = Step(step, said["text"], job, said)

    def table(self, name: str) -> dict[str, dict[str, Any]]:
        return dict(self.all.get(name, {}))

    @property
    def title(self) -> str:
        return str(self.all["title"])

    def count(self, fastener: str) -> int:
        return int(self.table("fasteners")[fastener].get("count", 1))

    def grade(self, fastener: str) -> str:
        about = self.table("fasteners")[fastener]
        return str(about.get("grade", "proven"))

    def requirements(self, circuit: str) -> dict[str, dict[str, Any]]:
        return dict(self.table("circuits")[circuit].get("closed_by", {}))

    def named(self, circuit: str, wanted: list[str]) -> list[str]:
        every = list(self.requirements(circuit))
        return every if "all" in wanted else [one for one in every if one in wanted]

    def finish(self, condition: str) -> str | None:
        """The state it must end in; None where any will do. `as found` stays those words."""
        return self.table("conditions")[condition].get("finish")

    def limits(self, reading: str) -> tuple[float | None, float | None]:
        """Low and high limit, in the unit of the reading's figures."""
        about = self.table("readings")[reading]
        low = self._end(about.get("low", ""), "low", -1)
        high = self._end(about.get("high", ""), "high", 1)
        return low, high

    def _end(self, figure: str, end: str, sign: int) -> float | None:
        if not figure:
            return None
        about = self.table("figures")[figure]
        if about.get(end):
            return _number(about[end])
        if not about.get("value"):
            return None
        value = _number(about["value"])
        given = str(about.get("tolerance", ""))
        if not given:
            return value
        off = _number(given)
        return value + sign * (value * off / 100 if "%" in given else off)

    def proven(self, figure: str) -> bool:
        about = self.table("figures")[figure]
        said = str(about.get("source", "")).strip().lower()
        return bool(about.get("value") or about.get("low") or about.get("high")) and said not in {
            "",
            "?",
            "unknown",
            "from memory",
        }

    def titled(self, words: str) -> list[str]:
        """The steps of this text."""
        return [step.id for step in self.steps.values() if step.text == words]


def _number(quantity: str) -> float:
    return float(str(quantity).split()[0].replace(",", "."))


def _merged(name: str) -> dict[str, Any]:
    """What blocks and documents say together, as `witnessmark book show --json` tells it."""
    path = next(folder / f"{name}.toml" for folder in FOLDERS if (folder / f"{name}.toml").exists())
    return dict(json.loads(canonical(load_book(path))))
