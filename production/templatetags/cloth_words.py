"""What pages say about cloth."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template
from django.template import Context

from production.cutting.laying_anew import plies_over_flaws, plies_to_lay
from production.models import Run
from production.planning.cloth.cloth_notes import in_spans
from production.planning.lengths import table_length
from production.stock.cloth_queries import TicketSpread, run_cloth, ticket_cloth

register = template.Library()


@register.filter
def table_width(width_mm: float, unit: str) -> str:
    """A width that must not be overrun."""
    return table_length(width_mm, unit, up=False)


@register.filter
def share(part: Decimal) -> str:
    """A share of 1 without idle zeros: '0.02'."""
    return f"{part.normalize():f}"


@register.filter
def less(mm: int) -> int:
    """How much goes, without its sign."""
    return -mm


@register.filter
def spans(codes: tuple[str, ...]) -> str:
    """Codes in words: 'A-01 to A-04, A-07'."""
    return in_spans(codes)


@register.inclusion_tag("production/cloth/_ticket.html", takes_context=True)
def spread_from(context: Context, ticket: str, unit: str) -> dict[str, Any]:
    """What a cut ticket is spread from, which jackets are of which dye lot, and the plies that can
    be laid anew."""
    spread = ticket_cloth(ticket)
    return {
        "spread": spread,
        "unit": unit,
        "to_lay": plies_to_lay(spread.ticket) if spread else (),
        "over_flaws": plies_over_flaws(spread.ticket) if spread else (),
        "user": context["user"],
        "csrf_token": context.get("csrf_token"),
    }


@register.inclusion_tag("production/cloth/_run.html")
def spread_from_all(run: Run, unit: str) -> dict[str, list[TicketSpread] | str]:
    """What the tickets of a run are spread from."""
    spreads = [spread for spread in run_cloth(run) if spread.spreads]
    return {"cloths": spreads, "unit": unit}
