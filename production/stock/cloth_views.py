"""The cloth pages: what lies in the workroom, one bolt, and what happens to it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_POST, require_safe

from orders.pages import asking, list_page
from orders.roles import maker_only
from orders.tables import exported, prepare
from patterns.services import workroom
from production.cutting import laying_anew
from production.models import CutTicket, Flaw, LayPly, StockLot
from production.planning.lengths import cloth_length
from production.stock import cloth, cloth_queries, cloth_upkeep
from production.stock.bolt_svg import bolt_svg
from production.stock.cloth import ClothError
from production.stock.cloth_forms import ClothForm, CountForm, FlawForm, ReceiveForm, RemnantForm
from production.stock.cloth_tables import ClothFilter, ClothTable


@require_safe
def cloth_list(request: HttpRequest) -> HttpResponse:
    lots = cloth_queries.cloth_list()
    found = ClothFilter(request.GET, queryset=lots)
    table = prepare(request, ClothTable(found.qs, unit=workroom().length_unit))
    context = {
        "filter": found,
        "anything": lots.exists(),
        "fabrics": cloth_queries.fabrics(),
    }
    return exported(request, table, "cloth") or list_page(
        request, table, "production/cloth/list.html", context
    )


@maker_only
def receive(request: HttpRequest) -> HttpResponse:
    unit = workroom().length_unit
    posted = request.POST if request.method == "POST" else None
    form = ReceiveForm(posted, unit=unit, initial={"code": cloth_queries.next_code()})
    if form.is_valid():
        lot = _saved(form, lambda data: cloth.receive(**data, by=asking(request)))
        if lot:
            messages.success(request, f"{lot} is in the book.")
            return redirect(lot)
    return render(request, "production/cloth/receive.html", {"form": form})


@require_safe
def stock_lot(request: HttpRequest, code: str) -> HttpResponse:
    return _lot_page(request, code)


@maker_only
@require_POST
def count_lot(request: HttpRequest, code: str) -> HttpResponse:
    lot, unit = get_object_or_404(StockLot, code=code), workroom().length_unit
    form = CountForm(request.POST, unit=unit, prefix="count")
    if form.is_valid():
        counted = _saved(
            form, lambda data: cloth_upkeep.count_anew(lot, **data, by=asking(request))
        )
        if counted:
            messages.success(request, _count_words(counted, unit))
            if counted.without_cloth:
                messages.warning(
                    request,
                    f"{_plies(counted.without_cloth)} had been planned on what is not there: this "
                    "cloth is to be bought now, unless the plies are laid anew onto other cloth.",
                )
            return redirect(lot)
    return _lot_page(request, code, count=form)


def _count_words(counted: cloth_upkeep.Counted, unit: str) -> str:
    if not counted.more_mm:
        return f"{counted.lot} has what the book says; nothing was written."
    how = "more" if counted.more_mm > 0 else "less"
    return f"{counted.lot} has {cloth_length(abs(counted.more_mm), unit)} {how} than the book said."


@maker_only
@require_POST
def set_aside(request: HttpRequest, code: str) -> HttpResponse:
    lot = get_object_or_404(StockLot, code=code)
    form = RemnantForm(request.POST, unit=workroom().length_unit, prefix="remnant")
    if form.is_valid():
        remnant = _saved(form, lambda data: cloth_upkeep.set_aside(lot, **data, by=asking(request)))
        if remnant:
            messages.success(request, f"{remnant} is set aside as a remnant of {lot}.")
            return redirect(remnant)
    return _lot_page(request, code, remnant=form)


@maker_only
@require_POST
def add_flaw(request: HttpRequest, code: str) -> HttpResponse:
    lot = get_object_or_404(StockLot, code=code)
    form = FlawForm(request.POST, unit=workroom().length_unit, prefix="flaw")
    if form.is_valid():
        over = _saved(form, lambda data: cloth_upkeep.add_flaw(lot, **data))
        if over is not None:
            messages.success(request, f"The flaw of {lot} is written down.")
            if over:
                messages.warning(
                    request,
                    f"{_plies(over)} had been planned over it. Lay the plies anew below, so that "
                    "it is gone around.",
                )
            return redirect(lot)
    return _lot_page(request, code, flaw=form)


@maker_only
@require_POST
def remove_flaw(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    flaw = get_object_or_404(Flaw, pk=pk, lot__code=code)
    cloth_upkeep.remove_flaw(flaw)
    messages.success(request, "The flaw is struck off.")
    return redirect("production:stock_lot", code)


@maker_only
@require_POST
def lay_anew(request: HttpRequest, code: str, ticket: str) -> HttpResponse:
    found = get_object_or_404(CutTicket, run__code=code, code=ticket)
    try:
        done = laying_anew.lay_anew(found, asking(request))
    except ClothError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, _anew_words(done, workroom().length_unit))
    lot = StockLot.objects.filter(code=request.POST.get("lot", "")).first()
    return redirect(lot or found)


def _anew_words(done: laying_anew.LaidAnew, unit: str) -> str:
    if not done.moved:
        return f"{done.ticket}: every ply lies where it is best already; nothing was changed."
    buy = f"{cloth_length(done.to_buy_mm, unit)} to buy" if done.to_buy_mm else "nothing to buy"
    plies = "1 ply lies" if done.moved == 1 else f"{done.moved} plies lie"
    return f"{done.ticket}: {plies} elsewhere now, {buy}. Print the ticket anew."


def _plies(plies: tuple[LayPly, ...]) -> str:
    words = ", ".join(f"ply {ply.number} of {ply.lay}" for ply in plies)
    return words[0].upper() + words[1:]


def _saved(form: ClothForm, save: Callable[[dict[str, Any]], Any]) -> Any:
    """What the service gives back; what it refuses stands beside its field, and None is given."""
    try:
        return save(form.cleaned_data)
    except ClothError as error:
        form.add_error(error.field if error.field in form.fields else None, str(error))
        return None


def _lot_page(request: HttpRequest, code: str, **forms: ClothForm) -> HttpResponse:
    """The page of a lot; a form that was refused stands there as it was sent."""
    story, unit = cloth_queries.lot_story(code), workroom().length_unit
    fresh: dict[str, ClothForm] = {
        "count": CountForm(unit=unit, prefix="count"),
        "remnant": RemnantForm(unit=unit, prefix="remnant"),
        "flaw": FlawForm(unit=unit, prefix="flaw"),
    }
    return render(
        request,
        "production/cloth/lot.html",
        {
            "story": story,
            "lot": story.lot,
            "fabric": story.lot.fabric_color.fabric,
            "record": story.record,
            "picture": mark_safe(bolt_svg(story, unit)) if story.end_mm > 0 else "",
            "unit": unit,
            "to_lay": laying_anew.tickets_to_lay(story.plies),
            "forms": {**fresh, **forms},
        },
    )
