"""The table: a lay on the screen, its blocks moved by hand, and its drawings at full size."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from orders.pages import asking
from orders.roles import is_maker, maker_only
from production import sheets
from production.cutting import laying_by_hand
from production.cutting.laying_by_hand import LaidOut, laid_out
from production.cutting.table_forms import PositionsForm
from production.errors import ProductionError
from production.planning.cutting.full_lay import is_over_a_plain_page
from production.planning.cutting.lays import (
    allowed_turns,
    longest_lay_mm,
    spread_count,
    width_share,
)
from production.planning.lengths import cloth_length, exact_length

if TYPE_CHECKING:
    from production.planning.cutting.full_lay import FullLay

KINDS = {"pdf": "application/pdf", "svg": "image/svg+xml", "dxf": "image/vnd.dxf"}
PAPERS = (
    ("long", "one long page"),
    ("a4", "tiles on A4"),
    ("a3", "tiles on A3"),
    ("letter", "tiles on Letter"),
)
UNREADABLE = "The page sent something that is not a lay. Open the lay again; nothing was changed."


@dataclass(frozen=True, slots=True)
class BlockRow:
    """A block in one size: the numbers of its placements by side, and whom it is cut for."""

    block: str
    name: str
    size: str
    sides: tuple[tuple[str, tuple[int, ...]], ...]
    jackets: tuple[tuple[str, str], ...]

    @property
    def words(self) -> str:
        return ", ".join(
            f"{len(places)} {side}" if side != "single" else str(len(places))
            for side, places in self.sides
        )


@require_safe
def lay_page(request: HttpRequest, code: str, lay: str) -> HttpResponse:
    laid = laid_out(code, lay)
    row = sheets.FabricRow(laid.ticket, laid.color, laid.fabric)
    outlines = {key: shape.cut_outline_mm for key, shape in laid.shapes.items()}
    unit = laid.snapshot.workroom.length_unit
    maker = is_maker(request.user)
    fixed = laid.why_fixed
    return render(
        request,
        "production/table/lay.html",
        {
            "run": laid.run,
            "ticket": laid.stored.ticket,
            "stored": laid.stored,
            "drawn": sheets.drawn_lay(laid.lay, row, outlines, unit),
            "color": laid.color,
            "fabric": laid.fabric,
            "rows": _block_rows(laid),
            "unit": unit,
            "papers": PAPERS,
            "length_words": exact_length(laid.lay.length_mm, unit),
            "bound_words": exact_length(laid.lay.lower_bound_mm, unit),
            "saving": _saving(laid, with_money=maker),
            "is_over_a_page": is_over_a_plain_page(laid.lay, laid.fabric),
            "fixed": fixed,
            "can_move": maker and not fixed,
            "for_table": _for_table(laid, with_money=maker, can_move=maker and not fixed),
        },
    )


def _saving(laid: LaidOut, *, with_money: bool) -> str:
    """What the lay takes less than its bounding boxes would in rows, over all its plies."""
    room = laid.snapshot.workroom
    saved_mm = (laid.lay.box_rows_mm - laid.lay.length_mm) * spread_count(laid.lay)
    if abs(saved_mm) < 1:
        return "as much as in rows of boxes"
    money = f", {abs(saved_mm) * _money_per_mm(laid):.2f} {room.currency}," if with_money else ""
    how = "less" if saved_mm >= 0 else "more"
    return f"{exact_length(abs(saved_mm), room.length_unit)}{money} {how} than in rows of boxes"


def _money_per_mm(laid: LaidOut) -> float:
    """What a millimetre of one spread length costs; narrower cloth costs as much less."""
    from production.planning.cutting.cutting_prices import cutting_price

    price = cutting_price(laid.fabric, laid.snapshot.operations, laid.snapshot.workroom)
    return price.cloth_mm * width_share(laid.lay, laid.fabric.usable_width_mm)


def _block_rows(laid: LaidOut) -> list[BlockRow]:
    jackets = laying_by_hand.jackets_by_block(laid)
    places: dict[tuple[str, str], dict[str, list[int]]] = {}
    for number, place in enumerate(laid.lay.placements):
        sides = places.setdefault((place.block, place.size), {})
        sides.setdefault(place.side, []).append(number)
    order = list(laid.shapes)
    return [
        BlockRow(
            block=block,
            name=laid.shapes[block, size].name,
            size=size,
            sides=tuple((side, tuple(numbers)) for side, numbers in sorted(sides.items())),
            jackets=tuple(jackets.get((block, size), ())),
        )
        for (block, size), sides in sorted(places.items(), key=lambda item: order.index(item[0]))
    ]


def _for_table(laid: LaidOut, *, with_money: bool, can_move: bool) -> dict[str, Any]:
    """What the page's script needs to move blocks and to say what a lay comes to."""
    room, lay = laid.snapshot.workroom, laid.lay
    used = Counter((place.block, place.size) for place in lay.placements)
    return {
        "lay": lay.lay,
        "seen": laid.seen,
        "width": lay.usable_width_mm,
        "length": lay.length_mm,
        "longest": longest_lay_mm(laid.fabric, room),
        "gap": room.block_gap_mm,
        "spreads": spread_count(lay),
        "unit": room.length_unit,
        "currency": room.currency,
        "moneyPerMm": _money_per_mm(laid) if with_money else None,
        "canMove": can_move,
        "nestSeconds": round(laying_by_hand.NEST_SECONDS),
        "nest": reverse("production:nest_lay", args=[laid.run.code, lay.lay]),
        "shapes": {
            f"{block}|{size}": {
                "name": laid.shapes[block, size].name,
                "outline": laid.shapes[block, size].cut_outline_mm,
                "turns": allowed_turns(laid.shapes[block, size], laid.fabric),
            }
            for block, size in used
        },
        "blocks": [
            {
                "block": place.block,
                "size": place.size,
                "side": place.side,
                "mirrored": place.mirrored,
                "at": [place.x_mm, place.y_mm, place.rotation_deg],
            }
            for place in lay.placements
        ],
    }


@require_POST
@maker_only
def save_lay(request: HttpRequest, code: str, lay: str) -> HttpResponse:
    form = PositionsForm(request.POST)
    if not form.is_valid():
        messages.error(request, UNREADABLE)
        return redirect("production:lay", code, lay)
    sent = form.cleaned_data
    try:
        saved = laying_by_hand.save_by_hand(
            code, lay, sent["positions"], sent["seen"], asking(request)
        )
    except ProductionError as error:
        messages.error(request, str(error))
    else:
        unit = laid_out(code, lay).snapshot.workroom.length_unit
        messages.success(
            request,
            f"Lay {lay} is in use as you set it, {cloth_length(saved.length_mm, unit)} long.",
        )
    return redirect("production:lay", code, lay)


@require_POST
@maker_only
def nest_lay(request: HttpRequest, code: str, lay: str) -> JsonResponse:
    form = PositionsForm(request.POST)
    if not form.is_valid():
        return JsonResponse({"error": UNREADABLE}, status=400)
    sent = form.cleaned_data
    try:
        rest = laying_by_hand.nest_again(
            laid_out(code, lay), sent["positions"], sent["pins"], sent["seen"]
        )
    except ProductionError as error:
        return JsonResponse({"error": str(error)}, status=409)
    return JsonResponse(
        {
            "positions": [
                [place.x_mm, place.y_mm, place.rotation_deg] for place in rest.lay.placements
            ],
            "note": rest.note,
        }
    )


@require_safe
def full_lay(request: HttpRequest, code: str, lay: str, kind: str) -> HttpResponse | FileResponse:
    """The lay at 1:1; a PDF on the paper that ?paper= names, one long page unless told."""
    if kind not in KINDS:
        raise Http404(f"No drawing of the kind {kind}")
    paper = request.GET.get("paper", "long")
    full = laying_by_hand.full_lay_of(laid_out(code, lay))
    page = io.BytesIO()
    try:
        _writer(kind, paper)(page, full)
    except ProductionError as error:
        messages.error(request, str(error))
        return redirect("production:lay", code, lay)
    page.seek(0)
    suffix = "" if kind != "pdf" or paper == "long" else f"-{paper}"
    return FileResponse(
        page,
        filename=f"lay-{lay}{suffix}.{kind}",
        content_type=KINDS[kind],
        as_attachment=kind != "pdf",
    )


def _writer(kind: str, paper: str) -> Callable[[io.BytesIO, FullLay], None]:
    # Here and not above: reportlab and ezdxf are loaded by those who want a drawing.
    from production.documents import full_scale, lay_dxf, lay_full_svg

    if kind == "svg":
        return lay_full_svg.write
    if kind == "dxf":
        return lay_dxf.write
    if paper == "long":
        return full_scale.write_long_page
    return lambda target, full: full_scale.write_tiles(target, full, paper)
