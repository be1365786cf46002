"""The states of a team order: one table of what leads where and who may do it."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils import timezone

from orders.errors import OrderError
from orders.models import AccessLink, TeamOrder
from orders.services import amend

if TYPE_CHECKING:
    from django.contrib.auth.models import User

State = TeamOrder.State


class Who(Enum):
    """Who moves an order on. Production moves it by the freeze and the hand-overs of its jackets;
    who types a command counts as the maker."""

    MAKER = "the maker"
    COORDINATOR = "the coordinator"
    PRODUCTION = "production"


@dataclass(frozen=True, slots=True)
class Transition:
    """`said` stands in the order's changes, `button` and `follows` beside what one can do."""

    start: str
    end: str
    who: frozenset[Who]
    said: str
    button: str = ""
    follows: str = ""


MAKER = frozenset({Who.MAKER})
MAKER_OR_COORDINATOR = frozenset({Who.MAKER, Who.COORDINATOR})
PRODUCTION = frozenset({Who.PRODUCTION})

_CANCEL = (
    "cancelled",
    "Cancel the order",
    "Nothing in the order changes any more and its links show no form. It stays to be read and "
    "to be ordered again; there is no way back.",
)
TRANSITIONS: tuple[Transition, ...] = (
    Transition(
        State.DRAFT,
        State.OPEN,
        MAKER,
        "form opened",
        "Open the form",
        "Members with the link can order, until the closing day or until you close the form.",
    ),
    Transition(
        State.OPEN,
        State.CLOSED,
        MAKER,
        "form closed",
        "Close the form",
        "Members can no longer order or change; the coordinator can approve what is there.",
    ),
    Transition(
        State.CLOSED,
        State.OPEN,
        MAKER,
        "form opened again",
        "Open the form again",
        "Members with the link can order and change once more.",
    ),
    Transition(
        State.CLOSED,
        State.APPROVED,
        MAKER_OR_COORDINATOR,
        "approved",
        "Approve for the club",
        "The club stands by the list as it is, and the order is ready for a run.",
    ),
    Transition(
        State.APPROVED,
        State.CLOSED,
        MAKER,
        "approval taken back",
        "Take the approval back",
        "The list is open to the coordinator's approval again; the form stays closed.",
    ),
    *(
        Transition(start, State.CANCELLED, MAKER, *_CANCEL)
        for start in (State.DRAFT, State.OPEN, State.CLOSED, State.APPROVED)
    ),
    *(
        Transition(start, State.IN_PRODUCTION, PRODUCTION, "frozen for production")
        for start in (State.DRAFT, State.OPEN, State.CLOSED, State.APPROVED)
    ),
    Transition(State.IN_PRODUCTION, State.HANDED_OVER, PRODUCTION, "all jackets handed over"),
    Transition(State.HANDED_OVER, State.IN_PRODUCTION, PRODUCTION, "back in production"),
)


def ways_on(state: str, who: Who) -> list[Transition]:
    """What someone may do with an order in this state."""
    return [way for way in TRANSITIONS if way.start == state and who in way.who]


def steps(state: str) -> list[State]:
    """The states that an order passes through, for showing where it stands."""
    if state == State.CANCELLED:
        return [State.DRAFT, State.CANCELLED]
    return [one for one in State if one != State.CANCELLED]


@transaction.atomic
def move(
    team_order: TeamOrder, to: str, *, by: User | None, by_link: str = "", why: str = ""
) -> None:
    """Move an order on and write down by whom; OrderError, and nothing changed, where no way leads
    there from the state that it has by now, or not for the one who asks."""
    stored = TeamOrder.objects.select_for_update().get(pk=team_order.pk)
    way = _way(stored, to, _who(by, by_link))
    _check_ready(stored, to)
    stored.state = to
    stored.save(update_fields=["state"])
    amend(stored, by, f"{way.said}{why}", by_link=by_link)
    team_order.state = to


def _who(by: User | None, by_link: str) -> Who | None:
    if by_link:
        return Who.COORDINATOR if by_link == AccessLink.Kind.COORDINATOR else None
    return Who.MAKER


def _way(team_order: TeamOrder, to: str, who: Who | None) -> Transition:
    ways = [way for way in TRANSITIONS if (way.start, way.end) == (team_order.state, to)]
    if not ways:
        raise OrderError(
            f"{team_order.code} is {team_order.get_state_display()}; from there it cannot become "
            f"{State(to).label}."
        )
    way = ways[0]
    if who not in way.who:
        who_may = " or ".join(sorted(one.value for one in way.who))
        raise OrderError(
            f"{team_order.code} becomes {State(to).label} by {who_may} only; nothing was changed."
        )
    return way


def _check_ready(team_order: TeamOrder, to: str) -> None:
    code, closes_on = team_order.code, team_order.closes_on
    if to == State.OPEN and not team_order.colorways.exists():
        raise OrderError(f"{code} has no colorway that members could choose; add one first.")
    if to == State.OPEN and closes_on and closes_on < timezone.localdate():
        raise OrderError(
            f"The closing day of {code}, {closes_on}, is over; under Edit, name a later one."
        )
    if to == State.APPROVED and not team_order.jacket_orders.exists():
        raise OrderError(f"{code} has no jacket yet, so there is nothing to approve.")


def close_overdue(today: datetime.date) -> list[str]:
    """Close every open order whose closing day is over, and give their codes."""
    overdue = TeamOrder.objects.filter(state=State.OPEN, closes_on__lt=today)
    # Asked first without a lock, because every list and order page does.
    if not overdue.exists():
        return []
    with transaction.atomic():
        # A second page may have closed them meanwhile, so they are read again under the lock.
        orders = list(overdue.select_for_update())
        for order in orders:
            move(order, State.CLOSED, by=None, why=f": its closing day {order.closes_on} is over")
    return [order.code for order in orders]
