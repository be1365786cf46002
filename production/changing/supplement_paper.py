"""Loads a stored supplement for its paper."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.utils import timezone

from production.changing.change_state import load_supplement
from production.models import Supplement
from production.services import load_snapshot
from production.stock.cloth_paper import ticket_extras

if TYPE_CHECKING:
    from production.documents.supplements import SupplementPaper


def paper_of(supplement: Supplement) -> SupplementPaper:
    from production.documents.supplements import SupplementPaper

    run = supplement.run
    snapshot, plan = load_supplement(supplement)
    by = supplement.by
    return SupplementPaper(
        run=run.code,
        number=supplement.number,
        words=supplement.words,
        made_on=timezone.localdate(supplement.at),
        made_by=(by.get_full_name() or by.get_username()) if by else "a command",
        deadline=run.deadline,
        plan=plan,
        snapshot=snapshot,
        names=load_snapshot(run),
        adds_to=dict(
            run.cut_tickets.filter(supplement=None, recut=None).values_list(
                "fabric_color__code", "code"
            )
        ),
        extras=ticket_extras(run),
    )
