"""A lay set by hand: its blocks moved and turned, and the rest of them nested around pinned ones.

Only where a block lies can change; which blocks lie there, and how often, never does.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from time import monotonic
from typing import TYPE_CHECKING

from production.planning.cutting.lays import allowed_turns, longest_lay_mm, placed_outline
from production.planning.explode import Shapes
from production.planning.plan import Lay, Placement, PlanError
from production.planning.snapshot import FabricSpec, Line, WorkroomSpec

if TYPE_CHECKING:
    from production.planning.nesting import Nest, NestBlock

#: Positions are kept to this many digits of a millimetre.
DIGITS = 3
FINEST = 1000
#: No cloth is longer: a number beyond it is a slip of the pen.
FARTHEST_MM = 100_000.0


@dataclass(frozen=True, slots=True)
class Position:
    """Where a block lies, as in `plan.Placement`."""

    x_mm: float
    y_mm: float
    rotation_deg: float


@dataclass(frozen=True, slots=True)
class Rest:
    """A proposal for a lay whose pinned blocks stay where they are, and what to know about it."""

    lay: Lay
    note: str


def positions_of(lay: Lay) -> tuple[Position, ...]:
    return tuple(Position(place.x_mm, place.y_mm, place.rotation_deg) for place in lay.placements)


def set_by_hand(lay: Lay, positions: Sequence[Position], shapes: Shapes) -> Lay:
    """The lay with its blocks at these positions, in the order of its placements. It ends where the
    last block ends; whether it can be cut is for `validate_lay` to say.

    Raises PlanError when a position is missing, too many, or not a number.
    """
    if len(positions) != len(lay.placements):
        raise PlanError(
            f"Lay {lay.lay} has {len(lay.placements)} blocks, but {len(positions)} positions were "
            "given. Open the lay again."
        )
    placements = tuple(
        _at(place, position) for place, position in zip(lay.placements, positions, strict=True)
    )
    length_mm = reach_mm(placements, shapes)
    return replace(
        lay,
        placements=placements,
        length_mm=length_mm,
        efficiency=lay.lower_bound_mm / length_mm,
    )


def _at(place: Placement, position: Position) -> Placement:
    values = (position.x_mm, position.y_mm, position.rotation_deg)
    if not all(math.isfinite(value) and abs(value) < FARTHEST_MM for value in values):
        raise PlanError(f"Block {place.block} {place.size} was given a place that is no place.")
    return replace(
        place,
        x_mm=round(position.x_mm, DIGITS),
        y_mm=round(position.y_mm, DIGITS),
        rotation_deg=float(position.rotation_deg),
    )


def reach_mm(placements: Sequence[Placement], shapes: Shapes) -> float:
    """How far along the cloth the blocks reach, counted from the start of the lay."""
    ends = (
        max(x for x, _ in placed_outline(place, shapes[place.block, place.size].cut_outline_mm))
        for place in placements
    )
    # Never shorter than the blocks; positions are as fine as this.
    return math.ceil(round(max(ends) * FINEST, 3)) / FINEST


def nest_the_rest(
    lay: Lay,
    pins: Collection[int],
    shapes: Shapes,
    fabric: FabricSpec,
    workroom: WorkroomSpec,
    seconds: float,
) -> Rest:
    """A proposal within `seconds` or little more: the blocks whose numbers are in `pins` stay, all
    others are nested around them.

    Raises PlanError when the blocks do not find room.
    """
    from production.planning import nesting

    free = [number for number in range(len(lay.placements)) if number not in pins]
    if not free:
        raise PlanError("Every block is pinned, so nothing is left to nest. Unpin some of them.")
    cloth = nesting.Strip(
        float(lay.usable_width_mm),
        float(workroom.block_gap_mm),
        float(longest_lay_mm(fabric, workroom)),
    )
    blocks = _nest_blocks(lay, free, shapes, fabric)
    fixed = [_outline(lay.placements[number], shapes) for number in sorted(pins)]
    ends_at = monotonic() + seconds
    if pins:
        nest = nesting.fill_around(blocks, fixed, cloth, is_stopped=lambda: monotonic() > ends_at)
    else:
        nest = nesting.nest(blocks, cloth, seconds)
    return Rest(set_by_hand(lay, _nested(lay, free, nest), shapes), nest.note)


def _outline(place: Placement, shapes: Shapes) -> Line:
    return placed_outline(place, shapes[place.block, place.size].cut_outline_mm)


def _nest_blocks(
    lay: Lay, free: Sequence[int], shapes: Shapes, fabric: FabricSpec
) -> list[NestBlock]:
    from production.planning.nesting import NestBlock

    counts: dict[tuple[str, str, str], int] = defaultdict(int)
    mirrored: dict[tuple[str, str, str], bool] = {}
    for place in (lay.placements[number] for number in free):
        counts[_key(place)] += 1
        mirrored[_key(place)] = place.mirrored
    found = []
    for (block, size, side), count in counts.items():
        outline = shapes[block, size].cut_outline_mm
        if mirrored[block, size, side]:
            outline = tuple((x, -y) for x, y in reversed(outline))
        name = f"{block} {size} {side}"
        turns = allowed_turns(shapes[block, size], fabric)
        found.append(NestBlock((block, size, side), name, outline, count, turns))
    return found


def _key(place: Placement) -> tuple[str, str, str]:
    return place.block, place.size, place.side


def _nested(lay: Lay, free: Sequence[int], nest: Nest) -> list[Position]:
    """The positions of the whole lay, the nested ones dealt out to the free blocks in order."""
    waiting: dict[tuple[str, ...], list[Position]] = defaultdict(list)
    for place in nest.places:
        waiting[place.key].append(Position(place.x_mm, place.y_mm, place.rotation_deg))
    positions = list(positions_of(lay))
    for number in free:
        positions[number] = waiting[_key(lay.placements[number])].pop(0)
    return positions
