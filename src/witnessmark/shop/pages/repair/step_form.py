"""One step of a repair as it is typed: what is done, what comes loose and is closed, what it takes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from witnessmark import units
from witnessmark.book import Book
from witnessmark.book.model import Gate
from witnessmark.errors import WitnessError
from witnessmark.fasteners import read_thread
from witnessmark.shop.fields import MoneyField
from witnessmark.shop.forms import ManyTiles, SheetForm
from witnessmark.shop.models import Shop
from witnessmark.shop.pages.repair.forms import rows_in
from witnessmark.shop.pages.repair.step_rows import (
    FIELDS,
    FINER,
    ROWS,
    Declared,
    closable,
    head_of,
    kinds_of,
    lines,
    listed,
    rows_of,
    states,
    things,
)
from witnessmark.shop.work.repair_draft import Said, new_id, with_step


@dataclass(frozen=True)
class RowShown:
    """A row: its fields, and those that few need."""

    fields: list[forms.BoundField]
    finer: list[forms.BoundField]

    @property
    def finer_filled(self) -> bool:
        """Whether something stands in them, or has a fault."""
        return any(field.value() or field.errors for field in self.finer)


class StepForm(SheetForm):
    """A step. Rows are numbered from 1; one left empty says nothing."""

    text = forms.CharField(label=_("What is done?"), max_length=300)
    minutes = forms.FloatField(label=_("Minutes of work"), min_value=0.1, max_value=10_000)
    place = forms.CharField(label=_("Where"), max_length=200, required=False)
    does = forms.CharField(
        label=_("How, line by line"),
        max_length=4000,
        required=False,
        widget=forms.Textarea({"rows": 3}),
    )
    closes = forms.MultipleChoiceField(
        label=_("Closed again here"), required=False, widget=ManyTiles
    )
    unattended = forms.FloatField(
        label=_("Minutes of waiting after it"), min_value=0, max_value=100_000, required=False
    )
    waits_for = forms.CharField(label=_("What is waited for"), max_length=200, required=False)
    tools = forms.CharField(
        label=_("Tools, one on each line"),
        max_length=1000,
        required=False,
        widget=forms.Textarea({"rows": 2}),
    )
    cautions = forms.CharField(
        label=_("Caution: what can hurt someone, one on each line"),
        max_length=2000,
        required=False,
        widget=forms.Textarea({"rows": 2}),
        help_text=_("The maker’s manual, local law and licensed practice come first."),
    )
    gate = forms.ChoiceField(
        label=_("Only after this was passed"),
        required=False,
        choices=[("", _("nothing")), *((gate, _(gate)) for gate in get_args(Gate)[:3])],
        help_text=_("Road test: the machine is ridden in this step."),
    )
    second_look = forms.BooleanField(label=_("Somebody else looks at it again"), required=False)

    def __init__(
        self,
        sent: Any = None,
        *,
        said: Said,
        step: Said,
        book: Book,
        shop: Shop,
        left_open: Sequence[str] = (),
        **kwargs: Any,
    ) -> None:
        self.said, self.step, self.book = said, step, book
        rows = rows_of(said, step)
        initial = head_of(said, step)
        for every in rows.values():
            for n, row in enumerate(every, start=1):
                initial |= {f"{key}_{n}": value for key, value in row.items()}
        super().__init__(sent, initial=initial, **kwargs)
        self.numbers = {name: rows_in(sent, name, len(rows[name]), *ROWS[name]) for name in ROWS}
        self.fields["closes"].choices = closable(said, step, book, left_open)  # type: ignore[attr-defined]
        choices = {"need": states(book, said["job"].get("brings", ())), "book": things(book)}
        for name, numbers in self.numbers.items():
            for n in numbers:
                self.fields |= {
                    f"{key}_{n}": field for key, field in FIELDS[name](choices.get(name, ()))
                }
        for field in self.fields.values():
            if isinstance(field, MoneyField):
                field.currency = shop.currency

    def rows(self, name: str) -> list[RowShown]:
        """The fields of the rows of one kind."""
        keys = [key for key, _field in FIELDS[name](())]
        return [
            RowShown(
                [self[f"{key}_{n}"] for key in keys if key not in FINER],
                [self[f"{key}_{n}"] for key in keys if key in FINER],
            )
            for n in self.numbers[name]
        ]

    @property
    def groups(self) -> list[tuple[str, list[RowShown], bool]]:
        """The rows that not every step has: heading, rows, and whether one has something in it."""
        headings = {
            "undone": gettext("Comes loose, comes off, is opened"),
            "part": gettext("Parts"),
            "need": gettext("How the machine must stand"),
            "fluid": gettext("Fluids filled in"),
            "read": gettext("Readings"),
            "book": gettext("What the service book has comes loose"),
        }
        made = []
        for name, heading in headings.items():
            rows = self.rows(name)
            if not rows or (name in ("need", "book") and len(rows[0].fields[0].field.choices) < 2):  # type: ignore[attr-defined]
                continue
            filled = any(
                field.errors or (field.value() and field.html_name.startswith(f"{name}_"))
                for row in rows
                for field in (*row.fields, *row.finer)
            )
            made.append((heading, rows, filled))
        return made

    @property
    def more_filled(self) -> bool:
        """Whether something stands in the fields that few steps have, or has a fault."""
        names = ("does", "tools", "cautions", "unattended", "waits_for", "gate", "second_look")
        return any(self[name].value() or self[name].errors for name in names)

    def clean(self) -> dict[str, Any]:
        """Rows are whole, or empty."""
        said = super().clean() or {}
        for n in self.numbers["undone"]:
            self._undone(n, said)
        for n in self.numbers["part"]:
            if not said.get(f"part_{n}") and (said.get(f"each_{n}") or said.get(f"quantity_{n}")):
                self.add_error(f"part_{n}", gettext("Which part is it?"))
        for n in self.numbers["fluid"]:
            if said.get(f"fluid_{n}") and not said.get(f"family_{n}"):
                self.add_error(f"family_{n}", gettext("Of which kind is it?"))
            if not said.get(f"fluid_{n}") and said.get(f"volume_{n}"):
                self.add_error(f"fluid_{n}", gettext("Which fluid is it?"))
        for n in self.numbers["read"]:
            self._reading(n, said)
        if said.get("waits_for") and not said.get("unattended"):
            self.add_error("unattended", gettext("How long is waited?"))
        return said

    def _undone(self, n: int, said: Mapping[str, Any]) -> None:
        what, words = said.get(f"what_{n}"), said.get(f"undone_{n}")
        typed = [key for key in ("torque", "tsource", "bleed", *FINER) if said.get(f"{key}_{n}")]
        if not words:
            if typed or what:
                self.add_error(f"undone_{n}", gettext("What is it? Say it in words."))
            return
        if not what and f"what_{n}" not in self.errors:
            self.add_error(f"what_{n}", gettext("Fastener, pipe, connector, cover or circuit?"))
        if what == "fastener" and not said.get(f"grade_{n}"):
            self.add_error(f"grade_{n}", gettext("Say how it is made tight."))
        if what and what != "fastener" and said.get(f"torque_{n}"):
            self.add_error(
                f"torque_{n}",
                gettext("A {what} has no torque. Leave it empty, or choose fastener.").format(
                    what=gettext(what)
                ),
            )
        if what and what != "circuit" and said.get(f"bleed_{n}"):
            self.add_error(
                f"bleed_{n}",
                gettext("A {what} is not bled. Untick it, or choose circuit.").format(
                    what=gettext(what)
                ),
            )
        self._finer(n, said)
        if said.get(f"tsource_{n}") and not said.get(f"torque_{n}"):
            self.add_error(f"torque_{n}", gettext("There is a source. Which torque does it give?"))

    def _finer(self, n: int, said: Mapping[str, Any]) -> None:
        """Thread, stages and angle: of a fastener, of their kind, and with the torque they go with."""
        what = said.get(f"what_{n}")
        if what and what != "fastener":
            words = gettext("A {what} has none. Leave it empty, or choose fastener.")
            for key in FINER:
                if said.get(f"{key}_{n}"):
                    self.add_error(f"{key}_{n}", words.format(what=gettext(what)))
        try:
            if thread := said.get(f"thread_{n}"):
                read_thread(thread)
        except WitnessError as error:
            self.refuse(error, f"thread_{n}")
        for text in listed(said.get(f"stages_{n}") or ""):
            try:
                units.read(text, "torque")
            except units.QuantityError as error:
                self.refuse(error, f"stages_{n}")
                break
        leads = said.get(f"stages_{n}") or said.get(f"turn_{n}")
        if leads and not said.get(f"torque_{n}") and f"torque_{n}" not in self.errors:
            words = gettext("Stages lead to a torque, an angle comes after one. Which?")
            self.add_error(f"torque_{n}", words)

    def _reading(self, n: int, said: Mapping[str, Any]) -> None:
        ends = {key: said.get(f"r{key}_{n}") for key in ("low", "high")}
        if not said.get(f"read_{n}"):
            if any(ends.values()) or said.get(f"unit_{n}"):
                self.add_error(f"read_{n}", gettext("What is read?"))
            return
        kinds = set()
        for key, text in ends.items():
            if text:
                try:
                    kinds.add(units.read_any(text).quantity)
                except units.QuantityError as error:
                    self.refuse(error, f"r{key}_{n}")
        unit = said.get(f"unit_{n}")
        if unit and not (kinds or kinds_of(unit)):
            self.add_error(f"unit_{n}", gettext("No such unit is known here."))
        if len(kinds) > 1:
            self.add_error(f"rhigh_{n}", gettext("Give both limits in units of one kind."))

    # ------------------------------------------------------------ into the repair

    def put(self) -> Said:
        """The repair with this step as it was typed."""
        typed = self.cleaned_data
        job = self.said["job"]
        steps = [step["name"] for step in job["steps"]]
        name = self.step.get("name") or new_id(typed["text"], steps)
        step: Said = {
            "name": name, "text": typed["text"], "minutes": round(typed["minutes"], 1), "place": typed["place"],
            "does": lines(typed["does"]), "unattended": round(typed["unattended"] or 0.0, 1),
            "waits_for": typed["waits_for"], "gate": typed["gate"] or None, "second_look": typed["second_look"],
        }  # fmt: skip
        made = Declared(job)
        self._undoes_and_closes(step, made)
        for row in self._typed("part"):
            made.part(step, row)
        for row in self._typed("fluid"):
            made.fluid(step, row)
        for row in self._typed("read"):
            made.reading(step, row)
        for key in ("tools", "cautions"):
            step[key] = [made.named(key, {"text": line}) for line in lines(typed[key])]
        return with_step(self.said, step, made.tables, made.prices)

    def _undoes_and_closes(self, step: Said, made: Declared) -> None:
        """How the machine must stand, what comes loose, and what is closed."""
        for row in self._typed("need"):
            condition, _slash, state = row["need"].partition("/")
            step.setdefault("needs", {}).setdefault(condition, []).append(state)
        for row in self._typed("undone"):
            made.undone(step, row)
        for row in self._typed("book"):
            table, _slash, thing = row["book"].partition("/")
            if table == "fasteners":
                step["loosens"] = [*step.get("loosens", []), thing]
            else:
                step.setdefault("opens", {})[thing] = ["all"]
        for token in self.cleaned_data["closes"]:
            table, thing, *requirement = token.split("/")
            if table == "fasteners":
                step["tightens"] = [*step.get("tightens", []), thing]
            else:
                closed = step.setdefault("closes", {})
                closed[thing] = [*closed.get(thing, []), *requirement]

    def _typed(self, name: str) -> Iterator[Said]:
        for n in self.numbers[name]:
            row = {key: self.cleaned_data[f"{key}_{n}"] for key, _field in FIELDS[name](())}
            if row[name]:
                yield row
