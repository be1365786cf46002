"""What pages say about cloth."""

from __future__ import annotations

from decimal import Decimal

from django import template

from production.cloth_queries import TicketSpread, run_cloth, ticket_cloth
from production.models import Run
from production.planning.bolts import in_spans
from production.planning.lengths import table_length

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


@register.inclusion_tag("production/cloth/_ticket.html")
def spread_from(ticket: str, unit: str) -> dict[str, TicketSpread | str | None]:
    """What a cut ticket is spread from, and which jackets are of which dye lot."""
    return {"spread": ticket_cloth(ticket), "unit": unit}


@register.inclusion_tag("production/cloth/_run.html")
def spread_from_all(run: Run, unit: str) -> dict[str, list[TicketSpread] | str]:
    """What the tickets of a run are spread from."""
    spreads = [spread for spread in run_cloth(run) if spread.spreads]
    return {"cloths": spreads, "unit": unit}
