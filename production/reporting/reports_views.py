"""The report pages: what was really cut, which pieces are missing, and the recuts of them."""

from __future__ import annotations

import io
from collections.abc import Callable

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.pages import asking
from orders.roles import maker_only
from patterns.services import workroom
from production import queries
from production.changing.change_state import withdrawn_from
from production.cutting.laying_anew import plies_over_flaws
from production.errors import ProductionError
from production.models import CutTicket, Jacket, Lay, Recut, SpoiledPiece
from production.planning.cutting.rows import LaidKey
from production.reporting import cut_reports, recuts, reports_state
from production.reporting import missing as missing_pieces
from production.reporting.cut_settling import NOTHING_CHANGED, CutReportError
from production.reporting.recut_paper import paper_of
from production.reporting.reports_forms import CutForm, MissingForm, MissingOfLayForm
from production.stages.table import ready_jackets

report_page = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def ticket_report(request: HttpRequest, code: str, ticket: str) -> HttpResponse:
    run = queries.run_or_404(code)
    found = get_object_or_404(
        CutTicket.objects.select_related("fabric_color", "supplement", "recut", "run").defer(
            "run__snapshot", "run__plan"
        ),
        run=run,
        code=ticket,
    )
    lays = reports_state.progress_of(found.lays.order_by("position"))
    open_pieces = SpoiledPiece.objects.waiting().filter(
        jacket__run=run, fabric_color=found.fabric_color
    )
    return render(
        request,
        "production/reports/ticket.html",
        {
            "run": run,
            "ticket": found,
            "kind": reports_state.ticket_kind(found),
            "lays": lays,
            "cut": sum(lay.cut for lay in lays),
            "of": sum(lay.of for lay in lays),
            "ready": ready_jackets(run),
            "withdrawn": withdrawn_from(run, found.code),
            "waiting": reports_state.missing_rows(open_pieces),
        },
    )


@report_page
def lay_report(request: HttpRequest, code: str, lay: str) -> HttpResponse:
    found = _lay(code, lay)
    if request.method == "POST":
        _tell(request, lambda: _reported(request, found))
        return redirect("production:lay_report", code, lay)
    return render(
        request,
        "production/reports/lay.html",
        {
            "run": found.ticket.run,
            "lay": found,
            "report": reports_state.lay_report(found),
            "kind": reports_state.ticket_kind(found.ticket),
            "form": CutForm(),
            "withdrawn": withdrawn_from(found.ticket.run, found.ticket.code),
            "over_flaws": [ply for ply in plies_over_flaws(found.ticket) if ply.lay_id == found.pk],
            "unit": workroom().length_unit,
        },
    )


def _reported(request: HttpRequest, lay: Lay) -> str:
    form = CutForm(request.POST)
    if not form.is_valid():
        field, errors = next(iter(form.errors.items()))
        label = form.fields[field].label or field.capitalize()
        raise CutReportError(f"{label}: {errors[0]} {NOTHING_CHANGED}")
    tap, by = form.cleaned_data, asking(request)
    if tap["undo"] is not None:
        cut_reports.take_back(lay.code, tap["undo"], by)
        return f"{lay.code}: ply {tap['undo']} is not cut after all."
    if tap["ply"] is None and "all" not in request.POST:
        raise CutReportError(f"Say which ply was cut. {NOTHING_CHANGED}")
    numbers = None if tap["ply"] is None else [tap["ply"]]
    done = cut_reports.report_cut(
        lay.code,
        numbers,
        by,
        lot=tap["lot"],
        new_dye_lot=tap["dye_lot"],
        seen=tap["seen"],
    )
    return done.words


def _tell(request: HttpRequest, act: Callable[[], str]) -> None:
    try:
        messages.success(request, act())
    except ProductionError as error:
        messages.error(request, str(error))


@report_page
def lay_missing(request: HttpRequest, code: str, lay: str) -> HttpResponse:
    found = _lay(code, lay)
    report = reports_state.lay_report(found)
    pieces = [
        ("|".join(key), f"{name}{reports_state.hand(key[2])}, {key[1]} ({key[0]})")
        for key, _, name in report.pieces
    ]
    sent = request.POST.get("piece") or request.GET.get("piece") or ""
    key = _key(sent, pieces)
    jackets = reports_state.waiting_for_piece(found, key)
    form = MissingOfLayForm(
        request.POST if request.method == "POST" else None,
        initial={"piece": "|".join(key), **_only(jackets)},
        pieces=[(value, words) for value, words in pieces if value == "|".join(key)],
        jackets=[(jacket.code, f"{jacket} {jacket.jacket_order.member}") for jacket in jackets],
        plies=[ply.number for ply in report.plies],
    )
    if form.is_valid():
        block, _, side = key
        told = missing_pieces.Missing(
            form.cleaned_data["jacket"],
            block,
            side,
            form.cleaned_data["reason"],
            found.code,
            form.cleaned_data["ply"],
        )
        if done := _missing_told(request, form, told):
            return done
    page = {"run": found.ticket.run, "lay": found, "jackets": jackets, "form": form}
    return render(request, "production/reports/lay_missing.html", page)


def _key(sent: str, pieces: list[tuple[str, str]]) -> LaidKey:
    if sent not in {value for value, _ in pieces}:
        raise Http404(f"This lay cuts no piece '{sent}'")
    block, size, side = sent.split("|")
    return block, size, side


def _only(jackets: list[Jacket]) -> dict[str, str]:
    return {"jacket": jackets[0].code} if len(jackets) == 1 else {}


@report_page
def jacket_missing(request: HttpRequest, code: str) -> HttpResponse:
    found = get_object_or_404(
        Jacket.objects.select_related("run", "jacket_order").defer("run__snapshot", "run__plan"),
        code=code,
    )
    form = MissingForm(
        request.POST if request.method == "POST" else None,
        pieces=reports_state.pieces_of_jacket(found),
    )
    if form.is_valid():
        block, side = form.chosen()
        told = missing_pieces.Missing(found.code, block, side, form.cleaned_data["reason"])
        if done := _missing_told(request, form, told):
            return done
    page = {"run": found.run, "jacket": found, "form": form}
    return render(request, "production/reports/jacket_missing.html", page)


def _missing_told(
    request: HttpRequest, form: MissingForm, told: missing_pieces.Missing
) -> HttpResponse | None:
    """Where to go on once a piece is reported; None with an error on the form when it cannot be."""
    try:
        piece = missing_pieces.report_missing(told, asking(request))
    except ProductionError as error:
        form.add_error(None, str(error))
        return None
    [row] = reports_state.missing_rows(SpoiledPiece.objects.filter(pk=piece.pk))
    messages.success(request, f"{piece.jacket}: {row.named} {row.standing}.")
    return redirect("production:jacket", piece.jacket.code)


@require_POST
def take_back_missing(request: HttpRequest, code: str, number: int) -> HttpResponse:
    piece = get_object_or_404(
        SpoiledPiece.objects.select_related("jacket"), jacket__code=code, pk=number
    )

    def taken_back() -> str:
        missing_pieces.take_back_missing(piece, asking(request))
        [row] = reports_state.missing_rows(SpoiledPiece.objects.filter(pk=piece.pk))
        return f"{piece.jacket}: {row.named} is not short or spoiled after all."

    _tell(request, taken_back)
    return redirect("production:jacket", code)


@require_safe
def missing(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    rows = reports_state.missing_rows(SpoiledPiece.objects.filter(jacket__run=run))
    return render(
        request,
        "production/reports/missing.html",
        {
            "run": run,
            "to_cut": [row for row in rows if row.is_waiting and row.ticket is None],
            "on_tickets": [row for row in rows if row.is_waiting and row.ticket],
            "settled": [row for row in rows if not row.is_waiting],
            "recuts": reports_state.recuts_of(run),
        },
    )


@maker_only
@require_POST
def make_recut(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    try:
        made = recuts.make_recut(run, asking(request))
    except ProductionError as error:
        messages.error(request, str(error))
        return redirect("production:missing", code)
    if made is None:
        messages.success(request, "Spare parts took the place of every missing piece.")
        return redirect("production:missing", code)
    messages.success(request, f"Recut {made.number} is made. Print its tickets and cut them.")
    return redirect("production:recut", code, made.number)


@require_safe
def recut(request: HttpRequest, code: str, number: int) -> HttpResponse:
    found = _recut(code, number)
    _, plan = recuts.load_recut(found)
    rows = reports_state.missing_rows(
        SpoiledPiece.objects.filter(pk__in=[piece.number for piece in plan.pieces])
    )
    adds_to = {piece.number: piece.adds_to for piece in plan.pieces}
    tickets = found.cut_tickets.select_related("fabric_color").prefetch_related("lays")
    return render(
        request,
        "production/reports/recut.html",
        {
            "run": found.run,
            "recut": found,
            "by": cut_reports.person(found.by),
            "plan": plan,
            "pieces": [(row, adds_to[row.piece.pk]) for row in reversed(rows)],
            "tickets": tickets,
            "cloth": {ticket.ticket: ticket for ticket in plan.cut.cut_tickets},
            "checks": plan.cut.checks,
            "unit": workroom().length_unit,
        },
    )


@require_safe
def recut_pdf(request: HttpRequest, code: str, number: int) -> FileResponse:
    from production.documents import recut as paper

    found = _recut(code, number)

    def address(ticket: str) -> str:
        return request.build_absolute_uri(reports_state.ticket_report_url(code, ticket))

    page = io.BytesIO()
    paper.write(page, paper_of(found), address)
    page.seek(0)
    name = f"recut-{code}-C{number}.pdf"
    return FileResponse(page, filename=name, content_type="application/pdf")


@require_POST
def mark_cut(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    moved, late = cut_reports.mark_cut(run, asking(request))
    if moved:
        jackets = f"{len(moved)} jacket{'s' if len(moved) > 1 else ''}"
        messages.success(request, f"Cutting is done for {jackets}: {', '.join(moved)}.")
    if late:
        messages.error(request, f"Moved on by someone else meanwhile: {', '.join(late)}.")
    if not moved and not late:
        messages.error(request, f"No jacket is ready to be marked. {NOTHING_CHANGED}")
    ticket = request.POST.get("ticket", "")
    if run.cut_tickets.filter(code=ticket).exists():
        return redirect("production:ticket_report", code, ticket)
    return redirect(run)


def _lay(code: str, lay: str) -> Lay:
    return get_object_or_404(
        Lay.objects.select_related(
            "ticket__run", "ticket__fabric_color__fabric", "ticket__supplement", "ticket__recut"
        ).defer("ticket__run__snapshot", "ticket__run__plan"),
        ticket__run__code=code,
        code=lay,
    )


def _recut(code: str, number: int) -> Recut:
    return get_object_or_404(
        Recut.objects.select_related("run", "by").defer("run__snapshot", "run__plan"),
        run__code=code,
        number=number,
    )
