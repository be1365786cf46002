"""The same order again next season: copied in one go, for those who are still members."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction

from orders.lines import folded
from orders.models import (
    Amendment,
    BlockChoice,
    Colorway,
    ColorwayBlock,
    Expected,
    JacketOrder,
    TeamOrder,
)
from orders.queries import CHOICES, FILLS, facts_of
from orders.services import amend, create_team_order
from orders.words import jackets_in_words
from patterns.models import PatternSize

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@dataclass(frozen=True, slots=True)
class RepeatFacts:
    """What differs the second time. `staying` are the jacket orders that are ordered again."""

    code: str
    title: str
    deadline: date
    closes_on: date | None
    staying: tuple[JacketOrder, ...]
    step_up: bool = False


def one_step_up(size: PatternSize, sizes: Iterable[PatternSize]) -> PatternSize:
    """The next size for a youth who has grown, by the chest that each size is drafted for: the next
    larger youth size, after the largest the adult size whose chest is next above. That is not
    always the smallest adult size: Youth XL is drafted for a larger chest than Adult XS. An adult
    stays, and so does a youth whom no size is above."""
    if size.age_group != PatternSize.AgeGroup.YOUTH:
        return size
    above = sorted(
        (one for one in sizes if one.chest_mm > size.chest_mm), key=lambda one: one.chest_mm
    )
    youth = [one for one in above if one.age_group == PatternSize.AgeGroup.YOUTH]
    return next(iter(youth or above), size)


@transaction.atomic
def repeat(team_order: TeamOrder, facts: RepeatFacts, *, by: User | None) -> TeamOrder:
    """A draft with the same look, choices and price as an earlier order, the staying members'
    jackets and the roster; OrderError, and nothing stored, where the code is taken. Discounts and
    links are not copied: they were given for the earlier order."""
    old = TeamOrder.objects.select_for_update().get(pk=team_order.pk)
    made = _copy_order(old, facts, by)
    colorways = _copy_colorways(old, made)
    jackets = _copy_jackets(made, colorways, facts)
    _offer_sizes(made, jackets)
    _copy_roster(old, made, facts)
    stepped = ", youth sizes one step up" if facts.step_up else ""
    amend(made, by, f"repeats {old.code} with {jackets_in_words(len(jackets))}{stepped}")
    Amendment.objects.bulk_create(
        Amendment(
            team_order=made,
            member=jacket.member,
            words=f"added {jacket.member}, {jacket.size}, {jacket.colorway}",
            by=by,
        )
        for jacket in jackets
    )
    amend(old, by, f"ordered again as {made.code}")
    return made


def _copy_order(old: TeamOrder, facts: RepeatFacts, by: User | None) -> TeamOrder:
    wanted = replace(
        facts_of(old),
        code=facts.code,
        title=facts.title,
        deadline=facts.deadline,
        closes_on=facts.closes_on,
        discount=Decimal(0),
    )
    made = create_team_order(wanted, by=by, state=TeamOrder.State.DRAFT)
    made.repeats = old
    made.save(update_fields=["repeats"])
    return made


def _copy_colorways(old: TeamOrder, made: TeamOrder) -> dict[int, Colorway]:
    """The new colorways by the key of the old."""
    copies = {}
    for colorway in old.colorways.select_related("blocking").prefetch_related(FILLS):
        copies[colorway.pk] = copy = Colorway.objects.create(
            team_order=made,
            name=colorway.name,
            blocking=colorway.blocking,
            zipper_color=colorway.zipper_color,
            topstitch_thread_id=colorway.topstitch_thread_id,
        )
        ColorwayBlock.objects.bulk_create(
            ColorwayBlock(colorway=copy, block=fill.block, fabric_color=fill.fabric_color)
            for fill in colorway.fills.all()
        )
    return copies


def _copy_jackets(
    made: TeamOrder, colorways: dict[int, Colorway], facts: RepeatFacts
) -> list[JacketOrder]:
    staying = JacketOrder.objects.filter(pk__in=[one.pk for one in facts.staying])
    old = list(
        staying.select_related("size")
        .prefetch_related(CHOICES, "size__pattern__sizes")
        .order_by("pk")
    )
    jackets = JacketOrder.objects.bulk_create(
        JacketOrder(
            team_order=made,
            member=line.member,
            size=_size_of(line, facts.step_up),
            colorway=colorways[line.colorway_id],
            name_on_jacket=line.name_on_jacket,
            note=line.note,
        )
        for line in old
    )
    BlockChoice.objects.bulk_create(
        BlockChoice(jacket_order=jacket, block=own.block, fabric_color=own.fabric_color)
        for jacket, line in zip(jackets, old, strict=True)
        for own in line.choices.all()
    )
    return jackets


def _copy_roster(old: TeamOrder, made: TeamOrder, facts: RepeatFacts) -> None:
    """The names on the roster, without those whose jackets are not ordered again."""
    staying = {one.pk for one in facts.staying}
    left = {
        folded(member)
        for pk, member in old.jacket_orders.values_list("pk", "member")
        if pk not in staying
    }
    Expected.objects.bulk_create(
        Expected(team_order=made, name=name)
        for name in old.expected.values_list("name", flat=True)
        if folded(name) not in left
    )


def _size_of(line: JacketOrder, step_up: bool) -> PatternSize:
    return one_step_up(line.size, line.size.pattern.sizes.all()) if step_up else line.size


def _offer_sizes(made: TeamOrder, jackets: Sequence[JacketOrder]) -> None:
    """A size that a member has grown into is on offer too, where sizes are limited."""
    if made.sizes.exists():
        made.sizes.add(*{jacket.size for jacket in jackets})
