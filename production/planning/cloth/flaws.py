"""Flaws of a bolt against the blocks of a lay: where a ply may begin so that none lies in a block.

Cloth on the bolt is not relaxed yet: what lies x on the table was x / (1 - shrinkage) on the bolt.
Across the cloth both count alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import ceil

from production.planning.cutting.lays import FOLDED, placed_outline
from production.planning.explode import Shapes
from production.planning.plan import Lay
from production.planning.snapshot import BoltSpec, FabricSpec, FlawSpec

#: Starts of a ply that lie strictly between the two put a flaw into a block, in mm on the bolt.
Barred = tuple[float, float]


def barred_starts(
    lay: Lay, shapes: Shapes, bolt: BoltSpec, fabric: FabricSpec, *, face_down: bool = False
) -> tuple[Barred, ...]:
    """The starts at which a ply of the lay would have a flaw of the bolt in a cut outline.

    A ply that lies face down in a lay face to face is turned over along the spread, so that its
    nap runs on; a folded one has its far half over the near one.
    """
    import shapely

    if not bolt.flaws:
        return ()
    blocks = [
        shapely.Polygon(placed_outline(place, shapes[place.block, place.size].cut_outline_mm))
        for place in lay.placements
    ]
    kept, end_mm = 1 - float(fabric.shrinkage), fabric.end_allowance_mm
    barred: list[Barred] = []
    for flaw in bolt.flaws:
        for low_mm, high_mm in _bands(flaw, lay, bolt, face_down=face_down):
            band = shapely.box(-1.0, low_mm, lay.length_mm + 1.0, high_mm)
            for part in shapely.get_parts(shapely.intersection(blocks, band)):
                for piece in shapely.get_parts(part):
                    if piece.area > 0:
                        left_mm, _, right_mm, _ = piece.bounds
                        barred.append(
                            (
                                flaw.at_mm - (right_mm + end_mm) / kept,
                                flaw.at_mm + flaw.length_mm - (left_mm + end_mm) / kept,
                            )
                        )
    return tuple(sorted(barred))


def first_start_mm(from_mm: int, barred: Iterable[Barred]) -> int:
    """The first whole mm from `from_mm` on that lies in none of the sorted barred stretches."""
    start_mm = from_mm
    for low_mm, high_mm in barred:
        if low_mm < start_mm < high_mm:
            start_mm = ceil(high_mm)
    return start_mm


def longest_clear_stretch(bolt: BoltSpec) -> tuple[int, int]:
    """The longest stretch of a bolt that no flaw reaches into, from and to in its positions."""
    stretches = []
    from_mm = bolt.start_mm
    for flaw in sorted(bolt.flaws, key=lambda flaw: flaw.at_mm):
        stretches.append((from_mm, min(flaw.at_mm, bolt.end_mm)))
        from_mm = max(from_mm, flaw.at_mm + flaw.length_mm)
    stretches.append((from_mm, bolt.end_mm))
    return max(stretches, key=lambda stretch: stretch[1] - stretch[0])


def _bands(
    flaw: FlawSpec, lay: Lay, bolt: BoltSpec, *, face_down: bool
) -> Sequence[tuple[float, float]]:
    """From where to where a flaw reaches across the lay."""
    low_mm, high_mm = flaw.across_mm, flaw.across_mm + flaw.width_mm
    if face_down:
        return ((bolt.usable_width_mm - high_mm, bolt.usable_width_mm - low_mm),)
    if lay.mode == FOLDED:
        fold_mm = 2 * lay.usable_width_mm
        return ((low_mm, high_mm), (fold_mm - high_mm, fold_mm - low_mm))
    return ((low_mm, high_mm),)
