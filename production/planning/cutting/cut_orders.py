"""Cut order planning: which blocks and sizes of one fabric color lie together, in how many plies.

An integer program decides under one of four aims, by the true lengths of lays that were nested and
by guessed ones of all others (`cut_demand`); a ladder of plies is what it
starts from and what is left when it finds nothing. Counts are exact, plies count layers of cloth.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from production.planning.cutting.cut_demand import CutDemand, LayOrder, LengthGuess, TrueLengths
from production.planning.cutting.cut_program import SOLVER_TIME, cheapest_lays
from production.planning.cutting.cutting_prices import CuttingPrice
from production.planning.cutting.lays import FACE_UP
from production.planning.cutting.row_lays import ply_ladder
from production.planning.snapshot import WorkroomSpec

#: What decides between plans that the aim finds equal: so much of the aim one unit of money counts.
TIE_BREAK = {"fabric": 0.1, "lays": 1e-4, "time": 0.01}

BY_LADDER = "planned by halving the plies, because the program found nothing better in its time"


class Aim(StrEnum):
    MONEY = "money"
    FABRIC = "fabric"
    LAYS = "lays"
    TIME = "time"


def aim_price(price: CuttingPrice, workroom: WorkroomSpec, aim: Aim) -> CuttingPrice:
    """What a plan is judged by under an aim: weighted money, or mm of cloth, lays or minutes, with
    a little of the money so that equals are told apart."""
    money, minutes = price.weighed(workroom), price.minutes
    if aim is Aim.MONEY:
        return money
    tie = TIE_BREAK[aim]
    is_time = aim is Aim.TIME
    return replace(
        money,
        cloth_mm=tie * money.cloth_mm + (aim is Aim.FABRIC),
        lay=tie * money.lay + (aim is Aim.LAYS) + is_time * float(minutes.lay),
        ply=tie * money.ply + is_time * float(minutes.ply),
        outline=tie * money.outline + is_time * float(minutes.outline),
    )


@dataclass(frozen=True, slots=True)
class CutOrder:
    """Lays from the most plies to the fewest; `cost` is in the measure of the aim, with guessed
    lengths where no true ones are known; `note` says in words why the plan is not the program's
    own."""

    lays: tuple[LayOrder, ...]
    cost: float
    note: str = ""


def plan_cut_order(
    demand: CutDemand,
    price: CuttingPrice,
    guess: LengthGuess,
    *,
    true_mm: TrueLengths | None = None,
    known: Iterable[CutOrder] = (),
    seed: int = 0,
    solver_time: float = SOLVER_TIME,
) -> CutOrder:
    """The cheapest lays that the program finds, at the price of an aim; by the same lengths never
    dearer than the ladder of plies or the orders that are `known` already. The same question always
    gets the same answer."""
    best = ladder_order(demand, price, guess, true_mm)
    for order in known:
        cost = demand.cost(order.lays, guess, price, true_mm)
        if cost < best.cost:
            best = CutOrder(order.lays, cost, order.note)
    # First all plies face up: a small program, whose plan the large one starts from.
    for modes in dict.fromkeys((demand.modes[:1], demand.modes)):
        lays = cheapest_lays(
            demand,
            price,
            guess,
            best.lays,
            modes=modes,
            true_mm=true_mm,
            seed=seed,
            solver_time=solver_time,
        )
        if lays is not None:
            cost = demand.cost(lays, guess, price, true_mm)
            if cost <= best.cost:
                best = CutOrder(lays, cost)
    return best


def plan_cut_orders(
    demand: CutDemand,
    price: CuttingPrice,
    guess: LengthGuess,
    *,
    true_mm: TrueLengths | None = None,
    known: Iterable[CutOrder] = (),
    seed: int = 0,
    solver_time: float = SOLVER_TIME,
) -> Iterator[tuple[Aim, CutOrder]]:
    """The cheapest lays found for each aim, one after the other as they are asked for; what is
    found for one is known to the next, and so are true lengths that come in between."""
    found = list(known)
    for aim in Aim:
        order = plan_cut_order(
            demand,
            aim_price(price, demand.workroom, aim),
            guess,
            true_mm=true_mm,
            known=found,
            seed=seed,
            solver_time=solver_time,
        )
        found.append(order)
        yield aim, order


def ladder_order(
    demand: CutDemand,
    price: CuttingPrice,
    guess: LengthGuess,
    true_mm: TrueLengths | None = None,
) -> CutOrder:
    """Lays face up of falling powers of two, from the height that is cheapest."""
    heights = [1 << rung for rung in range(demand.highest_plies.bit_length())]
    orders = [tuple(_laddered(demand, guess, height)) for height in heights]
    lays = min(orders, key=lambda lays: demand.cost(lays, guess, price, true_mm))
    return CutOrder(lays, demand.cost(lays, guess, price, true_mm), BY_LADDER)


def _laddered(demand: CutDemand, guess: LengthGuess, height: int) -> Iterable[LayOrder]:
    for plies, rung in ply_ladder(demand.counts, height):
        yield from demand.packed(FACE_UP, plies, rung, guess)
