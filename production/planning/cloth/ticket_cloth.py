"""The lays of one ticket together with the cloth that they are spread from.

Given lays are laid onto the bolts as they are. Plain rows are made for the cloth on hand: for all
jackets where one dye lot serves them, otherwise apart for the jackets of each lot.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

from production.planning.cloth.bolts import ClothUse, joined, lay_onto_bolts
from production.planning.cloth.cloth_notes import in_spans
from production.planning.cloth.dye_lots import Needs, dye_lot_groups
from production.planning.cloth.remnants import fit_in_rows, remnant_lays
from production.planning.cutting.cutting_prices import CuttingPrice
from production.planning.cutting.lays import asked
from production.planning.cutting.row_lays import plan_lays
from production.planning.cutting.rows import laid_block, polygon_area_mm2
from production.planning.explode import CutPiece, Shapes
from production.planning.plan import Lay, TicketLine
from production.planning.snapshot import BoltSpec, FabricSpec, WorkroomSpec
from production.planning.supplies.materials import fabric_needed_mm

#: A lot that turns out too short for its jackets is filled less, this often and to this share.
MOST_TRIES, LESS = 6, 0.92


@dataclass(frozen=True, slots=True)
class TicketCloth:
    """What the rows of one ticket are planned from; `needs` are the pieces of each jacket in the
    color of the ticket, `bolts` those of that color. `lots` are the dye lots that jackets have
    blocks of this color from already."""

    ticket: str
    lines: tuple[TicketLine, ...]
    needs: Needs
    shapes: Shapes
    fabric: FabricSpec
    workroom: WorkroomSpec
    price: CuttingPrice
    bolts: tuple[BoltSpec, ...]
    lots: Mapping[str, str] = field(default_factory=dict)

    def of(self, jackets: Iterable[str], bolts: Iterable[BoltSpec]) -> TicketCloth:
        """The same for some of its jackets, on some cloth."""
        needs = {jacket: self.needs[jacket] for jacket in jackets}
        return replace(self, needs=needs, lines=_lines(self.lines, needs), bolts=tuple(bolts))


@dataclass(frozen=True, slots=True)
class LotPart:
    """The jackets of a ticket that one dye lot serves, or for which cloth is bought: their rows, of
    which the first `on_remnants` lie on remnants, and what these were planned from."""

    lays: tuple[Lay, ...]
    cloth: TicketCloth
    on_remnants: int = 0

    @property
    def use(self) -> ClothUse:
        return self.use_of(self.lays)

    def use_of(self, lays: Sequence[Lay]) -> ClothUse:
        """The cloth of these lays: all from one dye lot or all bought."""
        cloth = self.cloth
        unit = cloth.workroom.length_unit
        use = lay_onto_bolts(lays, cloth.shapes, cloth.bolts, cloth.fabric, unit=unit)
        lots = {bolt.code: bolt.dye_lot for bolt in cloth.bolts}
        lot = next((lots[one.bolt] for one in use.spreads if one.bolt), None)
        return replace(use, dye_lots=((lot, tuple(cloth.needs)),))


def needs_by_color(pieces: Iterable[CutPiece]) -> dict[str, Needs]:
    """The pieces that each jacket gets, by fabric color."""
    found: dict[str, dict[str, Counter[tuple[str, str, str]]]] = defaultdict(
        lambda: defaultdict(Counter)
    )
    for piece in pieces:
        found[piece.fabric_color][piece.jacket][piece.block, piece.size, piece.side] += 1
    return {color: dict(needs) for color, needs in found.items()}


def rows_on_cloth(cloth: TicketCloth) -> tuple[tuple[Lay, ...], ClothUse]:
    """Plain rows of a ticket and their cloth. Raises PlanError as `plan_lays` does."""
    if any(jacket in cloth.lots for jacket in cloth.needs):
        return _rows_alike(cloth)
    lays, use = put_together(cloth.ticket, lot_parts(cloth))
    if len(use.dye_lots) > 1:
        # Shorter lays may go around flaws where those of all jackets together could not.
        unit = cloth.workroom.length_unit
        again = lay_onto_bolts(
            lays, cloth.shapes, cloth.bolts, cloth.fabric, cloth.needs, unit=unit
        )
        if len(again.dye_lots) == 1 and not again.to_buy_mm:
            return lays, again
    return lays, use


def _rows_alike(cloth: TicketCloth) -> tuple[tuple[Lay, ...], ClothUse]:
    """Rows from the lots that the jackets have blocks from, where these have room; the others from
    lots that this leaves alone, with a note."""
    parts: list[LotPart] = []
    left, bolts = dict(cloth.needs), list(cloth.bolts)
    for lot in sorted({cloth.lots[jacket] for jacket in left if jacket in cloth.lots}):
        jackets = [jacket for jacket in left if cloth.lots.get(jacket) == lot]
        part = _one_part(cloth.of(jackets, [bolt for bolt in bolts if bolt.dye_lot == lot]))
        if not part.use.to_buy_mm:
            parts.append(part)
            left = {jacket: needs for jacket, needs in left.items() if jacket not in jackets}
            bolts = [bolt for bolt in bolts if bolt.dye_lot != lot]
    if left:
        parts += lot_parts(cloth.of(left, bolts))
    lays, use = put_together(cloth.ticket, parts)
    return lays, replace(use, notes=(*use.notes, *_unlike(left, cloth.lots)))


def _unlike(jackets: Iterable[str], lots: Mapping[str, str]) -> Iterable[str]:
    for lot in sorted({lots[jacket] for jacket in jackets if jacket in lots}):
        codes = [jacket for jacket in jackets if lots.get(jacket) == lot]
        yield (
            f"{in_spans(codes)}: blocks of this color are from dye lot {lot} already, and too "
            "little of that is left. Compare the shades by daylight before sewing."
        )


def lay_alike(
    lays: Sequence[Lay],
    shapes: Shapes,
    bolts: Sequence[BoltSpec],
    fabric: FabricSpec,
    jackets: Needs,
    lots: Mapping[str, str],
    *,
    unit: str,
) -> ClothUse:
    """Given lays on the bolts, on those of the one lot that all jackets have blocks from already
    where that has room."""
    known = {lots.get(jacket) for jacket in jackets}
    if len(known) == 1 and (lot := next(iter(known))):
        alike = [bolt for bolt in bolts if bolt.dye_lot == lot]
        use = lay_onto_bolts(lays, shapes, alike, fabric, jackets, unit=unit)
        if not use.to_buy_mm:
            return use
    use = lay_onto_bolts(lays, shapes, bolts, fabric, jackets, unit=unit)
    of_lot = {jacket: lot for lot, codes in use.dye_lots for jacket in codes}
    unlike = [jacket for jacket in jackets if of_lot.get(jacket) != lots.get(jacket)]
    return replace(use, notes=(*use.notes, *_unlike(unlike, lots)))


def lot_parts(cloth: TicketCloth) -> tuple[LotPart, ...]:
    """Plain rows of a ticket: in one part, or dye lots apart where that costs less than buying all
    anew. Raises PlanError as `plan_lays` does."""
    together = _one_part(cloth)
    if not cloth.bolts or not together.use.to_buy_mm:
        return (together,)
    apart = _lot_by_lot(together)
    return min((together,), apart, key=lambda parts: _to_pay(parts, cloth))


def put_together(ticket: str, parts: Sequence[LotPart]) -> tuple[tuple[Lay, ...], ClothUse]:
    """The lays of all parts, numbered through, and their cloth."""
    numbered = iter(numbered_lays(ticket, [lay for part in parts for lay in part.lays]))
    known = [(tuple(islice(numbered, len(part.lays))), part) for part in parts]
    lays = tuple(lay for some, _ in known for lay in some)
    use = joined(part.use_of(some) for some, part in known)
    # Together they are rounded up once, and not once for each part.
    needed_mm = fabric_needed_mm(lays, parts[0].cloth.fabric)
    return lays, replace(use, from_stock_mm=needed_mm - use.to_buy_mm)


def numbered_lays(ticket: str, lays: Iterable[Lay]) -> tuple[Lay, ...]:
    return tuple(
        replace(lay, lay=f"{ticket}-L{number}") for number, lay in enumerate(lays, start=1)
    )


def _to_pay(parts: Sequence[LotPart], cloth: TicketCloth) -> float:
    """Cutting and the cloth that is bought; what is on hand is paid already."""
    lays, use = put_together(cloth.ticket, parts)
    cutting = replace(cloth.price, cloth_mm=0.0).of(lays, cloth.fabric.end_allowance_mm)
    return cutting + cloth.price.cloth_mm * float(1 - cloth.fabric.shrinkage) * use.to_buy_mm


def _one_part(cloth: TicketCloth) -> LotPart:
    """All from one dye lot, its remnants first; nothing from stock where no lot suffices. Where it
    takes bolts that are narrower than the fabric, the lays are as narrow as these."""
    part = _as_wide_as_the_fabric(cloth)
    if not part.use.to_buy_mm:
        return part
    for width_mm in _narrow_widths_mm(cloth):
        fabric = replace(cloth.fabric, usable_width_mm=width_mm)
        narrow = _as_wide_as_the_fabric(replace(cloth, fabric=fabric))
        if not narrow.use.to_buy_mm:
            return narrow
    return part


def _narrow_widths_mm(cloth: TicketCloth) -> Sequence[int]:
    """Widths of bolts below that of the fabric, falling, on which all blocks can lie and for which
    some dye lot has the area of all blocks."""
    breadth_mm = max(
        laid_block(cloth.shapes[block, size], side).breadth_mm
        for block, size, side in asked(cloth.lines)
    )
    needed_mm2 = sum(_areas(cloth).values())
    areas: Counter[tuple[int, str]] = Counter()
    for width_mm in {bolt.usable_width_mm for bolt in cloth.bolts}:
        for bolt in cloth.bolts:
            if bolt.usable_width_mm >= width_mm:
                areas[width_mm, bolt.dye_lot] += width_mm * (bolt.end_mm - bolt.start_mm)
    found = {
        width_mm
        for (width_mm, _), area_mm2 in areas.items()
        if breadth_mm <= width_mm < cloth.fabric.usable_width_mm and area_mm2 >= needed_mm2
    }
    return sorted(found, reverse=True)


def _as_wide_as_the_fabric(cloth: TicketCloth) -> LotPart:
    part = LotPart(_rows(cloth.lines, cloth), cloth)
    if (use := part.use).to_buy_mm:
        return part
    lot = use.dye_lots[0][0]
    of_lot = cloth.of(cloth.needs, [bolt for bolt in cloth.bolts if bolt.dye_lot == lot])
    remnants_first = _remnants_first(of_lot)
    if remnants_first and not remnants_first.use.to_buy_mm:
        return remnants_first
    return LotPart(part.lays, of_lot)


def _remnants_first(cloth: TicketCloth) -> LotPart | None:
    """Lays of small blocks on the remnants and rows of the rest; None where no block fits."""
    lays, rest = remnant_lays(
        cloth.lines,
        cloth.shapes,
        [bolt for bolt in cloth.bolts if bolt.is_remnant],
        cloth.fabric,
        cloth.workroom,
        fit_in_rows,
    )
    if not lays:
        return None
    both = (*lays, *(_rows(rest, cloth) if rest else ()))
    return LotPart(numbered_lays(cloth.ticket, both), cloth, len(lays))


def _lot_by_lot(together: LotPart) -> tuple[LotPart, ...]:
    """Whole jackets from each lot in turn, the largest first; the rest is bought as one lot."""
    cloth = together.cloth
    left = _areas(cloth)
    lots: dict[str, list[BoltSpec]] = defaultdict(list)
    for bolt in cloth.bolts:
        lots[bolt.dye_lot].append(bolt)
    needed_mm2 = fabric_needed_mm(together.lays, cloth.fabric) * cloth.fabric.usable_width_mm
    filled = sum(left.values()) / needed_mm2
    rooms = {lot: filled * sum(map(_area_mm2, bolts)) for lot, bolts in lots.items()}
    parts: list[LotPart] = []
    for lot in sorted(rooms, key=lambda lot: (-rooms[lot], lot)):
        part = _served(cloth, left, lot, rooms[lot], lots[lot])
        if part:
            parts.append(part)
            left = {jacket: area for jacket, area in left.items() if jacket not in part.cloth.needs}
    if not parts:
        return (together,)
    if left:
        rest = cloth.of(left, ())
        parts.append(LotPart(_rows(rest.lines, rest), rest))
    return tuple(parts)


def _served(
    cloth: TicketCloth, areas: dict[str, float], lot: str, room_mm2: float, bolts: list[BoltSpec]
) -> LotPart | None:
    """The part of the jackets that one lot serves; None when it serves none."""
    for _ in range(MOST_TRIES):
        jackets = dye_lot_groups(areas, {lot: room_mm2}).get(lot)
        if not jackets:
            return None
        part = _one_part(cloth.of(jackets, bolts))
        if not part.use.to_buy_mm:
            return part
        room_mm2 = LESS * min(room_mm2, sum(areas[jacket] for jacket in jackets))
    return None


def _rows(lines: Sequence[TicketLine], cloth: TicketCloth) -> tuple[Lay, ...]:
    return plan_lays(cloth.ticket, lines, cloth.shapes, cloth.fabric, cloth.workroom, cloth.price)


def _areas(cloth: TicketCloth) -> dict[str, float]:
    return {
        jacket: sum(
            count * polygon_area_mm2(cloth.shapes[block, size].cut_outline_mm)
            for (block, size, _), count in pieces.items()
        )
        for jacket, pieces in cloth.needs.items()
    }


def _area_mm2(bolt: BoltSpec) -> float:
    return float((bolt.end_mm - bolt.start_mm) * bolt.usable_width_mm)


def _lines(lines: Iterable[TicketLine], needs: Needs) -> tuple[TicketLine, ...]:
    """The part of the lines that some jackets ask for."""
    counts: Counter[tuple[str, str, str]] = Counter()
    for pieces in needs.values():
        counts.update(pieces)
    found = (
        TicketLine(
            line.block,
            line.size,
            *(counts[line.block, line.size, side] for side in ("left", "right", "single")),
        )
        for line in lines
    )
    return tuple(line for line in found if line.left or line.right or line.single)
