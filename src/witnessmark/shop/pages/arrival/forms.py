"""What is typed when a machine comes in."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop as noop

from witnessmark.book.model import Book
from witnessmark.facts import Odometer, plausible_odometer
from witnessmark.shop import photos
from witnessmark.shop.fields import DayInput
from witnessmark.shop.forms import (
    ChoiceTiles,
    ManyTiles,
    PhotoInput,
    QuantityField,
    SheetForm,
    ToldInput,
)
from witnessmark.shop.models import PhotoKept
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.arrival_look import LOOKS, WHERE, text_of, where_of, words_of
from witnessmark.shop.work.arriving import OdometerInput
from witnessmark.shop.work.frame_and_tyre_numbers import TYRES

RIGHT = [noop("ridden so far"), noop("clock exchanged"), noop("earlier figure was wrong")]
FUEL = [noop("empty"), noop("a quarter"), noop("half"), noop("three quarters"), noop("full")]
COUNTS = [(str(n), str(n)) for n in range(5)]
YES_NO = [("yes", _("yes")), ("no", _("no"))]  # neither: not asked
WHERE_ASKED = noop("{look}: where?")
UNIT_OF = {"metric": "km", "us": "mi", "imperial": "mi"}
OF_NOBODY = _("About the machine only: no names or numbers of people. This is kept for good.")


class PhotosInput(PhotoInput):
    """Several photos, from the camera or the files."""

    allow_multiple_selected = True

    def __init__(self) -> None:
        super().__init__({"multiple": True})
        del self.attrs["capture"]  # it would force the camera, one picture at a time

    def value_from_datadict(self, data: Any, files: Any, name: str) -> list[Any]:
        return files.getlist(name) if hasattr(files, "getlist") else []


@dataclass(frozen=True)
class FieldGroup:
    """Fields that belong together; open where one of them has a fault."""

    name: str
    title: str
    fields: list[forms.BoundField]
    faulty: bool


def _tiles(label: Any, words: Sequence[str], help_text: Any = "") -> forms.ChoiceField:
    choices = [(word, gettext(word)) for word in words]
    return forms.ChoiceField(
        label=label, choices=choices, required=False, widget=ChoiceTiles, help_text=help_text
    )


def _yes_no(label: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=YES_NO, required=False, widget=ChoiceTiles)


def _long(label: Any, help_text: Any = "", rows: int = 2) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=False,
        max_length=4000,
        help_text=help_text,
        widget=forms.Textarea({"rows": rows}),
    )


class ArrivalForm(SheetForm):
    """What is told, counted and seen when a machine comes in.

    Fields besides these: `look_<thing>` for the look, `state_<condition>` for what the book asks.
    `as_shown`: what the page shows is remembered, so that only what is changed counts. `without`:
    fields that cannot be written any more.
    """

    odometer = QuantityField(
        "distance",
        label=_("Odometer"),
        help_text=_("Another unit on the clock: write it, 30000 mi."),
    )
    right_because = _tiles(
        _("It is right:"),
        RIGHT,
        _("Look again first. Or say why it is right."),
    )
    complaint = _long(_("What is it here for?"), OF_NOBODY)
    wanted_by = forms.DateField(label=_("Wanted by"), required=False, widget=DayInput)
    keys = forms.ChoiceField(label=_("Keys"), choices=COUNTS, required=False, widget=ChoiceTiles)
    fobs = forms.ChoiceField(label=_("Fobs"), choices=COUNTS, required=False, widget=ChoiceTiles)
    luggage = forms.CharField(
        label=_("Luggage"),
        required=False,
        max_length=300,
        help_text=_("Cases, bags, what is in them."),
    )
    fuel = _tiles(_("Fuel"), FUEL)
    alarm = _yes_no(_("Has it an alarm or tracker?"))
    owner_said = _long(_("What the owner says was done"), OF_NOBODY)
    may_ride = _yes_no(_("May we ride it?"))
    old_parts_back = _yes_no(_("Old parts back?"))
    else_seen = forms.CharField(label=_("Also seen"), required=False, max_length=1000)
    photos = forms.Field(
        label=_("Take or choose"),
        required=False,
        widget=PhotosInput,
        help_text=_("Several at once, or one by one."),
    )

    GROUPS = (
        ("came", _("Keys, fuel, luggage"), ("keys", "fobs", "fuel", "luggage", "alarm")),
        (
            "wishes",
            _("What the owner wants"),
            ("wanted_by", "may_ride", "old_parts_back"),
        ),
        (
            "look",
            _("Two-minute look before a ride"),
            (
                *(
                    f"look_{n}"
                    for name in LOOKS
                    for n in (name, where_of(name))
                    if n in {*LOOKS, *WHERE}
                ),
                "else_seen",
            ),
        ),
        ("tyres", _("Tyres, as marked"), tuple(TYRES)),
        ("photos", _("Photos round the machine"), ("photos",)),
        ("before", _("What was done before"), ("owner_said",)),
    )

    def __init__(
        self,
        *args: Any,
        desk: Desk,
        book: Book | None,
        history: Sequence[Odometer],
        as_shown: bool = False,
        without: Collection[str] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.history, self.desk = history, desk
        self.kept: list[PhotoKept] = []
        self.doubted = False  # whether to ask why the odometer is right
        self.book = book
        in_unit(self.fields["odometer"], desk)
        for name, look in LOOKS.items():
            self.fields[f"look_{name}"] = _look_field(look.text, look.words)
        for where, name in WHERE.items():
            look = LOOKS[name]
            self.fields[f"look_{where}"] = _look_field(look.text, look.where, WHERE_ASKED)
        for name, tyre in TYRES.items():
            self.fields[name] = _tyre_field(str(tyre))
        for name, condition in self._asked():
            words = [(s, condition.state_words.get(s, s)) for s in condition.states]
            self.fields[f"state_{name}"] = forms.ChoiceField(
                label=condition.asked, choices=words, required=False, widget=ChoiceTiles
            )
        for name in {*without} & self.fields.keys():
            del self.fields[name]
        for name, field in self.fields.items() if as_shown else ():
            field.show_hidden_initial = name not in ("photos", "right_because")

    def _asked(self) -> list[tuple[str, Any]]:
        conditions = self.book.conditions if self.book else {}
        return [(name, one) for name, one in conditions.items() if one.asked]

    def clean(self) -> dict[str, Any]:
        """A look that is well and not well at once is neither; an odometer that cannot be is asked about."""
        said = super().clean() or {}
        for name, look in LOOKS.items():
            words = said.get(f"look_{name}") or []
            if look.words[0] in words and len(words) > 1:
                self.add_error(
                    f"look_{name}",
                    gettext("“{words}” does not go with another choice.").format(
                        words=gettext(look.words[0])
                    ),
                )
            if said.get(f"look_{where_of(name)}") and not {*words} - {look.words[0]}:
                fault = gettext("Say above what was found there.")
                self.add_error(f"look_{where_of(name)}", fault)
        self._believe(said)
        return said

    def _believe(self, said: dict[str, Any]) -> None:
        amount = said.get("odometer")
        if amount is None or "odometer" not in self.changed_data:
            return
        if said.get("right_because"):
            self.doubted = True
            return
        fault = plausible_odometer(
            self.history, Odometer(timezone.localdate(), amount.value, amount.text)
        )
        if fault:
            self.doubted = True
            self.refuse(fault, "odometer")

    @property
    def groups(self) -> list[FieldGroup]:
        """The fields that are not needed for a quick arrival, group by group."""
        states = tuple(f for f in self.fields if f.startswith("state_"))
        groups = [
            *self.GROUPS[:2],
            ("states", gettext("As it stands now"), states),
            *self.GROUPS[2:],
        ]
        return [
            FieldGroup(
                name, str(title), [self[f] for f in fields], any(f in self.errors for f in fields)
            )
            for name, title, fields in groups
            if fields
        ]

    # ------------------------------------------------------------ what was said

    def keep_photos(self, sent: Sequence[Any], before: Sequence[PhotoKept]) -> None:
        """Keep the photos that are photos, also when something else is wrong; name each that is none."""
        self.kept = list(before)
        for file in sent:
            try:
                photo = photos.keep(self.desk, file, file.name)
            except photos.PhotoError as error:
                self.add_error("photos", f"{error.place}: {error.problem}; {error.expected}.")
                continue
            if photo not in self.kept:
                self.kept.append(photo)
        if self.kept and self.errors.get("photos"):
            self.add_error("photos", gettext("The good ones are kept, see below."))

    def said(self) -> dict[str, Any]:
        """The body of `arrived`, without machine and owner."""
        typed = self.cleaned_data
        plain = {name: typed[name] for name in ("complaint", "luggage", "fuel", "owner_said")}
        asked = {name: _answer(typed[name]) for name in ("alarm", "may_ride", "old_parts_back")}
        counted = {name: int(typed[name] or 0) for name in ("keys", "fobs")}
        day = typed["wanted_by"]
        return plain | asked | counted | {
            "wanted_by": day.isoformat() if day else None,
            "look": self.look(),
        }  # fmt: skip

    def look(self) -> dict[str, str]:
        """What was seen, by the thing looked at."""
        seen = {name: text_of(self.cleaned_data[f"look_{name}"]) for name in (*LOOKS, *WHERE)}
        seen |= {name: self.cleaned_data[name] for name in TYRES}
        seen["else_seen"] = self.cleaned_data["else_seen"]
        return {name: text for name, text in seen.items() if text}

    def states(self) -> dict[str, str]:
        """The states found, by condition; only those that were answered."""
        given = {name: self.cleaned_data.get(f"state_{name}") for name, _ in self._asked()}
        return {name: state for name, state in given.items() if state}

    def reading(self) -> OdometerInput:
        """What the odometer says."""
        return OdometerInput(self.cleaned_data["odometer"], self.cleaned_data["right_because"])


def shown_again(
    desk: Desk, said: Mapping[str, Any], odometer: str, states: Mapping[str, str]
) -> dict[str, Any]:
    """The initial values of `ArrivalForm` from the entries as they stand."""
    look = said.get("look", {})
    asked = ("alarm", "may_ride", "old_parts_back")
    return {
        **{name: said.get(name, "") for name in ("complaint", "luggage", "fuel", "owner_said")},
        **{name: _WORD[said.get(name)] for name in asked},
        **{name: str(said.get(name, 0)) for name in ("keys", "fobs")},
        **{f"look_{name}": words_of(look.get(name, "")) for name in (*LOOKS, *WHERE)},
        **{f"state_{name}": state for name, state in states.items()},
        **{name: look.get(name, "") for name in TYRES},
        "else_seen": look.get("else_seen", ""),
        "wanted_by": said.get("wanted_by"),
        "odometer": odometer.removesuffix(f" {UNIT_OF[desk.units]}"),
    }


def in_unit(field: forms.Field, desk: Desk) -> None:
    """A bare number means the unit of distance that is now shown."""
    field.unit = UNIT_OF[desk.units]  # type: ignore[attr-defined]
    field.widget.attrs["inputmode"] = "decimal"


def _look_field(
    text: str, words: Sequence[str], asked: str = "{look}"
) -> forms.MultipleChoiceField:
    choices = [(word, gettext(word)) for word in words]
    return forms.MultipleChoiceField(
        label=gettext(asked).format(look=gettext(text)),
        choices=choices,
        required=False,
        widget=ManyTiles,
    )


def _tyre_field(where: str) -> forms.CharField:
    return forms.CharField(
        label=where,
        required=False,
        max_length=200,
        widget=ToldInput("tyre-told"),
        help_text=gettext(
            "Size, load and speed, the digits after DOT: 120/70 ZR 17 (58W) DOT 2319."
        ),
    )


_WORD = {True: "yes", False: "no", None: ""}


def _answer(word: str) -> bool | None:
    return {"yes": True, "no": False}.get(word)
