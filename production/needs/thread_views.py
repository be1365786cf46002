"""The thread of a run, explained line by line; thread samples taken, compared and put to use."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.pages import asking
from orders.roles import is_maker, maker_only
from patterns.models import Operation, ThreadSample
from patterns.services import workroom
from production import queries, services
from production.needs import thread_samples as kept
from production.needs.thread_forms import SampleForm, sewing_operations
from production.needs.thread_state import Told, thread_of_run, told_of
from production.planning.plan import PlanError

FROM_NOW_ON = "It counts from the next plan on; what is planned stays as it was."


@require_safe
def run_thread(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    snapshot = services.load_snapshot(run)
    return render(
        request,
        "production/thread/run_thread.html",
        {
            "run": run,
            "rows": thread_of_run(snapshot),
            "room": snapshot.workroom,
            "unit": snapshot.workroom.length_unit,
        },
    )


@require_http_methods(["GET", "HEAD", "POST"])
def thread_samples(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        chosen = sewing_operations().filter(code=request.GET.get("operation", "")).first()
        form = SampleForm(unit=workroom().length_unit, initial={"operation": chosen})
        return _page(request, form, chosen, None)
    if not is_maker(request.user):
        raise PermissionDenied("The maker takes samples.")
    form = SampleForm(request.POST, unit=workroom().length_unit)
    if not form.is_valid():
        return _page(request, form, None, None)
    data = form.cleaned_data
    measured = {f"{name}_mm": data[name] for name in ("seam", "needle", "under")}
    if "keep" in request.POST and form.may_be_kept:
        sample = kept.take_sample(
            data["operation"], **measured, note=data["note"], by=asking(request)
        )
        messages.success(request, f"The sample of {sample.operation} is in use. {FROM_NOW_ON}")
        return _back_to(sample.operation)
    return _page(
        request, form, data["operation"], ThreadSample(operation=data["operation"], **measured)
    )


def _page(
    request: HttpRequest,
    form: SampleForm,
    operation: Operation | None,
    sample: ThreadSample | None,
) -> HttpResponse:
    """The page with what the methods say about the operation and the sample that is typed, or the
    one in use."""
    told: tuple[Told, ...] = ()
    if operation:
        try:
            told = told_of(operation, sample or operation.sample_in_use)
        except PlanError as error:
            messages.error(request, str(error))
    samples = ThreadSample.objects.select_related("operation", "by")
    return render(
        request,
        "production/thread/samples.html",
        {
            "form": form,
            "operation": operation,
            "sample": sample,
            "told": told,
            "samples": samples.order_by("operation__position", "-pk"),
            "unit": workroom().length_unit,
            "method": workroom().thread_method,
        },
    )


@maker_only
@require_POST
def use_sample(request: HttpRequest, number: int) -> HttpResponse:
    sample = get_object_or_404(ThreadSample.objects.select_related("operation"), pk=number)
    kept.use_sample(sample)
    messages.success(request, f"The sample of {sample.operation} is in use. {FROM_NOW_ON}")
    return _back_to(sample.operation)


@maker_only
@require_POST
def stop_sample(request: HttpRequest, number: int) -> HttpResponse:
    sample = get_object_or_404(ThreadSample.objects.select_related("operation"), pk=number)
    kept.stop_using(sample.operation)
    messages.success(
        request,
        f"{sample.operation} is counted without a sample again; the sample is kept. {FROM_NOW_ON}",
    )
    return _back_to(sample.operation)


def _back_to(operation: Operation) -> HttpResponse:
    return redirect(f"{reverse('production:thread_samples')}?operation={operation.code}")
