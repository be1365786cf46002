"""Stores a change after the freeze: its supplement, its tickets, and what its jacket takes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

import msgspec
from django.utils.text import Truncator

from patterns.models import FabricColor
from production import tracking
from production.models import Jacket, JacketBlock, Run, SparePart, Supplement, TicketLine
from production.planning import changes as planning
from production.planning.changes import Difference, SupplementPlan
from production.planning.snapshot import RunSnapshot
from production.planning.standing import STAGES
from production.services import minutes_as_stored, store_tickets

if TYPE_CHECKING:
    from production.planning.planner import RunPlan

ADD, CHANGE, CANCEL = "add", "change", "cancel"


@dataclass(frozen=True, slots=True)
class Work:
    """How a changed or added jacket is made: what is cut for it, and its minutes by stage."""

    snapshot: RunSnapshot
    planned: RunPlan
    difference: Difference
    minutes: dict[str, Decimal]


def store(
    supplement: Supplement, plan: SupplementPlan, jacket: Jacket, work: Work | None
) -> SupplementPlan:
    """Write the supplement with its tickets and spare parts, and where the jacket stands now."""
    supplement.snapshot = msgspec.to_builtins(work.snapshot) if work else None
    supplement.save()
    _give_back(supplement, plan.difference, jacket)
    kept = [block.block for block in plan.difference.kept]
    # A piece that was spoiled of a block given up is not waited for any more.
    jacket.spoiled_pieces.waiting().exclude(block__in=kept).update(dropped_at=supplement.at)
    if work:
        jacket.blocks.exclude(block__in=kept).delete()
        store_tickets(supplement.run, work.planned, {jacket.code: jacket}, supplement)
        _take_spares(supplement.run, plan.difference, jacket)
        plan = replace(plan, last_event=_move_back(supplement, plan, jacket))
        jacket.refresh_from_db(fields=["stage", "in_work", "mend_reason"])
        jacket.size = work.snapshot.jackets[0].size
        jacket.standard_minutes = minutes_as_stored(work.minutes)
        jacket.save(update_fields=["size", "standard_minutes"])
    else:
        jacket.cancelled_at = supplement.at
        jacket.save(update_fields=["cancelled_at"])
        tracking.settle_team_order(jacket, supplement.by)
    supplement.plan = msgspec.to_builtins(plan)
    supplement.save(update_fields=["plan"])
    return plan


def _give_back(supplement: Supplement, difference: Difference, jacket: Jacket) -> None:
    colors = {color.code: color for color in FabricColor.objects.all()}
    SparePart.objects.bulk_create(
        SparePart(
            run=supplement.run,
            fabric_color=colors[block.fabric_color],
            block=block.block,
            size=block.size,
            side=side,
            from_jacket=jacket,
        )
        for block in difference.to_spare
        for side in block.sides
    )


def _take_spares(run: Run, difference: Difference, jacket: Jacket) -> None:
    run.spare_parts.filter(pk__in=difference.spares_taken).update(taken_by=jacket)
    JacketBlock.objects.bulk_create(
        JacketBlock(
            jacket=jacket,
            block=block.block,
            line=TicketLine.objects.get(
                ticket__code=block.ticket, block=block.block, size=block.size
            ),
        )
        for block in difference.from_spare
    )


def _move_back(supplement: Supplement, plan: SupplementPlan, jacket: Jacket) -> int:
    """Send the jacket back to where the change is worked in, unless nothing of it is cut yet, and
    give the number of its last event."""
    stage = planning.stage_after(jacket.stage, plan.difference)
    started_on = any(block.cut for block in (*plan.difference.kept, *plan.difference.to_spare))
    if plan.kind == ADD or (stage == jacket.stage and not (stage == STAGES[0] and started_on)):
        return plan.last_event
    _, _, words = supplement.words.partition(": ")
    mend = f"; still to mend: {jacket.mend_reason}" if jacket.mend_reason else ""
    reason = Truncator(f"supplement {supplement.number}: {words}{mend}")
    event = tracking.record(
        jacket.code,
        tracking.Action.SEND_BACK,
        stage,
        supplement.by,
        reason.chars(tracking.REASON_LENGTH),
    )
    return event.pk
