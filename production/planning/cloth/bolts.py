"""Plies laid onto the bolts and remnants on hand: one dye lot for a jacket, flaws cut around.

A ply never reaches beyond its bolt and a lay is never wider than it; a ply that fits none is to be
bought. Positions count in mm along the bolt, as `snapshot.BoltSpec` has them.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal
from typing import NamedTuple

from production.planning.cloth.cloth_notes import Shares, laid_notes, lots_apart, told_apart
from production.planning.cloth.dye_lots import CutUnit, Needs, whole_jackets
from production.planning.cutting.lays import FACE_TO_FACE, laid_out, ply_pieces, spread_count
from production.planning.cutting.packing import Laid, Ply, Starts, packed
from production.planning.cutting.rows import LaidKey
from production.planning.explode import Shapes
from production.planning.lengths import METRIC
from production.planning.plan import Lay
from production.planning.snapshot import BoltSpec, FabricSpec
from production.planning.supplies.materials import cut_length_mm, fabric_needed_mm

#: A ply by its lay and number.
PlyKey = tuple[str, int]
#: A rest that is shorter counts as waste. An invented starting value.
SMALLEST_REMNANT_MM = 300
#: How often a share of a lot is made smaller when its flaws leave too little room for it.
MOST_TRIES = 8


class Remnant(NamedTuple):
    """What is left of a bolt, from `start_mm` on, as wide as the bolt."""

    bolt: str
    start_mm: int
    length_mm: int


@dataclass(frozen=True, slots=True)
class PlySpread:
    """One length of cloth of a lay (a folded one makes two layers) and where it comes from; no
    bolt while it is to be bought."""

    lay: str
    number: int
    bolt: str | None
    start_mm: int | None
    takes_mm: int


@dataclass(frozen=True, slots=True)
class ClothUse:
    """The cloth of one ticket. `dye_lots` says which jackets are cut from which lot, None for the
    one that is bought; it is empty where no jackets were given."""

    spreads: tuple[PlySpread, ...]
    from_stock_mm: int
    to_buy_mm: int
    remnants: tuple[Remnant, ...] = ()
    notes: tuple[str, ...] = ()
    dye_lots: Shares = ()

    @property
    def reasons(self) -> tuple[str, ...]:
        """The notes but for which lots to keep apart: the plies tell that as they really lie."""
        apart = set(lots_apart(self.dye_lots))
        return tuple(note for note in self.notes if note not in apart)


def ply_takes_mm(lay: Lay, fabric: FabricSpec) -> int:
    """Length that one ply takes off the bolt: the lay with both end allowances, before shrinking,
    in whole mm upward."""
    spread_mm = Decimal(str(lay.length_mm)) + 2 * fabric.end_allowance_mm
    return int(cut_length_mm(spread_mm, fabric.shrinkage).to_integral_value(ROUND_CEILING))


def lay_onto_bolts(
    lays: Sequence[Lay],
    shapes: Shapes,
    bolts: Sequence[BoltSpec],
    fabric: FabricSpec,
    jackets: Needs | None = None,
    kept: Mapping[PlyKey, str] | None = None,
    *,
    unit: str = METRIC,
) -> ClothUse:
    """The plies of one ticket on the bolts of its color, best fit.

    One dye lot serves the whole ticket where one can, the one that is used up most. Otherwise each
    lot in turn, the largest first, gives all pieces of some of the `jackets` (how many pieces of
    each block, size and side a jacket gets from these lays), and what remains is bought as one lot.
    Without `jackets` all is bought then, since nobody knows which pieces belong together.

    Plies that are `kept`, by lay and number with their dye lot, stay where they lie: the others are
    laid so that a jacket which gets pieces of a kept one gets all from that lot. Notes tell lengths
    in `unit`.
    """
    kept = kept or {}
    plies = [ply for ply in _plies(lays, fabric) if ply.key not in kept]
    starts = Starts(shapes, fabric)
    lots = _by_dye_lot(bolts, kept.values())
    kept_lots = len(set(kept.values()))
    whole = _served_by_one_lot(plies, lots, starts, kept_lots) if kept_lots < 2 else None
    if whole is not None:
        lot = next(iter((*kept.values(), *(one.bolt.dye_lot for one in whole))), None)
        whole_shares = ((lot, tuple(jackets)),) if jackets else ()
        return _use(lays, plies, whole, bolts, fabric, whole_shares, unit)
    laid, shares = _shared_out(lays, plies, lots, starts, jackets or {}, _by_lot(lays, kept))
    return _use(lays, plies, laid, bolts, fabric, shares, unit)


def joined(uses: Iterable[ClothUse]) -> ClothUse:
    """The cloth of several groups of jackets of one ticket, each from a dye lot of its own."""
    listed = list(uses)
    dye_lots = tuple(share for use in listed for share in use.dye_lots)
    notes = (note for use in listed for note in use.notes)
    return ClothUse(
        spreads=tuple(spread for use in listed for spread in use.spreads),
        from_stock_mm=sum(use.from_stock_mm for use in listed),
        to_buy_mm=sum(use.to_buy_mm for use in listed),
        remnants=tuple(remnant for use in listed for remnant in use.remnants),
        notes=tuple(dict.fromkeys((*told_apart(dye_lots), *notes))),
        dye_lots=dye_lots,
    )


def _plies(lays: Iterable[Lay], fabric: FabricSpec) -> list[Ply]:
    return [
        Ply(lay, number, ply_takes_mm(lay, fabric))
        for lay in lays
        for number in range(1, spread_count(lay) + 1)
    ]


def _layers(lay: Lay) -> int:
    """How many layers one length of cloth makes."""
    return lay.plies // spread_count(lay)


def _by_dye_lot(bolts: Iterable[BoltSpec], kept: Iterable[str]) -> dict[str, list[BoltSpec]]:
    """The lots that plies are kept of first, also those with no cloth left, then the largest."""
    lots: dict[str, list[BoltSpec]] = {lot: [] for lot in kept}
    first = set(lots)
    for bolt in bolts:
        lots.setdefault(bolt.dye_lot, []).append(bolt)
    order = sorted(lots, key=lambda lot: (lot not in first, -_free_mm(lots[lot]), lot))
    return {lot: lots[lot] for lot in order}


def _by_lot(lays: Iterable[Lay], kept: Mapping[PlyKey, str]) -> dict[str, Counter[LaidKey]]:
    """The pieces that kept plies give, by their dye lot."""
    known = {lay.lay: lay for lay in lays}
    pieces: dict[str, Counter[LaidKey]] = defaultdict(Counter)
    for (code, number), lot in kept.items():
        pieces[lot].update(ply_pieces(known[code], number))
    return pieces


def _free_mm(bolts: Iterable[BoltSpec]) -> int:
    return sum(bolt.end_mm - bolt.start_mm for bolt in bolts)


def _served_by_one_lot(
    plies: Sequence[Ply], lots: Mapping[str, list[BoltSpec]], starts: Starts, kept: int
) -> list[Laid] | None:
    """All plies on the lot that is kept to, or on the smallest that holds them; on remnants alone
    where those of one lot do."""
    allowed = list(lots.values())[:kept] if kept else list(lots.values())[::-1]
    remnants = [[bolt for bolt in bolts if bolt.is_remnant] for bolts in allowed]
    for bolts in (*filter(None, remnants), *allowed):
        laid = packed(plies, bolts, starts)
        if len(laid) == len(plies):
            return laid
    return None


def _shared_out(
    lays: Sequence[Lay],
    plies: Sequence[Ply],
    lots: Mapping[str, Sequence[BoltSpec]],
    starts: Starts,
    jackets: Needs,
    given: Mapping[str, Counter[LaidKey]],
) -> tuple[list[Laid], Shares]:
    """Whole jackets from each lot in turn, which has `given` pieces of kept plies already; the
    plies that remain are not laid."""
    waiting: dict[str, list[Ply]] = defaultdict(list)
    for ply in plies:
        waiting[ply.lay.lay].append(ply)
    left = dict(jackets)
    laid: list[Laid] = []
    shares: list[tuple[str | None, tuple[str, ...]]] = []
    others = sum(given.values(), Counter())
    for lot, bolts in lots.items():
        here = given.get(lot, Counter())
        others = others - here
        found, served = (
            _share_of(lays, waiting, bolts, starts, left, (here, others)) if left else ([], ())
        )
        if served:
            laid += found
            shares.append((lot, served))
            left = {code: needs for code, needs in left.items() if code not in served}
            gone = {one.ply.key for one in found}
            waiting = {
                lay: [ply for ply in some if ply.key not in gone] for lay, some in waiting.items()
            }
    return laid, (*shares, *(((None, tuple(left)),) if left else ()))


def _share_of(
    lays: Sequence[Lay],
    waiting: Mapping[str, Sequence[Ply]],
    bolts: Sequence[BoltSpec],
    starts: Starts,
    jackets: Needs,
    given: tuple[Counter[LaidKey], Counter[LaidKey]],
) -> tuple[list[Laid], tuple[str, ...]]:
    units = [_unit(lay, waiting.get(lay.lay, ())) for lay in lays]
    room_mm = _free_mm(bolts)
    for _ in range(MOST_TRIES):
        counts, served = whole_jackets(
            units, jackets, [_room(bolt) for bolt in bolts], room_mm, *given
        )
        if not served:
            break
        wanted = [
            ply
            for lay, count in zip(lays, counts, strict=True)
            for ply in waiting.get(lay.lay, ())[: count * _lengths(lay)]
        ]
        laid = packed(wanted, bolts, starts)
        if len(laid) == len(wanted):
            return laid, served
        room_mm = sum(one.ply.takes_mm for one in laid)
    return [], ()


def _lengths(lay: Lay) -> int:
    """Lengths of cloth that are cut together: face to face one lies on the other."""
    return 2 if lay.mode == FACE_TO_FACE else 1


def _unit(lay: Lay, waiting: Sequence[Ply]) -> CutUnit:
    lengths = _lengths(lay)
    one = replace(lay, plies=lengths * _layers(lay))
    return CutUnit(
        count=len(waiting) // lengths,
        takes_mm=lengths * waiting[0].takes_mm if waiting else 0,
        width_mm=waiting[0].width_mm if waiting else 0,
        pieces=Counter(laid_out([one])),
    )


def _room(bolt: BoltSpec) -> tuple[int, int]:
    return bolt.end_mm - bolt.start_mm, bolt.usable_width_mm


def _use(
    lays: Sequence[Lay],
    plies: Sequence[Ply],
    laid: Sequence[Laid],
    bolts: Sequence[BoltSpec],
    fabric: FabricSpec,
    shares: Shares,
    unit: str,
) -> ClothUse:
    places = {one.ply.key: one for one in laid}
    spreads = tuple(
        PlySpread(
            lay=ply.lay.lay,
            number=ply.number,
            bolt=one.bolt.code if (one := places.get(ply.key)) else None,
            start_mm=one.start_mm if one else None,
            takes_mm=ply.takes_mm,
        )
        for ply in plies
    )
    bought = Counter(spread.lay for spread in spreads if spread.bolt is None)
    to_buy_mm = fabric_needed_mm(
        [replace(lay, plies=bought[lay.lay] * _layers(lay)) for lay in lays], fabric
    )
    return ClothUse(
        spreads=spreads,
        from_stock_mm=fabric_needed_mm(lays, fabric) - to_buy_mm,
        to_buy_mm=to_buy_mm,
        remnants=tuple(_rests(laid)),
        notes=(*told_apart(shares), *laid_notes(plies, laid, bolts, unit)),
        dye_lots=shares,
    )


def _rests(laid: Iterable[Laid]) -> Iterable[Remnant]:
    """What is left before and behind the plies of each bolt, where it is worth keeping."""
    by_bolt: dict[BoltSpec, list[Laid]] = defaultdict(list)
    for one in laid:
        by_bolt[one.bolt].append(one)
    for bolt, some in by_bolt.items():
        from_mm = bolt.start_mm
        for start_mm, end_mm in (
            *sorted((one.start_mm, one.start_mm + one.ply.takes_mm) for one in some),
            (bolt.end_mm, bolt.end_mm),
        ):
            if start_mm - from_mm >= SMALLEST_REMNANT_MM:
                yield Remnant(bolt.code, from_mm, start_mm - from_mm)
            from_mm = end_mm
