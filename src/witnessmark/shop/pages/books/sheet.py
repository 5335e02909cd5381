"""The build sheet as a form: slot by slot the blocks on offer, their options, and what was chosen."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, cast

from django import forms
from django.http import QueryDict
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark.book import build as sheet
from witnessmark.book.build import Block, Choices, Option
from witnessmark.book.compose import in_full
from witnessmark.book.errors import Fault
from witnessmark.book.fields import ID_PATTERN
from witnessmark.book.vocabulary import NOT_KNOWN, Slot
from witnessmark.charts.build import picture
from witnessmark.errors import WitnessError
from witnessmark.shop.forms import SheetForm, in_words
from witnessmark.shop.models import StoredBook
from witnessmark.shop.scope import Desk


@dataclass(frozen=True)
class ChoiceShown:
    """One choice of an option, as a tile."""

    name: str
    text: str
    picture: SafeString
    chosen: bool


@dataclass(frozen=True)
class OptionShown:
    """A question inside of a block: the name of its field, and its choices."""

    field: str
    text: str
    choices: list[ChoiceShown]


@dataclass(frozen=True)
class BlockShown:
    """One block on offer, as a tile, with its options below it where it is chosen."""

    name: str
    text: str
    why: str
    picture: SafeString
    chosen: bool
    options: list[OptionShown]


@dataclass(frozen=True)
class SlotShown:
    """One slot of the sheet."""

    name: str
    text: str
    always: bool  # every machine has one
    not_known: bool  # chosen so
    blocks: list[BlockShown]
    chosen: str = ""  # in words
    faults: list[str] = field(default_factory=list)

    @property
    def waits(self) -> bool:
        """Whether it waits for somebody: nothing is chosen, or what does not go with the rest."""
        return bool(self.faults) or not (self.not_known or any(one.chosen for one in self.blocks))


class BuildForm(SheetForm):
    """How a model is built. `started`: the choices a page begins with; `shown`: the revision it was made from."""

    shown = forms.CharField(widget=forms.HiddenInput, required=False)
    looked = forms.CharField(widget=forms.HiddenInput, required=False)  # what was shown to be saved

    def __init__(self, *args: Any, started: Choices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.build: Choices = dict(started)
        self.slot_faults: dict[str, list[str]] = {}
        if isinstance(self.data, QueryDict):
            self.build, self.slot_faults = choices_sent(self.data)

    def clean(self) -> dict[str, Any]:
        """Every slot that is needed has a block, and what is chosen is on offer."""
        said = super().clean() or {}
        asked = {slot.name: slot.text for slot in sheet.asked()}
        for name, told in self.slot_faults.items():
            if name not in asked:  # it has no place on the page
                self.add_error(None, f"“{name}”: {told[0]}")
        if places := [asked[name] for name in self.slot_faults if name in asked]:
            words = _("Nothing is saved yet. Look at: {slots}.").format(slots=", ".join(places))
            self.add_error(None, words)
        return said

    def show_again(self, shown: str, looked: str) -> None:
        """Let the page that comes back say from which revision it was made, and what it shows to be saved."""
        data = cast("QueryDict", self.data).copy()
        data["shown"], data["looked"] = shown, looked
        self.data = data

    def refuse_slot(self, slot: str, words: str) -> None:
        """Put a fault beside a slot."""
        self.slot_faults.setdefault(slot, []).append(words)
        self.add_error(None, words)

    @cached_property
    def slots(self) -> list[SlotShown]:
        """The sheet as it stands."""
        return [
            slot_shown(slot, self.build.get(slot.name, {}), self.slot_faults.get(slot.name, []))
            for slot in sheet.asked()
        ]

    @property
    def open_slot(self) -> str:
        """The one slot that is unfolded: the first that waits for somebody, one with a fault before others."""
        waiting = [slot for slot in self.slots if slot.waits]
        return next(
            (slot.name for slot in waiting if slot.faults), waiting[0].name if waiting else ""
        )


class NewForm(BuildForm):
    """A new model: how it is built, and what it is called."""

    maker = forms.CharField(label=gettext_lazy("Maker"), max_length=80)
    model = forms.CharField(label=gettext_lazy("Model"), max_length=80)
    years = forms.CharField(label=gettext_lazy("Years"), required=False, max_length=40)

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.desk = desk

    @property
    def name(self) -> str:
        """The id of the book, from maker and model."""
        words = f"{self.cleaned_data['maker']} {self.cleaned_data['model']}".lower()
        name = re.sub(r"[^a-z0-9]+", "_", words).strip("_")[:60].rstrip("_")
        return name if re.match(ID_PATTERN, name) else f"model_{name}"[:60]

    def clean(self) -> dict[str, Any]:
        """A model is started once."""
        said = super().clean()
        if said.get("maker") and said.get("model"):
            same = self.desk.all(StoredBook).filter(name=self.name).first()
            if same:
                self.add_error(
                    "model", _("There is a book of it already: {title}.").format(title=same.title)
                )
        return said


def choices_sent(data: QueryDict) -> tuple[Choices, dict[str, list[str]]]:
    """The choices of a form that was sent, and by slot what is wrong with them."""
    build: Choices = {}
    faults: dict[str, list[str]] = {}
    for slot in sheet.asked():
        taken = _one(data, slot.name, slot.name, faults)
        build[slot.name] = {"is": taken or slot.usual or NOT_KNOWN}
        given = f"{slot.name}-{taken}-"
        for name in data:
            if taken and name.startswith(given):
                build[slot.name][name.removeprefix(given)] = _one(data, name, slot.name, faults)
    for name in data:
        if name.partition("-")[0] not in build and name not in NAMES:
            words = _(
                "This page is from another version, which asked for this. Look at the choices again."
            )
            _told(faults, name, words)
    for slot_name, told in wrong_in(build).items():
        faults.setdefault(slot_name, []).extend(told)
    full, _wrong = in_full(build, {})
    return {
        name: one if name in faults else full.get(name, one) for name, one in build.items()
    }, faults


def wrong_in(build: Choices) -> dict[str, list[str]]:
    """By slot what is wrong with choices, in words."""
    faults: dict[str, list[str]] = {}
    for _at, fault in in_full(build, {})[1]:
        slot = str(fault.path[1])
        nothing = build[slot]["is"] == NOT_KNOWN
        words = _("Choose one: no machine is without it.") if nothing else _words(fault)
        _told(faults, slot, words)
    return faults


NAMES = {  # that are no slot
    *NewForm.base_fields,
    "csrfmiddlewaretoken",
    "entry_id",
    "seen",
    "begin",
    "begun",
    "start",
    "look",
    "slot",
    "back",
}


def _one(data: QueryDict, name: str, slot: str, faults: dict[str, list[str]]) -> str:
    """The one value of a field; two different ones are told."""
    values = list(dict.fromkeys(data.getlist(name)))
    if len(values) > 1:
        both = ", ".join(f"“{value[:60]}”" for value in values)
        _told(faults, slot, _("Chosen more than once: {both}. Choose one.").format(both=both))
    return values[0][:60] if values else ""


def _told(faults: dict[str, list[str]], slot: str, words: str) -> None:
    faults.setdefault(slot[:60], []).append(words)


def _words(fault: Fault) -> str:
    """What is wrong with a choice, and what would be right; blocks by their words."""
    texts = {block.name: block.text for slot in sheet.asked() for block in sheet.blocks_of(slot)}
    texts |= {"none": _("Not known yet, or it has none")} | {
        block.name: block.text
        for slot in sheet.asked()
        if slot.name == fault.path[1]
        for block in sheet.blocks_of(slot)
    }
    words = in_words(WitnessError("", fault.problem, fault.expected))
    return re.sub(r'"([\w -]+)"', lambda said: f"“{texts.get(said[1], said[1])}”", words)


def slot_shown(slot: Slot, choice: Mapping[str, str], faults: list[str]) -> SlotShown:
    """A slot with what is chosen for it."""
    taken = choice.get("is", slot.usual or NOT_KNOWN)
    blocks = [
        _block_shown(slot, block, choice, chosen=block.name == taken)
        for block in sheet.blocks_of(slot)
    ]
    not_known = taken == NOT_KNOWN and not slot.always
    _slot, words, more = next(sheet.in_words({slot.name: {**choice, "is": taken}}))
    chosen = ", ".join([words, *more]) if not_known or taken in slot.blocks else ""
    return SlotShown(slot.name, slot.text, slot.always, not_known, blocks, chosen, faults)


def _block_shown(
    slot: Slot, block: Block, choice: Mapping[str, str], *, chosen: bool
) -> BlockShown:
    options = [
        _option_shown(slot, block, option, choice if chosen else {}) for option in block.options
    ]
    drawn = _picture(slot, block.name)
    return BlockShown(block.name, block.text, block.why, drawn, chosen, options)


def _option_shown(
    slot: Slot, block: Block, option: Option, choice: Mapping[str, str]
) -> OptionShown:
    taken = choice.get(option.name, option.usual)
    choices = [
        ChoiceShown(name, text, _picture(slot, block.name, option.name, name), name == taken)
        for name, text in option.choices.items()
    ]
    return OptionShown(f"{slot.name}-{block.name}-{option.name}", option.text, choices)


def _picture(slot: Slot, *names: str) -> SafeString:
    kind = next(iter(slot.blocks.values())).parent.name  # front and rear brake have one folder
    return mark_safe(picture("/".join((kind, *names))))  # noqa: S308 - drawn by us, without a word of anybody
