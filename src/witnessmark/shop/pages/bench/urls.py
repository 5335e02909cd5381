"""Addresses of the bench."""

from django.urls import path

from witnessmark.shop.pages.bench import acts, off_plan, out_of_limits, owner, readings, views

BENCH = "visits/<uuid:visit>/bench/"

urlpatterns = [
    path(BENCH, views.bench, name="bench"),
    path(f"{BENCH}confirm/", acts.confirm, name="bench-confirm"),
    path(f"{BENCH}read/<slug:reading>/", readings.told, name="bench-read"),
    path(f"{BENCH}mend/", acts.mend, name="bench-mend"),
    path(f"{BENCH}mend/<slug:job>/", out_of_limits.price, name="bench-mend-price"),
    path(f"{BENCH}skip/", acts.skip, name="bench-skip"),
    path(f"{BENCH}wait-stopped/", acts.stop_wait, name="bench-stop-wait"),
    path(f"{BENCH}leave/", acts.leave, name="bench-leave"),
    path(f"{BENCH}undo/", acts.undo, name="bench-undo"),
    path(f"{BENCH}order/", acts.take_order, name="bench-order"),
    path(f"{BENCH}wont/", off_plan.wont, name="bench-wont"),
    path(f"{BENCH}found/", off_plan.found, name="bench-found"),
    path(f"{BENCH}note/", off_plan.note, name="bench-note"),
    path(f"{BENCH}settle/", off_plan.settle, name="bench-settle"),
    path(f"{BENCH}judge/", off_plan.judge, name="bench-judge"),
    path(f"{BENCH}owner/", owner.rings, name="bench-owner"),
]
