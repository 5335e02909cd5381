"""The backup: when the last one was, what it held and where it lies, what failed; and make one now."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from witnessmark.errors import WitnessError
from witnessmark.shop.backups.keys import recipient
from witnessmark.shop.backups.log import Log
from witnessmark.shop.backups.making import back_up
from witnessmark.shop.forms import SheetModelForm
from witnessmark.shop.models import Shop
from witnessmark.shop.responses import done, show
from witnessmark.shop.scope import DeskRequest, shop_read_now


class BackupForm(SheetModelForm):
    """When the shop wants to be told."""

    class Meta:
        model = Shop
        fields = ("backup_days",)
        labels = {
            "backup_days": gettext_lazy("Days after the last backup before Today reminds you")
        }
        help_texts = {"backup_days": gettext_lazy("0: no reminder.")}


@require_http_methods(["GET", "POST"])
def backup(request: DeskRequest) -> HttpResponse:
    """How it stands, and when it is told."""
    form = BackupForm(request.POST or None, instance=shop_read_now(request.desk))
    if request.method == "POST" and form.is_valid():
        form.save()
        return done(request, "backup", said=_("Saved."))
    home = Path(settings.HOME)
    last, good = Log(home).newest(), Log(home).newest_good()
    return show(request, "backup/page.html", {
        "form": form,
        "last": last,
        "good": good,
        "held": good.held.get(request.desk.shop.pk) if good else None,
        "key": recipient(home),
    })  # fmt: skip


@require_POST
def now(request: DeskRequest) -> HttpResponse:
    """Make one where the last one went. What stood in the way is told on the page."""
    try:
        back_up()
    except WitnessError as error:
        messages.error(request, _("No backup was made. {error}.").format(error=error))
        return done(request, "backup")
    return done(request, "backup", said=_("The backup is made."))
