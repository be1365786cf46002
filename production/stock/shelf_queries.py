"""What the pages of the shelf read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from django.http import Http404

from production.buying.shopping import on_order
from production.models import Run, Ware, WareMovement
from production.needs.run_needs import Want, open_runs, reserved_for, wares_of
from production.planning.supplies.shopping import Sold
from production.stock.ware_catalog import Catalog
from production.stock.wares import balances

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class ShelfRow:
    """One ware: how much lies there, how much open runs are still to have of it, and what is on
    order."""

    sold: Sold
    on_hand: Decimal
    reserved: Decimal
    on_order: Decimal

    @property
    def key(self) -> str:
        return self.sold.key

    @property
    def kind(self) -> str:
        return self.key.partition(":")[0]

    @property
    def free(self) -> Decimal:
        return max(self.on_hand - self.reserved, ZERO)

    @property
    def short(self) -> Decimal:
        """What open runs lack, when all has come that is on order."""
        return max(self.reserved - self.on_hand - self.on_order, ZERO)


def shelf() -> list[ShelfRow]:
    """All wares that are sold, and those that were once moved; first those that lie there, are on
    order, or are still to be taken."""
    catalog, there = Catalog(), balances()
    ordered, reserved = on_order(), reserved_for(list(open_runs().order_by("pk")))
    moved = dict(Ware.objects.values_list("key", "unit"))
    rows = [
        ShelfRow(
            catalog.sold(key, unit=moved.get(key, "piece")),
            there.get(key, ZERO),
            reserved.get(key, ZERO),
            ordered.get(key, ZERO),
        )
        for key in dict.fromkeys((*catalog.ware_keys(), *moved, *reserved))
    ]
    return sorted(rows, key=lambda row: not (row.on_hand or row.on_order or row.reserved))


def narrowed(rows: list[ShelfRow], *, text: str, kind: str, there: str) -> list[ShelfRow]:
    wanted = text.strip().casefold()
    return [
        row
        for row in rows
        if wanted in row.sold.name.casefold()
        and (not kind or row.kind == kind)
        and (there != "shelf" or row.on_hand)
        and (there != "short" or row.short)
    ]


@dataclass(frozen=True, slots=True)
class WareStory:
    """All that the page of a ware tells."""

    row: ShelfRow
    movements: tuple[WareMovement, ...]


def ware_story(key: str) -> WareStory:
    """404 for a key that stands for nothing that is sold or was moved."""
    row = next((row for row in shelf() if row.key == key), None)
    if row is None:
        raise Http404(f"No ware has the key {key}")
    moves = WareMovement.objects.filter(ware__key=key).order_by("-pk")
    return WareStory(row, tuple(moves.select_related("by", "run", "purchase_line__purchase")))


@dataclass(frozen=True, slots=True)
class RunShelf:
    """The wares of a run: what it needs and has had."""

    wants: tuple[Want, ...]
    free: dict[str, Decimal]

    @property
    def held(self) -> tuple[Want, ...]:
        return tuple(want for want in self.wants if want.holds)

    @property
    def can_take(self) -> bool:
        return any(want.still and self.free.get(want.key) for want in self.wants)


def run_shelf(run: Run) -> RunShelf:
    from production.needs.run_needs import reserved_by_earlier

    catalog, there, reserved = Catalog(), balances(), reserved_by_earlier(run)
    units = dict(Ware.objects.values_list("key", "unit"))
    wants = tuple(
        replace(want, name=catalog.sold(want.key).name, unit=want.unit or units[want.key])
        if catalog.find(want.key)
        else want
        for want in wares_of(run)
    )
    free = {
        want.key: max(there.get(want.key, ZERO) - reserved.get(want.key, ZERO), ZERO)
        for want in wants
    }
    return RunShelf(wants, free)
