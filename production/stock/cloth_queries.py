"""What the cloth pages read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

import msgspec
from django.db.models import Count, F, IntegerField, OuterRef, Prefetch, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce
from django.shortcuts import get_object_or_404

from patterns.models import Fabric
from production.models import CutTicket, Flaw, JacketBlock, LayPly, Run, StockLot, StockMovement
from production.planning.cloth.dye_lots import Needs, jackets_of_lots
from production.planning.cloth.four_point import (
    USUALLY_ACCEPTED,
    FoundFlaw,
    flaw_points,
    points_per_100_square_yards,
    roll_points,
)
from production.planning.cutting.lays import ply_pieces
from production.planning.cutting.rows import LaidKey
from production.planning.explode import SIDES
from production.planning.plan import Plan
from production.planning.supplies.materials import cut_length_mm
from production.reporting.cut_counts import planned_lay
from production.services import load_plan
from production.stock.cloth import free_stretches, lots_with_lengths, planned_mm

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
    rows = LayPly.objects.select_related("lay__ticket__run").defer(
        "lay__placements", "lay__ticket__run__snapshot", "lay__ticket__run__plan"
    )
    lot = get_object_or_404(
        lots_with_lengths()
        .select_related("fabric_color__fabric", "cut_from")
        .prefetch_related("flaws", Prefetch("ply_rows", rows), "remnants"),
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
        movements=tuple(
            lot.movements.select_related("by", "ply__lay")
            .defer("ply__lay__placements")
            .order_by("-pk")
        ),
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
    """What a ticket is spread from. `dye_lots` is empty where one serves all; `mixed` are jackets
    that no single lot makes up. `notes` say what planning could not keep to, and why; `jackets`
    are all that get blocks from the ticket."""

    ticket: CutTicket
    spreads: tuple[Spread, ...]
    dye_lots: tuple[DyeLot, ...]
    jackets: tuple[str, ...] = ()
    mixed: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def to_buy_mm(self) -> int:
        return sum(spread.takes_mm for spread in self.spreads if spread.lot is None)


def run_cloth(run: Run) -> list[TicketSpread]:
    """What the tickets of a run, its supplements and recuts are spread from."""
    return _spread(run.cut_tickets.order_by("position"))


def ticket_cloth(ticket: str) -> TicketSpread | None:
    """What one ticket is spread from; None for one whose plies were never planned."""
    spread = _spread(CutTicket.objects.filter(code=ticket))
    return spread[0] if spread and spread[0].spreads else None


def plan_of(ticket: CutTicket) -> Plan:
    """The plan that a ticket stands in: that of its run, its supplement or its recut."""
    if extra := ticket.supplement or ticket.recut:
        return msgspec.convert((extra.plan or {})["cut"], Plan)
    return load_plan(ticket.run)


def _spread(tickets: QuerySet[CutTicket]) -> list[TicketSpread]:
    listed = list(
        tickets.select_related("fabric_color__fabric", "run", "supplement", "recut").defer(
            "run__snapshot", "run__plan", "supplement__snapshot", "recut__snapshot"
        )
    )
    plies = (
        LayPly.objects.filter(lay__ticket__in=listed)
        .select_related("lay", "lot")
        .defer("lay__placements")
        .order_by("lay__position", "number")
    )
    by_ticket: dict[int, list[LayPly]] = {}
    for ply in plies:
        by_ticket.setdefault(ply.lay.ticket_id, []).append(ply)
    plans: dict[tuple[int | None, int | None], Plan] = {}
    found = []
    for ticket in listed:
        key = (ticket.supplement_id, ticket.recut_id)
        if key not in plans:
            plans[key] = plan_of(ticket)
        found.append(_ticket_spread(ticket, by_ticket.get(ticket.pk, []), plans[key]))
    return found


def lots_of_jackets(run: Run) -> dict[str, dict[str, str]]:
    """By fabric color the dye lot that each jacket's blocks come from, as it is planned or cut;
    jackets whose cloth is to be bought, or of several lots, are left out."""
    on_ticket = set(
        JacketBlock.objects.filter(jacket__run=run).values_list("line__ticket", "jacket__code")
    )
    found: dict[str, dict[str, str]] = {}
    for spread in run_cloth(run):
        lots = {row.lot.dye_lot if row.lot else None for row in spread.spreads}
        whole = DyeLot(next(iter(lots)) or TO_BUY, spread.jackets) if len(lots) == 1 else None
        color = found.setdefault(spread.ticket.fabric_color.code, {})
        for lot in (whole,) if whole else spread.dye_lots:
            for jacket in lot.jackets:
                if not lot.is_to_buy and (spread.ticket.pk, jacket) in on_ticket:
                    color.setdefault(jacket, lot.name)
    return found


def _ticket_spread(ticket: CutTicket, plies: list[LayPly], plan: Plan) -> TicketSpread:
    planned = next((each for each in plan.cut_tickets if each.ticket == ticket.code), None)
    needs = pieces_of_jackets(ticket, plan) if planned else {}
    dye_lots = _dye_lots(ticket, plies, needs)
    told = {jacket for lot in dye_lots for jacket in lot.jackets}
    return TicketSpread(
        ticket,
        tuple(_spreads(plies)),
        dye_lots,
        jackets=tuple(needs),
        mixed=tuple(jacket for jacket in needs if jacket not in told) if dye_lots else (),
        notes=planned.cloth_notes if planned else (),
    )


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


def _dye_lots(ticket: CutTicket, plies: Iterable[LayPly], needs: Needs) -> tuple[DyeLot, ...]:
    lots = {(ply.lay_id, ply.number): ply.lot.dye_lot if ply.lot else None for ply in plies}
    if len(set(lots.values())) < 2:
        return ()
    pieces: dict[str | None, Counter[LaidKey]] = {}
    lays = {lay.pk: planned_lay(lay) for lay in ticket.lays.all()}
    for (lay, number), lot in lots.items():
        pieces.setdefault(lot, Counter()).update(ply_pieces(lays[lay], number))
    jackets = jackets_of_lots(pieces, needs)
    return tuple(DyeLot(lot or TO_BUY, codes) for lot, codes in jackets.items())


def pieces_of_jackets(ticket: CutTicket, plan: Plan) -> Needs:
    """The pieces that each jacket gets from a ticket of the plan."""
    color = ticket.fabric_color.code
    if ticket.recut:
        missing: dict[str, Counter[LaidKey]] = {}
        for piece in (ticket.recut.plan or {})["pieces"]:
            if piece["fabric_color"] == color:
                key = (piece["block"], piece["size"], piece["side"])
                missing.setdefault(piece["jacket"], Counter())[key] += 1
        return missing
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
