"""What a run still has to buy: a line per fabric color and ware, by supplier.

Quantities are in the unit of the thing: mm of cloth, spools, cones, pieces, or metres. Nothing here
is ever below zero. Money is rounded line by line to what the currency can pay, so that the sums of
the suppliers are those of the lines.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from hashlib import sha256

from orders.money import rounded
from production.planning.plan import PlanError

CLOTH, SPOOL, CONE, PIECE, METRE = "mm", "spool", "cone", "piece", "m"
#: Lengths of thread, which is bought by the spool.
THREAD_METRE = "thread_m"
#: What is bought and taken whole.
WHOLE = frozenset({SPOOL, CONE, PIECE})

ZERO, ONE = Decimal(0), Decimal(1)
TENTH_METRE_MM = Decimal(100)
#: Exact: the international yard of 1959 is 914.4 mm.
EIGHTH_YARD_MM = Decimal("114.3")


@dataclass(frozen=True, slots=True)
class Sold:
    """How a thing is sold: in multiples of `step` of its unit, at `price` for `price_of` units. An
    empty `supplier` and no `lead_days` where nobody is named. `holds_m` is the thread on one spool
    or cone. `trouble` says why it cannot be ordered; empty where it can."""

    key: str
    name: str
    unit: str
    step: Decimal
    price: Decimal
    price_of: Decimal = ONE
    supplier: str = ""
    lead_days: int | None = None
    holds_m: int | None = None
    trouble: str = ""

    @property
    def color_code(self) -> str:
        """The fabric color of cloth; empty for other things."""
        return self.key.partition(":")[2] if self.unit == CLOTH else ""


@dataclass(frozen=True, slots=True)
class Stock:
    """What there is of a thing. `on_hand` is all of it by the book, `reserved` what other runs are
    to have of it and of what comes, `taken` what this run has had. Of cloth, `unfit` is the part on
    hand that no ply of this run lies on."""

    on_hand: Decimal = ZERO
    reserved: Decimal = ZERO
    on_order: Decimal = ZERO
    taken: Decimal = ZERO
    unfit: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class Source:
    """Where a part of a need comes from, in words, and for which jackets."""

    what: str
    quantity: Decimal
    unit: str
    jackets: str = ""


@dataclass(frozen=True, slots=True)
class Need:
    """So much of a thing that is sold, over the whole run, and where it comes from."""

    sold: Sold
    quantity: Decimal
    sources: tuple[Source, ...] = ()


@dataclass(frozen=True, slots=True)
class ShoppingLine:
    """One thing on the list. `order_by` is None where nobody sells it; `is_late` when the day is
    past and something is to be bought."""

    sold: Sold
    needed: Decimal
    allowance: Decimal
    stock: Stock
    to_buy: Decimal
    price: Decimal
    order_by: datetime.date | None
    is_late: bool
    sources: tuple[Source, ...] = ()

    @property
    def for_others(self) -> Decimal:
        """The part to buy that earlier runs are short of."""
        short = self.stock.reserved - self.stock.on_hand - self.stock.on_order
        return min(max(short, ZERO), self.to_buy)

    @property
    def can_be_ordered(self) -> bool:
        return self.to_buy > 0 and not self.sold.trouble


@dataclass(frozen=True, slots=True)
class SupplierGroup:
    """What is bought from one supplier; an empty name for what nobody is named for."""

    supplier: str
    lead_days: int | None
    lines: tuple[ShoppingLine, ...]

    @property
    def total(self) -> Decimal:
        return sum((line.price for line in self.lines), ZERO)

    @property
    def order_by(self) -> datetime.date | None:
        """The day by which to order what is to be bought; None when nothing is."""
        return min((line.order_by for line in self._wanted if line.order_by), default=None)

    @property
    def is_late(self) -> bool:
        return any(line.is_late for line in self.lines)

    @property
    def can_be_ordered(self) -> bool:
        return any(line.can_be_ordered for line in self.lines)

    @property
    def mark(self) -> str:
        """Tells whether what is to be bought has changed since a page was shown."""
        told = ";".join(f"{line.sold.key}={line.to_buy:f}@{line.price:f}" for line in self.lines)
        return sha256(told.encode()).hexdigest()[:16]

    @property
    def _wanted(self) -> list[ShoppingLine]:
        return [line for line in self.lines if line.to_buy]


@dataclass(frozen=True, slots=True)
class ShoppingList:
    """All that a run buys. `starts_on` is the morning on which cutting has to start."""

    run: str
    currency: str
    today: datetime.date
    starts_on: datetime.date
    groups: tuple[SupplierGroup, ...]
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...] = ()

    @property
    def total(self) -> Decimal:
        return sum((group.total for group in self.groups), ZERO)

    @property
    def lines(self) -> tuple[ShoppingLine, ...]:
        return tuple(line for group in self.groups for line in group.lines)


@dataclass(frozen=True, slots=True)
class Terms:
    """What counts for all lines of a list; `fabric_waste` and `notion_waste` are shares of the
    need."""

    run: str
    currency: str
    today: datetime.date
    starts_on: datetime.date
    fabric_waste: Decimal = ZERO
    notion_waste: Decimal = ZERO

    def share(self, unit: str) -> Decimal:
        """The share that is allowed beyond the need; that of thread is inside its need."""
        if unit == CLOTH:
            return self.fabric_waste
        return ZERO if unit in (SPOOL, CONE) else self.notion_waste


def shopping_list(terms: Terms, needs: Iterable[tuple[Need, Stock]]) -> ShoppingList:
    """The list of a run, suppliers by name and last what nobody is named for, lines in the order of
    the needs. Raises PlanError for a need, price or share below zero and for a step of zero."""
    for what, share in (("fabric", terms.fabric_waste), ("notions", terms.notion_waste)):
        _refuse_below_zero(f"The allowance for {what}", share)
    by_supplier: dict[str, list[ShoppingLine]] = {}
    for need, stock in needs:
        by_supplier.setdefault(need.sold.supplier, []).append(shopping_line(terms, need, stock))
    return ShoppingList(
        run=terms.run,
        currency=terms.currency,
        today=terms.today,
        starts_on=terms.starts_on,
        groups=tuple(
            SupplierGroup(supplier, lines[0].sold.lead_days, tuple(lines))
            for supplier, lines in sorted(
                by_supplier.items(), key=lambda item: (not item[0], item[0].casefold())
            )
        ),
        assumptions=_assumptions(terms),
        warnings=_warnings(terms),
    )


def shopping_line(terms: Terms, need: Need, stock: Stock) -> ShoppingLine:
    """needed + allowance + reserved for others + what does not fit, less what is there, what comes
    and what was taken, rounded up to what is sold; nothing when that is below zero."""
    sold = need.sold
    _refuse_below_zero(f"The need of {sold.name}", need.quantity)
    allowance = allowed(need.quantity, stock.taken, terms.share(sold.unit), sold.unit)
    still = max(need.quantity + allowance - stock.taken, ZERO)
    short = still + stock.reserved + stock.unfit - stock.on_hand - stock.on_order
    to_buy = rounded_up(short, sold)
    by_day = None
    if sold.lead_days is not None:
        by_day = terms.starts_on - datetime.timedelta(days=sold.lead_days)
    return ShoppingLine(
        sold=sold,
        needed=need.quantity,
        allowance=allowance,
        stock=stock,
        to_buy=to_buy,
        price=line_price(sold, to_buy, terms.currency),
        order_by=by_day,
        is_late=bool(to_buy and by_day and by_day < terms.today),
        sources=need.sources,
    )


def allowed(needed: Decimal, taken: Decimal, share: Decimal, unit: str) -> Decimal:
    """What is allowed beyond the need: of cloth on what is not cut yet, otherwise on all of it. It
    is rounded up to the mm, and of what is counted to the nearest whole: a further one of every
    color and length would come to far more than the share."""
    if unit == CLOTH:
        return (max(needed - taken, ZERO) * share).to_integral_value(ROUND_CEILING)
    if unit in WHOLE:
        return (needed * share).to_integral_value(ROUND_HALF_UP)
    return (needed * share).quantize(Decimal("0.001"), ROUND_CEILING)


def rounded_up(quantity: Decimal, sold: Sold) -> Decimal:
    """The least multiple of what is sold that holds the quantity; 0 for nothing or less."""
    if sold.step <= 0:
        raise PlanError(
            f"{sold.name} is sold in steps of {sold.step}. Enter a step above zero for it."
        )
    if quantity <= 0:
        return ZERO
    return (quantity / sold.step).to_integral_value(ROUND_CEILING) * sold.step


def line_price(sold: Sold, quantity: Decimal, currency: str) -> Decimal:
    """What a quantity costs, rounded to what the currency can pay."""
    _refuse_below_zero(f"The price of {sold.name}", sold.price)
    return rounded(quantity * sold.price / sold.price_of, currency)


def _refuse_below_zero(what: str, value: Decimal) -> None:
    if value < 0:
        raise PlanError(f"{what} is {value}, which is below zero. Enter it anew.")


def _warnings(terms: Terms) -> tuple[str, ...]:
    shares = (("fabric", terms.fabric_waste), ("notions", terms.notion_waste))
    return tuple(
        f"The allowance for {what} is {share:.0%}: more is bought on top than is needed. Look "
        "whether the workroom's settings are meant so."
        for what, share in shares
        if share > 1
    )


def _assumptions(terms: Terms) -> tuple[str, ...]:
    return (
        f"Allowance: {_percent(terms.fabric_waste)} of the cloth that is not cut yet, for faults "
        f"and joins, and {_percent(terms.notion_waste)} of zippers, elastic and notions, for what "
        "is spoiled or lost; of what is counted, the nearest whole number. The waste of thread is "
        "inside its need.",
        "Needs count the jackets as they are wanted now, changes after the freeze included; a "
        "cancelled jacket needs nothing.",
        "Reserved: what earlier runs need and have not taken yet, as long as one of their jackets "
        "is not handed over, and cloth that plies of other runs are planned on.",
        "On hand and on order count for all runs together. What is bought includes what earlier "
        "runs are short of.",
        "Cloth that no ply fits on serves the allowance only: its dye lot or its length does not "
        "suit the jackets.",
        "Prices, suppliers, lead days and the measures that things are sold in are those of today.",
        f"Order by: {_day(terms.starts_on)}, when cutting has to start for the deadline to hold, "
        "less the supplier's lead days, every day of the calendar counted.",
    )


def _percent(share: Decimal) -> str:
    return f"{float(100 * share):g} %"


def _day(day: datetime.date) -> str:
    return f"{day.day} {day:%B %Y}"
