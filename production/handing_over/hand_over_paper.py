"""The papers of a hand-over as PDF: packing list, labels of bags and parcels, care cards."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_safe

from orders.models import TeamOrder
from orders.pages import find_team_order
from patterns.services import workroom
from production.errors import DocumentError
from production.handing_over import paper_contents as papers
from production.handing_over.hand_over_forms import ParcelsForm
from production.handing_over.hand_over_state import DeliveryRow, RailOut, rail_out
from production.models import Run

#: Kinds of paper for `print_run`, with the names of their files.
KINDS = {"packing": "packing-list", "labels": "parcel-labels", "care": "care-cards"}


def write_for_run(run: Run, folder: Path, base: str, kind: str) -> list[Path]:
    """One paper for each team order of a run: `packing` and `labels` for the jackets that wait to
    be handed over, none where none waits; `care` for all. `base` is the address of the site."""
    written = []
    for order in TeamOrder.objects.filter(run_order__run=run).select_related("club"):
        rail = rail_out(order)
        if kind != "care" and not rail.ready:
            continue
        path = folder / f"{KINDS[kind]}-{order.code}.pdf"
        content = _content(kind, rail, None, lambda code: base + jacket_path(code), 1)
        path.write_bytes(content)
        written.append(path)
    return written


def jacket_path(code: str) -> str:
    return reverse("production:jacket", args=[code])


@require_safe
def packing_list_pdf(request: HttpRequest, code: str) -> FileResponse | HttpResponseRedirect:
    return _paper(request, code, "packing")


@require_safe
def parcel_labels_pdf(request: HttpRequest, code: str) -> FileResponse | HttpResponseRedirect:
    return _paper(request, code, "labels")


@require_safe
def care_cards_pdf(request: HttpRequest, code: str) -> FileResponse | HttpResponseRedirect:
    return _paper(request, code, "care")


def _paper(request: HttpRequest, code: str, kind: str) -> FileResponse | HttpResponseRedirect:
    """Of the jackets that wait, or of the delivery that `?delivery=` names."""
    order = find_team_order(code)
    rail = rail_out(order)
    number = request.GET.get("delivery", "")
    shown = papers.delivery_or_404(rail, number) if number else None
    parcels = ParcelsForm(request.GET).count()

    def address(jacket: str) -> str:
        return request.build_absolute_uri(jacket_path(jacket))

    try:
        content = _content(kind, rail, shown, address, parcels)
    except DocumentError as error:
        messages.error(request, str(error))
        return redirect("production:hand_over", code)
    name = f"{KINDS[kind]}-{code}{f'-{number}' if shown else ''}.pdf"
    return FileResponse(io.BytesIO(content), filename=name, content_type="application/pdf")


def _content(
    kind: str,
    rail: RailOut,
    shown: DeliveryRow | None,
    address: Callable[[str], str],
    parcels: int,
) -> bytes:
    # Here and not above: the documents load reportlab, which the site starts without.
    from production.documents import care_card, packing_list, parcel_labels

    page, room = io.BytesIO(), workroom()
    if kind == "packing":
        packing_list.write(page, papers.packing_list_of(rail, shown, room))
    elif kind == "labels":
        labels = papers.labels_of(rail, shown, room, address, parcels)
        parcel_labels.write(page, labels, room.tag_paper)
    else:
        title = f"Care cards {rail.team_order.code}"
        care_card.write(page, papers.care_cards_of(rail, shown, room), title, room.tag_paper)
    return page.getvalue()
