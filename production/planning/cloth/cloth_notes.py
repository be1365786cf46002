"""What a ticket's cutter is told of its cloth: dye lots to keep apart, bolts that are not used."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from production.planning.cutting.packing import Laid, Ply
from production.planning.lengths import small_length
from production.planning.snapshot import BoltSpec

#: Which jackets are cut from which dye lot; None is what is bought.
Shares = tuple[tuple[str | None, tuple[str, ...]], ...]
WHY_APART = "No dye lot on hand reaches for the whole ticket."


def lots_apart(shares: Shares) -> Iterable[str]:
    """Which jackets are cut from which lot, in one line; nothing where one lot serves all."""
    if len(shares) > 1:
        parts = (
            f"{f'dye lot {lot}' if lot else 'to be bought'}: {in_spans(jackets)}"
            for lot, jackets in shares
        )
        yield f"{len(shares)} dye lots, keep them apart: {'; '.join(parts)}."


def told_apart(shares: Shares) -> Iterable[str]:
    """Which lots to keep apart and why there are several; nothing where one serves all."""
    yield from lots_apart(shares)
    if len(shares) > 1:
        yield WHY_APART


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


def laid_notes(
    plies: Sequence[Ply], laid: Sequence[Laid], bolts: Sequence[BoltSpec], unit: str
) -> Iterable[str]:
    """What was not used or skipped, with lengths in the workroom's unit."""
    narrowest_mm = min((ply.width_mm for ply in plies), default=0)
    for bolt in bolts:
        if bolt.usable_width_mm < narrowest_mm:
            yield (
                f"{bolt.code} has {small_length(bolt.usable_width_mm, unit)} of usable width and "
                f"the lays need {small_length(narrowest_mm, unit)}: nothing is spread from it."
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
                f"{small_length(one.skipped_mm, unit)} further on, so that no flaw lies in a block."
            )
