"""What the page of a run's cutting shows: each ticket's ways side by side, and the run's totals."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

import msgspec

from production.cutting.lay_pictures import picture_size_mm
from production.cutting.lay_plans import (
    Aim,
    lays_of,
    mark_of,
    methods_of,
    run_tickets,
    sums_of,
    why_locked,
)
from production.cutting.way_cloth import Split, splitter
from production.models import CutTicket, LayPlan, Run
from production.planning.cutting.lays import over_cut
from production.planning.cutting.savings import LaySums
from production.planning.plan import CutTicket as PlannedTicket
from production.planning.plan import Lay, Plan
from production.planning.snapshot import RunSnapshot
from production.services import load_plan, load_snapshot

#: What is searched for.
SEARCHED = (Aim.MONEY, Aim.FABRIC, Aim.LAYS, Aim.TIME)
#: In this order the ways stand side by side, after the one in use.
AIMS = (*SEARCHED, Aim.BY_HAND, Aim.ROWS)
IN_USE = "in-use"


def _title(aims: Sequence[str]) -> str:
    words = [Aim(aim).label for aim in aims] or ["lays in use"]
    if set(SEARCHED) <= set(aims):
        words = ["best for every aim", *(Aim(aim).label for aim in aims if aim not in SEARCHED)]
    told = ", ".join(words)
    return told[0].upper() + told[1:]


@dataclass(frozen=True, slots=True)
class Way:
    """One way to cut a ticket. `aims` are all that it is the best known for. What it takes less
    than the lays in use is negative when it takes more. The cloth from stock and to buy is that of
    today; None of a way that cannot be chosen any more. `over_cut` pieces are cut beyond the
    ticket's, as the workroom allows. `picture_mm` are the width and height of its small picture."""

    aims: tuple[str, ...]
    name: str
    mark: str
    is_in_use: bool
    lays: tuple[Lay, ...]
    sums: LaySums
    notes: tuple[str, ...]
    saved_mm: int
    saved_money: Decimal
    picture_mm: tuple[int, int]
    from_stock_mm: int | None
    to_buy_mm: int | None
    over_cut: int
    less_mm: int = 0
    less_to_buy_mm: int = 0
    less_minutes: Decimal = Decimal(0)
    less_cost: Decimal = Decimal(0)

    @property
    def title(self) -> str:
        return _title(self.aims)

    @property
    def picture_mark(self) -> str:
        """Other lays have another one, so that a picture may be kept."""
        return hashlib.sha256(msgspec.json.encode(self.lays)).hexdigest()[:16]

    @property
    def efficiency_percent(self) -> float:
        return 100 * self.sums.efficiency


@dataclass(frozen=True, slots=True)
class TicketWays:
    """A ticket with all ways known to cut it, the one in use first. `boxes_mm` is the cloth for
    plain rows of bounding boxes, which savings are counted from."""

    ticket: CutTicket
    ways: tuple[Way, ...]
    bound_mm: int
    boxes_mm: int
    locked: str
    kept: tuple[LayPlan, ...]

    @property
    def in_use(self) -> Way:
        return self.ways[0]

    def best_for(self, aim: str) -> Way:
        """The way that the run takes for an aim: the lays in use, where no other can be taken."""
        known = [way for way in self.ways if aim in way.aims]
        return known[0] if known and not self.locked else self.in_use


@dataclass(frozen=True, slots=True)
class Total:
    """All tickets of the run cut for one aim, which may be the best known for others as well;
    `mark` is empty when nothing would change."""

    aim: str
    title: str
    is_in_use: bool
    lays: int
    fabric_mm: int
    to_buy_mm: int
    less_to_buy_mm: int
    minutes: Decimal
    cost: Decimal
    saved_mm: int
    saved_money: Decimal
    less_mm: int
    less_cost: Decimal
    less_minutes: Decimal
    mark: str


@dataclass(frozen=True, slots=True)
class Cutting:
    run: Run
    tickets: tuple[TicketWays, ...]
    totals: tuple[Total, ...]
    unit: str
    currency: str
    mark: str

    @property
    def is_open(self) -> bool:
        """Whether lays of any ticket can still change."""
        return any(not ticket.locked for ticket in self.tickets)

    @property
    def is_searched(self) -> bool:
        return any(
            set(way.aims) - {Aim.ROWS, Aim.BY_HAND}
            for ticket in self.tickets
            for way in ticket.ways
        )


def cutting_of(run: Run) -> Cutting:
    snapshot, plan = load_snapshot(run), load_plan(run)
    planned = {ticket.ticket: ticket for ticket in plan.cut_tickets}
    known = [(each, why_locked(each)) for each in run_tickets(run).prefetch_related("lay_plans")]
    split = splitter(snapshot, [ticket for ticket, locked in known if not locked])
    tickets = tuple(
        _ticket_ways(ticket, planned[ticket.code], snapshot, locked, split)
        for ticket, locked in known
    )
    return Cutting(
        run=run,
        tickets=tickets,
        totals=_totals(tickets),
        unit=snapshot.workroom.length_unit,
        currency=snapshot.workroom.currency,
        mark=results_mark(run),
    )


def results_mark(run: Run) -> str:
    """Stands for all ways known for a run, and which are in use."""
    kept = LayPlan.objects.filter(ticket__run=run).only("pk", "at", "is_in_use").order_by("pk")
    listed = list(kept)
    return mark_of(*listed) + "-".join(str(each.pk) for each in listed if each.is_in_use)


def _ticket_ways(
    ticket: CutTicket,
    planned: PlannedTicket,
    snapshot: RunSnapshot,
    locked: str,
    split: Callable[[CutTicket, tuple[Lay, ...]], Split],
) -> TicketWays:
    kept = {each.aim: each for each in ticket.lay_plans.all()}
    known = [(aim, kept[aim], lays_of(kept[aim])) for aim in AIMS if aim in kept]
    rows = next((lays for aim, _, lays in known if aim == Aim.ROWS), planned.lays)
    boxes = sums_of(planned, rows, snapshot)
    used = sums_of(planned, planned.lays, snapshot)
    ways: list[Way] = []
    for lays in dict.fromkeys((planned.lays, *(lays for _, _, lays in known))):
        same = [(aim, each) for aim, each, its_lays in known if its_lays == lays]
        sums = sums_of(planned, lays, snapshot)
        from_stock_mm: int | None = planned.from_stock_mm
        to_buy_mm: int | None = planned.to_buy_mm
        if lays != planned.lays:
            from_stock_mm, to_buy_mm = (None, None) if locked else split(ticket, lays)
        ways.append(
            Way(
                aims=tuple(aim for aim, _ in same),
                name=same[0][0] if same else IN_USE,
                mark=mark_of(same[0][1]) if same else "",
                is_in_use=lays == planned.lays,
                lays=lays,
                sums=sums,
                notes=_notes(each for _, each in same),
                saved_mm=boxes.boxes_mm - sums.fabric_mm,
                saved_money=boxes.boxes_cost - sums.cloth_cost,
                picture_mm=picture_size_mm(lays, snapshot.workroom.table_length_mm),
                from_stock_mm=from_stock_mm,
                to_buy_mm=to_buy_mm,
                over_cut=over_cut(planned.lines, lays).total(),
                less_mm=used.fabric_mm - sums.fabric_mm,
                less_to_buy_mm=0 if to_buy_mm is None else planned.to_buy_mm - to_buy_mm,
                less_minutes=used.cutting_minutes - sums.cutting_minutes,
                less_cost=used.cost - sums.cost,
            )
        )
    return TicketWays(
        ticket, tuple(ways), used.bound_mm, boxes.boxes_mm, locked, tuple(kept.values())
    )


def _notes(kept: Iterable[LayPlan]) -> tuple[str, ...]:
    """Why lays were laid out in rows, each reason once with the lays it is about."""
    lays: dict[str, list[str]] = {}
    for each in kept:
        for lay, (_, note) in methods_of(each).items():
            if note and lay not in lays.setdefault(note, []):
                lays[note].append(lay)
    return tuple(f"{', '.join(codes)}: {note}" for note, codes in lays.items())


def _totals(tickets: Sequence[TicketWays]) -> tuple[Total, ...]:
    """The lays in use, then each set of other ways that an aim asks for, once."""
    aims: dict[tuple[Way, ...], list[str]] = {tuple(ticket.in_use for ticket in tickets): []}
    for aim in AIMS:
        if any(aim in way.aims for ticket in tickets for way in ticket.ways):
            ways = tuple(ticket.best_for(aim) for ticket in tickets)
            aims.setdefault(ways, []).append(aim)
    return tuple(_total(those, tickets, ways) for ways, those in aims.items())


def _total(aims: Sequence[str], tickets: Sequence[TicketWays], ways: Sequence[Way]) -> Total:
    changes = any(not way.is_in_use for way in ways)
    marked = [
        each
        for ticket in tickets
        for each in ticket.kept
        if aims[:1] == [each.aim] and not ticket.locked
    ]
    zero = Decimal(0)
    return Total(
        aim=aims[0] if aims else "",
        title=_title(aims),
        is_in_use=not changes,
        lays=sum(way.sums.lays for way in ways),
        fabric_mm=sum(way.sums.fabric_mm for way in ways),
        to_buy_mm=sum(way.to_buy_mm or 0 for way in ways),
        less_to_buy_mm=sum(way.less_to_buy_mm for way in ways),
        minutes=sum((way.sums.cutting_minutes for way in ways), zero),
        cost=sum((way.sums.cost for way in ways), zero),
        saved_mm=sum(way.saved_mm for way in ways),
        saved_money=sum((way.saved_money for way in ways), zero),
        less_mm=sum(way.less_mm for way in ways),
        less_cost=sum((way.less_cost for way in ways), zero),
        less_minutes=sum((way.less_minutes for way in ways), zero),
        mark=mark_of(*marked) if changes else "",
    )


def shown_lays(
    run: Run, ticket_code: str, name: str
) -> tuple[tuple[Lay, ...], Plan, RunSnapshot, str] | None:
    """The lays of one way with what their picture needs, the last being the fabric color; None when
    there is no such ticket or way."""
    plan, snapshot = load_plan(run), load_snapshot(run)
    planned = next((each for each in plan.cut_tickets if each.ticket == ticket_code), None)
    if planned is None:
        return None
    if name == IN_USE:
        return planned.lays, plan, snapshot, planned.fabric_color
    kept = LayPlan.objects.filter(ticket__run=run, ticket__code=ticket_code, aim=name).first()
    return (lays_of(kept), plan, snapshot, planned.fabric_color) if kept else None
