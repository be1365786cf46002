"""Fabric to spread and to buy, zippers and elastic."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from production.planning.lays import spread_count, width_share
from production.planning.plan import Lay, NotionNeed, PlanError
from production.planning.snapshot import (
    ElasticSpec,
    FabricSpec,
    RunSnapshot,
    SizeSpec,
    ZipperSpec,
)

#: How many lengths of elastic a jacket takes, by place.
ELASTICS_PER_JACKET = {"hem": 1, "cuff": 2}


def cut_length_mm(finished_mm: Decimal, shrinkage: Decimal) -> Decimal:
    """Length that must be there before shrinking for `finished_mm` to remain: it is divided by
    (1 - shrinkage), a share below 1, and not multiplied by (1 + shrinkage)."""
    return finished_mm / (1 - shrinkage)


def length_by_area_mm(area_mm2: float, width_mm: float, efficiency: float) -> float:
    """Length of cloth for blocks of this area, by an expected efficiency between 0 and 1."""
    return area_mm2 / (width_mm * efficiency)


def fabric_needed_mm(lays: Iterable[Lay], fabric: FabricSpec) -> int:
    """Cloth for all plies with both end allowances, rounded up to whole mm. Cloth is relaxed before
    it is spread, so the shrinkage comes on top of what lies on the table. The two layers of a
    folded lay come from one length."""
    spread_mm = sum(
        (
            spread_count(lay) * (Decimal(str(lay.length_mm)) + 2 * fabric.end_allowance_mm)
            for lay in lays
        ),
        Decimal(0),
    )
    return int(cut_length_mm(spread_mm, fabric.shrinkage).to_integral_value(ROUND_CEILING))


def less_by_area_mm(lays: Iterable[Lay], fabric: FabricSpec) -> Decimal:
    """How much of the cloth needed does not count when a length is valued by area: half a metre of
    each metre where lays are half as wide as the fabric, nothing where they are as wide."""
    return sum(
        (
            (1 - Decimal(share)) * fabric_needed_mm((lay,), fabric)
            for lay in lays
            if (share := width_share(lay, fabric.usable_width_mm)) != 1
        ),
        Decimal(0),
    )


@dataclass(frozen=True, slots=True)
class PricedNotion:
    """A need with the price of one unit."""

    need: NotionNeed
    price: Decimal


def notion_needs(snapshot: RunSnapshot) -> tuple[PricedNotion, ...]:
    """Zippers by size and color, then elastic by size, in the order of the sizes.

    Raises PlanError when no zipper that is sold is long enough.
    """
    return (*_zippers(snapshot), *_elastics(snapshot))


def zipper_for(snapshot: RunSnapshot, size: SizeSpec, color: str) -> ZipperSpec:
    """The shortest zipper of the color that is as long as the size asks for."""
    sold = [zipper for zipper in snapshot.zippers if zipper.color_code == color]
    fitting = [zipper for zipper in sold if zipper.length_mm >= size.zipper_mm]
    if fitting:
        return min(fitting, key=lambda zipper: zipper.length_mm)
    longest = (
        f"the longest sold is {_cm(max(zipper.length_mm for zipper in sold))}"
        if sold
        else "none is sold in that color"
    )
    raise PlanError(
        f"Size {size.code} needs a zipper of {_cm(size.zipper_mm)} in {color}, but {longest}. "
        "Add a zipper that is long enough or choose another color."
    )


def elastic_length_mm(elastic: ElasticSpec, girth_mm: int) -> int:
    """Cut length of one elastic, stretched over the girth and joined, in whole mm upward."""
    length_mm = girth_mm * elastic.stretch_factor + elastic.join_mm
    return int(length_mm.to_integral_value(ROUND_CEILING))


def _cm(length_mm: int) -> str:
    return f"{length_mm / 10:g} cm"


def _zippers(snapshot: RunSnapshot) -> Iterable[PricedNotion]:
    counts = Counter((jacket.size, jacket.zipper_color) for jacket in snapshot.jackets)
    for size in snapshot.sizes:
        for color in sorted(color for code, color in counts if code == size.code):
            zipper = zipper_for(snapshot, size, color)
            item = f"separating zipper {_cm(zipper.length_mm)}"
            quantity = Decimal(counts[size.code, color])
            yield PricedNotion(NotionNeed(item, size.code, color, quantity, "piece"), zipper.price)


def _elastics(snapshot: RunSnapshot) -> Iterable[PricedNotion]:
    counts = Counter(jacket.size for jacket in snapshot.jackets)
    for elastic in snapshot.elastics:
        for size in snapshot.sizes:
            if counts[size.code]:
                each_mm = elastic_length_mm(elastic, girth_mm(size, elastic.place))
                pieces = counts[size.code] * ELASTICS_PER_JACKET[elastic.place]
                quantity = Decimal(pieces * each_mm) / 1000
                need = NotionNeed(elastic.name, size.code, "", quantity, "m")
                yield PricedNotion(need, elastic.price_per_m)


def girth_mm(size: SizeSpec, place: str) -> int:
    """The girth that the elastic of a place holds; PlanError for a place a jacket does not have."""
    if place not in ELASTICS_PER_JACKET:
        raise PlanError(f"Elastic is planned for {place!r}. Choose hem or cuff.")
    return size.hem_girth_mm if place == "hem" else size.cuff_girth_mm
