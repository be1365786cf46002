"""The shopping list of a run, read from its needs and from what is there and on order."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal

from django.db.models import F, Q, Sum
from django.utils import timezone

from production.models import Jacket, LayPly, PurchaseLine, Run
from production.needs.run_needs import ClothWant, cloth_of, earlier_runs, reserved_for, wares_of
from production.planning.schedule import capacity_schedule
from production.planning.snapshot import RunSnapshot
from production.planning.supplies.shopping import (
    CLOTH,
    Need,
    ShoppingList,
    Stock,
    Terms,
    allowed,
    shopping_list,
)
from production.queries import minutes_left
from production.services import load_plan, load_snapshot
from production.stock.cloth import lots_with_lengths
from production.stock.ware_catalog import Catalog, cloth_key
from production.stock.wares import STORED, balances

ZERO = Decimal(0)


def shopping_of(run: Run, today: datetime.date | None = None) -> ShoppingList:
    """What a run still has to buy; prices, suppliers and stock are those of today.

    Raises PlanError where its jackets cannot be made from what is sold.
    """
    snapshot, catalog = load_snapshot(run), Catalog()
    day = today or timezone.localdate()
    terms = Terms(
        run=run.code,
        currency=catalog.room.currency,
        today=day,
        starts_on=cutting_starts(run, snapshot, day),
        fabric_waste=snapshot.workroom.fabric_waste,
        notion_waste=snapshot.workroom.notion_waste,
    )
    before, ordered = list(earlier_runs(run)), on_order()
    return shopping_list(
        terms,
        [
            *_cloth_lines(run, before, ordered, terms, catalog),
            *_ware_lines(run, before, ordered, catalog),
        ],
    )


def cutting_starts(run: Run, snapshot: RunSnapshot, today: datetime.date) -> datetime.date:
    """The latest day on which cutting has to start: that of the plan, or an earlier one where more
    is left to do today than was planned."""
    planned = load_plan(run).schedule.latest_cutting_start
    minutes = minutes_left(Jacket.objects.filter(run=run))
    now = capacity_schedule(minutes, today, run.deadline, snapshot.workroom)
    return min(planned, now.latest_cutting_start)


def on_order() -> dict[str, Decimal]:
    """What has been ordered and has not come, by key; what was closed comes no more."""
    rows = (
        PurchaseLine.objects.filter(purchase__closed_at=None, received__lt=F("quantity"))
        .order_by()
        .values("ware__key", "fabric_color__code")
        .annotate(rest=Sum(F("quantity") - F("received")))
    )
    return {
        row["ware__key"] or cloth_key(row["fabric_color__code"]): row["rest"].quantize(STORED)
        for row in rows
    }


def _ware_lines(
    run: Run, before: Sequence[Run], ordered: dict[str, Decimal], catalog: Catalog
) -> Iterator[tuple[Need, Stock]]:
    reserved, on_shelf = reserved_for(before), balances()
    for want in wares_of(run):
        if not want.needed:
            continue
        stock = Stock(
            on_hand=on_shelf.get(want.key, ZERO),
            reserved=reserved.get(want.key, ZERO),
            on_order=ordered.get(want.key, ZERO),
            taken=want.served,
        )
        sold = catalog.sold(want.key, want.name, want.unit)
        yield Need(sold, want.needed, want.sources), stock


def _cloth_lines(
    run: Run,
    before: Sequence[Run],
    ordered: dict[str, Decimal],
    terms: Terms,
    catalog: Catalog,
) -> Iterator[tuple[Need, Stock]]:
    by_the_book, planned = cloth_on_hand(), planned_for_others(run)
    short = short_of_earlier(before, terms.fabric_waste)
    for want in cloth_of(run):
        on_hand = Decimal(by_the_book[want.color])
        others = Decimal(planned[want.color])
        extra = allowed(Decimal(want.needed_mm), Decimal(want.cut_mm), terms.fabric_waste, CLOTH)
        free = max(on_hand - others - want.laid_mm, ZERO)
        key = cloth_key(want.color)
        stock = Stock(
            # Cloth that plies are planned on is there, even where a bolt was never written down.
            on_hand=max(on_hand, others + want.laid_mm),
            reserved=others + short[want.color],
            on_order=ordered.get(key, ZERO),
            taken=Decimal(want.cut_mm),
            unfit=max(free - extra, ZERO),
        )
        sold = catalog.sold(key, want.color, CLOTH)
        yield Need(sold, Decimal(want.needed_mm), want.sources), stock


def cloth_on_hand() -> Counter[str]:
    """Cloth by the book, in mm, by fabric color."""
    found: Counter[str] = Counter()
    for lot in lots_with_lengths(with_cloth_only=True).select_related("fabric_color"):
        found[lot.fabric_color.code] += vars(lot)["left_mm"]
    return found


def planned_for_others(run: Run | None = None) -> Counter[str]:
    """Cloth that plies of other runs are planned on, in mm, by fabric color."""
    mine = Q(lay__ticket__run=run) if run else Q(pk__in=[])
    rows = (
        LayPly.objects.filter(lot__isnull=False, cut_at=None)
        .exclude(mine)
        .order_by()
        .values("lot__fabric_color__code")
        .annotate(mm=Sum("takes_mm"))
    )
    return Counter({row["lot__fabric_color__code"]: row["mm"] for row in rows})


def short_of_earlier(before: Sequence[Run], share: Decimal) -> Counter[str]:
    """Cloth that earlier runs have no bolt for yet, with their allowance, in mm, by color."""
    found: Counter[str] = Counter()
    for run in before:
        for want in cloth_of(run):
            if want.short_mm:
                found[want.color] += want.short_mm + _allowance(want, share)
    return found


def _allowance(want: ClothWant, share: Decimal) -> int:
    return int(allowed(Decimal(want.needed_mm), Decimal(want.cut_mm), share, CLOTH))
