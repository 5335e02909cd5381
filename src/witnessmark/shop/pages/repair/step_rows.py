"""What a step of a repair declares itself: the fields of its rows, what stands in them, what they make of the job."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, get_args

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop as noop

from witnessmark import units
from witnessmark.book import Book
from witnessmark.book.model import Fluid, RenewalKind
from witnessmark.book.select import operations, possible_states, with_brought
from witnessmark.shop.fields import MoneyField
from witnessmark.shop.forms import QuantityField
from witnessmark.shop.work.repair_draft import Said, new_id

WHAT = [noop("fastener"), noop("pipe"), noop("connector"), noop("cover"), noop("circuit")]
REFITTED = {  # what is shown of it once it is back: the id and the words of its requirement
    "pipe": ("refitted", noop("refitted")),
    "connector": ("reconnected", noop("reconnected")),
    "cover": ("back_on", noop("back on")),
}
GRADES = [
    ("proven", _("each one, with figure and wrench")),
    ("by table", _("all at once, by the table")),
    ("counted", _("all at once, by hand")),
]
SEQUENCES = [
    ("star", _("in a star")),
    ("alternate", _("alternately")),
    ("alternate until still", _("alternately, until none moves")),
    ("as numbered", _("as numbered")),
]
FINER = ("thread", "treatment", "sequence", "stages", "turn")  # of a fastener: what few have
FAMILIES = get_args(Fluid.model_fields["family"].annotation)
AS_IT_SHOULD_BE, NOT_SO = "as it should be", "not as it should be"
ROWS = {  # name of a row's first field: how many to fill in beside those there, how many at most
    "need": (2, 6), "undone": (2, 6), "book": (1, 6), "part": (2, 6), "fluid": (1, 3), "read": (1, 4),
}  # fmt: skip


def head_of(said: Said, step: Said) -> Said:
    """What stands in the fields of a step that are no rows."""
    job = said["job"]
    initial = {
        key: step.get(key)
        for key in ("text", "minutes", "place", "waits_for", "gate", "second_look")
    }
    initial["unattended"] = step.get("unattended") or None
    initial["does"] = "\n".join(step.get("does", ()))
    for key in ("tools", "cautions"):
        words = (job.get(key, {}).get(name, {}).get("text", "") for name in step.get(key, ()))
        initial[key] = "\n".join(filter(None, words))
    closed = [f"fasteners/{name}" for name in step.get("tightens", ())]
    closed += [
        f"circuits/{name}/{one}" for name, every in step.get("closes", {}).items() for one in every
    ]
    return initial | {"closes": closed}


def rows_of(said: Said, step: Said) -> dict[str, list[Said]]:
    """What stands in the rows of a step."""
    job = said["job"]
    figures = job.get("figures", {})

    def written(name: str | None, key: str = "value") -> str:
        return str(figures.get(name, {}).get(key, "") or "")

    own: dict[str, list[Said]] = {name: [] for name in ROWS}
    for condition, every in step.get("needs", {}).items():
        own["need"] += [{"need": f"{condition}/{state}"} for state in every]
    for name in step.get("loosens", ()):
        if (row := job.get("fasteners", {}).get(name)) is None:
            own["book"].append({"book": f"fasteners/{name}"})
            continue
        own["undone"].append(
            {"undone": row["text"], "what": "fastener", "count": row.get("count", 1),
             "grade": row.get("grade", "proven"), "thread": row.get("thread", ""),
             "treatment": row.get("treatment", ""), "sequence": row.get("sequence", ""),
             "stages": "; ".join(written(one) for one in row.get("stages", ())), "turn": written(row.get("turn")),
             "torque": written(row.get("figure")), "tsource": written(row.get("figure"), "source"),
             "safety": row.get("safety", False), "thing": name}
        )  # fmt: skip
    for name in step.get("opens", ()):
        if (row := job.get("circuits", {}).get(name)) is None:
            own["book"].append({"book": f"circuits/{name}"})
            continue
        closed_by = row["closed_by"]
        what = next((one for one, (key, _words) in REFITTED.items() if key in closed_by), "circuit")
        own["undone"].append(
            {"undone": row["text"], "what": what, "count": 1, "grade": "counted", "bleed": "bleed" in closed_by,
             "safety": row.get("safety", False), "thing": name}
        )  # fmt: skip
    renewed = {row["part"]: row.get("kind", "other") for row in job.get("renewals", {}).values()}
    for name, quantity in step.get("parts", {}).items():
        own["part"].append(
            {"part": job.get("parts", {}).get(name, {}).get("text", name), "quantity": quantity,
             "each": said["prices"].get(name), "renewal": renewed.get(name, ""), "pid": name}
        )  # fmt: skip
    for name, use in step.get("fluids", {}).items():
        row = job.get("fluids", {}).get(name, {"text": name, "family": ""})
        own["fluid"].append(
            {"fluid": row["text"], "family": row["family"], "grade_of": written(row.get("grade")),
             "volume": written(use["figure"]), "fsource": written(use["figure"], "source"), "fid": name}
        )  # fmt: skip
    for name in step.get("readings", ()):
        row = job.get("readings", {}).get(name, {"text": name})
        ends = {f"r{key}": written(row.get(key)) for key in ("low", "high")}
        source = written(row.get("low") or row.get("high"), "source")
        own["read"].append(
            {"read": row["text"], "unit": row.get("unit", ""), "rsource": source, "rid": name,
             "instrument": row.get("instrument", ""), "rsafety": row.get("safety", False)} | ends
        )  # fmt: skip
    return own


def closable(said: Said, step: Said, book: Book, left_open: Iterable[str]) -> list[tuple[str, str]]:
    """What this step, those before it, and access steps undid (``left_open``), to be ticked where it is closed."""
    job = said["job"]
    found: dict[str, None] = {}
    for one in job["steps"]:
        found |= dict.fromkeys(f"fasteners/{name}" for name in one.get("loosens", ()))
        for name in one.get("opens", ()):
            own, known = job.get("circuits", {}).get(name), book.circuits.get(name)
            wanted = own["closed_by"] if own else known.closed_by if known else ()
            found |= dict.fromkeys(f"circuits/{name}/{key}" for key in wanted)
        if one["name"] == step.get("name"):
            break
    ticked = [f"fasteners/{name}" for name in step.get("tightens", ())]
    ticked += [
        f"circuits/{c}/{one}" for c, every in step.get("closes", {}).items() for one in every
    ]
    every = [*dict.fromkeys([*found, *left_open, *ticked])]
    return [(token, words) for token in every if (words := _closed_words(token, job, book))]


def _closed_words(token: str, job: Said, book: Book) -> str:
    """What is closed, in words; empty for what is not there."""
    table, name, *requirement = token.split("/")
    own, known = job.get(table, {}).get(name), getattr(book, table).get(name)
    text = own["text"] if own else known.text if known else ""
    if not text or table == "fasteners":
        return gettext("{words}: tight").format(words=text) if text else ""
    if own:
        done = own["closed_by"].get(requirement[0], {}).get("text", "")
    else:
        done = known.closed_by[requirement[0]].text if requirement[0] in known.closed_by else ""
    return f"{text}: {gettext(done)}" if done else ""


def states(book: Book, brings: Iterable[str]) -> list[tuple[str, list[tuple[str, str]]]]:
    """The states that the machine comes in with, or that access steps and the jobs brought set, by condition."""
    jobs = with_brought(book, [job for job in brings if job in book.jobs])
    every = [*book.access.values(), *operations(book, jobs).values()]
    there = {
        name: possible_states(c, {s.sets[name] for s in every if name in s.sets})
        for name, c in book.conditions.items()
    }
    return [
        (
            c.text,
            [
                (f"{name}/{state}", f"{c.text}: {c.state_words.get(state, state)}")
                for state in c.states
                if state in there[name]
            ],
        )
        for name, c in book.conditions.items()
    ]


def things(book: Book) -> list[tuple[str, list[tuple[str, str]]]]:
    """What of the book may come loose."""
    tables = {"fasteners": gettext("Fasteners"), "circuits": gettext("Circuits")}
    return [
        (words, [(f"{table}/{name}", one.text) for name, one in getattr(book, table).items()])
        for table, words in tables.items()
        if getattr(book, table)
    ]


# ---------------------------------------------------------------- fields of a row


def _words(label: str, most: int = 300, **more: Any) -> forms.CharField:
    return forms.CharField(label=label, max_length=most, required=False, **more)


def _choice(label: str, choices: Iterable[Any]) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=False, choices=[("", "–"), *choices])


def _kept() -> forms.CharField:
    return forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)


def _count() -> forms.FloatField:
    return forms.FloatField(
        label=gettext("How many"), min_value=0.001, max_value=1000, required=False
    )


Row = list[tuple[str, forms.Field]]
FIELDS: dict[str, Callable[[Iterable[Any]], Row]] = {
    "need": lambda choices: [("need", _choice(gettext("The machine is"), choices))],
    "book": lambda choices: [("book", _choice(gettext("Comes loose here"), choices))],
    "undone": lambda _choices: [
        ("undone", _words(gettext("In words"))),
        ("what", _choice(gettext("What is it?"), [(one, gettext(one)) for one in WHAT])),
        ("count", forms.IntegerField(label=gettext("How many"), min_value=1, max_value=60, required=False)),
        ("grade", _choice(gettext("How is a fastener made tight?"), GRADES)),
        ("torque", QuantityField("torque", label=gettext("Torque, where known"), required=False)),
        ("tsource", _words(gettext("Source"))),
        ("thread", _words(gettext("Thread"), 40, help_text=gettext("As it is marked: M8, M10x1.25."))),
        ("treatment", _words(gettext("Put on the thread"), 80, help_text=gettext("Nothing, oil, locking compound."))),
        ("sequence", _choice(gettext("In which order, where it is a group"), SEQUENCES)),
        ("stages", _words(gettext("Torques before it, in order"), 120,
                          help_text=gettext("With their unit, and ; between them: 10 N·m; 20 N·m."))),
        ("turn", QuantityField("angle", label=gettext("Then turned further by"), required=False)),
        ("safety", forms.BooleanField(
            label=gettext("Safety: it is not ridden before this is closed"), required=False)),
        ("bleed", forms.BooleanField(label=gettext("A circuit: it must be bled"), required=False)),
        ("thing", _kept()),
    ],
    "part": lambda _choices: [
        ("part", _words(gettext("Part"))),
        ("quantity", _count()),
        ("each", MoneyField(label=gettext("Price of each, without tax"), required=False)),
        ("renewal", _choice(
            gettext("New for the old each time"), [(one, gettext(one)) for one in get_args(RenewalKind)])),
        ("pid", _kept()),
    ],
    "fluid": lambda _choices: [
        ("fluid", _words(gettext("Fluid"))),
        ("family", _choice(gettext("Which kind"), [(one, gettext(one)) for one in FAMILIES])),
        ("volume", QuantityField("volume", label=gettext("How much"), required=False)),
        ("grade_of", _words(gettext("Grade"), 120)),
        ("fsource", _words(gettext("Source"))),
        ("fid", _kept()),
    ],
    "read": lambda _choices: [
        ("read", _words(gettext("What is read"))),
        ("rlow", _words(gettext("At least"), 60)),
        ("rhigh", _words(gettext("At most"), 60)),
        ("unit", _words(gettext("Unit"), 20)),
        ("rsource", _words(gettext("Source of the limits"))),
        ("instrument", _words(gettext("Instrument"), 120)),
        ("rsafety", forms.BooleanField(
            label=gettext("Safety: outside its limits it is not ridden"), required=False)),
        ("rid", _kept()),
    ],
}  # fmt: skip


# ---------------------------------------------------------------- into the job


class Declared:
    """What a step declares, by table; a thing that stays keeps its id."""

    def __init__(self, job: Said) -> None:
        self.job = job
        self.tables: dict[str, dict[str, Said]] = {}
        self.prices: dict[str, int] = {}

    def put(self, table: str, row: Said, words: str, kept: str = "", exact: str = "") -> str:
        rows = self.tables.setdefault(table, {})
        taken = {*self.job.get(table, {}), *rows}
        name = exact or (kept if kept in self.job.get(table, {}) else new_id(words, taken))
        rows[name] = {
            key: value for key, value in row.items() if value not in (None, "", [], False)
        }
        return name

    def named(self, table: str, row: Said) -> str:
        """A tool or a caution: the same words are the same thing."""
        every = {**self.job.get(table, {}), **self.tables.get(table, {})}
        same = next((name for name, one in every.items() if one["text"] == row["text"]), "")
        return same or self.put(table, row, row["text"])

    def figure(self, name: str, text: str, quantity: str, **said: str) -> str:
        return self.put("figures", {"text": text, "quantity": quantity, **said}, "", exact=name)

    def undone(self, step: Said, row: Said) -> None:
        words, kept = row["undone"], row["thing"]
        common = {"text": words, "safety": row["safety"], "second_look": row["safety"]}
        if row["what"] == "fastener":
            name = self.put("fasteners", {}, words, kept)
            rest = {"count": row["count"] or 1, "grade": row["grade"], "thread": row["thread"],
                    "treatment": row["treatment"], "sequence": row["sequence"]}  # fmt: skip
            stages = [
                self.figure(
                    f"{name}_stage_{n}", gettext("{words}: torque {n}").format(words=words, n=n), "torque",
                    value=text, source=row["tsource"],
                )
                for n, text in enumerate(listed(row["stages"]), 1)
            ]  # fmt: skip
            rest["stages"] = stages
            if row["turn"]:
                rest["turn"] = self.figure(
                    f"{name}_turn", gettext("{words}: turned further").format(words=words), "angle",
                    value=row["turn"].text, source=row["tsource"],
                )  # fmt: skip
            if row["torque"] or row["grade"] != "counted":
                value = row["torque"].text if row["torque"] else ""
                rest["figure"] = self.figure(
                    f"{name}_torque", gettext("{words}: torque").format(words=words), "torque",
                    value=value, source=row["tsource"],
                )  # fmt: skip
            self.tables["fasteners"][name] = {k: v for k, v in (common | rest).items() if v}
            step["loosens"] = [*step.get("loosens", []), name]
            return
        key, done = REFITTED.get(row["what"], ("", ""))
        closed_by = {key: {"text": done}}
        if row["what"] == "circuit":
            closed_by = {"close": {"text": "closed, and filled to its level"}}
            closed_by |= {"bleed": {"text": "bled"}} if row["bleed"] else {}
            closed_by |= {"leaks": {"text": "no leak"}}
        if (row["count"] or 1) > 1:
            common["text"] = f"{words} × {row['count']}" if " × " not in words else words
        name = self.put("circuits", common | {"closed_by": closed_by}, words, kept)
        step.setdefault("opens", {})[name] = ["all"]

    def part(self, step: Said, row: Said) -> None:
        name = self.put("parts", {"text": row["part"]}, row["part"], row["pid"])
        step.setdefault("parts", {})[name] = float(row["quantity"] or 1.0)
        if row["each"] is not None:
            self.prices[name] = row["each"]
        if row["renewal"]:
            ring = {"text": row["part"], "part": name, "kind": row["renewal"]}
            renewal = self.put("renewals", ring, "", exact=f"{name}_new")
            for key in ("disturbs", "renews"):
                step[key] = [*step.get(key, []), renewal]

    def fluid(self, step: Said, row: Said) -> None:
        name = self.put(
            "fluids", {"text": row["fluid"], "family": row["family"]}, row["fluid"], row["fid"]
        )
        if row["grade_of"]:
            self.tables["fluids"][name]["grade"] = self.figure(
                f"{name}_grade", gettext("{words}: grade").format(words=row["fluid"]), "words",
                value=row["grade_of"], source=row["fsource"],
            )  # fmt: skip
        volume = self.figure(
            f"{name}_volume", gettext("{words}: volume").format(words=row["fluid"]), "volume",
            value=row["volume"].text if row["volume"] else "", source=row["fsource"],
        )  # fmt: skip
        step.setdefault("fluids", {})[name] = {"figure": volume}

    def reading(self, step: Said, row: Said) -> None:
        words = row["read"]
        ends = {key: row[f"r{key}"] for key in ("low", "high") if row[f"r{key}"]}
        unit = row["unit"] or next(
            (units.unit_written(units.read_any(text)) for text in ends.values()), ""
        )
        kinds = {units.read_any(text).quantity for text in ends.values()} or {*kinds_of(unit)}
        said: Said = {"text": words, "instrument": row["instrument"], "safety": row["rsafety"]}
        if kinds:
            said |= {"quantity": min(kinds), "unit": unit}
        else:
            said |= {"quantity": "words", "choices": [AS_IT_SHOULD_BE, NOT_SO], "bad": [NOT_SO]}
        name = self.put("readings", said, words, row["rid"])
        for key, text in ends.items():
            self.tables["readings"][name][key] = self.figure(
                f"{name}_{key}", words, min(kinds), value=text, source=row["rsource"]
            )
        step["readings"] = [*step.get("readings", []), name]


def kinds_of(unit: str) -> tuple[units.Quantity, ...]:
    """Which quantity a unit is of; none where it is no unit, or of several."""
    try:
        return (units.read_any(f"1 {unit}").quantity,) if unit else ()
    except units.QuantityError:
        return ()


def listed(text: str) -> list[str]:
    """What stands between the semicolons."""
    return [one.strip() for one in text.split(";") if one.strip()]


def lines(text: str) -> list[str]:
    """The lines that say something, each once."""
    return list(dict.fromkeys(line.strip() for line in text.splitlines() if line.strip()))
