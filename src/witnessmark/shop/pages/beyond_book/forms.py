"""What is typed beyond the book: a thing opened, a line for the owner with its parts, the answer to the complaint."""

from __future__ import annotations

from typing import Any, get_args

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop as noop

from witnessmark.ledger.bodies import ComplaintEnd
from witnessmark.shop.fields import MoneyField
from witnessmark.shop.forms import ChoiceTiles, QuantityField, SheetForm
from witnessmark.shop.models import Shop
from witnessmark.shop.work.forms import words

WHAT = [noop("fastener"), noop("pipe"), noop("connector"), noop("cover"), noop("circuit")]
GRADES = [
    ("proven", _("each one, with figure and wrench")),
    ("by table", _("all at once, by the table")),
    ("counted", _("all at once, by hand")),
]
MOST_PARTS = 4  # on one form; a second line takes more
RIGHT, *OTHERWISE = get_args(ComplaintEnd)
EVERYTHING = "everything"  # all that was agreed


class OpenedForm(SheetForm):
    """Something opened that no book lists."""

    what = forms.ChoiceField(label=_("What is it?"), choices=words(*WHAT), widget=ChoiceTiles)
    words = forms.CharField(
        label=_("In words"),
        max_length=300,
        help_text=_("As you would look for it: crash bar bolt, left."),
    )
    where = forms.CharField(label=_("Where"), max_length=200, required=False)
    count = forms.IntegerField(label=_("How many"), min_value=1, max_value=60, initial=1)
    safety = forms.BooleanField(
        label=_("Safety: it is not ridden before this is closed"), required=False
    )
    grade = forms.ChoiceField(
        label=_("How is a fastener made tight?"),
        choices=GRADES,
        required=False,
        widget=ChoiceTiles,
    )
    torque = QuantityField(
        "torque",
        label=_("Torque, where known"),
        required=False,
        help_text=_("With its unit: 24 Nm."),
    )
    source = forms.CharField(
        label=_("Source"),
        max_length=300,
        required=False,
        help_text=_("Which document, which page."),
    )
    bleed = forms.BooleanField(label=_("A circuit: it must be bled"), required=False)

    def clean(self) -> dict[str, Any]:
        """What belongs to a fastener or a circuit alone is said of no other thing."""
        said = super().clean() or {}
        what, count = said.get("what"), said.get("count") or 1
        if what == "fastener" and not said.get("grade") and "grade" not in self.errors:
            self.add_error("grade", gettext("Say how it is made tight."))
        if what and what != "fastener" and said.get("torque"):
            self.add_error(
                "torque",
                gettext("A {what} has no torque. Leave it empty, or choose fastener.").format(
                    what=what
                ),
            )
        if what == "circuit" and count > 1:
            self.add_error("count", gettext("One circuit at a time: each is closed by itself."))
        if what and what != "circuit" and said.get("bleed"):
            self.add_error(
                "bleed",
                gettext("A {what} is not bled. Untick it, or choose circuit.").format(what=what),
            )
        if said.get("source") and not said.get("torque") and "torque" not in self.errors:
            self.add_error("torque", gettext("There is a source. Which torque does it give?"))
        return said

    def body(self) -> dict[str, Any]:
        """As the entry has it."""
        said = self.cleaned_data
        torque = said.get("torque")
        grade = said["grade"] if said["what"] == "fastener" else "counted"
        return {**said, "grade": grade, "torque": torque.text if torque else ""}


class LineForm(SheetForm):
    """A line for the owner: words, work by minutes or at a price, up to `MOST_PARTS` parts."""

    words = forms.CharField(label=_("What is to be done?"), max_length=300)
    why = forms.CharField(
        label=_("Why"),
        max_length=1000,
        required=False,
        help_text=_("The owner reads it."),
    )
    where = forms.CharField(label=_("Where"), max_length=200, required=False)
    minutes = forms.FloatField(
        label=_("Minutes of work"), required=False, min_value=0, max_value=10_000
    )
    fixed = MoneyField(
        required=False,
        label=_("or a price for the work, without tax"),
        help_text=_("Empty: the minutes at the labour rate."),
    )
    safety = forms.BooleanField(
        label=_("Safety: once agreed, it is not ridden before this is done"),
        required=False,
    )

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for n in range(1, MOST_PARTS + 1):
            self.fields[f"part_{n}"] = forms.CharField(
                label=gettext("Part {n}").format(n=n), max_length=300, required=False
            )
            self.fields[f"quantity_{n}"] = forms.FloatField(
                label=gettext("How many"), min_value=0.001, max_value=1000, required=False
            )
            self.fields[f"each_{n}"] = MoneyField(
                required=False, label=gettext("Price of each, without tax")
            )
        for field in self.fields.values():
            if isinstance(field, MoneyField):
                field.currency = shop.currency

    @property
    def rows(self) -> list[list[forms.BoundField]]:
        """The fields of the parts, a row for each."""
        every = range(1, MOST_PARTS + 1)
        return [[self[f"{name}_{n}"] for name in ("part", "quantity", "each")] for n in every]

    @property
    def work(self) -> list[forms.BoundField]:
        """The fields of the work."""
        return [self[name] for name in self.base_fields]

    @property
    def with_parts(self) -> bool:
        """Whether a part was typed, or has a fault."""
        return any(field.value() or field.errors for row in self.rows for field in row)

    def clean(self) -> dict[str, Any]:
        """A part has a name and a price; a line costs something or says that it does not."""
        said = super().clean() or {}
        for n in range(1, MOST_PARTS + 1):
            name, each = said.get(f"part_{n}"), said.get(f"each_{n}")
            if name and each is None and f"each_{n}" not in self.errors:
                self.add_error(f"each_{n}", gettext("What does it cost? 0 where it is free."))
            if not name and (each is not None or said.get(f"quantity_{n}")):
                self.add_error(f"part_{n}", gettext("Which part is it?"))
        nothing = said.get("minutes") is None and said.get("fixed") is None
        if nothing and not {"minutes", "fixed"} & self.errors.keys():
            self.add_error("minutes", gettext("How long, or at which price? 0 where it is free."))
        return said

    def body(self) -> dict[str, Any]:
        """As the entry has it."""
        said = self.cleaned_data
        parts = [
            {
                "text": said[f"part_{n}"],
                "quantity": said[f"quantity_{n}"] or 1.0,
                "each_minor": said[f"each_{n}"],
            }
            for n in range(1, MOST_PARTS + 1)
            if said[f"part_{n}"]
        ]
        own = {name: said[name] for name in ("words", "why", "where", "safety")}
        return own | {
            "minutes": round(said["minutes"] or 0.0, 1),
            "fixed_minor": said["fixed"],
            "parts": parts,
        }


class ComplaintForm(SheetForm):
    """What became of the complaint."""

    how = forms.ChoiceField(
        label=_("What became of it?"),
        choices=words(RIGHT, *OTHERWISE),
        widget=ChoiceTiles,
    )
    line = forms.ChoiceField(label=_("Put right by"), required=False)
    text = forms.CharField(
        label=_("In words"),
        max_length=2000,
        required=False,
        widget=forms.Textarea({"rows": 2}),
        help_text=_("What was found; what was tried; what the owner was told."),
    )

    def __init__(self, *args: Any, lines: dict[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = lines
        whole = [(EVERYTHING, gettext("all that is agreed"))] if len(lines) > 1 else []
        choices = [("", gettext("no line: say it in words")), *whole, *lines.items()]
        self.fields["line"].choices = choices  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """It is put right by a line or in words; anything else is said in words."""
        said = super().clean() or {}
        how, line = said.get("how"), said.get("line")
        if line and how and how != RIGHT:
            self.add_error(
                "line",
                gettext("“{how}” names no line. Choose “{right}”, or no line.").format(
                    how=gettext(how), right=gettext(RIGHT)
                ),
            )
        elif how and not line and not said.get("text") and not self.errors:
            words = {
                RIGHT: gettext("What was it, and what was done? Or choose the line."),
                "nothing found": gettext("What was tried?"),
            }
            self.add_error("text", words.get(how, gettext("What was the owner told?")))
        return said

    def body(self, complaint: str) -> dict[str, Any]:
        """As the entry has it."""
        said = self.cleaned_data
        named = [said["line"]] if said["line"] else []
        lines = list(self.lines) if said["line"] == EVERYTHING else named
        return {"complaint": complaint, "how": said["how"], "lines": lines, "text": said["text"]}
