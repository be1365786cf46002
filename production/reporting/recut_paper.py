"""Loads a stored recut for its paper."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.utils import timezone

from production.models import Recut, SpoiledPiece
from production.reporting.cut_reports import person
from production.reporting.recuts import load_recut
from production.stock.cloth_paper import ticket_extras

if TYPE_CHECKING:
    from production.documents.recut import RecutPaper


def paper_of(recut: Recut) -> RecutPaper:
    from production.documents.recut import RecutPaper

    snapshot, plan = load_recut(recut)
    reasons = SpoiledPiece.objects.filter(pk__in=[piece.number for piece in plan.pieces])
    return RecutPaper(
        run=recut.run.code,
        number=recut.number,
        made_on=timezone.localdate(recut.at),
        made_by=person(recut.by),
        plan=plan,
        snapshot=snapshot,
        reasons=dict(reasons.values_list("pk", "reason")),
        extras=ticket_extras(recut.run),
    )
