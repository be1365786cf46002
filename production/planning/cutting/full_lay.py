"""A lay with all its lines at full size: what is drawn on paper, plotted, or thrown on the cloth.

Millimetres in the frame of the lay: x along the spread from the start of the blocks, y across it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from production.planning.cutting.lays import FOLDED, placed_outline
from production.planning.explode import Shapes
from production.planning.plan import Lay, Placement
from production.planning.snapshot import FabricSpec, Line, Point

#: Two strokes of a double notch lie this far apart.
NOTCH_APART_MM = 3.0
#: Blank paper around the lay on one long page.
EDGE_MM = 20.0
#: A PDF page counts at most 14,400 units of 1/72 in (PDF 1.6, appendix C.2, quoted from memory).
LONGEST_PLAIN_PAGE_MM = 14_400 * 25.4 / 72

Stroke = tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class FullBlock:
    """A block where it lies: rings of the cut line and the stitch line, strokes of its notches,
    marks, and the grain arrow, which points with the nap."""

    place: Placement
    cut: Line
    stitch: Line
    notches: tuple[Stroke, ...]
    marks: tuple[Line, ...]
    grain: Stroke


@dataclass(frozen=True, slots=True)
class FullLay:
    """A lay with the cloth under it, which runs from -end_mm to the length of the lay + end_mm."""

    lay: Lay
    blocks: tuple[FullBlock, ...]
    fabric: str
    color: str
    two_way: bool
    end_mm: int

    @property
    def spread_mm(self) -> float:
        return self.lay.length_mm + 2 * self.end_mm

    @property
    def title(self) -> str:
        fold = ", fold along the far edge" if self.lay.mode == FOLDED else ""
        return f"Lay {self.lay.lay}, {self.color}, {self.fabric}{fold}"


def is_over_a_plain_page(lay: Lay, fabric: FabricSpec) -> bool:
    """Whether one long page of the lay has to count in larger units than points."""
    return lay.length_mm + 2 * (fabric.end_allowance_mm + EDGE_MM) > LONGEST_PLAIN_PAGE_MM


def full_lay(lay: Lay, shapes: Shapes, fabric: FabricSpec, color: str) -> FullLay:
    """Raises KeyError for a placement whose block has no shape."""
    return FullLay(
        lay=lay,
        blocks=tuple(_block(place, shapes) for place in lay.placements),
        fabric=fabric.name,
        color=color,
        two_way=fabric.nap == "two_way",
        end_mm=fabric.end_allowance_mm,
    )


def _block(place: Placement, shapes: Shapes) -> FullBlock:
    shape = shapes[place.block, place.size]
    start, end = placed_outline(place, shape.grainline)
    return FullBlock(
        place=place,
        cut=placed_outline(place, shape.cut_outline_mm),
        stitch=placed_outline(place, shape.stitch_outline_mm),
        notches=tuple(
            stroke
            for stitch, cut, count in shape.notches
            for stroke in _strokes(placed_outline(place, (stitch, cut)), count)
        ),
        marks=tuple(placed_outline(place, line) for _, line in shape.marks),
        grain=(start, end),
    )


def _strokes(notch: Line, count: int) -> list[Stroke]:
    """`count` strokes side by side from the stitch line to the cut line."""
    stitch, cut = notch
    dx, dy = stitch[0] - cut[0], stitch[1] - cut[1]
    length = math.hypot(dx, dy) or 1.0
    strokes = []
    for number in range(count):
        aside = (number - (count - 1) / 2) * NOTCH_APART_MM
        ax, ay = -dy / length * aside, dx / length * aside
        strokes.append(((stitch[0] + ax, stitch[1] + ay), (cut[0] + ax, cut[1] + ay)))
    return strokes


def arrow_lines(start: Point, end: Point, head_mm: float, *, both: bool) -> list[Line]:
    """A shaft and its open heads as lines; a head at each end where the nap runs either way."""
    lines: list[Line] = [(start, end)]
    for tip, tail in ((end, start), (start, end)) if both else ((end, start),):
        angle = math.atan2(tail[1] - tip[1], tail[0] - tip[0])
        sides = [
            (tip[0] + head_mm * math.cos(angle + turn), tip[1] + head_mm * math.sin(angle + turn))
            for turn in (0.4, -0.4)
        ]
        lines.append((sides[0], tip, sides[1]))
    return lines
