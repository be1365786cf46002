"""The time study, made for a phone: choose an operation, watch, store readings, propose."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Count, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from orders.pages import asking
from orders.roles import is_maker, maker_only
from patterns.models import Operation
from production.errors import ProductionError
from production.models import Jacket, Reading, TimeStudy
from production.work_study import time_studies
from production.work_study.time_study_forms import BeginForm, CloseForm, MarkForm, ReadingForm
from production.work_study.time_study_state import evaluated, on_one_jacket

#: What is counted in a reading.
COUNTED = {
    "jacket": "Jackets done",
    "block": "Pieces done",
    "seam_metre": "Stretches of seam sewn",
    "lay": "Lays done",
    "ply": "Lengths spread",
    "outline": "Outlines cut round",
    "run": "Times done",
}


@require_safe
def time_studies_page(request: HttpRequest) -> HttpResponse:
    return _list(request, BeginForm(initial={"operation": _chosen(request)}))


def _chosen(request: HttpRequest) -> int | None:
    code = request.GET.get("operation", "")
    return Operation.objects.filter(code=code).values_list("pk", flat=True).first()


def _list(request: HttpRequest, form: BeginForm) -> HttpResponse:
    shown = _visible(request).select_related("operation", "by").annotate(taken=Count("readings"))
    return render(
        request,
        "production/time_study/list.html",
        {
            "form": form,
            "open": shown.filter(state=TimeStudy.State.OPEN),
            "ended": shown.exclude(state=TimeStudy.State.OPEN)[:20],
        },
    )


def _visible(request: HttpRequest) -> QuerySet[TimeStudy]:
    """A helper sees the studies that are one's own, the maker all."""
    if is_maker(request.user):
        return TimeStudy.objects.all()
    return TimeStudy.objects.filter(by=asking(request))


@require_POST
def begin(request: HttpRequest) -> HttpResponse:
    form = BeginForm(request.POST)
    if not form.is_valid():
        return _list(request, form)
    data = form.cleaned_data
    study = time_studies.begin(data["operation"], asking(request), data["who"], data["note"])
    return redirect("production:time_study", study.pk)


@require_safe
def time_study(request: HttpRequest, number: int) -> HttpResponse:
    study = _study(request, number)
    initial: dict[str, Any] = {}
    jacket = request.GET.get("jacket", "").strip()
    told = ""
    if jacket:
        told, initial = _proposed(study.operation, jacket)
    return _page(request, study, _reading_form(study, initial=initial), jacket, told)


def _proposed(operation: Operation, code: str) -> tuple[str, dict[str, Any]]:
    """What the operation has to do on a jacket, in words and as a start of the form."""
    jacket = Jacket.objects.select_related("run").filter(code=code).first()
    if jacket is None:
        return f"No jacket has the code '{code}'; check the tag.", {}
    if operation.driver != Operation.Driver.SEAM_METRE:
        return f"{jacket}: count what you do on it.", {}
    count, metres = on_one_jacket(operation, jacket)
    if not count:
        return f"{jacket} has no seam that this operation sews.", {}
    return (
        f"{jacket}: {count} stretches of sewing, {metres:.3f} m in all; filled in below.",
        {"count": count, "metres": f"{metres:.3f}"},
    )


def _reading_form(study: TimeStudy, *args: Any, **kwargs: Any) -> ReadingForm:
    driver = study.operation.driver
    return ReadingForm(
        *args,
        counted=COUNTED[driver],
        by_metre=driver == Operation.Driver.SEAM_METRE,
        **kwargs,
    )


def _page(
    request: HttpRequest, study: TimeStudy, form: ReadingForm, jacket: str = "", told: str = ""
) -> HttpResponse:
    found = evaluated(study)
    return render(
        request,
        "production/time_study/study.html",
        {
            "study": study,
            "is_open": study.state == TimeStudy.State.OPEN,
            "operation": study.operation,
            "by_metre": study.operation.driver == Operation.Driver.SEAM_METRE,
            "form": form,
            "jacket": jacket,
            "told": told,
            "found": found,
            "rows": list(reversed(found.rows)),
            "odd": any(row.is_odd for row in found.rows),
            "stored": " ".join(str(row.reading.form_key) for row in found.rows),
            "change": study.standard_changes.first(),
        },
    )


@require_POST
def take_reading(request: HttpRequest, number: int) -> HttpResponse:
    study = _study(request, number)
    form = _reading_form(study, request.POST)
    if not form.is_valid():
        return _page(request, study, form)
    key = form.cleaned_data["form_key"]

    def taken() -> str:
        reading = time_studies.take_reading(study, form.facts(), key)
        return f"Reading of {reading.seconds:.1f} s is stored."

    _tell(request, taken)
    return redirect("production:time_study", number)


@require_POST
def mark_reading(request: HttpRequest, number: int, reading: int) -> HttpResponse:
    study = _study(request, number)
    found = get_object_or_404(Reading.objects.select_related("study"), study=study, pk=reading)
    form = MarkForm(request.POST)

    def marked() -> str:
        if not form.is_valid():
            raise time_studies.TimeStudyError(f"{form.errors['why'][0]} Nothing was changed.")
        why = form.cleaned_data["why"]
        if "take_in" in request.POST:
            time_studies.take_in(found, why)
            return "The reading counts again."
        time_studies.leave_out(found, why)
        return "The reading is left out; it stays on the list."

    _tell(request, marked)
    return redirect("production:time_study", number)


@maker_only
@require_POST
def accept(request: HttpRequest, number: int) -> HttpResponse:
    study = _study(request, number)
    form = CloseForm(request.POST)

    def accepted() -> str:
        if not form.is_valid():
            raise time_studies.TimeStudyError("Load the page again and accept from there.")
        change = time_studies.accept(study, form.seen(), asking(request))
        if change is None:
            return f"{study.operation}: the readings confirm the standard as it is."
        return (
            f"{study.operation} has its new standard. It counts from the next plan on; what is "
            "planned stays as it was."
        )

    _tell(request, accepted)
    return redirect("production:time_study", number)


@require_POST
def drop(request: HttpRequest, number: int) -> HttpResponse:
    study = _study(request, number)

    def dropped() -> str:
        time_studies.drop(study)
        return f"The time study of {study.operation} is dropped; the standard stays."

    _tell(request, dropped)
    return redirect("production:time_studies")


def _tell(request: HttpRequest, act: Callable[[], str]) -> None:
    try:
        messages.success(request, act())
    except ProductionError as error:
        messages.error(request, str(error))


def _study(request: HttpRequest, number: int) -> TimeStudy:
    study = get_object_or_404(TimeStudy.objects.select_related("operation", "by"), pk=number)
    if not is_maker(request.user) and study.by != request.user:
        raise PermissionDenied("This time study belongs to someone else.")
    return study
