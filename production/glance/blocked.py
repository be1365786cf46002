"""Jackets that cannot go on, and why: a piece, cloth, or a ware that their sewing takes is not
there."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass

from django.db.models import F, Max, Q

from production.glance.cloth_short import cloth_words
from production.glance.wares_short import ware_words
from production.models import Jacket, SpoiledPiece, StageEvent
from production.needs.run_needs import open_runs
from production.planning.standing import STAGES
from production.reporting.reports_state import missing_rows

CUT, SEW = STAGES[:2]


@dataclass(frozen=True, slots=True)
class OnTheFloor:
    """A jacket of an open run. `sewn_at` is when its sewing was done last, None before that; a
    jacket that was sent back after it has taken its wares already. `lacks_piece` is set where a
    piece of it was short or spoiled and is not replaced."""

    pk: int
    code: str
    run: int
    stage: str
    in_work: bool
    is_cancelled: bool
    deadline: datetime.date
    sewn_at: datetime.datetime | None
    lacks_piece: bool = False

    @property
    def is_sewn(self) -> bool:
        return self.sewn_at is not None or self.stage not in (CUT, SEW)

    @property
    def turn(self) -> tuple[bool, bool, bool, datetime.date, int]:
        """Who takes what is there first: whose sewing is in work, who waits for it, then those to
        be cut; of each those that can go on before those that wait for a piece, by the deadline of
        the team order, then by age."""
        at_sewing = self.stage == SEW
        return (
            not (at_sewing and self.in_work),
            not at_sewing,
            self.lacks_piece,
            self.deadline,
            self.pk,
        )


def blocked_words(jackets: Iterable[Jacket]) -> dict[str, str]:
    """Why jackets cannot go on, by their codes; those that can are left out.

    At every stage: a piece that was reported short or spoiled and is not replaced. To be cut: a
    block whose cloth is still to be bought; one that is only not cut yet waits and is not blocked.
    To be sewn: a ware that is not there, where the ledger of the shelf knows it. Of a ware that
    never moved in the ledger the workroom keeps no book, so nothing says that it is missing, and
    it blocks nobody.

    The answer for a jacket depends on all open runs, whose jackets share the shelf, and not on
    which others are asked about. The number of queries does not depend on the jackets.
    """
    asked = [jacket for jacket in jackets if not jacket.cancelled_at and jacket.stage in STAGES]
    if not asked:
        return {}
    missing = _missing_pieces()
    everyone = _on_the_floor(missing)
    stages = {jacket.stage for jacket in asked}
    found: dict[str, list[str]] = defaultdict(list)
    for words in (
        missing,
        cloth_words(everyone) if CUT in stages else {},
        ware_words(everyone) if SEW in stages else {},
    ):
        for code, why in words.items():
            found[code].append(why)
    return {jacket.code: "; ".join(found[jacket.code]) for jacket in asked if jacket.code in found}


def _on_the_floor(missing: Container[str]) -> Sequence[OnTheFloor]:
    """All jackets of open runs, those done and cancelled included, since they took some too.
    `missing` are the codes of those that wait for a piece."""
    live = Q(kind=StageEvent.Kind.DONE, stage=SEW, undone_by=None)
    sewn = (
        StageEvent.objects.filter(live, jacket__run__in=open_runs())
        .order_by()
        .values("jacket")
        .annotate(at=Max("at"))
        .values_list("jacket", "at")
    )
    sewn_at = dict(sewn)
    rows = (
        Jacket.objects.filter(run__in=open_runs())
        .order_by("pk")
        .annotate(due=F("jacket_order__team_order__deadline"))
        .values_list("pk", "code", "run", "stage", "in_work", "cancelled_at", "due")
    )
    return [
        OnTheFloor(
            *(pk, code, run, stage, in_work, cancelled is not None, due, sewn_at.get(pk)),
            lacks_piece=code in missing,
        )
        for pk, code, run, stage, in_work, cancelled, due in rows
    ]


def _missing_pieces() -> dict[str, str]:
    waiting = SpoiledPiece.objects.waiting().filter(
        jacket__run__in=open_runs(), jacket__cancelled_at=None
    )
    found: dict[str, list[str]] = defaultdict(list)
    for row in missing_rows(waiting):
        found[row.piece.jacket.code].append(row.waits_for)
    return {code: f"waits for {', '.join(reversed(some))}" for code, some in found.items()}
