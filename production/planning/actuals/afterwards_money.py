"""What a run came to in money: at the prices that were paid, and against what was quoted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from orders.money import rounded
from production.planning.actuals.afterwards import ZERO, Compared, StageMinutes, in_proportion
from production.planning.snapshot import RunSnapshot, WorkroomSpec

CLOTH_KEY = "cloth:"


@dataclass(frozen=True, slots=True)
class Bought:
    """What came of one line of a purchase for the run, in its unit (cloth in mm), what it cost, and
    what one unit costs by the price list of the plan; None for what that does not have."""

    purchase: str
    key: str
    name: str
    unit: str
    quantity: Decimal
    paid: Decimal
    list_price: Decimal | None


def list_prices(snapshot: RunSnapshot) -> dict[str, Decimal]:
    """The prices that a run was planned with, of one unit by key; cloth for 1 mm."""
    fabrics = {fabric.code: fabric for fabric in snapshot.fabrics}
    prices = {
        f"{CLOTH_KEY}{color.code}": fabrics[color.fabric].price_per_m / 1000
        for color in snapshot.fabric_colors
    }
    for thread in snapshot.threads:
        prices[f"thread:{thread.code}:spool"] = thread.price_per_spool
        if thread.price_per_cone is not None:
            prices[f"thread:{thread.code}:cone"] = thread.price_per_cone
    prices |= {f"zipper:{z.color_code}:{z.length_mm}": z.price for z in snapshot.zippers}
    prices |= {f"elastic:{elastic.place}": elastic.price_per_m for elastic in snapshot.elastics}
    return prices | {f"notion:{notion.code}": notion.price for notion in snapshot.notions}


def list_price(key: str, prices: Mapping[str, Decimal], exact_extra: Decimal) -> Decimal | None:
    """The price of a key, also of a zipper made to length and of a notion in one size."""
    if key in prices:
        return prices[key]
    base, _, last = key.rpartition(":")
    known = prices.get(base)
    if known is None:
        return None
    return known + exact_extra if last.startswith("made-") else known


def compare_purchases(bought: Iterable[Bought], currency: str) -> tuple[Compared, ...]:
    """What came, at the prices of the plan and as it was paid for."""
    lines = []
    for one in bought:
        name, code = f"{one.name} ({one.purchase})", one.purchase
        if one.list_price is None:
            missing = "the price list of the plan does not have it"
            lines.append(Compared(name, ZERO, ZERO, None, missing, code))
            continue
        planned = rounded(one.quantity * one.list_price, currency)
        lines.append(Compared(name, planned, planned, rounded(one.paid, currency), "", code))
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class Prices:
    """What wares and cloth cost a run: by the price list, and as far as they were bought for it as
    they were paid for."""

    room: WorkroomSpec
    listed: Mapping[str, Decimal]
    bought: tuple[Bought, ...]

    def of(self, key: str) -> Decimal | None:
        """What one unit costs by the list; None for what stands in none."""
        return list_price(key, self.listed, self.room.exact_zipper_extra)

    def actual(self, key: str, quantity: Decimal, listed: Decimal) -> Decimal:
        """What was bought for the run goes first; the rest lay there and counts by the list."""
        own = [one for one in self.bought if one.key == key]
        came = sum((one.quantity for one in own), ZERO)
        if not came:
            return quantity * listed
        paid = sum((one.paid for one in own), ZERO)
        from_bought = min(quantity, came)
        return paid * from_bought / came + (quantity - from_bought) * listed


def compare_money(
    cloth: Sequence[Compared],
    wares: Sequence[Compared],
    minutes: Sequence[StageMinutes],
    prices: Prices,
) -> tuple[Compared, ...]:
    """The lines of a run's money. Waste is planned as a share of fabric and notions and comes out
    in what was cut and taken, so that it stands in their lines."""
    room = prices.room
    by_kind: dict[bool, list[Compared]] = {True: [], False: []}
    for ware in wares:
        by_kind[ware.of.startswith("thread:")].append(ware)
    keyed = [(f"{CLOTH_KEY}{row.of}", row) for row in cloth]
    labor = _labor([stage.compared for stage in minutes], room)
    return (
        _priced("fabric with its waste", keyed, room.fabric_waste, prices),
        _priced("thread", [(row.of, row) for row in by_kind[True]], ZERO, prices),
        _priced(
            "notions with their waste",
            [(row.of, row) for row in by_kind[False]],
            room.notion_waste,
            prices,
        ),
        labor,
        _share_of(labor, "overhead", room.overhead, room.currency),
    )


def _priced(
    name: str, rows: Sequence[tuple[str, Compared]], waste: Decimal, prices: Prices
) -> Compared:
    whole = planned = actual = expected = ZERO
    known, missing = False, []
    for key, row in rows:
        price = prices.of(key)
        if row.missing or price is None:
            missing.append(row.name if price is not None else f"{row.name} (no price)")
        if price is None:
            continue
        row_whole = row.whole * price * (1 + waste)
        whole += row_whole
        if row.actual is None:
            expected += row_whole
            continue
        row_planned = row.planned * price * (1 + waste)
        row_actual = prices.actual(key, row.actual, price)
        known = True
        planned, actual = planned + row_planned, actual + row_actual
        expected += in_proportion(row_whole, row_planned, row_actual)
    currency = prices.room.currency
    return Compared(
        name,
        rounded(whole, currency),
        rounded(planned, currency),
        rounded(actual, currency) if known else None,
        _names(missing, len(rows)),
        expected=rounded(expected, currency),
    )


def _names(missing: Sequence[str], of: int) -> str:
    return "all of it" if missing and len(missing) == of else ", ".join(missing)


def _labor(stages: Sequence[Compared], room: WorkroomSpec) -> Compared:
    """The minutes of the timed jackets at the wage; all jackets are expected to go on like those
    that were timed at the stage."""
    timed = [stage for stage in stages if stage.actual is not None]

    def pay(minutes: Iterable[Decimal]) -> Decimal:
        return rounded(sum(minutes, ZERO) / 60 * room.labor_per_hour, room.currency)

    return Compared(
        "labor",
        pay(stage.whole for stage in stages),
        pay(stage.planned for stage in timed),
        pay(stage.actual or ZERO for stage in timed) if timed else None,
        _names([stage.name for stage in stages if stage.missing], len(stages)),
        expected=pay(stage.likely for stage in stages),
    )


def _share_of(line: Compared, name: str, share: Decimal, currency: str) -> Compared:
    return Compared(
        name,
        rounded(line.whole * share, currency),
        rounded(line.planned * share, currency),
        None if line.actual is None else rounded(line.actual * share, currency),
        line.missing,
        expected=rounded(line.likely * share, currency),
    )


def total_of(lines: Sequence[Compared]) -> Compared:
    """All lines together; planned and actual over those that have an actual."""
    known = [line for line in lines if line.actual is not None]
    return Compared(
        "all",
        sum((line.whole for line in lines), ZERO),
        sum((line.planned for line in known), ZERO),
        sum((line.actual or ZERO for line in known), ZERO) if known else None,
        _names([line.name for line in lines if line.actual is None], len(lines)),
        expected=sum((line.likely for line in lines), ZERO),
    )


# Against the quote


@dataclass(frozen=True, slots=True)
class Quoted:
    """An accepted quote as it was: `price` of one jacket with tax, `gross`, `net`, `cost` and
    `margin` of all of its jackets."""

    code: str
    team_order: str
    currency: str
    jackets: int
    price: Decimal
    gross: Decimal
    net: Decimal
    cost: Decimal
    margin: Decimal


@dataclass(frozen=True, slots=True)
class QuoteReached:
    """A quote against what its jackets come to. `made` is how many of the order are in the run;
    `reached` is None where quote and run count in two currencies."""

    quoted: Quoted
    made: int
    cost: Decimal | None
    reached: Decimal | None

    @property
    def quoted_share(self) -> Decimal | None:
        return self.quoted.margin / self.quoted.net if self.quoted.net else None

    @property
    def reached_share(self) -> Decimal | None:
        if self.reached is None or not self.quoted.net:
            return None
        return self.reached / self.quoted.net

    @property
    def difference(self) -> Decimal | None:
        return None if self.reached is None else self.reached - self.quoted.margin


def against_quote(
    quoted: Quoted, made: int, run_cost: Decimal, jackets: int, currency: str
) -> QuoteReached:
    """The margin for the jackets that were quoted, each at its equal share of the run's cost."""
    if quoted.currency != currency or not jackets:
        return QuoteReached(quoted, made, None, None)
    cost = rounded(run_cost * quoted.jackets / jackets, currency)
    return QuoteReached(quoted, made, cost, quoted.net - cost)


@dataclass(frozen=True, slots=True)
class Afterwards:
    """All that a run's planned and actual figures say."""

    currency: str
    cloth: tuple[Compared, ...]
    minutes: tuple[StageMinutes, ...]
    wares: tuple[Compared, ...]
    purchases: tuple[Compared, ...]
    money: tuple[Compared, ...]
    quotes: tuple[QuoteReached, ...]
    pieces: int
    spoiled: int
    recut_mm: int
    fabric_waste: Decimal = ZERO
    notes: tuple[str, ...] = ()

    @property
    def has_actuals(self) -> bool:
        rows = (*self.cloth, *self.wares, *self.purchases, *(s.compared for s in self.minutes))
        return any(row.actual is not None for row in rows)

    @property
    def total(self) -> Compared:
        return total_of(self.money)
