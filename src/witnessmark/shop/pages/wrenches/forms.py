"""A wrench, and a check of it, as they are typed in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from witnessmark import units
from witnessmark.shop.fields import BaseField, DayInput, PercentField
from witnessmark.shop.forms import ChoiceTiles, QuantityField, SheetForm, SheetModelForm, in_words
from witnessmark.shop.models import Wrench, WrenchEvent
from witnessmark.wrenches import (
    CLASSES,
    Lever,
    Point,
    TorqueTool,
    WrenchError,
    check_points,
    lever_torque,
    mass_for,
)

POINTS = 5  # lines of a check
SCALES_G, RULE_MM = 10.0, 1.0  # what scales and rule may be off where nothing else is told


class NumberField(PercentField):
    """A number above 0, or None; cleans to a float."""

    def clean(self, value: Any) -> Any:
        """Read the number."""
        number = super().clean(value)
        if number is not None and number <= 0:
            raise ValidationError(gettext("Write a number above 0."))
        return None if number is None else float(number)

    def prepare_value(self, value: Any) -> Any:
        """A float without idle decimals."""
        return f"{value:g}" if isinstance(value, float) else value


class WrenchForm(SheetModelForm):
    """A torque wrench."""

    low_nm = BaseField(
        "torque",
        label=_("From"),
        required=False,
        help_text=_(
            "Lowest torque marked; a bare number is in the unit of its scale. Empty: a fifth of the highest."
        ),
    )
    high_nm = BaseField(
        "torque", label=_("To"), help_text=_("A bare number is in the unit of its scale.")
    )
    scale_unit = forms.ChoiceField(
        label=_("Unit of its scale"),
        choices=[(unit, unit) for unit in units.UNITS["torque"]],
        widget=ChoiceTiles,
        initial="N·m",
    )
    step = NumberField(
        unit="",
        label=_("One division of the scale"),
        required=False,
        help_text=_("In the unit of its scale: 0.5. Empty: rounding is not calculated."),
    )
    arm_mm = BaseField(
        "length",
        unit="mm",
        label=_("Arm"),
        required=False,
        help_text=_("Square to the mark in the grip: 400 mm. Needed for a crow-foot."),
    )
    tool_class = forms.ChoiceField(
        label=_("Class after ISO 6789-1"),
        required=False,
        choices=[
            ("", _("as usual for its kind")),
            *((c, f"{c}: {x.text}") for c, x in CLASSES.items()),
        ],
    )
    deviation_percent = NumberField(
        unit="%",
        label=_("May deviate by"),
        required=False,
        help_text=_(
            "If its maker gives another value than its class: 4 %, or 6 % to 10 N·m and for bending bars."
        ),
    )

    class Meta:
        model = Wrench
        fields = (
            "name", "kind", "scale_unit", "low_nm", "high_nm", "step", "arm_mm", "tool_class",
            "deviation_percent", "calibration_months", "most_cycles", "cycles_told",
            "borrowed_from", "back_by", "given_back_on", "retired_on",
        )  # fmt: skip
        widgets = {
            "kind": ChoiceTiles, "retired_on": DayInput, "back_by": DayInput, "given_back_on": DayInput,
        }  # fmt: skip
        labels = {
            "calibration_months": _("A calibration holds for, in months"),
            "most_cycles": _("or for so many cycles"),
            "cycles_told": _("Cycles other than at the bench, since its last check"),
            "borrowed_from": _("Borrowed from"),
            "back_by": _("To be back by"),
            "given_back_on": _("Given back on"),
            "retired_on": _("Out of use since"),
        }
        help_texts = {"borrowed_from": _("Empty: the shop's own.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = Wrench.Kind.choices  # type: ignore[attr-defined]
        scale = self.data.get(self.add_prefix("scale_unit")) or self.instance.scale_unit
        for name in ("low_nm", "high_nm"):
            field = self.fields[name]
            field.shown_in = self.instance.scale_unit  # type: ignore[attr-defined]
            # the unit that is chosen on the page, which is not known before: nothing stands beside the field
            field.bare_in = scale if scale in units.UNITS["torque"] else ""  # type: ignore[attr-defined]
            field.widget.beside = "scale_unit"

    def clean(self) -> dict[str, Any]:
        """A borrowed wrench has a day it is to be back by."""
        said = super().clean() or {}
        if said.get("borrowed_from") and not said.get("back_by") and "back_by" not in self.errors:
            self.add_error("back_by", gettext("By when does its owner want it back?"))
        if said.get("back_by") and not said.get("borrowed_from"):
            self.add_error("borrowed_from", gettext("Whose is it?"))
        if said.get("deviation_percent") and said["deviation_percent"] >= 100:
            self.add_error("deviation_percent", gettext("Less than 100 %."))
        return said


class TimeInput(forms.TimeInput):
    """A time of day, with the browser's own clock."""

    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M")


class TimeForm(SheetForm):
    """The time of a check of which only the day was known."""

    time = forms.TimeField(label=_("It was made at"), widget=TimeInput)

    def __init__(self, *args: Any, on: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.on = on

    def clean_time(self) -> datetime:
        """The instant on its day."""
        return instant(self.on, self.cleaned_data["time"])


def instant(on: date, at: time) -> datetime:
    """A time of a day in the shop's zone. Raises ValidationError for one still to come."""
    made = timezone.make_aware(datetime.combine(on, at))
    if made > timezone.now():
        raise ValidationError(gettext("That time is still to come."))
    return made


@dataclass(frozen=True)
class PointFields:
    """One line of a check as the page shows it."""

    number: int
    shown: BoundField
    true: BoundField
    mass: BoundField


class CheckForm(SheetForm):
    """A calibration or a check in house: what the wrench was set to or showed, and what the torque truly was."""

    kind = forms.ChoiceField(
        label=_("Which check?"),
        choices=[c for c in WrenchEvent.Kind.choices if c[0] != WrenchEvent.Kind.DROPPED],
        widget=ChoiceTiles,
        initial=WrenchEvent.Kind.LABORATORY,
    )
    on = forms.DateField(label=_("On"), widget=DayInput)
    time = forms.TimeField(
        label=_("At"),
        required=False,
        widget=TimeInput,
        help_text=_("Empty: only the day is known."),
    )
    certificate = forms.CharField(label=_("Certificate"), required=False, max_length=80)
    adjusted = forms.BooleanField(
        label=_("It was adjusted afterwards"),
        required=False,
        help_text=_("Then it may be used from that day. What it tightened before stays in doubt."),
    )
    uncertainty = NumberField(
        unit="%",
        label=_("The reference may itself be off by"),
        required=False,
        help_text=_(
            "From its certificate. A check renews the calibration if this is at most a quarter "
            "of what the wrench may deviate."
        ),
    )
    arm = QuantityField(
        "length",
        unit="mm",
        label=_("Arm: square to where the weight hangs"),
        required=False,
    )
    own = QuantityField("mass", unit="g", label=_("Weight of the lever itself"), required=False)
    own_arm = QuantityField(
        "length",
        unit="mm",
        label=_("Square to where the lever balances"),
        required=False,
    )
    scales = QuantityField("mass", unit="g", label=_("The scales may be off by"), required=False)
    note = forms.CharField(label=_("Note"), required=False, max_length=400)

    def __init__(self, *args: Any, tool: TorqueTool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tool = tool
        self.fields["on"].initial = timezone.localdate()
        self.fields["arm"].initial = f"{tool.arm_mm:g}" if tool.arm_mm else None
        self.fields["scales"].initial = f"{SCALES_G:g}"
        points = check_points(tool.lowest_nm, tool.high_nm)
        wanted = [f"{units.convert(p, 'torque', tool.scale_unit):.4g}" for p in points]
        for n in range(1, POINTS + 1):
            usual = wanted[n - 1] if n <= len(wanted) else ""
            self._add_point(n, usual)

    def _add_point(self, n: int, usual: str) -> None:
        unit = self.tool.scale_unit
        for name, label in (("shown", gettext("Shown")), ("true", gettext("True"))):
            field = QuantityField(
                "torque",
                unit=unit,
                label=gettext("{label}, {n}").format(label=label, n=n),
                required=False,
            )
            field.widget.attrs["placeholder"] = usual if name == "shown" else ""
            self.fields[f"{name}_{n}"] = field
        mass = QuantityField(
            "mass", unit="kg", label=gettext("Weight, {n}").format(n=n), required=False
        )
        self.fields[f"mass_{n}"] = mass

    @property
    def points(self) -> list[PointFields]:
        """The lines of the check."""
        return [
            PointFields(n, self[f"shown_{n}"], self[f"true_{n}"], self[f"mass_{n}"])
            for n in range(1, POINTS + 1)
        ]

    def clean(self) -> dict[str, Any]:
        """Points in pairs; a lever has an arm; a day that has come."""
        said = super().clean() or {}
        if said.get("on") and said["on"] > timezone.localdate():
            self.add_error("on", gettext("That day is still to come."))
        said["at"] = self._instant(said)
        lever = self._lever(said) if said.get("kind") == WrenchEvent.Kind.LEVER else None
        found, shares = [], []
        for n in range(1, POINTS + 1):
            point = self._point(n, said, lever)
            if point:
                found.append([point[0].shown_nm, point[0].true_nm])
                shares.append(point[1])
        if not found and not self.errors and said.get("kind") != WrenchEvent.Kind.LABORATORY:
            self.add_error("shown_1", gettext("Write down at least one torque."))
        said["points"] = found
        told = said.get("uncertainty") or 0.0
        said["uncertainty_percent"] = max(shares, default=0.0) * 100 if lever else told
        return said

    def _instant(self, said: dict[str, Any]) -> datetime | None:
        if not (said.get("on") and said.get("time")) or "on" in self.errors:
            return None
        try:
            return instant(said["on"], said["time"])
        except ValidationError as error:
            self.add_error("time", error)
            return None

    def _lever(self, said: dict[str, Any]) -> Lever | None:
        if not said.get("arm"):
            if "arm" not in self.errors:
                self.add_error("arm", gettext("How long is the arm?"))
            return None
        own, own_arm = said.get("own"), said.get("own_arm")
        if bool(own) != bool(own_arm):
            self.add_error(
                "own_arm" if own else "own", gettext("Give its weight and where it balances, both.")
            )
        try:
            return Lever(
                said["arm"].value, own.value if own else 0.0, own_arm.value if own_arm else 0.0
            )
        except WrenchError as error:
            self.add_error("arm", in_words(error))
            return None

    def _point(
        self, n: int, said: dict[str, Any], lever: Lever | None
    ) -> tuple[Point, float] | None:
        """One line: the point, and how far its true torque may be off."""
        other = f"mass_{n}" if said.get("kind") == WrenchEvent.Kind.LEVER else f"true_{n}"
        shown, true = said.get(f"shown_{n}"), said.get(other)
        if {f"shown_{n}", other} & set(self.errors) or not (shown or true):
            return None
        if not (shown and true):
            self.add_error(other if shown else f"shown_{n}", gettext("A line needs both."))
            return None
        try:
            if said.get("kind") != WrenchEvent.Kind.LEVER:
                return Point(shown.value, true.value), 0.0
            if lever is None:
                return None
            off = said["scales"].value if said.get("scales") else SCALES_G
            torque = lever_torque(true.value, lever, mass_error_g=off, arm_error_mm=RULE_MM)
            return Point(shown.value, torque.torque_nm), torque.uncertainty
        except WrenchError as error:
            self.add_error(other, in_words(error))
            return None


def weights(tool: TorqueTool) -> list[tuple[str, str]]:
    """What to hang from the wrench's own arm for each usual point: torque, weight. None where the arm is not known."""
    if tool.arm_mm is None:
        return []
    lever = Lever(tool.arm_mm)
    return [
        (
            units.show(point, "torque", unit=tool.scale_unit),
            units.show(mass_for(point, lever), "mass", unit="kg"),
        )
        for point in check_points(tool.lowest_nm, tool.high_nm)
    ]
