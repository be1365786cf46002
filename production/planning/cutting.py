"""Ways to cut one ticket, better and better: cut orders, each lay nested, planned again, kept.

Plain rows come at once. Then cut orders are planned for each aim by guessed lengths and their lays
are nested, and split where they are longer than the table; the true lengths correct the guess for a
second round; what time is left goes into nesting the best lays again. Plans are judged by true
lengths only, each under every aim.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from statistics import linear_regression
from time import monotonic
from typing import Protocol

from production.planning.cut_demand import CutDemand, LayOrder, LengthGuess
from production.planning.cut_orders import Aim, aim_price, plan_cut_orders
from production.planning.cutting_prices import CuttingPrice, cutting_price
from production.planning.explode import (
    Shapes,
    cut_ticket_lines,
    explode,
    fabrics_by_color,
    shapes_by_key,
)
from production.planning.lays import asked, spread_count
from production.planning.nested_lays import (
    LaidOrder,
    coded,
    is_too_long,
    laid_order,
    nest_blocks,
    strip_of,
)
from production.planning.nesting import ROWS, Nest, nest, nest_key
from production.planning.plan import Lay, TicketLine
from production.planning.row_lays import plan_lays
from production.planning.savings import lay_sums
from production.planning.snapshot import BoltSpec, FabricSpec, RunSnapshot, WorkroomSpec

#: Nesting a lay for less than this is not worth starting the solver.
LEAST_SECONDS = 2.0
#: A lay is nested for a part of the time, so that so many can be, and for no longer than this; with
#: the share of the time that is kept back the best lays are nested again.
LAYS_IN_TIME, MOST_SECONDS, AGAIN_SHARE, AGAIN_TIMES = 10, 6.0, 0.3, 2
#: Cut orders are planned by the first guess, and again by what their lays tell.
ROUNDS = 2
#: So many lays tell the ragged end as well as the efficiency; it is never believed to be longer.
ENOUGH_LAYS, MOST_END_MM = 4, 250
#: A choice is better than another by at least this share.
BETTER_BY = 1e-6

IsStopped = Callable[[], bool]


class NestStore(Protocol):
    """Nests kept by `nest_key`, each with the seconds that went into it."""

    def get(self, key: str) -> tuple[Nest, float] | None: ...

    def put(self, key: str, nest: Nest, seconds: float) -> None: ...


@dataclass(frozen=True, slots=True)
class TicketToCut:
    ticket: str
    lines: tuple[TicketLine, ...]
    shapes: Shapes
    fabric: FabricSpec
    workroom: WorkroomSpec
    price: CuttingPrice
    bolts: tuple[BoltSpec, ...] = ()


@dataclass(frozen=True, slots=True)
class LayChoice:
    """One way to cut a ticket. `aim` is what it is best at, or "rows"; minutes are with allowance,
    `cost` is the money for cloth and cutting; `methods` say of each lay how it was laid out, and
    in words what the cutter should know of it."""

    aim: str
    lays: tuple[Lay, ...]
    fabric_mm: int
    cutting_minutes: Decimal
    cost: Decimal
    methods: Mapping[str, tuple[str, str]]


def tickets_to_cut(snapshot: RunSnapshot) -> tuple[TicketToCut, ...]:
    """The tickets of a run, by the codes that `planner.plan_run` gives them."""
    shapes, fabrics = shapes_by_key(snapshot.shapes), fabrics_by_color(snapshot)
    lines_by_color = cut_ticket_lines(explode(snapshot), snapshot)
    return tuple(
        TicketToCut(
            ticket=f"{snapshot.run}-T{number}",
            lines=lines,
            shapes=shapes,
            fabric=fabrics[color],
            workroom=snapshot.workroom,
            price=cutting_price(fabrics[color], snapshot.operations, snapshot.workroom),
            bolts=tuple(bolt for bolt in snapshot.bolts if bolt.fabric_color == color),
        )
        for number, (color, lines) in enumerate(lines_by_color.items(), start=1)
    )


def lay_choices(
    ticket: TicketToCut,
    seconds: float,
    store: NestStore,
    *,
    seed: int = 0,
    on_better: Callable[[LayChoice], None] | None = None,
    is_stopped: IsStopped | None = None,
) -> tuple[LayChoice, ...]:
    """Plain rows and the best lays found for each aim, in about so many seconds.

    `on_better` is called with the rows at once, then with each better choice. When it is stopped,
    the best so far are returned. Every lay passes `lays.validate_lay`. Raises PlanError, naming the
    block, for a ticket that cannot be cut.
    """
    search = _Search(ticket, seconds, store, seed, on_better or (lambda _: None), is_stopped)
    search.begin_with_rows()
    search.run()
    return tuple(search.best.values())


class _Search:
    """The best choice for each aim so far, and the time that is left."""

    def __init__(
        self,
        ticket: TicketToCut,
        seconds: float,
        store: NestStore,
        seed: int,
        on_better: Callable[[LayChoice], None],
        is_stopped: IsStopped | None,
    ) -> None:
        self.ticket = ticket
        self.demand = CutDemand(asked(ticket.lines), ticket.shapes, ticket.fabric, ticket.workroom)
        self.best: dict[str, LayChoice] = {}
        self._seconds = seconds
        self._ends_at = monotonic() + seconds
        self._store = store
        self._seed = seed
        self._on_better = on_better
        self._is_stopped = is_stopped or (lambda: False)
        self._prices = {aim: aim_price(ticket.price, ticket.workroom, aim) for aim in Aim}
        self._laid: dict[LayOrder, LaidOrder] = {}
        self._nested_mm: dict[LayOrder, float] = {}
        self._plans: list[tuple[LayOrder, ...]] = []
        self._plan_of: dict[Aim, tuple[LayOrder, ...]] = {}

    @property
    def left(self) -> float:
        return 0.0 if self._is_stopped() else max(self._ends_at - monotonic(), 0.0)

    def begin_with_rows(self) -> None:
        ticket = self.ticket
        lays = plan_lays(
            ticket.ticket,
            ticket.lines,
            ticket.shapes,
            ticket.fabric,
            ticket.workroom,
            ticket.price,
        )
        rows = self._choice(ROWS, lays, {lay.lay: (ROWS, "") for lay in lays})
        self.best = {ROWS: rows, **{aim.value: replace(rows, aim=aim.value) for aim in Aim}}
        self._on_better(rows)
        for lay in lays:
            self._laid.setdefault(order_of(lay), LaidOrder((replace(lay, lay=""),), ROWS, ""))
        self._plan_of = dict.fromkeys(Aim, tuple(map(order_of, lays)))
        self._plans.append(self._plan_of[Aim.MONEY])

    def run(self) -> None:
        """Lays out the cut orders of all aims by the first guess, then by what their lays tell, and
        nests the best lays again."""
        guess = LengthGuess()
        for _ in range(ROUNDS):
            if self._is_over():
                break
            guess = told_guess(self._filled(), guess)
            for _, found in plan_cut_orders(self.demand, self.ticket.price, guess, seed=self._seed):
                self._lay_plan(found.lays, guess)
                if self._is_over():
                    break
            self._lay_plan(self._plans[0], guess)
        self._nest_again()

    def _is_over(self) -> bool:
        """Whether there is no time for new lays; the first plan may take the share of the best."""
        kept_back = AGAIN_SHARE * self._seconds if len(self._plans) > 1 else 0.0
        return self.left < max(kept_back, LEAST_SECONDS)

    @property
    def _each(self) -> float:
        """Seconds for a lay that is nested for the first time."""
        return min(max(self._seconds / LAYS_IN_TIME, LEAST_SECONDS), MOST_SECONDS)

    def _filled(self) -> list[tuple[float, float]]:
        """Of each nested lay how long its blocks are by area alone, and how long it became."""
        return [
            (self.demand.area_mm(order), length_mm) for order, length_mm in self._nested_mm.items()
        ]

    def _lay_plan(self, plan: tuple[LayOrder, ...], guess: LengthGuess) -> None:
        """Lays a plan out, if there is the time for all of it."""
        parts = [self._lay(order, guess) for order in plan]
        if all(parts):
            whole = tuple(order for part in parts for order in part)
            if whole not in self._plans:
                self._plans.append(whole)
            self._judge()

    def _lay(self, order: LayOrder, guess: LengthGuess) -> list[LayOrder]:
        """Lays an order out, as several where it is too long for the table; none without time."""
        if order not in self._nested_mm:
            if self._is_over():
                return [order] if order in self._laid else []
            nest = self._nest(order, self._each)
            self._nested_mm[order] = nest.length_mm
            self._take(order, nest)
        if order in self._laid:
            return [order]
        covered = self.demand.area_mm(order) / self._nested_mm[order]
        tighter = replace(guess, efficiency=min(covered, guess.efficiency), end_mm=0)
        parts = self.demand.packed(order.mode, order.plies, dict(order.counts), tighter)
        if len(parts) < 2:
            return []
        laid = [self._lay(part, tighter) for part in parts]
        return [each for part in laid for each in part] if all(laid) else []

    def _take(self, order: LayOrder, nest: Nest) -> bool:
        """Keeps a nest that fits on the table and is shorter than what the order has."""
        if is_too_long(nest, self.demand):
            return False
        found = laid_order(order, nest, self.demand)
        if order in self._laid and cloth_mm(self._laid[order]) <= cloth_mm(found):
            return False
        self._laid[order] = found
        return True

    def _nest(self, order: LayOrder, seconds: float, *, again: bool = False) -> Nest:
        """The best nest known of an order; it is looked for unless that was done for as long."""
        blocks, strip = nest_blocks(order, self.demand), strip_of(order, self.demand)
        key = nest_key(blocks, strip)
        kept, spent = self._store.get(key) or (None, 0.0)
        if kept is not None and spent >= seconds and not again:
            return kept
        # Nesting that was done before begins with another seed, or it would find the same again.
        found = nest(
            blocks, strip, seconds, seed=self._seed + round(spent), is_stopped=self._is_stopped
        )
        best = kept if kept is not None and kept.length_mm <= found.length_mm else found
        self._store.put(key, best, spent + found.seconds)
        return best

    def _nest_again(self) -> None:
        """What time is left goes into the lays of the best plans, those with the most cloth first;
        a lay gets longer than before, or it would hardly become shorter."""
        waiting = list(dict.fromkeys(order for plan in self._plan_of.values() for order in plan))
        cloth = {order: cloth_mm(self._laid[order]) for order in waiting}
        waiting.sort(key=lambda order: -cloth[order])
        for at, order in enumerate(waiting):
            share = cloth[order] / sum(cloth[each] for each in waiting[at:])
            seconds = min(max(share * self.left, AGAIN_TIMES * self._each), self.left)
            if seconds < LEAST_SECONDS:
                return
            if self._take(order, self._nest(order, seconds, again=True)):
                self._judge()

    def _judge(self) -> None:
        """Looks among all plans that are laid out for a better choice under each aim."""
        allowance_mm = self.ticket.fabric.end_allowance_mm
        for plan in self._plans:
            known = coded(self.ticket.ticket, [self._laid[order] for order in plan])
            lays = tuple(lay for lay, _, _ in known.values())
            methods = {code: (method, note) for code, (_, method, note) in known.items()}
            for aim, price in self._prices.items():
                best = price.of(self.best[aim.value].lays, allowance_mm)
                if price.of(lays, allowance_mm) < best * (1 - BETTER_BY):
                    self._plan_of[aim] = plan
                    self.best[aim.value] = self._choice(aim.value, lays, methods)
                    self._on_better(self.best[aim.value])

    def _choice(
        self, aim: str, lays: tuple[Lay, ...], methods: Mapping[str, tuple[str, str]]
    ) -> LayChoice:
        sums = lay_sums(lays, self.ticket.fabric, self.ticket.price)
        return LayChoice(aim, lays, sums.fabric_mm, sums.cutting_minutes, sums.cost, methods)


def cloth_mm(laid: LaidOrder) -> float:
    return sum(spread_count(lay) * lay.length_mm for lay in laid.lays)


def order_of(lay: Lay) -> LayOrder:
    """What lies in a lay."""
    counts = Counter((place.block, place.size, place.side) for place in lay.placements)
    return LayOrder(lay.mode, lay.plies, tuple(sorted(counts.items())))


def told_guess(filled: Sequence[tuple[float, float]], guess: LengthGuess) -> LengthGuess:
    """The guess as nested lays tell it, each by the length that its blocks have by area alone and
    the length it became: a straight line through them, where they are enough to tell its two ends.
    """
    if not filled:
        return guess
    end_mm = guess.end_mm
    areas_mm = [area_mm for area_mm, _ in filled]
    if len(set(areas_mm)) >= ENOUGH_LAYS:
        line = linear_regression(areas_mm, [length_mm for _, length_mm in filled])
        end_mm = round(min(max(line.intercept, 0), MOST_END_MM))
    rest_mm = sum(max(length_mm - end_mm, area_mm) for area_mm, length_mm in filled)
    return replace(guess, efficiency=sum(areas_mm) / rest_mm, end_mm=end_mm)
