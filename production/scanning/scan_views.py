"""The page for many tags, tags read from a picture, and what a device needs when it is offline."""

from __future__ import annotations

import hashlib
import uuid
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db.models import prefetch_related_objects
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.templatetags.static import static
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.pages import asking
from production.models import Run, Tap
from production.planning.standing import STAGES
from production.scanning.batch import BatchForm, batch_steps, take_batch
from production.scanning.tag_pictures import InMemory, PictureError, tags_in

SCRIPTS = ("taps", "taps_kept", "taps_send", "taps_device", "tap_offline")
SHEETS = ("muster.css", "production/scan.css", "favicon.svg")


@require_http_methods(["GET", "HEAD", "POST"])
def scan(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        return _scan_page(request, _fresh(request, request.GET.get("run", "")))
    form = BatchForm(request.POST)
    if not form.is_valid():
        return _scan_page(request, form)
    taken = take_batch(form, asking(request))
    prefetch_related_objects([tap for tap in taken if tap.jacket], "jacket__jacket_order")
    run = form.cleaned_data["run"]
    again = _fresh(request, run.code if run else "", step=form.cleaned_data["step"])
    return _scan_page(request, again, taken=taken)


def _fresh(request: HttpRequest, run: str, **initial: Any) -> BatchForm:
    if run:
        get_object_or_404(Run.objects.only("pk"), code=run)
    return BatchForm(initial={"run": run, "tap_key": uuid.uuid4(), **initial})


def _scan_page(
    request: HttpRequest, form: BatchForm, *, taken: list[Tap] | None = None, problem: str = ""
) -> HttpResponse:
    counts = dict.fromkeys(Tap.Outcome.values, 0)
    for tap in taken or ():
        counts[tap.outcome] += 1
    context = {
        "form": form,
        "run": form["run"].value(),
        "taken": taken,
        "counts": counts,
        "problem": problem,
    }
    return render(request, "production/scanning/scan.html", context)


@csrf_exempt  # checked below: the check reads the upload, which must go to memory before
@require_POST
def read_picture(request: HttpRequest) -> HttpResponse:
    request.upload_handlers = [InMemory(request)]
    return _read_picture(request)


@csrf_protect
def _read_picture(request: HttpRequest) -> HttpResponse:
    """What stands on the tags in a picture. Nothing is recorded: the script taps them one by one,
    and without it they stand in the form to be looked at."""
    wants_json = request.accepts("application/json") and not request.accepts("text/html")
    run = request.POST.get("run", "")
    try:
        codes = tags_in(request.FILES.get("picture"))
    except PictureError as error:
        if wants_json:
            return JsonResponse({"words": str(error)}, status=400)
        return _scan_page(request, _fresh(request, run), problem=str(error))
    if wants_json:
        return JsonResponse({"codes": codes})
    return _scan_page(request, _fresh(request, run, codes="\n".join(codes)))


@login_not_required  # it holds nothing of anybody, and is kept on the device
@require_safe
def offline(request: HttpRequest) -> HttpResponse:
    """The page that takes a tap where the site cannot be reached."""
    steps = [step for step in batch_steps() if step.stage != STAGES[-1]]
    return render(request, "production/scanning/offline.html", {"steps": steps})


@login_not_required  # as above
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The script that answers for the site without a connection; it must lie at the root to do so
    for all tags."""
    scripts = [f"production/{name}.js" for name in SCRIPTS]
    linked = [static(name) for name in (*SHEETS, *scripts)]
    # Modules name each other without the mark of their version.
    plain = [f"{settings.STATIC_URL}{name}" for name in (*scripts, "production/scan.css")]
    page = offline(request).content
    mark = hashlib.sha256(repr(linked).encode() + page).hexdigest()[:12]
    return render(
        request,
        "production/scanning/worker.js",
        {"mark": mark, "files": sorted({*linked, *plain})},
        content_type="text/javascript",
    )
