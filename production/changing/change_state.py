"""What the production of a run has come to after its freeze, read for the next change of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby

import msgspec
from django.db.models import Count, Prefetch, QuerySet

from orders.models import TeamOrder
from production.models import (
    CutTicket,
    Jacket,
    JacketBlock,
    Run,
    SparePart,
    SpoiledPiece,
    StageEvent,
    Supplement,
)
from production.models import TicketLine as StoredLine
from production.planning.changes import (
    CUT,
    SEW,
    HeldBlock,
    Piece,
    SparePiece,
    SupplementPlan,
    check_with_supplements,
    difference,
    frozen_blocks,
    with_cuts,
    withdrawn_pieces,
)
from production.planning.plan import Check, Plan
from production.planning.snapshot import JacketSpec, RunSnapshot
from production.reporting.cut_counts import cut_beyond_tickets
from production.services import load_plan, load_snapshot
from production.tracking import live_events


def load_supplement(supplement: Supplement) -> tuple[RunSnapshot | None, SupplementPlan]:
    """What a supplement was planned from, None for a cancellation, and its plan."""
    snapshot = supplement.snapshot and msgspec.convert(supplement.snapshot, RunSnapshot)
    return snapshot or None, msgspec.convert(supplement.plan, SupplementPlan)


def cut_of(supplement: Supplement) -> tuple[Plan, RunSnapshot]:
    """The plan of what a supplement cuts, with its snapshot."""
    snapshot, plan = load_supplement(supplement)
    assert plan.cut and snapshot
    return plan.cut, snapshot


def withdrawn_from(run: Run, ticket: str) -> list[tuple[int, str]]:
    """Blocks of a ticket that are not to be cut any more, each with the number of its supplement
    and in words."""
    return [
        (number, f"{block.block} {block.size}: {' + '.join(f'1 {side}' for side in block.sides)}")
        for number, plan in enumerate(supplement_plans(run), start=1)
        for block in plan.difference.withdrawn
        if block.ticket == ticket
    ]


def supplement_plans(run: Run) -> list[SupplementPlan]:
    plans = run.supplements.order_by("number").values_list("plan", flat=True)
    return [msgspec.convert(plan, SupplementPlan) for plan in plans]


@dataclass(frozen=True, slots=True)
class Known:
    """A run with all its supplements so far."""

    run: Run
    snapshot: RunSnapshot
    plan: Plan
    supplements: tuple[tuple[RunSnapshot | None, SupplementPlan], ...]

    @classmethod
    def of(cls, run: Run) -> Known:
        supplements = tuple(load_supplement(row) for row in run.supplements.order_by("number"))
        return cls(run, load_snapshot(run), load_plan(run), supplements)

    @property
    def snapshots(self) -> list[RunSnapshot]:
        return [self.snapshot, *(snapshot for snapshot, _ in self.supplements if snapshot)]

    def latest(self, jacket: str) -> tuple[RunSnapshot, JacketSpec]:
        """A jacket as it was planned last, with the snapshot that says so."""
        return next(
            (snapshot, spec)
            for snapshot in reversed(self.snapshots)
            for spec in snapshot.jackets
            if spec.code == jacket
        )

    def with_cut(self, blocking: str, size: str) -> RunSnapshot | None:
        """The snapshot that first knew a blocking in a size."""
        return next(
            (
                snapshot
                for snapshot in self.snapshots
                if any((seam.blocking, seam.size) == (blocking, size) for seam in snapshot.seams)
            ),
            None,
        )

    def held(self, jacket: Jacket, events: list[StageEvent]) -> tuple[HeldBlock, ...]:
        """The blocks that a jacket has been given, each cut or not."""
        cuts = [
            event.pk
            for event in live_events(events)
            if (event.kind, event.stage) == (StageEvent.Kind.DONE, CUT)
        ]
        if changes := self._changes(jacket):
            last = changes[-1]
            return with_cuts(last.difference.held, last.last_event, cuts)
        spec = next(spec for spec in self.snapshot.jackets if spec.code == jacket.code)
        return with_cuts(frozen_blocks(spec, self.snapshot, self.plan), 0, cuts)

    def sewn(self, jacket: Jacket, events: list[StageEvent]) -> bool:
        """Whether sewing has begun since the jacket's bundle was made up last; a change that moves
        no block leaves it as it is sewn."""
        changes = [plan for plan in self._changes(jacket) if plan.difference.moves_blocks]
        since = changes[-1].last_event if changes else 0
        return any(
            event.stage == SEW and event.kind != StageEvent.Kind.SENT_BACK and event.pk > since
            for event in live_events(events)
        )

    def _changes(self, jacket: Jacket) -> list[SupplementPlan]:
        return [plan for _, plan in self.supplements if plan.jacket == jacket.code]

    def spares(self) -> list[SparePiece]:
        """The spare parts on hand, oldest first, with the tickets that they were cut by."""
        given_back = {
            (plan.jacket, piece): block.ticket
            for _, plan in self.supplements
            for block in plan.difference.to_spare
            for piece in block.pieces
        }
        return [
            SparePiece(
                part.pk,
                piece,
                given_back[part.from_jacket.code, piece]
                if part.from_jacket
                else _ticket_of(self.run, part),
            )
            for part in spare_parts(self.run).filter(taken_by=None)
            for piece in [(part.block, part.size, part.side, part.fabric_color.code)]
        ]


def _ticket_of(run: Run, part: SparePart) -> str:
    """The ticket that a part was cut beyond; where that is a recut, on which no jacket's block can
    stand, the first ticket that cuts such a block."""
    assert part.line
    if not part.line.is_recut:
        return part.line.ticket.code
    lines = StoredLine.objects.filter(
        ticket__run=run,
        ticket__fabric_color=part.fabric_color_id,
        block=part.block,
        size=part.size,
        is_recut=False,
    )
    return lines.order_by("ticket__position").values_list("ticket__code", flat=True)[0]


def spare_parts(run: Run) -> QuerySet[SparePart]:
    return run.spare_parts.select_related(
        "fabric_color",
        "from_jacket__jacket_order",
        "line__ticket",
        "taken_by__jacket_order",
    ).order_by("pk")


def jackets_to_take_spares(run: Run) -> list[tuple[Jacket, int]]:
    """The jackets for which spare parts can stand for blocks that are not cut yet, each with how
    many blocks. Parts that fit several jackets count for each."""
    known = Known.of(run)
    spares = known.spares()
    if not spares:
        return []
    waiting = run.jackets.filter(
        cancelled_at=None,
        stage=CUT,
        jacket_order__team_order__state=TeamOrder.State.IN_PRODUCTION,
    )
    found = []
    for jacket in waiting.select_related("jacket_order").prefetch_related(
        Prefetch("events", StageEvent.objects.select_related("undoes").order_by("pk"))
    ):
        held = known.held(jacket, list(jacket.events.all()))
        change = difference(held, held, spares, instead_of_cutting=True)
        if change.from_spare:
            found.append((jacket, len(change.from_spare)))
    return found


def supplements_check(run: Run) -> Check | None:
    """Whether nothing is lost between a run's paper, its jackets and its spare parts, counted from
    the stored rows; None for a run that is cut as it was frozen."""
    plans = supplement_plans(run)
    over_cut = cut_beyond_tickets(run)
    spoiled = SpoiledPiece.objects.filter(jacket__run=run).true()
    if not (plans or over_cut or spoiled.exists()):
        return None
    lines = StoredLine.objects.filter(ticket__run=run).values_list(
        "block", "size", "ticket__fabric_color__code", "left", "right", "single"
    )
    tickets: Counter[Piece] = Counter()
    for block, size, color, *counts in lines:
        for side, count in zip(("left", "right", "single"), counts, strict=True):
            if count:
                tickets[block, size, side, color] += count
    return check_with_supplements(
        tickets,
        withdrawn_pieces(plans),
        _pieces_of_jackets(run, _sides(tickets)),
        _pieces(run.spare_parts.filter(taken_by=None)),
        _pieces(spoiled),
        over_cut,
    )


def _pieces_of_jackets(run: Run, sides: Mapping[tuple[str, str], set[str]]) -> Counter[Piece]:
    """What the jackets that are still wanted have or get from a ticket; a piece that waits for a
    recut ticket is neither."""
    jackets: Counter[Piece] = Counter()
    for block, size, color, count in (
        JacketBlock.objects.filter(jacket__run=run, jacket__cancelled_at=None)
        .values_list("block", "jacket__size", "line__ticket__fabric_color__code")
        .annotate(count=Count("pk"))
        .order_by()
    ):
        for side in sides.get((block, size), ("single",)):
            jackets[block, size, side, color] += count
    jackets.subtract(
        _pieces(
            SpoiledPiece.objects.waiting().filter(
                jacket__run=run, recut=None, jacket__cancelled_at=None
            )
        )
    )
    return jackets


def _pieces(rows: QuerySet[SparePart] | QuerySet[SpoiledPiece]) -> Counter[Piece]:
    return Counter(rows.values_list("block", "size", "side", "fabric_color__code"))


def _sides(pieces: Iterable[Piece]) -> dict[tuple[str, str], set[str]]:
    found: dict[tuple[str, str], set[str]] = {}
    for block, size, side, _ in pieces:
        found.setdefault((block, size), set()).add(side)
    return found


@dataclass(frozen=True, slots=True)
class SpareRow:
    """The spare parts of one block with a common story; `sides` in words. `from_jacket` is None
    for what was cut beyond `ticket`."""

    part: SparePart
    sides: str
    from_jacket: Jacket | None
    ticket: CutTicket | None
    taken_by: Jacket | None


def spare_parts_by_block(run: Run) -> list[SpareRow]:
    """All spare parts of a run, the sides of one block in one row."""

    def story(part: SparePart) -> tuple[object, ...]:
        whose = (part.from_jacket_id, part.line_id, part.taken_by_id)
        return (part.block, part.size, part.fabric_color_id, *whose)

    groups = [list(some) for _, some in groupby(spare_parts(run), story)]
    return [
        SpareRow(
            some[0],
            " and ".join(part.get_side_display() for part in some),
            some[0].from_jacket,
            some[0].line.ticket if some[0].line else None,
            some[0].taken_by,
        )
        for some in groups
    ]
