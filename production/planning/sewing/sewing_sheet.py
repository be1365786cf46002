"""The operation sheet of one jacket: what is sewn in which order, how, and in which thread."""

from __future__ import annotations

from production.planning.plan import PlanError
from production.planning.sewing.sewing_jacket import JacketParts, one_of
from production.planning.sewing.sewing_parts import SewingSheet
from production.planning.sewing.sewing_steps import steps_of
from production.planning.sewing.sewing_words import cautions
from production.planning.snapshot import RunSnapshot


def sewing_sheet(snapshot: RunSnapshot, code: str) -> SewingSheet:
    """The sheet of the jacket of that code in the run's own order of operations.

    Raises PlanError for a jacket, a size or a thread that the snapshot does not know, and for a
    jacket whose seams, zipper, elastic or notions cannot be told.
    """
    jacket = next((one for one in snapshot.jackets if one.code == code), None)
    if jacket is None:
        raise PlanError(f"Run {snapshot.run} has no jacket {code}. Check the code on its tag.")
    parts = JacketParts.of(snapshot, jacket)
    steps = tuple(steps_of(parts))
    sewn = {work.seam for step in steps for work in step.seams}
    fabrics = {color.fabric for color, _ in parts.by_color}
    return SewingSheet(
        jacket=jacket,
        order=one_of(snapshot.orders, jacket.team_order, "team order"),
        size=parts.size,
        blocking=next(
            (one.name for one in snapshot.blockings if one.code == jacket.blocking), jacket.blocking
        ),
        colors=parts.by_color,
        placket=parts.placket,
        zipper=parts.zipper,
        elastics=parts.elastics,
        notions=tuple(cut for cut in parts.notions if cut.notion.seam not in sewn),
        steps=steps,
        cautions=cautions(
            (step.operation for step in steps),
            [fabric for fabric in snapshot.fabrics if fabric.code in fabrics],
        ),
        unit=snapshot.workroom.length_unit,
    )
