"""Change a machine or its owner; erase an owner."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from witnessmark.shop.models import Machine, Owner
from witnessmark.shop.models.changes import note
from witnessmark.shop.pages.machine.forms import EraseForm, MachineEditForm, OwnerEditForm
from witnessmark.shop.responses import done, show
from witnessmark.shop.scope import Desk, DeskRequest

ERASED = "owner erased"  # stands in place of the name


@require_http_methods(["GET", "POST"])
def machine(request: DeskRequest, machine: UUID) -> HttpResponse:
    """The machine's own data."""
    row = request.desk.get(Machine, machine, "owner", "book")
    form = MachineEditForm(request.POST or None, instance=row, desk=request.desk)
    if request.method == "POST" and form.is_valid():
        form.save()
        return done(request, "machine", row.pk, said=_("Saved."))
    about = request.desk.get(Machine, machine, "owner")
    return show(request, "machine/edit.html", {"form": form, "machine": about})


@require_http_methods(["GET", "POST"])
def owner(request: DeskRequest, owner: UUID) -> HttpResponse:
    """The owner's data."""
    row = request.desk.get(Owner, owner)
    if row.erased_on:
        return _back(request, row, _("This owner was erased; give the machine a new one."))
    form = OwnerEditForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        form.save()
        return _back(request, row, _("Saved."))
    machines = request.desk.all(Machine).filter(owner=row)
    return show(request, "machine/owner.html", {"form": form, "owner": row, "machines": machines})


@require_http_methods(["GET", "POST"])
def erase(request: DeskRequest, owner: UUID) -> HttpResponse:
    """Clear all that is known of a person. The row's id stays: entries name it and nothing else."""
    row = request.desk.get(Owner, owner)
    form = EraseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            _erase(request.desk, row)
        return _back(request, row, _("Erased."))
    machines = request.desk.all(Machine).filter(owner=row)
    return show(request, "machine/erase.html", {"form": form, "owner": row, "machines": machines})


def _erase(desk: Desk, row: Owner) -> None:
    """Once; that it was done is kept, and by whom, but nothing of the person."""
    if row.erased_on is None:
        machines = ", ".join(str(one) for one in desk.all(Machine).filter(owner=row))
        note("An owner", "data", f"known; machines: {machines or 'none'}", "erased")
        row.name, row.phone, row.email, row.address = ERASED, "", "", ""
        row.erased_on = timezone.localdate()
        row.save(update_fields=["name", "phone", "email", "address", "erased_on"])


def _back(request: DeskRequest, row: Owner, said: str) -> HttpResponse:
    """To the machine of this owner, or to all of them."""
    theirs = request.desk.all(Machine).filter(owner=row).first()
    if theirs is None:
        return done(request, "machines", said=said)
    return done(request, "machine", theirs.pk, said=said)
