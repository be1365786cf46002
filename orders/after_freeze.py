"""Changes of an order that is in production: the order's side of a supplement. Each checks that the
order is frozen and not handed over, writes, and leaves an amendment, all in one transaction."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from django.db import transaction

from orders.errors import OrderError
from orders.facts import JacketFacts
from orders.models import JacketOrder, TeamOrder
from orders.rules import check_frozen
from orders.services import amend, store_changes, store_jacket_order
from orders.words import jacket_words, joined

if TYPE_CHECKING:
    from django.contrib.auth.models import User


def frozen_order(team_order: TeamOrder) -> TeamOrder:
    """The order in production, read anew and locked until the transaction ends."""
    locked = TeamOrder.objects.select_for_update().get(pk=team_order.pk)
    check_frozen(locked)
    return locked


@transaction.atomic
def add_after_freeze(
    team_order: TeamOrder, facts: JacketFacts, *, by: User | None, supplement: int
) -> tuple[JacketOrder, str]:
    """A late member's jacket order, and the change in words; `supplement` is the number of the one
    that makes the jacket."""
    stored = frozen_order(team_order)
    jacket_order = JacketOrder(team_order=stored)
    store_jacket_order(jacket_order, facts)
    _amend_frozen(stored, by, f"added {jacket_words(facts)}", facts.member, supplement)
    return jacket_order, f"added, size {facts.size}, {facts.colorway}"


@transaction.atomic
def change_after_freeze(
    jacket_order: JacketOrder, facts: JacketFacts, *, by: User | None, supplement: int
) -> str:
    """Change size and colors of a frozen jacket order and say in words what changed; OrderError
    when nothing did. Whose it is stays as stored, so that a form filled in before the member was
    erased brings no name back."""
    stored = frozen_order(jacket_order.team_order)
    line = JacketOrder.objects.select_related("team_order").get(pk=jacket_order.pk)
    own = {name: getattr(line, name) for name in ("member", "name_on_jacket", "note")}
    facts = replace(facts, **own)
    words = joined(store_changes(line, facts))
    if not words:
        raise OrderError(f"The jacket of {facts.member} is frozen as it stands here already.")
    _amend_frozen(stored, by, words, facts.member, supplement)
    return words


@transaction.atomic
def cancel_after_freeze(
    jacket_order: JacketOrder, reason: str, *, by: User | None, supplement: int
) -> str:
    """The jacket order stays to be read; that it is cancelled stands with its jacket."""
    stored = frozen_order(jacket_order.team_order)
    words = f"cancelled: {reason}" if reason else "cancelled"
    _amend_frozen(stored, by, f"{jacket_order.member} {words}", jacket_order.member, supplement)
    return words


@transaction.atomic
def take_spares_after_freeze(jacket_order: JacketOrder, *, by: User | None, supplement: int) -> str:
    """The jacket order stays as it is: only where its blocks come from changes."""
    stored = frozen_order(jacket_order.team_order)
    words = "takes spare parts instead of cutting"
    _amend_frozen(stored, by, words, jacket_order.member, supplement)
    return words


def _amend_frozen(
    team_order: TeamOrder, by: User | None, words: str, member: str, supplement: int
) -> None:
    amend(team_order, by, f"after the freeze: {words}, supplement {supplement}", member)
