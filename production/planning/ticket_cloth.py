"""The lays of one ticket together with the cloth that they are spread from.

Given lays are laid onto the bolts as they are. Plain rows are made for the cloth on hand: for all
jackets where one dye lot serves them, otherwise apart for the jackets of each lot.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from production.planning.bolts import ClothUse, joined, lay_onto_bolts
from production.planning.cutting_prices import CuttingPrice
from production.planning.dye_lots import Needs, dye_lot_groups
from production.planning.explode import CutPiece, Shapes
from production.planning.materials import fabric_needed_mm
from production.planning.plan import Lay, TicketLine
from production.planning.remnants import fit_in_rows, remnant_lays
from production.planning.row_lays import plan_lays
from production.planning.rows import polygon_area_mm2
from production.planning.snapshot import BoltSpec, FabricSpec, WorkroomSpec

#: A lot that turns out too short for its jackets is filled less, this often and to this share.
MOST_TRIES, LESS = 6, 0.92


@dataclass(frozen=True, slots=True)
class TicketCloth:
    """What the rows of one ticket are planned from; `needs` are the pieces of each jacket in the
    color of the ticket, `bolts` those of that color."""

    ticket: str
    lines: tuple[TicketLine, ...]
    needs: Needs
    shapes: Shapes
    fabric: FabricSpec
    workroom: WorkroomSpec
    price: CuttingPrice
    bolts: tuple[BoltSpec, ...]

    def of(self, jackets: Iterable[str], bolts: Iterable[BoltSpec]) -> TicketCloth:
        """The same for some of its jackets, on some cloth."""
        needs = {jacket: self.needs[jacket] for jacket in jackets}
        return replace(self, needs=needs, lines=_lines(self.lines, needs), bolts=tuple(bolts))


#: Lays of some of a ticket's jackets, and the cloth that these are for.
Part = tuple[tuple[Lay, ...], TicketCloth]


def needs_by_color(pieces: Iterable[CutPiece]) -> dict[str, Needs]:
    """The pieces that each jacket gets, by fabric color."""
    found: dict[str, dict[str, Counter[tuple[str, str, str]]]] = defaultdict(
        lambda: defaultdict(Counter)
    )
    for piece in pieces:
        found[piece.fabric_color][piece.jacket][piece.block, piece.size, piece.side] += 1
    return {color: dict(needs) for color, needs in found.items()}


def rows_on_cloth(cloth: TicketCloth) -> tuple[tuple[Lay, ...], ClothUse]:
    """Plain rows of a ticket and their cloth; dye lots apart where that costs less than buying all
    anew. Raises PlanError as `plan_lays` does."""
    together = _from_one_lot(cloth)
    if not cloth.bolts or not together[1].to_buy_mm:
        return together
    apart = _lot_by_lot(cloth, *together)
    return min(together, apart, key=lambda planned: _to_pay(planned, cloth))


def _to_pay(planned: tuple[tuple[Lay, ...], ClothUse], cloth: TicketCloth) -> float:
    """Cutting and the cloth that is bought; what is on hand is paid already."""
    lays, use = planned
    on_hand = cloth.price.cloth_mm * float(1 - cloth.fabric.shrinkage) * use.from_stock_mm
    return cloth.price.of(lays, cloth.fabric.end_allowance_mm) - on_hand


def _from_one_lot(cloth: TicketCloth) -> tuple[tuple[Lay, ...], ClothUse]:
    """All from one dye lot, its remnants first; nothing from stock where no lot suffices."""
    lays = _rows(cloth.ticket, cloth.lines, cloth)
    use = _laid(lays, cloth, cloth.bolts)
    if not use.spreads or use.to_buy_mm:
        return lays, use
    lot = next(lot for lot, _ in use.dye_lots)
    bolts = [bolt for bolt in cloth.bolts if bolt.dye_lot == lot]
    with_remnants = _remnants_first(cloth, bolts)
    if with_remnants and not (better := _laid(with_remnants, cloth, bolts)).to_buy_mm:
        return with_remnants, better
    return lays, use


def _remnants_first(cloth: TicketCloth, bolts: Sequence[BoltSpec]) -> tuple[Lay, ...]:
    """Lays of small blocks on the remnants and rows of the rest; none where no block fits."""
    lays, rest = remnant_lays(
        cloth.lines,
        cloth.shapes,
        [bolt for bolt in bolts if bolt.is_remnant],
        cloth.fabric,
        cloth.workroom,
        fit_in_rows,
    )
    if not lays:
        return ()
    return _numbered(cloth.ticket, (*lays, *(_rows(cloth.ticket, rest, cloth) if rest else ())))


def _lot_by_lot(
    cloth: TicketCloth, lays: Sequence[Lay], use: ClothUse
) -> tuple[tuple[Lay, ...], ClothUse]:
    """Whole jackets from each lot in turn, the largest first; the rest is bought as one lot."""
    areas = _areas(cloth)
    lots: dict[str, list[BoltSpec]] = defaultdict(list)
    for bolt in cloth.bolts:
        lots[bolt.dye_lot].append(bolt)
    needed_mm2 = fabric_needed_mm(lays, cloth.fabric) * cloth.fabric.usable_width_mm
    filled = sum(areas.values()) / needed_mm2
    rooms = {lot: filled * sum(map(_area_mm2, bolts)) for lot, bolts in lots.items()}
    parts: list[Part] = []
    left = areas
    for lot in sorted(rooms, key=lambda lot: (-rooms[lot], lot)):
        part = _served(cloth, left, lot, rooms[lot], lots[lot])
        if part:
            parts.append(part)
            left = {jacket: area for jacket, area in left.items() if jacket not in part[1].needs}
    if not parts:
        return tuple(lays), use
    if left:
        rest = cloth.of(left, ())
        parts.append((_rows(rest.ticket, rest.lines, rest), rest))
    return _put_together(cloth.ticket, parts)


def _served(
    cloth: TicketCloth, areas: dict[str, float], lot: str, room_mm2: float, bolts: list[BoltSpec]
) -> Part | None:
    """The lays of the jackets that one lot serves; None when it serves none."""
    for _ in range(MOST_TRIES):
        jackets = dye_lot_groups(areas, {lot: room_mm2}).get(lot)
        if not jackets:
            return None
        part = cloth.of(jackets, bolts)
        lays, use = _from_one_lot(part)
        if not use.to_buy_mm:
            return lays, part
        room_mm2 = LESS * min(room_mm2, sum(areas[jacket] for jacket in jackets))
    return None


def _put_together(ticket: str, parts: Sequence[Part]) -> tuple[tuple[Lay, ...], ClothUse]:
    lays = iter(_numbered(ticket, [lay for some, _ in parts for lay in some]))
    numbered = [(tuple(islice(lays, len(some))), part) for some, part in parts]
    uses = [_laid(some, part, part.bolts) for some, part in numbered]
    planned = tuple(lay for some, _ in numbered for lay in some)
    use = joined(uses)
    # Together they are rounded up once, and not once for each part.
    needed_mm = fabric_needed_mm(planned, parts[0][1].fabric)
    return planned, replace(use, from_stock_mm=needed_mm - use.to_buy_mm)


def _rows(ticket: str, lines: Sequence[TicketLine], cloth: TicketCloth) -> tuple[Lay, ...]:
    return plan_lays(ticket, lines, cloth.shapes, cloth.fabric, cloth.workroom, cloth.price)


def _laid(lays: Sequence[Lay], cloth: TicketCloth, bolts: Sequence[BoltSpec]) -> ClothUse:
    """All from one lot or all bought."""
    use = lay_onto_bolts(lays, cloth.shapes, bolts, cloth.fabric)
    codes = {bolt.code: bolt.dye_lot for bolt in bolts}
    lot = next((codes[one.bolt] for one in use.spreads if one.bolt), None)
    return replace(use, dye_lots=((lot, tuple(cloth.needs)),))


def _numbered(ticket: str, lays: Iterable[Lay]) -> tuple[Lay, ...]:
    return tuple(
        replace(lay, lay=f"{ticket}-L{number}") for number, lay in enumerate(lays, start=1)
    )


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
