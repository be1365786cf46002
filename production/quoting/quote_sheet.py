"""A quote as rows for its page: prices side by side, the sources of each line, who pays what."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal

from orders.money import rounded
from production.planning.costs import LINES, SHARE, CostPart
from production.planning.quotes.quote_shares import Shared, together
from production.planning.quotes.quotes import Figures, Offer, Terms
from production.planning.snapshot import RunSnapshot

LINE_WORDS = {
    "fabric": "Fabric",
    "thread": "Thread",
    "notions": "Notions",
    "labor": "Labor",
    "overhead": "Overhead",
    "waste": "Waste",
}
STAGE_WORDS = {"cut": "Cutting", "sew": "Sewing", "finish": "Finishing"}


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the prices, with its amount for each quantity."""

    label: str
    amounts: tuple[Decimal, ...]
    is_sum: bool = False


@dataclass(frozen=True, slots=True)
class Source:
    """A source of a line: what one unit costs, and for each quantity how much it takes and what
    that costs; None where a quantity takes nothing of it."""

    name: str
    unit: str
    price: Decimal
    cells: tuple[tuple[Decimal, Decimal] | None, ...]


@dataclass(frozen=True, slots=True)
class Opened:
    """A line of the costs, its amounts, and where they come from."""

    code: str
    label: str
    amounts: tuple[Decimal, ...]
    sources: tuple[Source, ...]
    jackets: tuple[int, ...]

    @property
    def by_number(self) -> list[tuple[int, Decimal]]:
        return list(zip(self.jackets, self.amounts, strict=True))


@dataclass(frozen=True, slots=True)
class Share:
    """Jackets alike in size or colorway: what one of them costs, were it paid for alone."""

    name: str
    jackets: int
    lines: tuple[Decimal, ...]
    cost: Decimal
    gross: Decimal
    each: Decimal


def price_rows(figures: Figures, terms: Terms) -> tuple[Row, ...]:
    """From the price of one jacket down to what stands behind it."""

    def row(label: str, amount: Callable[[Offer], Decimal], *, is_sum: bool = False) -> Row:
        return Row(label, tuple(map(amount, figures.offers)), is_sum)

    return (
        row("One jacket, with tax", lambda offer: offer.price, is_sum=True),
        row("All jackets, with tax", lambda offer: offer.gross, is_sum=True),
        row(f"of which tax, {percent(terms.tax_rate)}", lambda offer: offer.tax),
        row("Before tax", lambda offer: offer.net),
        row(f"of which margin, {percent(terms.margin)}", lambda offer: offer.margin),
        row("Costs", lambda offer: offer.costs.total, is_sum=True),
        row("Costs of one jacket", lambda offer: offer.costs.per_jacket),
        row(f"Deposit, {percent(terms.deposit_share)}", lambda offer: offer.deposit),
    )


def percent(share: Decimal) -> str:
    return f"{float(100 * share):g} %"


def opened_lines(figures: Figures, snapshot: RunSnapshot) -> tuple[Opened, ...]:
    wage = snapshot.workroom.labor_per_hour
    found = []
    for line in LINES:
        sources = _labor(figures, wage) if line == "labor" else _sources(figures, line)
        numbers = tuple(offer.jackets for offer in figures.offers)
        amounts = tuple(getattr(offer.costs, line) for offer in figures.offers)
        found.append(Opened(line, LINE_WORDS[line], amounts, sources, numbers))
    return tuple(found)


def _sources(figures: Figures, line: str) -> tuple[Source, ...]:
    """Parts alike in name and price are one source, as a zipper of one length for two sizes; a part
    that is a share of a line has another whole at each quantity."""
    by_offer = [_by_source(offer.parts, line) for offer in figures.offers]
    keys = sorted({key for cells in by_offer for key in cells})
    return tuple(
        Source(name, unit, price, tuple(cells.get((name, unit, price)) for cells in by_offer))
        for name, unit, price in keys
    )


def _by_source(
    parts: Iterable[CostPart], line: str
) -> dict[tuple[str, str, Decimal], tuple[Decimal, Decimal]]:
    found: dict[tuple[str, str, Decimal], tuple[Decimal, Decimal]] = {}
    for part in parts:
        if part.line == line:
            if part.unit == SHARE:
                key, quantity = (part.name, SHARE, part.quantity), part.price
            else:
                key, quantity = (part.name, part.unit, part.price), part.quantity
            had, paid = found.get(key, (Decimal(0), Decimal(0)))
            found[key] = (had + quantity, paid + part.amount)
    return found


def _labor(figures: Figures, wage: Decimal) -> tuple[Source, ...]:
    by_offer = [
        {stage.stage: (stage.minutes, stage.amount) for stage in offer.stages}
        for offer in figures.offers
    ]
    return tuple(
        Source(words, "min", wage, tuple(cells.get(stage) for cells in by_offer))
        for stage, words in STAGE_WORDS.items()
    )


@dataclass(frozen=True, slots=True)
class Spread:
    """Work that does not grow with the jackets: for each quantity how often, how long, and what it
    adds to one jacket."""

    name: str
    cells: tuple[tuple[int, Decimal, Decimal] | None, ...]


def fixed_work(figures: Figures) -> tuple[Spread, ...]:
    by_offer = [
        {
            work.name: (
                work.count,
                work.minutes,
                rounded(work.amount / offer.jackets, figures.currency),
            )
            for work in offer.fixed
        }
        for offer in figures.offers
    ]
    names = dict.fromkeys(name for cells in by_offer for name in cells)
    return tuple(Spread(name, tuple(cells.get(name) for cells in by_offer)) for name in names)


def shares(offer: Offer, respect: str, currency: str) -> tuple[Share, ...]:
    """By `size` or by `colorway`; empty where all of them cost the same."""
    found = tuple(_share(one, currency) for one in together(offer.kinds, respect))
    return found if len({one.each for one in found}) > 1 else ()


def _share(one: Shared, currency: str) -> Share:
    each = rounded(one.gross / one.jackets, currency)
    return Share(one.name, one.jackets, one.lines, one.cost, one.gross, each)


@dataclass(frozen=True, slots=True)
class Difference:
    """One jacket for one quantity as it is and as it would be."""

    jackets: int
    now: Decimal
    then: Decimal

    @property
    def more(self) -> Decimal:
        return self.then - self.now

    @property
    def whole(self) -> Decimal:
        return self.more * self.jackets


def differences(now: Figures, then: Figures) -> tuple[Difference, ...]:
    return tuple(
        Difference(was.jackets, was.price, would.price)
        for was, would in zip(now.offers, then.offers, strict=True)
    )


def chosen_offer(figures: Figures, asked: str | None, own: int) -> Offer:
    """The offer that the address asks for, else that for the order's own number, else the middle
    one."""
    known = {str(offer.jackets): offer for offer in figures.offers}
    middle = figures.offers[len(figures.offers) // 2]
    return known.get(asked or "") or known.get(str(own)) or middle
