"""Functions that write team orders. Each checks that the order is open, writes, and leaves an
amendment in words, all in one transaction."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from django.db import IntegrityError, transaction
from django.db.models import ProtectedError
from django.utils.text import Truncator

from orders.errors import OrderError
from orders.facts import ColorwayFacts, JacketFacts, TeamOrderFacts
from orders.models import (
    Amendment,
    BlockChoice,
    Club,
    Colorway,
    ColorwayBlock,
    JacketOrder,
    TeamOrder,
)
from orders.queries import facts_of
from orders.rules import (
    check_days,
    check_every_block_colored,
    check_in_palette,
    check_open,
    check_palette_keeps_used,
    is_taken,
)
from orders.words import (
    block_changes,
    change,
    jacket_words,
    jackets_in_words,
    joined,
    order_changes,
    thread_name,
)
from patterns.models import Block, FabricColor

if TYPE_CHECKING:
    from django.contrib.auth.models import User


def open_order(team_order: TeamOrder) -> TeamOrder:
    """The order read anew and locked until the transaction ends, so that no freeze slips in."""
    locked = TeamOrder.objects.select_for_update().get(pk=team_order.pk)
    check_open(locked)
    return locked


@transaction.atomic
def create_team_order(
    facts: TeamOrderFacts, *, by: User | None, state: str = TeamOrder.State.OPEN
) -> TeamOrder:
    team_order = TeamOrder(state=state)
    _store_team_order(team_order, facts)
    began = "drafted" if state == TeamOrder.State.DRAFT else "opened"
    amend(team_order, by, f"{began} for {facts.club}, wanted by {facts.deadline}")
    return team_order


@transaction.atomic
def update_team_order(team_order: TeamOrder, facts: TeamOrderFacts, *, by: User | None) -> None:
    stored = open_order(team_order)
    check_palette_keeps_used(stored, facts.palette)
    before = facts_of(stored)
    _store_team_order(stored, facts)
    amend(stored, by, joined(order_changes(before, facts)))


@transaction.atomic
def delete_team_order(team_order: TeamOrder, *, by: User | None) -> None:
    """The order with its colorways and jackets, only while it is open; what happened to it stays
    written down."""
    stored = open_order(team_order)
    if stored.payments.exists():
        raise OrderError(
            f"{stored.code} has payments, which stay on record; cancel the order instead."
        )
    jackets = jackets_in_words(stored.jacket_orders.count())
    amend(stored, by, f"deleted {stored.title} of {stored.club.name} with {jackets}")
    stored.amendments.update(deleted_order=stored.code)
    try:
        stored.delete()
    except ProtectedError as error:
        held = ", ".join(sorted(map(str, error.protected_objects)))
        raise OrderError(
            f"{stored.code} stays on record, since {held} names it; cancel the order instead."
        ) from error


@transaction.atomic
def add_colorway(team_order: TeamOrder, facts: ColorwayFacts, *, by: User | None) -> Colorway:
    stored = open_order(team_order)
    colorway = Colorway(team_order=stored, blocking=facts.blocking)
    _store_colorway(colorway, facts)
    amend(stored, by, f"added colorway {facts.name} on {facts.blocking}")
    return colorway


@transaction.atomic
def update_colorway(colorway: Colorway, facts: ColorwayFacts, *, by: User | None) -> None:
    stored = open_order(colorway.team_order)
    before = Colorway.objects.select_related("topstitch_thread").get(pk=colorway.pk)
    if facts.blocking != before.blocking:
        raise OrderError(f"{before.name} stays on its blocking; add another colorway instead.")
    fills_before = _by_block(before.fills.select_related("block", "fabric_color"))
    _store_colorway(colorway, facts)
    words = [
        change("name", before.name, facts.name),
        change("zipper", before.zipper_color, facts.zipper_color),
        change(
            "topstitch", thread_name(before.topstitch_thread), thread_name(facts.topstitch_thread)
        ),
        *block_changes(fills_before, facts.fills, otherwise="no color"),
    ]
    amend(stored, by, joined(words, f"colorway {before.name}: "))


@transaction.atomic
def delete_colorway(colorway: Colorway, *, by: User | None) -> None:
    stored = open_order(colorway.team_order)
    if worn := colorway.jacket_orders.count():
        raise OrderError(
            f"{colorway.name} is the colorway of {jackets_in_words(worn)}; choose another first."
        )
    colorway.delete()
    amend(stored, by, f"removed colorway {colorway.name}")


@transaction.atomic
def add_jacket_order(
    team_order: TeamOrder, facts: JacketFacts, *, by: User | None, by_link: str = ""
) -> JacketOrder:
    stored = open_order(team_order)
    jacket_order = JacketOrder(team_order=stored)
    store_jacket_order(jacket_order, facts)
    amend(stored, by, f"added {jacket_words(facts)}", facts.member, by_link=by_link)
    return jacket_order


@transaction.atomic
def update_jacket_order(
    jacket_order: JacketOrder, facts: JacketFacts, *, by: User | None, by_link: str = ""
) -> None:
    stored = open_order(jacket_order.team_order)
    words = joined(store_changes(jacket_order, facts))
    amend(stored, by, words, facts.member, by_link=by_link)


def store_changes(jacket_order: JacketOrder, facts: JacketFacts) -> list[str]:
    """Store what a jacket order is to be, and say what changed; whether it may change is the
    caller's to ask."""
    before = JacketOrder.objects.select_related("size", "colorway").get(pk=jacket_order.pk)
    own_before = _by_block(before.choices.select_related("block", "fabric_color"))
    own_after = store_jacket_order(jacket_order, facts)
    return [
        change("member", before.member, facts.member),
        change("size", before.size.code, facts.size.code),
        change("colorway", before.colorway.name, facts.colorway.name),
        change("name on jacket", before.name_on_jacket, facts.name_on_jacket),
        change("note", before.note, facts.note),
        *block_changes(own_before, own_after, otherwise="as colorway"),
    ]


@transaction.atomic
def delete_jacket_order(jacket_order: JacketOrder, *, by: User | None, by_link: str = "") -> None:
    stored = open_order(jacket_order.team_order)
    words = f"{jacket_order.member}, {jacket_order.size}, {jacket_order.colorway}"
    jacket_order.delete()
    amend(stored, by, f"removed {words}", jacket_order.member, by_link=by_link)


@transaction.atomic
def freeze(team_order: TeamOrder, by: User | None) -> None:
    """Hand the order to production from any state before it, saying so when it was not approved;
    OrderError when it is frozen, cancelled, empty or not fully colored."""
    stored = open_order(team_order)
    approved = stored.state == TeamOrder.State.APPROVED
    without = "" if approved else f", without an approval: it was {stored.get_state_display()}"
    jackets = stored.jacket_orders.count()
    if not jackets:
        raise OrderError(f"{stored.code} has no jacket yet; add members before the freeze.")
    for colorway in stored.colorways.select_related("blocking"):
        fills = _by_block(colorway.fills.select_related("block", "fabric_color"))
        check_every_block_colored(colorway.name, colorway.blocking, fills)
    TeamOrder.objects.filter(pk=stored.pk).update(state=TeamOrder.State.IN_PRODUCTION)
    team_order.state = TeamOrder.State.IN_PRODUCTION
    amend(stored, by, f"frozen for production with {jackets_in_words(jackets)}{without}")


def _store_team_order(team_order: TeamOrder, facts: TeamOrderFacts) -> None:
    if TeamOrder.objects.filter(code__iexact=facts.code).exclude(pk=team_order.pk).exists():
        raise OrderError(f"Another team order is called {facts.code}.", field="code")
    team_order.code = facts.code
    team_order.club = _store_club(facts.club, facts.contact)
    team_order.title = facts.title
    team_order.deadline = facts.deadline
    check_days(facts.closes_on, facts.deadline)
    team_order.note = facts.note
    team_order.closes_on = facts.closes_on
    team_order.names_allowed = facts.names_allowed
    team_order.welcome = facts.welcome
    team_order.coordinator_email = facts.coordinator_email
    team_order.price = facts.price
    team_order.payer = facts.payer
    team_order.discount = facts.discount
    team_order.erase_after_days = facts.erase_after_days
    try:
        with transaction.atomic():
            team_order.save()
    except IntegrityError as error:
        # Two people can open an order with the same code at the same moment.
        raise OrderError(f"Another team order is called {facts.code}.", field="code") from error
    team_order.palette.set(facts.palette)
    team_order.sizes.set(facts.sizes)
    team_order.free_blocks.set(facts.free_blocks)


def _store_club(club: Club, contact: str) -> Club:
    """A new club is stored; a known one gets another contact where one was named."""
    if club.pk is None or (contact and contact != club.contact):
        club.contact = contact
        club.save()
    return club


def _store_colorway(colorway: Colorway, facts: ColorwayFacts) -> None:
    others = colorway.team_order.colorways.exclude(pk=colorway.pk)
    if is_taken(facts.name, others.values_list("name", flat=True)):
        raise OrderError(f"The order has a colorway {facts.name} already.", field="name")
    check_every_block_colored(facts.name, facts.blocking, facts.fills)
    check_in_palette(colorway.team_order, facts.fills.values())
    colorway.name = facts.name
    colorway.zipper_color = facts.zipper_color
    colorway.topstitch_thread = facts.topstitch_thread
    colorway.save()
    colorway.fills.all().delete()
    ColorwayBlock.objects.bulk_create(
        ColorwayBlock(colorway=colorway, block=block, fabric_color=color)
        for block, color in facts.fills.items()
    )


def store_jacket_order(jacket_order: JacketOrder, facts: JacketFacts) -> dict[Block, FabricColor]:
    """Store the order and return the choices kept: those that differ from the colorway."""
    team_order = jacket_order.team_order
    others = team_order.jacket_orders.exclude(pk=jacket_order.pk)
    if is_taken(facts.member, others.values_list("member", flat=True)):
        raise OrderError(f"{facts.member} has a jacket in this order already.", field="member")
    if facts.colorway.team_order_id != team_order.pk:
        raise OrderError("That colorway belongs to another team order.", field="colorway")
    if facts.size.pattern_id != facts.colorway.blocking.pattern_id:
        raise OrderError(
            f"{facts.colorway} is not made in size {facts.size}; choose one of its pattern's.",
            field="size",
        )
    check_in_palette(team_order, facts.choices.values())
    fills = _by_block(facts.colorway.fills.select_related("block", "fabric_color"))
    if foreign := sorted(str(block) for block in facts.choices if block not in fills):
        raise OrderError(f"{facts.colorway} has no block {', '.join(foreign)}.")
    own = {block: color for block, color in facts.choices.items() if color != fills[block]}
    jacket_order.member = facts.member
    jacket_order.size = facts.size
    jacket_order.colorway = facts.colorway
    jacket_order.name_on_jacket = facts.name_on_jacket
    jacket_order.note = facts.note
    jacket_order.save()
    jacket_order.choices.all().delete()
    BlockChoice.objects.bulk_create(
        BlockChoice(jacket_order=jacket_order, block=block, fabric_color=color)
        for block, color in own.items()
    )
    return own


def _by_block(rows: Iterable[ColorwayBlock | BlockChoice]) -> dict[Block, FabricColor]:
    return {row.block: row.fabric_color for row in rows}


def amend(
    team_order: TeamOrder, by: User | None, words: str, member: str = "", *, by_link: str = ""
) -> None:
    """Write a change down; empty words tell of none. `by_link` is the kind of the secret link
    through which someone without a log-in changed it."""
    if words:
        Amendment.objects.create(
            team_order=team_order,
            by=by,
            by_link=by_link,
            member=member,
            words=Truncator(words).chars(500),
        )
