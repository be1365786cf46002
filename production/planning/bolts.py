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

from production.planning.dye_lots import CutUnit, Needs, whole_jackets
from production.planning.explode import Shapes
from production.planning.lays import FACE_TO_FACE, laid_out, spread_count
from production.planning.materials import cut_length_mm, fabric_needed_mm
from production.planning.packing import Laid, Ply, Starts, packed
from production.planning.plan import Lay
from production.planning.snapshot import BoltSpec, FabricSpec

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
    dye_lots: tuple[tuple[str | None, tuple[str, ...]], ...] = ()


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
) -> ClothUse:
    """The plies of one ticket on the bolts of its color, best fit.

    One dye lot serves the whole ticket where one can, the one that is used up most. Otherwise each
    lot in turn, the largest first, gives all pieces of some of the `jackets` (how many pieces of
    each block, size and side a jacket gets from these lays), and what remains is bought as one lot.
    Without `jackets` all is bought then, since nobody knows which pieces belong together.
    """
    plies = _plies(lays, fabric)
    starts = Starts(shapes, fabric)
    lots = _by_dye_lot(bolts)
    whole = _served_by_one_lot(plies, lots, starts)
    if whole is not None:
        lot = whole[0].bolt.dye_lot if whole else None
        return _use(lays, plies, whole, bolts, fabric, ((lot, tuple(jackets)),) if jackets else ())
    laid, shares = _shared_out(lays, plies, lots, starts, jackets or {})
    return _use(lays, plies, laid, bolts, fabric, shares)


def joined(uses: Iterable[ClothUse]) -> ClothUse:
    """The cloth of several groups of jackets of one ticket, each from a dye lot of its own."""
    listed = list(uses)
    dye_lots = tuple(share for use in listed for share in use.dye_lots)
    notes = dict.fromkeys(note for use in listed for note in use.notes)
    return ClothUse(
        spreads=tuple(spread for use in listed for spread in use.spreads),
        from_stock_mm=sum(use.from_stock_mm for use in listed),
        to_buy_mm=sum(use.to_buy_mm for use in listed),
        remnants=tuple(remnant for use in listed for remnant in use.remnants),
        notes=(*_apart(dye_lots), *notes),
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


def _by_dye_lot(bolts: Iterable[BoltSpec]) -> dict[str, list[BoltSpec]]:
    lots: dict[str, list[BoltSpec]] = defaultdict(list)
    for bolt in bolts:
        lots[bolt.dye_lot].append(bolt)
    return dict(sorted(lots.items(), key=lambda item: (-_free_mm(item[1]), item[0])))


def _free_mm(bolts: Iterable[BoltSpec]) -> int:
    return sum(bolt.end_mm - bolt.start_mm for bolt in bolts)


def _served_by_one_lot(
    plies: Sequence[Ply], lots: Mapping[str, list[BoltSpec]], starts: Starts
) -> list[Laid] | None:
    """All plies on the smallest lot that holds them."""
    for bolts in reversed(list(lots.values())):
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
) -> tuple[list[Laid], tuple[tuple[str | None, tuple[str, ...]], ...]]:
    """Whole jackets from each lot in turn; the plies that remain are not laid."""
    waiting: dict[str, list[Ply]] = defaultdict(list)
    for ply in plies:
        waiting[ply.lay.lay].append(ply)
    left = dict(jackets)
    laid: list[Laid] = []
    shares: list[tuple[str | None, tuple[str, ...]]] = []
    for lot, bolts in lots.items():
        found, served = _share_of(lays, waiting, bolts, starts, left) if left else ([], ())
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
) -> tuple[list[Laid], tuple[str, ...]]:
    units = [_unit(lay, waiting[lay.lay]) for lay in lays]
    room_mm = _free_mm(bolts)
    for _ in range(MOST_TRIES):
        counts, served = whole_jackets(units, jackets, [_room(bolt) for bolt in bolts], room_mm)
        if not served:
            break
        wanted = [
            ply
            for lay, count in zip(lays, counts, strict=True)
            for ply in waiting[lay.lay][: count * _lengths(lay)]
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
    shares: tuple[tuple[str | None, tuple[str, ...]], ...],
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
        notes=(*_apart(shares), *_notes(plies, laid, bolts)),
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


def _apart(shares: Sequence[tuple[str | None, tuple[str, ...]]]) -> Iterable[str]:
    if len(shares) > 1:
        parts = (
            f"{f'dye lot {lot}' if lot else 'to be bought'}: {in_spans(jackets)}"
            for lot, jackets in shares
        )
        yield f"{len(shares)} dye lots, keep them apart: {'; '.join(parts)}."


def in_spans(codes: Sequence[str]) -> str:
    """Codes in words, those that count on without a gap as from one to another."""
    spans: list[list[str]] = []
    for code in codes:
        if spans and _counts_on(spans[-1][-1], code):
            spans[-1].append(code)
        else:
            spans.append([code])
    return ", ".join(
        f"{span[0]} to {span[-1]}" if len(span) > 2 else ", ".join(span) for span in spans
    )


def _counts_on(code: str, following: str) -> bool:
    (stem, _, number), (other, _, next_number) = code.rpartition("-"), following.rpartition("-")
    both = number.isdecimal() and next_number.isdecimal()
    return both and stem == other and int(next_number) == int(number) + 1


def _notes(plies: Sequence[Ply], laid: Sequence[Laid], bolts: Sequence[BoltSpec]) -> Iterable[str]:
    narrowest_mm = min((ply.width_mm for ply in plies), default=0)
    for bolt in bolts:
        if bolt.usable_width_mm < narrowest_mm:
            yield (
                f"{bolt.code} has {bolt.usable_width_mm} mm of usable width and the lays need "
                f"{narrowest_mm} mm: nothing is spread from it."
            )
    wide = [bolt for bolt in bolts if bolt.usable_width_mm >= narrowest_mm]
    if wide and not laid:
        lots = ", ".join(sorted({bolt.dye_lot for bolt in wide}))
        yield (
            f"The cloth on hand (dye lot {lots}) does not reach for all blocks of the jackets in "
            "these lays. All is to be bought as one dye lot, so that no jacket is cut from two."
        )
    for one in laid:
        if one.skipped_mm:
            yield (
                f"{one.bolt.code}: ply {one.ply.number} of {one.ply.lay.lay} begins "
                f"{one.skipped_mm} mm further on, so that no flaw lies in a block."
            )
