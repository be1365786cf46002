"""The tickets that cut once more what came out short or was spoiled."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import msgspec
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from production.changing.change_state import Known
from production.models import JacketBlock, LayPly, Recut, Run, SpoiledPiece
from production.planning.explode import shapes_by_key
from production.planning.plan import Lay, PlanError
from production.planning.recuts import RecutPiece, RecutPlan, plan_recut
from production.planning.snapshot import JacketSpec, RunSnapshot
from production.reporting.cut_reports import lock_run
from production.reporting.cut_settling import NOTHING_CHANGED
from production.reporting.missing import RecutError, replace_by_spare
from production.stock.cloth_queries import lots_of_jackets

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from production.planning.planner import RunPlan


def to_cut_again(run: Run) -> QuerySet[SpoiledPiece]:
    """The pieces that wait and stand on no recut ticket yet, oldest first."""
    return (
        SpoiledPiece.objects.waiting()
        .filter(jacket__run=run, jacket__cancelled_at=None, recut=None)
        .select_related("jacket__jacket_order", "fabric_color", "by", "ply__lay")
        .order_by("pk")
    )


@transaction.atomic
def make_recut(run: Run, by: User | None) -> Recut | None:
    """One recut of all pieces of a run that wait for it, with a ticket for each fabric color; None
    when spare parts that came in meanwhile served them all. Raises RecutError when nothing waits,
    or when a piece cannot be laid out."""
    lock_run(run.pk)
    waiting = list(to_cut_again(run))
    if not waiting:
        raise RecutError(f"No piece of run {run} waits for a recut. {NOTHING_CHANGED}")
    left = []
    for piece in waiting:
        if replace_by_spare(piece):
            piece.save(update_fields=["spare", "is_replaced"])
        else:
            left.append(piece)
    if not left:
        return None
    number = run.recuts.count() + 1
    known = Known.of(Run.objects.get(pk=run.pk))
    pieces = _recut_pieces(left)
    snapshot = _snapshot(known, pieces, f"{run.code}-C{number}")
    dye_lots = _dye_lots(pieces)
    try:
        snapshot, planned = planned_on_cloth(snapshot, pieces, dye_lots)
    except PlanError as error:
        raise RecutError(f"{error} {NOTHING_CHANGED}") from error
    plan = RecutPlan(snapshot.run, tuple(pieces), planned.plan, dye_lots)
    return _store(run, number, snapshot, plan, planned, left, by)


def _store(
    run: Run,
    number: int,
    snapshot: RunSnapshot,
    plan: RecutPlan,
    planned: RunPlan,
    pieces: Iterable[SpoiledPiece],
    by: User | None,
) -> Recut:
    from production.services import store_tickets

    recut = Recut.objects.create(
        run=run,
        number=number,
        snapshot=msgspec.to_builtins(snapshot),
        plan=msgspec.to_builtins(plan),
        by=by,
    )
    store_tickets(run, planned, {}, recut=recut)
    SpoiledPiece.objects.filter(pk__in=[piece.pk for piece in pieces]).update(recut=recut)
    return recut


def load_recut(recut: Recut) -> tuple[RunSnapshot, RecutPlan]:
    return msgspec.convert(recut.snapshot, RunSnapshot), msgspec.convert(recut.plan, RecutPlan)


def _recut_pieces(rows: Iterable[SpoiledPiece]) -> list[RecutPiece]:
    listed = list(rows)
    lots = lots_of_jackets(listed[0].jacket.run)
    tickets = {
        (jacket, block): ticket
        for jacket, block, ticket in JacketBlock.objects.filter(
            jacket__in=[row.jacket_id for row in listed]
        ).values_list("jacket", "block", "line__ticket__code")
    }
    return [
        RecutPiece(
            number=row.pk,
            jacket=row.jacket.code,
            block=row.block,
            size=row.size,
            side=row.side,
            fabric_color=row.fabric_color.code,
            adds_to=tickets[row.jacket_id, row.block],
            dye_lot=lots.get(row.fabric_color.code, {}).get(row.jacket.code, ""),
        )
        for row in listed
    ]


def _snapshot(known: Known, pieces: Sequence[RecutPiece], code: str) -> RunSnapshot:
    """The jackets that wait, as they were planned last, with the shapes that they were cut by. It
    names no member: the bundle tags do."""
    from production.snapshots import with_materials_of_today

    blocks: dict[str, dict[str, None]] = {}
    for piece in pieces:
        blocks.setdefault(piece.jacket, {})[piece.block] = None
    jackets = tuple(_waiting_spec(known, jacket, tuple(some)) for jacket, some in blocks.items())
    sizes = {spec.size for spec in jackets}
    cuts = {(spec.blocking, spec.size) for spec in jackets}
    shapes = shapes_by_key(shape for one in known.snapshots for shape in one.shapes)
    seams = {seam: None for one in known.snapshots for seam in one.seams}
    blockings = {spec.code: spec for one in known.snapshots for spec in one.blockings}
    known_sizes = {size.code: size for one in known.snapshots for size in one.sizes}
    orders = {spec.team_order for spec in jackets}
    snapshot = replace(
        known.snapshot,
        run=code,
        orders=tuple(order for order in known.snapshot.orders if order.code in orders),
        jackets=jackets,
        sizes=tuple(size for size in known_sizes.values() if size.code in sizes),
        shapes=tuple(shape for shape in shapes.values() if shape.size in sizes),
        seams=tuple(seam for seam in seams if (seam.blocking, seam.size) in cuts),
        blockings=tuple(
            spec for spec in blockings.values() if spec.code in {one.blocking for one in jackets}
        ),
    )
    return with_materials_of_today(snapshot, timezone.localdate())


def _waiting_spec(known: Known, jacket: str, blocks: tuple[str, ...]) -> JacketSpec:
    _, spec = known.latest(jacket)
    return replace(spec, member="", name_on_jacket="", note="", to_cut=blocks)


def _dye_lots(pieces: Iterable[RecutPiece]) -> tuple[str, ...]:
    """Those that the tickets were cut from which the recut adds to."""
    lots = LayPly.objects.filter(
        lay__ticket__code__in={piece.adds_to for piece in pieces},
        cut_at__isnull=False,
        lot__isnull=False,
    )
    return tuple(sorted(set(lots.values_list("lot__dye_lot", flat=True))))


def planned_on_cloth(
    snapshot: RunSnapshot,
    pieces: Sequence[RecutPiece],
    dye_lots: Sequence[str],
    lays: Mapping[str, tuple[Lay, ...]] | None = None,
) -> tuple[RunSnapshot, RunPlan]:
    """From the dye lots of the jackets' other blocks where they have room for all, else from any
    cloth on hand. `lays` are by fabric color; without them plain rows are laid."""
    if dye_lots:
        alike = tuple(bolt for bolt in snapshot.bolts if bolt.dye_lot in dye_lots)
        from_alike = replace(snapshot, bolts=alike)
        planned = plan_recut(from_alike, pieces, lays)
        if not any(ticket.to_buy_mm for ticket in planned.plan.cut_tickets):
            return from_alike, planned
    return snapshot, plan_recut(snapshot, pieces, lays)
