"""Pieces that came out short or were spoiled: who waits for them, and the tickets that cut them
once more."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import msgspec
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from production import tracking
from production.change_state import Known
from production.cut_counts import SIDES, length_count, planned_lay, ply_pieces, stored_plies
from production.cut_reports import find_lay, lock_run, person
from production.cut_settling import NOTHING_CHANGED
from production.errors import ProductionError
from production.models import (
    Jacket,
    JacketBlock,
    LayPly,
    Recut,
    Run,
    SparePart,
    SpoiledPiece,
    TicketLine,
)
from production.planning.explode import shapes_by_key
from production.planning.plan import PlanError
from production.planning.recuts import RecutPiece, RecutPlan, plan_recut
from production.planning.snapshot import JacketSpec, RunSnapshot

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from production.planning.planner import RunPlan


class RecutError(ProductionError):
    """A piece that cannot be reported or cut once more as told; nothing was changed."""


@dataclass(frozen=True, slots=True)
class Missing:
    """The report of one piece: the block and side of a jacket, and the lay and ply that it was cut
    in, where that is known."""

    jacket: str
    block: str
    side: str
    reason: str
    lay: str = ""
    ply: int | None = None


@transaction.atomic
def report_missing(missing: Missing, by: User | None) -> SpoiledPiece:
    """A piece is short or spoiled. A spare part of its kind takes its place at once where there is
    one; else the jacket waits for a recut.

    Raises UnknownJacketError, StepRefusedError for a reason that is no line of text, and RecutError
    for a piece that the jacket or the lay does not have, or that is reported already.
    """
    jacket = _jacket_in_work(missing.jacket)
    reason = tracking.one_line(missing.reason)
    if not reason:
        raise RecutError(f"Say why the piece is short or spoiled. {NOTHING_CHANGED}")
    line = _line_of(jacket, missing.block)
    if missing.side not in sides_of_line(line):
        raise RecutError(
            f"{jacket}: block {line.block} has no {missing.side or 'unnamed'} side; it is "
            f"{' and '.join(sides_of_line(line))}. {NOTHING_CHANGED}"
        )
    _refuse_waiting(jacket, line.block, missing.side)
    piece = SpoiledPiece(
        jacket=jacket,
        block=line.block,
        size=line.size,
        side=missing.side,
        fabric_color=line.ticket.fabric_color,
        ply=_ply(missing, jacket, line),
        reason=reason,
        by=by,
    )
    _replace_by_spare(piece)
    piece.save()
    return piece


def _jacket_in_work(code: str) -> Jacket:
    run = Jacket.objects.filter(code=code.strip()).values_list("run", flat=True).first()
    if run:
        lock_run(run)
    jacket = tracking.locked_jacket(code)
    if jacket.cancelled_at:
        raise RecutError(
            f"{jacket} was cancelled {tracking.moment(jacket.cancelled_at)}; nothing is cut for it "
            f"any more. {NOTHING_CHANGED}"
        )
    if jacket.stage == Jacket.Stage.HANDED_OVER:
        raise RecutError(
            f"{jacket} is handed over: send it back to mend before a piece of it is cut once more. "
            f"{NOTHING_CHANGED}"
        )
    return jacket


def _line_of(jacket: Jacket, block: str) -> TicketLine:
    blocks = jacket.blocks.select_related("line__ticket__fabric_color")
    if row := blocks.filter(block=block).first():
        return row.line
    has = ", ".join(blocks.values_list("block", flat=True))
    raise RecutError(f"{jacket} has no block '{block}'; it has {has}. {NOTHING_CHANGED}")


def sides_of_line(line: TicketLine) -> list[str]:
    return [side for side in SIDES if getattr(line, side)]


def _refuse_waiting(jacket: Jacket, block: str, side: str) -> None:
    row = jacket.spoiled_pieces.filter(block=block, side=side, is_replaced=False).first()
    if row:
        raise RecutError(
            f"{jacket}: {block} {side} was already reported by {person(row.by)} "
            f"{tracking.moment(row.at)} and is waited for. {NOTHING_CHANGED}"
        )


def _ply(missing: Missing, jacket: Jacket, line: TicketLine) -> LayPly | None:
    """The ply that the piece comes from; only one that can have yielded it."""
    if not missing.lay:
        return None
    lay = find_lay(missing.lay)
    if lay.ticket.run_id != jacket.run_id:
        raise RecutError(
            f"{jacket} belongs to run {jacket.run}, and lay {lay} is cut for run {lay.ticket.run}. "
            f"{NOTHING_CHANGED}"
        )
    key = (line.block, line.size, missing.side)
    planned, count = planned_lay(lay), length_count(lay)
    yields = [number for number in range(1, count + 1) if ply_pieces(planned, number)[key]]
    if not yields or line.ticket.fabric_color_id != lay.ticket.fabric_color_id:
        raise RecutError(f"Lay {lay} cuts no {' '.join(key)} for {jacket}. {NOTHING_CHANGED}")
    if missing.ply is None:
        return None
    if missing.ply not in yields:
        raise RecutError(
            f"Lay {lay} cuts {' '.join(key)} in ply {', '.join(map(str, yields))}, not in ply "
            f"{missing.ply}. {NOTHING_CHANGED}"
        )
    return stored_plies(lay)[missing.ply - 1]


def _replace_by_spare(piece: SpoiledPiece) -> bool:
    """The oldest spare part of the same kind, if there is one, takes the place of the piece."""
    spare = (
        SparePart.objects.filter(
            run=piece.jacket.run_id,
            fabric_color=piece.fabric_color,
            block=piece.block,
            size=piece.size,
            side=piece.side,
            taken_by=None,
        )
        .order_by("pk")
        .first()
    )
    if spare is None:
        return False
    spare.taken_by = piece.jacket
    spare.save(update_fields=["taken_by"])
    piece.spare, piece.is_replaced = spare, True
    return True


# The recut ticket


def to_cut_again(run: Run) -> QuerySet[SpoiledPiece]:
    """The pieces that wait and stand on no recut ticket yet, oldest first."""
    return (
        SpoiledPiece.objects.filter(
            jacket__run=run, jacket__cancelled_at=None, is_replaced=False, recut=None
        )
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
        if _replace_by_spare(piece):
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
        snapshot, planned = _planned(snapshot, pieces, dye_lots)
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


def _planned(
    snapshot: RunSnapshot, pieces: Sequence[RecutPiece], dye_lots: Sequence[str]
) -> tuple[RunSnapshot, RunPlan]:
    """From the dye lots of the jackets' other blocks where they have room for all, else from any
    cloth on hand."""
    if dye_lots:
        alike = tuple(bolt for bolt in snapshot.bolts if bolt.dye_lot in dye_lots)
        from_alike = replace(snapshot, bolts=alike)
        planned = plan_recut(from_alike, pieces)
        if not any(ticket.to_buy_mm for ticket in planned.plan.cut_tickets):
            return from_alike, planned
    return snapshot, plan_recut(snapshot, pieces)
