"""What a club pays for so many jackets, and what each number is made of.

The price of one jacket is what its share of the costs asks for, margin and tax included, rounded up
to the smallest unit of the currency: so the margin is never less than was meant, and the whole is
what the jackets cost one by one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

from orders.money import decimals_of, rounded
from production.planning.costs import CostPart, cost_parts, costs_of
from production.planning.explode import explode, shapes_by_key
from production.planning.minutes.labor import STAGES, JacketMinutes, plan_labor
from production.planning.plan import Costs, CutTicket, Labor, PlanError
from production.planning.planner import tickets_on_cloth
from production.planning.quotes.quote_mix import mixed, split
from production.planning.quotes.quote_shares import Kind, KindCost, costs_by_kind, kinds_of
from production.planning.snapshot import RunSnapshot
from production.planning.supplies.materials import notion_needs
from production.planning.threads.thread import thread_needs

#: Numbers of jackets that every quote names.
QUANTITIES = (10, 20, 40, 80)
#: What drives work that is the same however many jackets a lay or a run has.
FIXED_DRIVERS = ("lay", "run")


@dataclass(frozen=True, slots=True)
class ClothExperience:
    """What a fabric took on earlier tickets: with the lays that were used, and what plain rows
    would have taken; over so many tickets."""

    fabric: str
    used_mm: int
    rows_mm: int
    tickets: int

    @property
    def factor(self) -> Fraction:
        return Fraction(self.used_mm, self.rows_mm)

    @property
    def saved_share(self) -> Decimal:
        return 1 - Decimal(self.used_mm) / Decimal(self.rows_mm)


@dataclass(frozen=True, slots=True)
class Terms:
    """The shares and choices of a quote. `margin` is a share of the net price, `deposit_share` one
    of the gross price; `weights` say how often each jacket of the snapshot is in the mix, `own` is
    the number of jackets that are ordered already."""

    margin: Decimal
    tax_rate: Decimal
    deposit_share: Decimal
    weights: tuple[int, ...]
    own: int = 0
    cloth: tuple[ClothExperience, ...] = ()
    #: What was changed against the workroom's settings, in words.
    changed: tuple[str, ...] = ()

    @property
    def quantities(self) -> tuple[int, ...]:
        return tuple(sorted({*QUANTITIES, *([self.own] if self.own else [])}))


@dataclass(frozen=True, slots=True)
class StageCost:
    """The labor of one stage: its minutes with allowance, and its share of the labor."""

    stage: str
    minutes: Decimal
    amount: Decimal


@dataclass(frozen=True, slots=True)
class FixedWork:
    """Work that is done once for a lay, a run or a changeover: minutes with allowance and labor."""

    name: str
    count: int
    minutes: Decimal
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Offer:
    """The price of so many jackets. `price` is that of one, tax included; `gross` = jackets x price
    = net + tax, and net = cost + margin, all to the smallest unit of the currency."""

    jackets: int
    costs: Costs
    parts: tuple[CostPart, ...]
    stages: tuple[StageCost, ...]
    fixed: tuple[FixedWork, ...]
    price: Decimal
    gross: Decimal
    tax: Decimal
    net: Decimal
    margin: Decimal
    deposit: Decimal
    kinds: tuple[KindCost, ...]

    @property
    def margin_share(self) -> Decimal:
        return self.margin / self.net if self.net else Decimal(0)

    @property
    def fixed_amount(self) -> Decimal:
        return sum((work.amount for work in self.fixed), Decimal(0))


@dataclass(frozen=True, slots=True)
class Figures:
    currency: str
    offers: tuple[Offer, ...]

    def offer(self, jackets: int) -> Offer:
        """Raises KeyError for a number that the quote does not name."""
        for offer in self.offers:
            if offer.jackets == jackets:
                return offer
        raise KeyError(jackets)


def reckon(snapshot: RunSnapshot, terms: Terms) -> Figures:
    """The prices for every quantity of the terms, the cloth laid in plain rows and corrected by
    experience.

    Raises PlanError for a run that cannot be cut or sewn, a share out of bounds, a price below 0.
    """
    check_terms(snapshot, terms)
    kinds = kinds_of(snapshot)
    return Figures(
        snapshot.workroom.currency,
        tuple(
            offer_for(mixed(snapshot, terms.weights, jackets), terms, kinds)
            for jackets in terms.quantities
        ),
    )


def check_terms(snapshot: RunSnapshot, terms: Terms) -> None:
    if not 0 <= terms.margin < 1:
        raise PlanError(
            f"A margin of {terms.margin * 100:f} % leaves no price: it is a share of the price "
            "before tax. Enter 0 or more and less than 100 %."
        )
    if terms.tax_rate < 0:
        raise PlanError("The tax is below 0. Enter 0 % where none is asked for.")
    if not 0 <= terms.deposit_share <= 1:
        raise PlanError("The deposit is a share of the price. Enter 0 to 100 %.")
    if len(terms.weights) != len(snapshot.jackets) or any(each < 0 for each in terms.weights):
        raise PlanError(
            "The weights do not fit the sizes and colorways of the quote. Reckon it anew."
        )


def offer_for(run: RunSnapshot, terms: Terms, kinds: Sequence[Kind]) -> Offer:
    """The price of the jackets of one run, which are of these kinds."""
    pieces, shapes = explode(run), shapes_by_key(run.shapes)
    rows, _ = tickets_on_cloth(run, pieces, shapes, {})
    labor, minutes = plan_labor(run, pieces, [lay for ticket in rows for lay in ticket.lays])
    tickets = with_experience(rows, terms.cloth)
    parts = cost_parts(run, tickets, thread_needs(run), notion_needs(run), labor)
    costs = costs_of(parts, run)
    price, gross, net = prices(costs.total, len(run.jackets), terms, run.workroom.currency)
    return Offer(
        jackets=len(run.jackets),
        costs=costs,
        parts=parts,
        stages=_stages(run, costs.labor, minutes),
        fixed=_fixed(run, labor),
        price=price,
        gross=gross,
        tax=gross - net,
        net=net,
        margin=net - costs.total,
        deposit=rounded(gross * terms.deposit_share, run.workroom.currency),
        kinds=costs_by_kind(run, kinds, parts, minutes, gross),
    )


def prices(
    cost: Decimal, jackets: int, terms: Terms, currency: str
) -> tuple[Decimal, Decimal, Decimal]:
    """(price of one jacket with tax, of all with tax, of all without tax) from what they cost: net
    = cost / (1 - margin), gross = net x (1 + tax rate)."""
    places = decimals_of(currency)
    net_wanted = Fraction(cost) / (1 - Fraction(terms.margin))
    each = net_wanted * (1 + Fraction(terms.tax_rate)) / jackets
    price = Decimal(math.ceil(each * 10**places)).scaleb(-places)
    gross = price * jackets
    return price, gross, rounded(gross / (1 + terms.tax_rate), currency)


def with_experience(
    tickets: Iterable[CutTicket], experience: Iterable[ClothExperience]
) -> tuple[CutTicket, ...]:
    """The tickets with their cloth as the workroom's own lays would take it, in whole mm up."""
    known = {one.fabric: one.factor for one in experience}
    return tuple(
        replace(ticket, fabric_needed_mm=math.ceil(ticket.fabric_needed_mm * known[ticket.fabric]))
        if ticket.fabric in known
        else ticket
        for ticket in tickets
    )


def per_jacket(amount: Decimal, jackets: int, currency: str) -> Decimal:
    return rounded(amount / jackets, currency)


def _stages(run: RunSnapshot, labor: Decimal, minutes: JacketMinutes) -> tuple[StageCost, ...]:
    by_stage = [sum((each[stage] for each in minutes.values()), Decimal(0)) for stage in STAGES]
    amounts = split(labor, by_stage, run.workroom.currency)
    return tuple(map(StageCost, STAGES, by_stage, amounts))


def _fixed(run: RunSnapshot, labor: Labor) -> tuple[FixedWork, ...]:
    operations = {operation.code: operation for operation in run.operations}
    done = [
        (operations[need.operation].name, need.count, need.standard_minutes)
        for need in labor.operations
        if operations[need.operation].driver in FIXED_DRIVERS
    ] + [(f"Change of {c.kind}", c.count, c.minutes) for c in labor.changeovers]
    room = run.workroom
    return tuple(
        FixedWork(
            name,
            count,
            (with_allowance := minutes * (1 + room.relaxation_allowance)).quantize(
                Decimal("0.01"), ROUND_CEILING
            ),
            rounded(with_allowance / 60 * room.labor_per_hour, room.currency),
        )
        for name, count, minutes in done
        if count
    )
