"""Ways to cut one ticket, better and better: cut orders, each lay nested, planned again, kept.

Plain rows come at once. Then cut orders are planned for each aim by guessed lengths and their lays
are nested, and split where they are longer than the table. Improvement rounds follow: the program
plans again with the true lengths of all lays that were nested, as they are, and a guess corrected
by them for all others, so that good lays stay and poor ones are mixed anew; they end when it finds
no lays that were not tried. What time is left goes into nesting the best lays again. Plans are
judged by true lengths only, each under every aim.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from math import ceil
from time import monotonic
from typing import Protocol

from production.planning.cutting.cut_demand import CutDemand, LayOrder, LengthGuess, told_guess
from production.planning.cutting.cut_orders import Aim, CutOrder, aim_price, plan_cut_orders
from production.planning.cutting.cutting_prices import CuttingPrice, cutting_price
from production.planning.cutting.lays import asked, spread_count
from production.planning.cutting.nested_lays import (
    LaidOrder,
    coded,
    is_too_long,
    laid_order,
    nest_blocks,
    strip_of,
)
from production.planning.cutting.row_lays import plan_lays
from production.planning.cutting.savings import lay_sums
from production.planning.explode import (
    Shapes,
    cut_ticket_lines,
    explode,
    fabrics_by_color,
    shapes_by_key,
)
from production.planning.nesting import ROWS, Nest, nest, nest_key
from production.planning.plan import Lay, TicketLine
from production.planning.snapshot import BoltSpec, FabricSpec, RunSnapshot, WorkroomSpec

#: Nesting a lay for less than this is not worth starting the solver.
LEAST_SECONDS = 1.0
#: Nesting may end later than asked by this part of its time, and at most by so much.
NEST_ENDS_LATE, MOST_LATE_SECONDS = 0.2, 1.0
#: What planning the first cut order takes.
PLANNING_SECONDS = 1.5
#: A new lay is nested for a part of the time, so that so many can be, within these limits.
LAYS_IN_TIME, NEW_LAY_SECONDS, MOST_SECONDS = 10, 2.0, 6.0
#: With the share of the time that is kept back the best lays are nested again, so much longer.
AGAIN_SHARE, AGAIN_TIMES = 0.3, 2
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
        self._true_mm: dict[LayOrder, int] = {}
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
        """Lays out the cut orders of all aims by the first guess, then by what their lays tell as
        long as that brings new ones, and nests the best lays again."""
        guess = LengthGuess()
        while self._room >= PLANNING_SECONDS + self._each and self._lay_new_plans(guess):
            guess = told_guess(self._filled(), guess)
        self._nest_again()
        self._tell_why_rows()

    def _lay_new_plans(self, guess: LengthGuess) -> bool:
        """Whether any of the plans had lays that were not nested before."""
        is_any_new = False
        known = [CutOrder(plan, 0.0) for plan in self._plans]
        for _, found in plan_cut_orders(
            self.demand,
            self.ticket.price.on_width(self.ticket.fabric.usable_width_mm),
            guess,
            true_mm=self._true_mm,
            known=known,
            seed=self._seed,
        ):
            is_any_new |= self._lay_plan(found.lays, guess)
            if self._room < self._each:
                break
        return is_any_new

    @property
    def _room(self) -> float:
        """Seconds for new lays; the first plan may take the share of the best lays."""
        kept_back = AGAIN_SHARE * self._seconds if len(self._plans) > 1 else 0.0
        return max(self.left - kept_back, 0.0)

    @property
    def _each(self) -> float:
        """Seconds for a lay that is nested for the first time."""
        return min(max(self._seconds / LAYS_IN_TIME, NEW_LAY_SECONDS), MOST_SECONDS)

    def _filled(self) -> list[tuple[float, float]]:
        """Of each nested lay how long its blocks are by area alone, and how long it became."""
        return [
            (self.demand.area_mm(order), length_mm) for order, length_mm in self._nested_mm.items()
        ]

    def _lay_plan(self, plan: tuple[LayOrder, ...], guess: LengthGuess) -> bool:
        """Lays a plan out, if there is the time for all of it; whether any of its lays are new."""
        new = {order for order in plan if order not in self._nested_mm}
        if len(new) * self._each > self._room:
            return False
        parts = [self._lay(order, guess) for order in plan]
        if all(parts):
            whole = tuple(order for part in parts for order in part)
            if whole not in self._plans:
                self._plans.append(whole)
            self._judge()
        return bool(new)

    def _lay(self, order: LayOrder, guess: LengthGuess) -> list[LayOrder]:
        """Lays an order out, as several where it is too long for the table; none without time."""
        if order not in self._nested_mm:
            if self._room < self._each:
                return [order] if order in self._laid else []
            nest = self._nest(order, self._each)
            self._nested_mm[order] = nest.length_mm
            self._take(order, nest)
        if order in self._laid:
            if len(self._laid[order].lays) == 1:
                self._true_mm[order] = ceil(self._laid[order].lays[0].length_mm)
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
        known = self._laid.get(order)
        if known and cloth_mm(known) <= cloth_mm(found):
            if known.method == found.method == ROWS and not known.note:
                self._laid[order] = replace(known, note=found.note)
            return False
        self._laid[order] = found
        return True

    def _nest(self, order: LayOrder, seconds: float, *, again: bool = False) -> Nest:
        """The best nest known of an order; it is looked for unless that was done for as long."""
        blocks, strip = nest_blocks(order, self.demand), strip_of(order, self.demand)
        key = nest_key(blocks, strip)
        kept, spent = self._store.get(key) or (None, 0.0)
        asked_seconds = seconds - min(NEST_ENDS_LATE * seconds, MOST_LATE_SECONDS)
        if kept is not None and spent >= asked_seconds and not again:
            return kept
        # Nesting that was done before begins with another seed, or it would find the same again.
        found = nest(
            blocks,
            strip,
            asked_seconds,
            seed=self._seed + round(spent),
            is_stopped=self._is_stopped,
        )
        best = kept if kept is not None and kept.length_mm <= found.length_mm else found
        # Nesting that ended early by itself has nothing left to do in the time that it had.
        used = found.seconds if self._is_stopped() else max(found.seconds, asked_seconds)
        self._store.put(key, best, spent + used)
        return best

    def _nest_again(self) -> None:
        """What time is left goes into the lays of the best plans, those with the most cloth first;
        a lay gets longer than before, or it would hardly become shorter. Lays that differ in their
        plies alone share a nest."""
        alike: dict[str, list[LayOrder]] = {}
        for order in dict.fromkeys(order for plan in self._plan_of.values() for order in plan):
            key = nest_key(nest_blocks(order, self.demand), strip_of(order, self.demand))
            alike.setdefault(key, []).append(order)
        cloth = {key: sum(cloth_mm(self._laid[o]) for o in orders) for key, orders in alike.items()}
        waiting = sorted(alike, key=lambda key: -cloth[key])
        for at, key in enumerate(waiting):
            share = cloth[key] / sum(cloth[each] for each in waiting[at:])
            seconds = min(max(share * self.left, AGAIN_TIMES * self._each), self.left)
            if seconds < LEAST_SECONDS:
                return
            found = self._nest(alike[key][0], seconds, again=True)
            taken = [self._take(order, found) for order in alike[key]]
            if any(taken):
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

    def _tell_why_rows(self) -> None:
        """Rows that nesting did not make shorter stay the best choice; now it is known why."""
        for aim, plan in self._plan_of.items():
            known = coded(self.ticket.ticket, [self._laid[order] for order in plan])
            best = self.best[aim.value]
            if tuple(lay for lay, _, _ in known.values()) == best.lays:
                methods = {code: (method, note) for code, (_, method, note) in known.items()}
                self.best[aim.value] = replace(best, methods=methods)

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
