"""What a run costs: a line for each material and for work, each made of parts that tell their
source. Every part is rounded half up to what the currency can pay before anything is added up, so
that the sums on a page are the sums of what stands above them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from orders import money
from production.planning.explode import fabrics_by_color
from production.planning.plan import Costs, CutTicket, Labor, PlanError, ThreadNeed
from production.planning.snapshot import RunSnapshot
from production.planning.supplies.materials import PricedNotion, less_by_area_mm
from production.planning.threads.thread import thread_prices

#: The lines of a run's costs, in the order in which they are reckoned.
LINES = ("fabric", "thread", "notions", "labor", "overhead", "waste")
#: The unit of a part that is a share of another line.
SHARE = "share"


@dataclass(frozen=True, slots=True)
class CostPart:
    """One source of a line: so much, at the price of one unit. `of` tells parts of a line apart by
    the code of what they are of: a fabric color, a thread color, a size. Where the unit is a share,
    `price` is the amount of the line that it is a share of."""

    line: str
    name: str
    quantity: Decimal
    unit: str
    price: Decimal
    amount: Decimal
    of: str = ""


def plan_costs(
    snapshot: RunSnapshot,
    tickets: Sequence[CutTicket],
    threads: Iterable[ThreadNeed],
    notions: Iterable[PricedNotion],
    labor: Labor,
) -> Costs:
    """Costs of a run. Fabric counts whole, whether bought or from stock, and by area: a metre of a
    remnant or bolt that is narrower than the fabric costs as much less as the lay on it is
    narrower. Thread counts by the spools and cones bought; overhead is the workroom's share of the
    labor cost; waste is its share of the fabric, for faults and joins, and of the notions, for
    spoiled and lost ones."""
    return costs_of(cost_parts(snapshot, tickets, threads, notions, labor), snapshot)


def costs_of(parts: Sequence[CostPart], snapshot: RunSnapshot) -> Costs:
    lines = {line: amount_of(parts, line, snapshot.workroom.currency) for line in LINES}
    total = sum(lines.values(), Decimal(0))
    per_jacket = money.rounded(total / len(snapshot.jackets), snapshot.workroom.currency)
    return Costs(**lines, total=total, per_jacket=per_jacket)


def amount_of(parts: Iterable[CostPart], line: str, currency: str) -> Decimal:
    """The sum of a line's parts, with the decimals of the currency also where there is none."""
    amounts = (part.amount for part in parts if part.line == line)
    return sum(amounts, money.rounded(Decimal(0), currency))


def cost_parts(
    snapshot: RunSnapshot,
    tickets: Sequence[CutTicket],
    threads: Iterable[ThreadNeed],
    notions: Iterable[PricedNotion],
    labor: Labor,
) -> tuple[CostPart, ...]:
    """The parts of all lines, in the order of the lines.

    Raises PlanError for a price below 0: a run never costs less for taking more.
    """
    workroom = snapshot.workroom
    currency = workroom.currency
    parts = [
        *_fabric(snapshot, tickets),
        *_thread(snapshot, threads),
        *_notions(currency, notions),
        _part(
            currency,
            "labor",
            "minutes with allowance",
            labor.with_allowance_minutes,
            "min",
            workroom.labor_per_hour,
        ),
    ]
    shares = (
        ("overhead", "labor", workroom.overhead),
        ("waste", "fabric", workroom.fabric_waste),
        ("waste", "notions", workroom.notion_waste),
    )
    for line, base, share in shares:
        whole = amount_of(parts, base, currency)
        parts.append(_part(currency, line, base, share, SHARE, whole, of=base))
    return tuple(parts)


def rounded(amount: Decimal) -> Decimal:
    """To hundredths, halves up: minutes, and the sums by which ways to cut are compared."""
    return amount.quantize(Decimal("0.01"), ROUND_HALF_UP)


def _fabric(snapshot: RunSnapshot, tickets: Iterable[CutTicket]) -> Iterator[CostPart]:
    fabrics = fabrics_by_color(snapshot)
    names = {color.code: color.name for color in snapshot.fabric_colors}
    for ticket in tickets:
        color = ticket.fabric_color
        fabric = fabrics[color]
        metres = (ticket.fabric_needed_mm - less_by_area_mm(ticket.lays, fabric)) / 1000
        name = f"{fabric.name}, {names[color]}"
        yield _part(
            snapshot.workroom.currency, "fabric", name, metres, "m", fabric.price_per_m, of=color
        )


def _thread(snapshot: RunSnapshot, threads: Iterable[ThreadNeed]) -> Iterator[CostPart]:
    for bought in thread_prices(snapshot, threads):
        yield _part(
            snapshot.workroom.currency,
            "thread",
            bought.name,
            Decimal(bought.quantity),
            bought.unit,
            bought.price,
            of=bought.thread_color,
        )


def _notions(currency: str, notions: Iterable[PricedNotion]) -> Iterator[CostPart]:
    for priced in notions:
        need = priced.need
        name = f"{need.item}, {need.color}" if need.color else need.item
        yield _part(currency, "notions", name, need.quantity, need.unit, priced.price, of=need.size)


def _part(
    currency: str,
    line: str,
    name: str,
    quantity: Decimal,
    unit: str,
    price: Decimal,
    of: str = "",
) -> CostPart:
    if price < 0 or quantity < 0:
        raise PlanError(
            f"{line.capitalize()}: {name} stands at {price} for {quantity} {unit}, which is below "
            "0. Enter a price and a share of 0 or more."
        )
    exact = quantity * price / (60 if unit == "min" else 1)
    return CostPart(line, name, quantity, unit, price, money.rounded(exact, currency), of)
