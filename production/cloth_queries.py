"""What the cloth pages read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, F, IntegerField, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce
from django.shortcuts import get_object_or_404

from patterns.models import Fabric
from production.cloth import free_stretches, lots_with_lengths, planned_mm
from production.cut_counts import ply_pieces
from production.models import CutTicket, Flaw, LayPly, Run, StockLot, StockMovement
from production.planning.dye_lots import jackets_of_lots
from production.planning.explode import SIDES
from production.planning.four_point import (
    USUALLY_ACCEPTED,
    FoundFlaw,
    flaw_points,
    points_per_100_square_yards,
    roll_points,
)
from production.planning.materials import cut_length_mm
from production.planning.plan import CutTicket as PlannedTicket
from production.planning.plan import Plan
from production.services import load_plan

TO_BUY = "to be bought"


def cloth_list() -> QuerySet[StockLot]:
    """Lots with what is left, planned and free of them, and how many flaws they have."""
    planned = (
        LayPly.objects.filter(lot=OuterRef("pk"), cut_at=None)
        .order_by()
        .values("lot")
        .annotate(mm=Sum("takes_mm"))
        .values("mm")
    )
    flaws = (
        Flaw.objects.filter(lot=OuterRef("pk"))
        .order_by()
        .values("lot")
        .annotate(count=Count("pk"))
        .values("count")
    )
    return (
        lots_with_lengths()
        .annotate(
            planned_mm=Coalesce(Subquery(planned, output_field=IntegerField()), 0),
            flaw_count=Coalesce(Subquery(flaws, output_field=IntegerField()), 0),
        )
        .annotate(free_mm=F("left_mm") - F("planned_mm"))
        .select_related("fabric_color__fabric")
    )


@dataclass(frozen=True, slots=True)
class Scored:
    """A flaw with its points."""

    flaw: Flaw
    points: int


@dataclass(frozen=True, slots=True)
class FourPoint:
    """The four-point record of a lot. `score` counts per 100 square yards."""

    flaws: tuple[Scored, ...]
    points: int
    score: float
    accepted: float = USUALLY_ACCEPTED

    @property
    def passes(self) -> bool:
        return self.score <= self.accepted


@dataclass(frozen=True, slots=True)
class LotStory:
    """All that the page of a lot tells."""

    lot: StockLot
    left_mm: int
    end_mm: int
    planned_mm: int
    free: tuple[tuple[int, int], ...]
    plies: tuple[LayPly, ...]
    movements: tuple[StockMovement, ...]
    record: FourPoint | None
    off_the_bolt_mm: Decimal

    @property
    def free_mm(self) -> int:
        return sum(end_mm - start_mm for start_mm, end_mm in self.free)

    @property
    def front_mm(self) -> int:
        """Where the outer end is now."""
        cut = (ply for ply in self.plies if ply.cut_at)
        return max(((ply.start_mm or 0) + ply.takes_mm for ply in cut), default=0)

    @property
    def aside_mm(self) -> int:
        """The most that can be set aside as a remnant."""
        if self.free and self.free[-1][1] == self.end_mm:
            return self.free[-1][1] - self.free[-1][0]
        return 0


def lot_story(code: str) -> LotStory:
    """A lot with its plies, flaws and movements; 404 for a code that no lot has."""
    lot = get_object_or_404(
        lots_with_lengths()
        .select_related("fabric_color__fabric", "cut_from")
        .prefetch_related("flaws", "ply_rows__lay__ticket__run", "remnants"),
        code=code,
    )
    known = vars(lot)
    plies = sorted(lot.ply_rows.all(), key=lambda ply: ply.start_mm or 0)
    shrinkage = lot.fabric_color.fabric.shrinkage
    return LotStory(
        lot=lot,
        left_mm=known["left_mm"],
        end_mm=known["end_mm"],
        planned_mm=planned_mm(lot),
        free=tuple(free_stretches(lot)),
        plies=tuple(plies),
        movements=tuple(lot.movements.select_related("by", "ply__lay").order_by("-pk")),
        record=_record(lot, known["end_mm"]),
        off_the_bolt_mm=cut_length_mm(Decimal(1000), shrinkage),
    )


def _record(lot: StockLot, end_mm: int) -> FourPoint | None:
    """None for a lot of which nothing is left to be judged."""
    if end_mm <= 0:
        return None
    rows = list(lot.flaws.all())
    found = [FoundFlaw(row.at_mm, row.length_mm, row.width_mm, row.is_hole) for row in rows]
    points = roll_points(found)
    return FourPoint(
        flaws=tuple(Scored(row, flaw_points(flaw)) for row, flaw in zip(rows, found, strict=True)),
        points=points,
        score=points_per_100_square_yards(points, end_mm, lot.usable_width_mm),
    )


@dataclass(frozen=True, slots=True)
class Spread:
    """Plies of one lay that follow one another on one lot, or that are to be bought."""

    lay: str
    plies: str
    lot: StockLot | None
    start_mm: int | None
    takes_mm: int
    is_cut: bool


@dataclass(frozen=True, slots=True)
class DyeLot:
    """A dye lot of a ticket and the jackets that are cut from it, as far as a plan tells them."""

    name: str
    jackets: tuple[str, ...]

    @property
    def is_to_buy(self) -> bool:
        return self.name == TO_BUY


@dataclass(frozen=True, slots=True)
class TicketSpread:
    """What a ticket is spread from. `dye_lots` is empty where one serves all."""

    ticket: CutTicket
    spreads: tuple[Spread, ...]
    dye_lots: tuple[DyeLot, ...]

    @property
    def to_buy_mm(self) -> int:
        return sum(spread.takes_mm for spread in self.spreads if spread.lot is None)


def run_cloth(run: Run) -> list[TicketSpread]:
    """What the tickets of a run, its supplements and recuts are spread from."""
    return _spread(run.cut_tickets.order_by("position"), load_plan(run))


def ticket_cloth(ticket: str) -> TicketSpread | None:
    """What one ticket is spread from; None for one whose plies were never planned."""
    rows = CutTicket.objects.filter(code=ticket).select_related("run")
    found = rows.first()
    spread = _spread(rows, load_plan(found.run)) if found else []
    return spread[0] if spread and spread[0].spreads else None


def _spread(tickets: QuerySet[CutTicket], plan: Plan) -> list[TicketSpread]:
    listed = list(tickets.select_related("fabric_color__fabric").prefetch_related("lays"))
    plies = (
        LayPly.objects.filter(lay__ticket__in=listed)
        .select_related("lay", "lot")
        .order_by("lay__position", "number")
    )
    by_ticket: dict[int, list[LayPly]] = {}
    for ply in plies:
        by_ticket.setdefault(ply.lay.ticket_id, []).append(ply)
    planned = {ticket.ticket: ticket for ticket in plan.cut_tickets}
    return [
        TicketSpread(
            ticket,
            tuple(_spreads(by_ticket.get(ticket.pk, []))),
            _dye_lots(by_ticket.get(ticket.pk, []), planned.get(ticket.code), plan),
        )
        for ticket in listed
    ]


def _spreads(plies: Iterable[LayPly]) -> Iterable[Spread]:
    """Plies of one lay in one row where they follow one another without a gap."""
    groups: list[list[LayPly]] = []
    for ply in plies:
        if groups and _follows(groups[-1][-1], ply):
            groups[-1].append(ply)
        else:
            groups.append([ply])
    for some in groups:
        first, last = some[0], some[-1]
        yield Spread(
            lay=first.lay.code,
            plies=str(first.number) if len(some) == 1 else f"{first.number} to {last.number}",
            lot=first.lot,
            start_mm=first.start_mm,
            takes_mm=sum(ply.takes_mm for ply in some),
            is_cut=first.cut_at is not None,
        )


def _follows(ply: LayPly, following: LayPly) -> bool:
    alike = (ply.lay_id, ply.lot_id, ply.cut_at is None) == (
        following.lay_id,
        following.lot_id,
        following.cut_at is None,
    )
    if not alike or ply.start_mm is None:
        return alike
    return following.start_mm == ply.start_mm + ply.takes_mm


def _dye_lots(
    plies: Iterable[LayPly], ticket: PlannedTicket | None, plan: Plan
) -> tuple[DyeLot, ...]:
    lot_of = {(ply.lay.code, ply.number): ply.lot.dye_lot if ply.lot else None for ply in plies}
    if len(set(lot_of.values())) < 2:
        return ()
    if ticket is None:
        names = dict.fromkeys(lot or TO_BUY for lot in lot_of.values())
        return tuple(DyeLot(name, ()) for name in names)
    pieces: dict[str | None, Counter[tuple[str, str, str]]] = {}
    for lay in ticket.lays:
        for (code, number), lot in lot_of.items():
            if code == lay.lay:
                pieces.setdefault(lot, Counter()).update(ply_pieces(lay, number))
    jackets = jackets_of_lots(pieces, _needs(ticket.fabric_color, plan))
    return tuple(DyeLot(lot or TO_BUY, codes) for lot, codes in jackets.items())


def _needs(color: str, plan: Plan) -> dict[str, Counter[tuple[str, str, str]]]:
    pairing = {(block.block, block.size): block.pairing for block in plan.blocks}
    needs = {
        jacket.code: Counter(
            (block, jacket.size, side)
            for block, fabric_color in jacket.blocks.items()
            if fabric_color == color
            for side in SIDES[pairing[block, jacket.size]]
        )
        for jacket in plan.jackets
    }
    return {code: pieces for code, pieces in needs.items() if pieces}


def fabrics() -> QuerySet[Fabric]:
    """The fabrics that cloth lies here of."""
    return Fabric.objects.filter(colors__stock_lots__isnull=False).distinct()


def next_code() -> str:
    """A code that no lot has: B- and the next number."""
    codes = StockLot.objects.filter(code__startswith="B-").values_list("code", flat=True)
    numbers = [int(code[2:]) for code in codes if code[2:].isdecimal()]
    return f"B-{max(numbers, default=100) + 1}"
