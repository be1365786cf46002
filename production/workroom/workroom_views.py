"""The workroom's settings: table, tool, weights, people; fabrics; blocks that are free on grain."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from orders.money import decimals_of
from orders.roles import maker_only
from patterns.models import Block, Fabric
from patterns.services import workroom as the_workroom
from production.workroom.workroom_forms import FabricForm, GrainForm, WorkroomForm

FROM_NOW_ON = "It counts from the next plan on; what is planned stays as it was."


@maker_only
def workroom(request: HttpRequest) -> HttpResponse:
    room = the_workroom()
    form = WorkroomForm(request.POST or None, instance=room)
    if form.is_valid():
        form.save()
        messages.success(request, f"Saved. {FROM_NOW_ON}")
        if "currency" in form.changed_data:
            messages.warning(request, _currency_words(room.currency))
        return redirect("production:workroom")
    context = {
        "form": form,
        "grain": GrainForm(),
        "fabrics": Fabric.objects.all(),
        "unit": the_workroom().length_unit,
    }
    return render(request, "production/workroom/workroom.html", context)


def _currency_words(code: str) -> str:
    decimals = decimals_of(code)
    paid = f"{decimals} decimals" if decimals else "no decimals: amounts are whole"
    return (
        f"{code} is paid with {paid}. Prices and wages stand as they were, now in {code}: look "
        "through them."
    )


@maker_only
@require_POST
def grain(request: HttpRequest) -> HttpResponse:
    form = GrainForm(request.POST)
    if not form.is_valid():
        messages.error(request, "A block that is not there was chosen; nothing was changed.")
        return redirect("production:workroom")
    with transaction.atomic():
        Block.objects.update(is_free_on_grain=False)
        Block.objects.filter(code__in=form.cleaned_data["free"]).update(is_free_on_grain=True)
    messages.success(request, f"Saved. {FROM_NOW_ON}")
    return redirect("production:workroom")


@maker_only
def fabric(request: HttpRequest, code: str) -> HttpResponse:
    found = get_object_or_404(Fabric, code=code)
    form = FabricForm(request.POST or None, instance=found)
    if form.is_valid():
        form.save()
        messages.success(request, f"{found.name} is saved. {FROM_NOW_ON}")
        return redirect("production:workroom")
    return render(request, "production/workroom/fabric.html", {"form": form, "fabric": found})
