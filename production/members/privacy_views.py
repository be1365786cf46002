"""What is kept of members, until when, how it is handed out or erased; the maker's alone."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from orders.models import AccessLink, JacketOrder
from orders.pages import asking, find_team_order
from orders.roles import maker_only
from production.members.privacy import erase_member, erase_order, is_erased, kept_until, names_left
from production.members.privacy_export import export_member
from production.models import Delivery


@maker_only
@require_safe
def privacy(request: HttpRequest, code: str) -> HttpResponse:
    order = find_team_order(code)
    lines = list(order.jacket_orders.select_related("size").order_by("pk"))
    context = {
        "team_order": order,
        "kept_until": kept_until(order),
        "names_left": names_left(order),
        "lines": [(line, is_erased(line)) for line in lines],
        "expected": order.expected.count(),
        "links": order.links.exclude(kind=AccessLink.Kind.COORDINATOR).count(),
        "deliveries": order.deliveries.exclude(received_by="").count(),
        "signatures": order.deliveries.filter(signed=Delivery.Signed.SCREEN).count(),
        "payment_notes": order.payments.exclude(note="").count(),
        "run": getattr(getattr(order, "run_order", None), "run", None),
    }
    return render(request, "production/privacy/privacy.html", context)


@maker_only
@require_safe
def export(request: HttpRequest, code: str, pk: int) -> JsonResponse:
    line = _line(code, pk)
    return JsonResponse(
        export_member(line),
        json_dumps_params={"ensure_ascii": False, "indent": 2},
        headers={"Content-Disposition": f'attachment; filename="{code}-member-{pk}.json"'},
    )


@maker_only
@require_http_methods(["GET", "HEAD", "POST"])
def erase_one(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    line = _line(code, pk)
    if request.method == "POST":
        label = erase_member(line, asking(request))
        messages.success(request, f"The data is erased; the jacket is {label}'s from now on.")
        return redirect("privacy:privacy", code)
    context = {"team_order": line.team_order, "line": line}
    return render(request, "production/privacy/erase.html", context)


@maker_only
@require_http_methods(["GET", "HEAD", "POST"])
def erase_all(request: HttpRequest, code: str) -> HttpResponse:
    order = find_team_order(code)
    if request.method == "POST":
        erase_order(order, asking(request))
        messages.success(request, f"The data of all members of {order.code} is erased.")
        return redirect("privacy:privacy", code)
    context = {"team_order": order, "jackets": order.jacket_orders.count()}
    return render(request, "production/privacy/erase.html", context)


@login_not_required
@require_safe
def robots(request: HttpRequest) -> HttpResponse:
    return HttpResponse("User-agent: *\nDisallow: /\n", content_type="text/plain")


def _line(code: str, pk: int) -> JacketOrder:
    lines = JacketOrder.objects.select_related("team_order__club")
    return get_object_or_404(lines, team_order__code=code, pk=pk)
