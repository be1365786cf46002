"""What a member does through a secret link: order one jacket, change it, cancel it.

Each locks the team order, checks that its form is open and that what is chosen is on offer, writes
through the order's own services, and leaves an amendment that names the kind of link, all in one
transaction. Prices and discounts have no way in.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import replace
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.formats import date_format

from orders import services
from orders.errors import OrderError
from orders.facts import JacketFacts
from orders.lines import folded
from orders.links import give_out
from orders.models import AccessLink, BlockChoice, JacketOrder, TeamOrder
from patterns.models import Block, FabricColor, Pattern, PatternSize

Kind = AccessLink.Kind
State = TeamOrder.State

ASK = "Ask your club's coordinator if something has to change."
_CLOSED = {
    State.DRAFT: "The form is not open yet. Your club's coordinator knows when it opens.",
    State.CANCELLED: "The club's order is cancelled; no jacket of it will be made.",
    State.IN_PRODUCTION: f"The form is closed: the jackets are being made. {ASK}",
    State.HANDED_OVER: "The form is closed: the jackets are handed over.",
}


def why_closed(team_order: TeamOrder, today: datetime.date) -> str:
    """Why members can neither order nor change today, in words; nothing while they can."""
    if team_order.takes_members(today):
        return ""
    if words := _CLOSED.get(State(team_order.state)):
        return words
    closes_on = team_order.closes_on
    since = f" since {date_format(closes_on, 'j F Y')}" if closes_on and closes_on < today else ""
    return f"The form is closed{since}. {ASK}"


def offered_sizes(team_order: TeamOrder, pattern: Pattern) -> QuerySet[PatternSize]:
    """The order's sizes of a pattern; every size of it where the order names none of them."""
    named = pattern.sizes.filter(pk__in=team_order.sizes.all())
    return named if named.exists() else pattern.sizes.all()


def kept_choices(jacket_order: JacketOrder) -> dict[Block, FabricColor]:
    """Own colors on blocks that a member may not choose: the maker's, kept with the colorway."""
    free = set(jacket_order.team_order.free_blocks.all())
    choices = BlockChoice.objects.filter(jacket_order=jacket_order)
    return {
        choice.block: choice.fabric_color
        for choice in choices.select_related("block", "fabric_color")
        if choice.block not in free
    }


@transaction.atomic
def order_jacket(team_order: TeamOrder, facts: JacketFacts, *, form_key: UUID) -> AccessLink:
    """Order a jacket and give out its private link. The same form sent again orders nothing more
    and gets the same link."""
    stored = TeamOrder.objects.select_for_update().get(pk=team_order.pk)
    if earlier := JacketOrder.objects.filter(form_key=form_key).first():
        return _link_of(stored, earlier)
    _check_taking(stored)
    _check_new_name(facts.member, stored.jacket_orders.all())
    _check_on_offer(stored, facts)
    made = services.add_jacket_order(stored, facts, by=None, by_link=Kind.MEMBERS)
    made.form_key = form_key
    made.save(update_fields=["form_key"])
    return give_out(stored, Kind.MEMBER, made)


@transaction.atomic
def change_jacket(jacket_order: JacketOrder, facts: JacketFacts) -> None:
    """Change one's own jacket. What only the maker sets stays: the note, a name where members may
    not give one, and colors of blocks that are not free."""
    stored = _own(jacket_order)
    team_order = stored.team_order
    _check_new_name(facts.member, team_order.jacket_orders.exclude(pk=stored.pk))
    _check_on_offer(team_order, facts, stored)
    kept = kept_choices(stored) if facts.colorway == stored.colorway else {}
    facts = replace(
        facts,
        note=stored.note,
        name_on_jacket=facts.name_on_jacket if team_order.names_allowed else stored.name_on_jacket,
        choices={**kept, **facts.choices},
    )
    services.update_jacket_order(stored, facts, by=None, by_link=Kind.MEMBER)


@transaction.atomic
def cancel_jacket(jacket_order: JacketOrder) -> None:
    """The jacket is not made and its data and links go; money that was paid stays written down."""
    services.delete_jacket_order(_own(jacket_order), by=None, by_link=Kind.MEMBER)


def _own(jacket_order: JacketOrder) -> JacketOrder:
    """The member's jacket read anew, its order locked and open to members."""
    team_order = TeamOrder.objects.select_for_update().get(pk=jacket_order.team_order_id)
    _check_taking(team_order)
    own = team_order.jacket_orders.select_related("size", "colorway").filter(pk=jacket_order.pk)
    if stored := own.first():
        stored.team_order = team_order
        return stored
    raise OrderError("This jacket is no longer in the order. Ask your club's coordinator.")


def _link_of(team_order: TeamOrder, earlier: JacketOrder) -> AccessLink:
    """The private link given out before; a withdrawn one does not come back by sending again."""
    live = AccessLink.objects.filter(jacket_order=earlier, revoked_at=None).first()
    if live is None or earlier.team_order_id != team_order.pk:
        raise OrderError(
            "This form was sent before, and its private link is withdrawn. Ask your club's "
            "coordinator for a new one."
        )
    return live


def _check_taking(team_order: TeamOrder) -> None:
    if why := why_closed(team_order, timezone.localdate()):
        raise OrderError(f"{why} Nothing was changed.")


def _check_new_name(member: str, others: QuerySet[JacketOrder]) -> None:
    names = others.values_list("member", flat=True)
    if folded(member) in map(folded, names):
        raise OrderError(
            "A jacket is ordered under this name already. If it is yours, open your private link "
            "to see or change it; your club's coordinator can give you another. If somebody else "
            "has the same name, add something that tells you apart, such as your year of birth.",
            field="member",
        )


def _check_on_offer(
    team_order: TeamOrder, facts: JacketFacts, before: JacketOrder | None = None
) -> None:
    """What the page offers is all that is taken; a size chosen before may stay."""
    if facts.colorway.team_order_id != team_order.pk:
        raise OrderError("Choose one of the colorways shown.", field="colorway")
    sizes = offered_sizes(team_order, facts.colorway.blocking.pattern)
    if facts.size not in sizes and not (before and facts.size == before.size):
        raise OrderError(f"{facts.size} is not on offer; choose one shown.", field="size")
    if facts.name_on_jacket and not team_order.names_allowed:
        raise OrderError("This order has no names on the jackets.", field="name_on_jacket")
    _check_free(team_order, facts.choices)


def _check_free(team_order: TeamOrder, chosen: Iterable[Block]) -> None:
    free = set(team_order.free_blocks.all())
    if fixed := sorted(block.name for block in chosen if block not in free):
        raise OrderError(
            f"The color of {', '.join(fixed)} is the club's; choose only where colors are offered."
        )
