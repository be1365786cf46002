"""What a change after the freeze refuses."""

from __future__ import annotations

from orders.errors import OrderError
from orders.facts import JacketFacts
from orders.lines import folded
from orders.models import TeamOrder
from production import tracking
from production.errors import ProductionError
from production.models import Jacket

NOTHING_CHANGED = "Nothing was changed."


class ChangeError(ProductionError):
    """A change after the freeze that cannot be made; nothing was changed."""


def refuse_come_back(order: TeamOrder, wanted: JacketFacts) -> None:
    gone = Jacket.objects.filter(jacket_order__team_order=order).exclude(cancelled_at=None)
    for jacket in gone.select_related("jacket_order"):
        if folded(jacket.jacket_order.member) == folded(wanted.member):
            raise OrderError(
                f"{jacket.jacket_order.member} had {jacket.code}, which was cancelled and stays on "
                "paper under that name. For a new jacket write the name with an addition, such as "
                f"'{jacket.jacket_order.member} 2'; spare parts that fit are taken.",
                field="member",
            )


def refuse_gone(jacket: Jacket) -> None:
    if jacket.cancelled_at:
        when = tracking.moment(jacket.cancelled_at)
        raise ChangeError(f"{jacket.code} was cancelled {when} already. {NOTHING_CHANGED}")
    if jacket.stage == Jacket.Stage.HANDED_OVER:
        raise ChangeError(
            f"{jacket.code} is handed over and changes no more: mend it, or add a new jacket. "
            f"{NOTHING_CHANGED}"
        )
