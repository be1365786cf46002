"""The operations: what each takes, on which machine, in which thread; their standards and why."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from django.contrib import messages
from django.db.models import Exists, OuterRef, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.pages import asking
from orders.roles import maker_only
from patterns.models import Operation, Stage
from patterns.shipped import OPERATIONS
from production.models import StandardChange, TimeStudy
from production.work_study.operations_forms import OperationForm
from production.work_study.standards import keep_operation, remove_operation

SHIPPED = {str(values["code"]) for values in OPERATIONS}
FROM_NOW_ON = "It counts from the next plan on; what is planned stays as it was."
form_page = require_http_methods(["GET", "HEAD", "POST"])


def listed() -> QuerySet[Operation]:
    """Operations in the order of work, each with whether its standard was ever set here."""
    accepted = TimeStudy.objects.filter(operation=OuterRef("pk"), state=TimeStudy.State.ACCEPTED)
    changed = StandardChange.objects.filter(operation=OuterRef("pk"))
    return Operation.objects.select_related("chosen_thread").annotate(
        is_own=Exists(changed) | Exists(accepted)
    )


def is_invented(operation: Operation) -> bool:
    """Whether its minutes are still those that were shipped, which nobody measured."""
    return operation.code in SHIPPED and not vars(operation)["is_own"]


@require_safe
def operations(request: HttpRequest) -> HttpResponse:
    rows = sorted(listed(), key=lambda row: Stage.values.index(row.stage))
    stages = [
        (Stage(stage).label, _marked(own)) for stage, own in groupby(rows, key=lambda r: r.stage)
    ]
    return render(request, "production/operations/list.html", {"stages": stages})


def _marked(rows: Iterable[Operation]) -> list[tuple[Operation, bool]]:
    return [(row, is_invented(row)) for row in rows]


@require_safe
def operation(request: HttpRequest, code: str) -> HttpResponse:
    found = get_object_or_404(listed(), code=code)
    return render(
        request,
        "production/operations/operation.html",
        {
            "operation": found,
            "invented": is_invented(found),
            "shipped": found.code in SHIPPED,
            "changes": found.standard_changes.select_related("by", "study"),
            "studies": found.time_studies.exclude(state=TimeStudy.State.OPEN).select_related("by"),
        },
    )


@maker_only
@form_page
def new_operation(request: HttpRequest) -> HttpResponse:
    return _edit(request, Operation(), "Add an operation")


@maker_only
@form_page
def edit_operation(request: HttpRequest, code: str) -> HttpResponse:
    found = get_object_or_404(Operation, code=code)
    return _edit(request, found, found.name)


def _edit(request: HttpRequest, instance: Operation, heading: str) -> HttpResponse:
    form = OperationForm(request.POST if request.method == "POST" else None, instance=instance)
    if form.is_valid():
        kept = form.save(commit=False)
        data = form.cleaned_data
        keep_operation(
            kept, follows=data["follows"], reason=data.get("reason", ""), by=asking(request)
        )
        messages.success(request, f"{kept.name} is saved. {FROM_NOW_ON}")
        return redirect("production:operation", kept.code)
    context = {"form": form, "heading": heading, "operation": instance}
    return render(request, "production/operations/form.html", context)


@maker_only
@require_POST
def remove(request: HttpRequest, code: str) -> HttpResponse:
    found = get_object_or_404(Operation, code=code)
    if found.code in SHIPPED:
        messages.error(request, f"{found.name} was shipped; set its minutes to 0 instead.")
        return redirect("production:operation", code)
    remove_operation(found)
    messages.success(request, f"{found.name} is removed. {FROM_NOW_ON}")
    return redirect("production:operations")
