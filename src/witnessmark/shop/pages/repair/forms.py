"""What is typed of a repair as a whole: what it is, what was tested, the cause, the ride after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop as noop

from witnessmark import units
from witnessmark.book import Book
from witnessmark.book.rides import is_ride
from witnessmark.ledger.bodies import Measured
from witnessmark.shop.forms import SheetForm, in_words
from witnessmark.shop.work.repair_draft import Said

MOST_TESTS = 8  # on one page
VERDICTS = {
    "within": noop("as it should be"),
    "outside": noop("not as it should be"),
    "not judged": "",
}
RIGHT = {"right": True, "wrong": False}


def rows_in(
    sent: Mapping[str, Any] | None, name: str, there: int, spare: int, most: int
) -> list[int]:
    """The numbers of a form's rows: as many as were sent, else those that are there and some to fill in."""
    if sent is None:
        return [*range(1, min(there + spare, most) + 1)]
    return [n for n in range(1, most + 1) if f"{name}_{n}" in sent]


class RepairForm(SheetForm):
    """The head of a repair, and its tests row by row."""

    text = forms.CharField(
        label=_("What is put right?"),
        max_length=300,
        help_text=_("As it will stand on the estimate: stop the leak at the fuel tap."),
    )
    why = forms.CharField(
        label=_("Why"), max_length=1000, required=False, help_text=_("The owner reads it.")
    )
    cause = forms.CharField(
        label=_("Cause, once it is known"),
        max_length=2000,
        required=False,
        widget=forms.Textarea({"rows": 2}),
    )
    with_it = forms.ChoiceField(
        label=_("Goes with it"),
        required=False,
        help_text=_("A job of the book that must be done with it."),
    )
    ride = forms.ChoiceField(
        label=_("A ride after it"),
        required=False,
        help_text=_("Where only a ride can prove the work."),
    )

    def __init__(self, sent: Any = None, *, said: Said, book: Book, **kwargs: Any) -> None:
        job = said["job"]
        brings = job.get("brings", [])
        initial = {name: job.get(name, "") for name in ("text", "why")}
        rides = {
            name: one.text
            for name, one in book.jobs.items()
            if any(is_ride(step) for step in one.operations.values())
        }
        others = {name: one.text for name, one in book.jobs.items() if name not in rides}
        initial |= {
            "cause": said["cause"],
            "ride": next((name for name in brings if name in rides), ""),
            "with_it": next((name for name in brings if name in others), ""),
        }
        for n, test in enumerate(said["tests"], start=1):
            right = {True: "right", False: "wrong"}.get(test.get("right"), "")
            initial |= {f"{key}_{n}": test.get(key, "") for key in ("low", "high", "source")}
            initial |= {f"test_{n}": test["text"], f"found_{n}": test["found"], f"right_{n}": right}
        super().__init__(sent, initial=initial, **kwargs)
        self.said = said
        self.numbers = rows_in(sent, "test", len(said["tests"]), 1, MOST_TESTS)
        for key, jobs in (("ride", rides), ("with_it", others)):
            self.fields[key].choices = [("", gettext("none")), *jobs.items()]  # type: ignore[attr-defined]
        for n in self.numbers:
            self.fields |= _test_fields(n)

    @property
    def head(self) -> list[forms.BoundField]:
        """The fields before the tests."""
        return [self["text"], self["why"]]

    @property
    def rows(self) -> list[tuple[list[forms.BoundField], str]]:
        """The fields of each test, and how what was kept of it stands against its limits."""
        names = ("test", "found", "low", "high", "source", "right")
        told = [self._verdict(test) for test in self.said["tests"]]
        return [
            ([self[f"{name}_{n}"] for name in names], told[n - 1] if n <= len(told) else "")
            for n in self.numbers
        ]

    @property
    def tested(self) -> bool:
        """Whether a test or a cause is there, or has a fault."""
        return any(
            self[name].value() or self[name].errors
            for name in ("cause", *(f"test_{n}" for n in self.numbers))
        ) or bool(self.errors.keys() - {"text", "why", "ride", "with_it"})

    def _verdict(self, test: Said) -> str:
        words = VERDICTS[Measured.model_validate(test).verdict]
        return gettext(words) if words else ""

    def clean(self) -> dict[str, Any]:
        """A test says what was found; limits are quantities of the same kind."""
        said = super().clean() or {}
        for n in self.numbers:
            text, found = said.get(f"test_{n}"), said.get(f"found_{n}")
            limits = [key for key in ("low", "high") if said.get(f"{key}_{n}")]
            if not text and (found or limits):
                self.add_error(f"test_{n}", gettext("What was tested?"))
            elif text and not found and f"found_{n}" not in self.errors:
                self.add_error(f"found_{n}", gettext("What was read or seen?"))
            elif limits:
                self._same_kind(n, limits)
        return said

    def _same_kind(self, n: int, limits: Sequence[str]) -> None:
        kind = quantity_of(self.cleaned_data[f"found_{n}"])
        if kind == "words":
            self.add_error(f"found_{n}", gettext("There are limits: write a number with its unit."))
            return
        for key in limits:
            try:
                units.read(self.cleaned_data[f"{key}_{n}"], kind)
            except units.QuantityError as error:
                self.add_error(f"{key}_{n}", in_words(error))

    def put(self, said: Said) -> Said:
        """The repair with what was typed here."""
        typed = self.cleaned_data
        job = said["job"] | {
            "text": typed["text"],
            "why": typed["why"],
            "brings": [typed[key] for key in ("with_it", "ride") if typed[key]],
        }
        tests = [
            {
                "text": typed[f"test_{n}"],
                "found": typed[f"found_{n}"],
                "low": typed[f"low_{n}"],
                "high": typed[f"high_{n}"],
                "source": typed[f"source_{n}"],
                "quantity": quantity_of(typed[f"found_{n}"]),
                "right": RIGHT.get(typed[f"right_{n}"]),
            }
            for n in self.numbers
            if typed[f"test_{n}"]
        ]
        return said | {"job": job, "cause": typed["cause"], "tests": tests}


def _test_fields(n: int) -> dict[str, forms.Field]:
    return {
        f"test_{n}": forms.CharField(
            label=gettext("Tested"), max_length=300, required=False,
            help_text=gettext("Voltage at rest; look at the tap."),
        ),
        f"found_{n}": forms.CharField(
            label=gettext("Found"), max_length=120, required=False,
            help_text=gettext("12.1 V; or in words: wet."),
        ),
        f"low_{n}": forms.CharField(label=gettext("At least"), max_length=60, required=False),
        f"high_{n}": forms.CharField(label=gettext("At most"), max_length=60, required=False),
        f"source_{n}": forms.CharField(
            label=gettext("Source of the limits"), max_length=300, required=False
        ),
        f"right_{n}": forms.ChoiceField(
            label=gettext("Where no limit tells"), required=False,
            choices=[
                ("", gettext("not judged")), ("right", gettext("as it should be")),
                ("wrong", gettext("not as it should be")),
            ],
        ),
    }  # fmt: skip


def quantity_of(text: str) -> units.Quantity:
    """Which quantity a text is of, by its unit; words where it is none."""
    try:
        return units.read_any(text).quantity
    except units.QuantityError:
        return "words"
