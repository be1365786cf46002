"""What a run costs. Every line is rounded half up to the currency, the total adds up the lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_UP, Decimal

from production.planning.explode import fabrics_by_color
from production.planning.materials import PricedNotion, less_by_area_mm
from production.planning.plan import Costs, CutTicket, Labor, ThreadNeed
from production.planning.snapshot import FabricSpec, RunSnapshot
from production.planning.thread import spool_needs

#: Smallest amount of the currency; currencies here have two decimals.
SMALLEST_AMOUNT = Decimal("0.01")


def plan_costs(
    snapshot: RunSnapshot,
    tickets: Sequence[CutTicket],
    threads: Iterable[ThreadNeed],
    notions: Iterable[PricedNotion],
    labor: Labor,
) -> Costs:
    """Costs of a run. Fabric counts whole, whether bought or from stock, and by area: a metre of a
    remnant or bolt that is narrower than the fabric costs as much less as the lay on it is
    narrower. Thread counts by the spools bought; overhead is the workroom's share of the labor
    cost."""
    workroom = snapshot.workroom
    fabrics = fabrics_by_color(snapshot)
    spool_prices = {thread.code: thread.price_per_spool for thread in snapshot.threads}
    fabric = _sum(_cloth_cost(ticket, fabrics[ticket.fabric_color]) for ticket in tickets)
    thread = _sum(
        need.spools * spool_prices[need.thread_color] for need in spool_needs(snapshot, threads)
    )
    notion = _sum(priced.need.quantity * priced.price for priced in notions)
    wages = rounded(labor.with_allowance_minutes / 60 * workroom.labor_per_hour)
    overhead = rounded(workroom.overhead * wages)
    total = fabric + thread + notion + wages + overhead
    return Costs(
        fabric=fabric,
        thread=thread,
        notions=notion,
        labor=wages,
        overhead=overhead,
        total=total,
        per_jacket=rounded(total / len(snapshot.jackets)),
    )


def _cloth_cost(ticket: CutTicket, fabric: FabricSpec) -> Decimal:
    counted_mm = ticket.fabric_needed_mm - less_by_area_mm(ticket.lays, fabric)
    return counted_mm / 1000 * fabric.price_per_m


def rounded(amount: Decimal) -> Decimal:
    return amount.quantize(SMALLEST_AMOUNT, ROUND_HALF_UP)


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum((rounded(amount) for amount in amounts), Decimal("0.00"))
