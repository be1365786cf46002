"""Fabric to spread and to buy, zippers, elastic and the workroom's own notions."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal

from production.planning.cutting.lays import spread_count, width_share
from production.planning.explode import Cut
from production.planning.lengths import IMPERIAL, small_length
from production.planning.plan import Lay, NotionNeed, PlanError
from production.planning.snapshot import (
    ElasticSpec,
    FabricSpec,
    NotionSpec,
    RunSnapshot,
    SeamStretch,
    SizeSpec,
    ZipperSpec,
)
from production.planning.supplies.wares import WareNeed

#: How many lengths of elastic a jacket takes, by place.
ELASTICS_PER_JACKET = {"hem": 1, "cuff": 2}

PIECE, METRE = "piece", "m"
JACKET, SEAM_METRE, SIZE = "jacket", "seam_metre", "size"
EXACT = "exact"


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


@dataclass(frozen=True, slots=True)
class ZipperChoice:
    """The zipper of a jacket: the length `sold` that it is bought in, or that its price goes by
    where it is `made` to the finished length; `extra` is what that costs more."""

    sold: ZipperSpec
    finished_mm: int
    made: bool
    extra: Decimal = Decimal(0)

    @property
    def shorten_mm(self) -> int:
        """How much the workroom takes off."""
        return 0 if self.made else self.sold.length_mm - self.finished_mm

    @property
    def price(self) -> Decimal:
        return self.sold.price + self.extra

    @property
    def ware(self) -> str:
        key = f"zipper:{self.sold.color_code}:{self.sold.length_mm}"
        return f"{key}:made-{self.finished_mm}" if self.made else key


def notion_needs(snapshot: RunSnapshot) -> tuple[PricedNotion, ...]:
    """Zippers by size and color, then elastic by size, then the workroom's own notions by size, in
    the order of the sizes and exactly what the jackets take: waste is a line of the costs and of
    the shopping list.

    Raises PlanError when no zipper that is sold is long enough, for a notion by the metre of a seam
    that no jacket has, and for one by size that does not tell a size.
    """
    return (*_zippers(snapshot), *_elastics(snapshot), *_own_notions(snapshot))


def notion_wares(needs: Iterable[PricedNotion]) -> tuple[WareNeed, ...]:
    """What is bought for the needs, summed over the sizes that share a ware, in the order in which
    they first come; pieces are whole."""
    found: dict[str, WareNeed] = {}
    for need in (priced.need for priced in needs):
        known = found.get(need.ware)
        before = known.quantity if known else Decimal(0)
        by_size = need.ware.startswith("notion:") and need.ware.endswith(f":{need.size}")
        name = f"{need.item}, {need.color}" if need.color else need.item
        found[need.ware] = WareNeed(
            need.ware,
            f"{name}, size {need.size}" if by_size else name,
            need.unit,
            before + need.quantity,
            size=need.size if by_size else "",
            color=need.color,
        )
    return tuple(_whole(ware) for ware in found.values())


def _whole(ware: WareNeed) -> WareNeed:
    if ware.unit != PIECE:
        return ware
    return replace(ware, quantity=ware.quantity.to_integral_value(ROUND_CEILING))


def zipper_for(snapshot: RunSnapshot, size: SizeSpec, color: str) -> ZipperSpec:
    """The shortest zipper of the color that is as long as the size asks for."""
    sold = [zipper for zipper in snapshot.zippers if zipper.color_code == color]
    fitting = [zipper for zipper in sold if zipper.length_mm >= size.zipper_mm]
    if fitting:
        return min(fitting, key=lambda zipper: zipper.length_mm)
    unit = snapshot.workroom.length_unit
    longest = (
        f"the longest sold is {zipper_length(max(zipper.length_mm for zipper in sold), unit)}"
        if sold
        else "none is sold in that color"
    )
    raise PlanError(
        f"Size {size.code} needs a zipper of {zipper_length(size.zipper_mm, unit)} in {color}, but "
        f"{longest}. Add a zipper that is long enough or choose another color."
    )


def zipper_choice(snapshot: RunSnapshot, size: SizeSpec, color: str) -> ZipperChoice:
    """The zipper of a size and color by the workroom's rule. One that is sold in the finished
    length is neither shortened nor made. PlanError as `zipper_for`."""
    sold, room = zipper_for(snapshot, size, color), snapshot.workroom
    if room.zipper_rule != EXACT or sold.length_mm == size.zipper_mm:
        return ZipperChoice(sold, size.zipper_mm, made=False)
    return ZipperChoice(sold, size.zipper_mm, made=True, extra=room.exact_zipper_extra)


def elastic_length_mm(elastic: ElasticSpec, girth_mm: int) -> int:
    """Cut length of one elastic, stretched over the girth and joined, in whole mm upward."""
    length_mm = girth_mm * elastic.stretch_factor + elastic.join_mm
    return int(length_mm.to_integral_value(ROUND_CEILING))


def zipper_length(length_mm: int, unit: str) -> str:
    """Zippers are sold by the centimetre, or by the inch: '65 cm', '25 5/8 in'."""
    return small_length(length_mm, unit) if unit == IMPERIAL else f"{length_mm / 10:g} cm"


def _zippers(snapshot: RunSnapshot) -> Iterator[PricedNotion]:
    counts = Counter((jacket.size, jacket.zipper_color) for jacket in snapshot.jackets)
    unit = snapshot.workroom.length_unit
    for size in snapshot.sizes:
        for color in sorted(color for code, color in counts if code == size.code):
            choice = zipper_choice(snapshot, size, color)
            length_mm = choice.finished_mm if choice.made else choice.sold.length_mm
            item = f"separating zipper {zipper_length(length_mm, unit)}"
            if choice.made:
                item = f"{item}, made to length"
            quantity = Decimal(counts[size.code, color])
            need = NotionNeed(item, size.code, color, quantity, PIECE, choice.ware)
            yield PricedNotion(need, choice.price)


def _elastics(snapshot: RunSnapshot) -> Iterator[PricedNotion]:
    counts = Counter(jacket.size for jacket in snapshot.jackets)
    for elastic in snapshot.elastics:
        for size in snapshot.sizes:
            if counts[size.code]:
                each_mm = elastic_length_mm(elastic, girth_mm(size, elastic.place))
                pieces = counts[size.code] * ELASTICS_PER_JACKET[elastic.place]
                quantity = Decimal(pieces * each_mm) / 1000
                need = NotionNeed(
                    elastic.name, size.code, "", quantity, METRE, f"elastic:{elastic.place}"
                )
                yield PricedNotion(need, elastic.price_per_m)


def girth_mm(size: SizeSpec, place: str) -> int:
    """The girth that the elastic of a place holds; PlanError for a place a jacket does not have."""
    if place not in ELASTICS_PER_JACKET:
        raise PlanError(f"Elastic is planned for {place!r}. Choose hem or cuff.")
    return size.hem_girth_mm if place == "hem" else size.cuff_girth_mm


def _own_notions(snapshot: RunSnapshot) -> Iterator[PricedNotion]:
    cuts = Counter((jacket.blocking, jacket.size) for jacket in snapshot.jackets)
    for notion in snapshot.notions:
        each = taken_each(notion, snapshot.seams, cuts)
        for size in snapshot.sizes:
            quantity = sum(
                (cuts[cut] * taken for cut, taken in each.items() if cut[1] == size.code),
                Decimal(0),
            )
            if quantity:
                key = f"notion:{notion.code}"
                ware = f"{key}:{size.code}" if notion.differs_by_size else key
                need = NotionNeed(notion.name, size.code, "", quantity, notion.unit, ware)
                yield PricedNotion(need, notion.price)


def along_seams(
    notions: Iterable[NotionSpec], seams: Iterable[SeamStretch]
) -> tuple[NotionSpec, ...]:
    """The notions without those by the metre of a seam that is not among these: jackets of another
    blocking may have it."""
    codes = {stretch.seam for stretch in seams}
    return tuple(one for one in notions if one.rule != SEAM_METRE or one.seam in codes)


def taken_each(
    notion: NotionSpec, seams: Iterable[SeamStretch], cuts: Iterable[Cut]
) -> dict[Cut, Decimal]:
    """How much of a notion one jacket takes, by its blocking and size, in the notion's unit. Along
    a seam it is cut to whole mm, or counted in whole pieces, upward; a jacket without the seam
    takes none. PlanError where its rule does not tell."""
    match notion.rule:
        case "jacket":
            return dict.fromkeys(cuts, notion.quantity)
        case "size":
            return {cut: _of_size(notion, cut[1]) for cut in cuts}
        case "seam_metre":
            lengths_mm = _lengths_mm(notion, seams)
            return {cut: _along(notion, lengths_mm.get(cut, Decimal(0))) for cut in cuts}
    raise PlanError(
        f"{notion.name} ({notion.code}) is taken by the rule {notion.rule!r}. Choose per jacket, "
        "per metre of a seam, or by size."
    )


def _of_size(notion: NotionSpec, size: str) -> Decimal:
    by_size = dict(notion.by_size)
    if size not in by_size:
        raise PlanError(
            f"{notion.name} ({notion.code}) is taken by size, but nothing says how much of it size "
            f"{size} takes. Enter it with the notion under Supplies; 0 stands for none."
        )
    return by_size[size]


def _lengths_mm(notion: NotionSpec, seams: Iterable[SeamStretch]) -> dict[Cut, Decimal]:
    """Length of the notion's seam in one jacket, by blocking and size, where there is one."""
    found: dict[Cut, Decimal] = defaultdict(Decimal)
    for stretch in seams:
        if stretch.seam == notion.seam:
            # By the micrometre: 600.0000000001 is a float's way to say 600.
            found[stretch.blocking, stretch.size] += Decimal(str(round(stretch.length_mm, 3)))
    if not found:
        raise PlanError(
            f"{notion.name} ({notion.code}) is taken by the metre of seam {notion.seam!r}, which "
            "no jacket has. Choose another seam for it under Supplies."
        )
    return found


def _along(notion: NotionSpec, length_mm: Decimal) -> Decimal:
    step = Decimal(1) if notion.unit == PIECE else Decimal("0.001")
    return (length_mm * notion.quantity / 1000).quantize(step, ROUND_CEILING)
