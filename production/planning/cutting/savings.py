"""Ways to cut one ticket as sums that can be compared: cloth, lays, time, money, and the bounds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from production.planning.costs import rounded
from production.planning.cutting.cutting_prices import CuttingPrice
from production.planning.cutting.lays import cloth_width_mm, spread_count
from production.planning.plan import Lay
from production.planning.snapshot import FabricSpec
from production.planning.supplies.materials import fabric_needed_mm, less_by_area_mm


@dataclass(frozen=True, slots=True)
class LaySums:
    """The lays of one ticket together.

    `fabric_mm` is the cloth with both end allowances, before it shrinks, and `boxes_mm` the same
    for rows of bounding boxes. `bound_mm` is what the blocks alone would take if they left no waste
    at all (area / width). `efficiency` is the share of the spread cloth, without end allowances,
    that blocks cover. `cloth_cost` and `boxes_cost` are the money for both lengths, valued by area:
    a lay on narrower cloth costs as much less.
    """

    lays: int
    plies: int
    fabric_mm: int
    cutting_minutes: Decimal
    cost: Decimal
    bound_mm: int
    boxes_mm: int
    efficiency: float
    cloth_cost: Decimal
    boxes_cost: Decimal


def lay_sums(lays: Sequence[Lay], fabric: FabricSpec, price: CuttingPrice) -> LaySums:
    """Raises ValueError without any lay."""
    if not lays:
        raise ValueError("a ticket without lays has no sums")
    spread_mm2 = sum(spread_count(lay) * cloth_width_mm(lay) * lay.length_mm for lay in lays)
    covered_mm2 = sum(spread_count(lay) * cloth_width_mm(lay) * lay.lower_bound_mm for lay in lays)
    in_boxes = _as_long_as(lays, "box_rows_mm")
    return LaySums(
        lays=len(lays),
        plies=sum(lay.plies for lay in lays),
        fabric_mm=fabric_needed_mm(lays, fabric),
        cutting_minutes=rounded(price.minutes.of(lays)),
        cost=rounded(Decimal(str(price.of(lays, fabric.end_allowance_mm)))),
        bound_mm=fabric_needed_mm(
            _as_long_as(lays, "lower_bound_mm"), replace(fabric, end_allowance_mm=0)
        ),
        boxes_mm=fabric_needed_mm(in_boxes, fabric),
        efficiency=covered_mm2 / spread_mm2,
        cloth_cost=_cloth_cost(lays, fabric),
        boxes_cost=_cloth_cost(in_boxes, fabric),
    )


def _as_long_as(lays: Iterable[Lay], field: str) -> list[Lay]:
    return [replace(lay, length_mm=getattr(lay, field)) for lay in lays]


def _cloth_cost(lays: Sequence[Lay], fabric: FabricSpec) -> Decimal:
    counted_mm = fabric_needed_mm(lays, fabric) - less_by_area_mm(lays, fabric)
    return rounded(counted_mm / 1000 * fabric.price_per_m)
