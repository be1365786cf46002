"""The lay as the cutter sees it on the table: true to scale, every block named.

A lay longer than the paper is drawn in strips, one under the other; a block on the border of two
strips is drawn in both. A block too small for its words bears a number, explained in a key.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas
from shapely import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from production.documents.drawings import arrow, line_path, ring_path
from production.documents.lay_labels import Label, Shown, draw_label, label
from production.documents.paper import LEAST_SIZE, put_text, text_width
from production.planning.cutting.lays import FOLDED, placed_outline
from production.planning.explode import Shapes
from production.planning.lengths import IMPERIAL
from production.planning.plan import Lay

#: Above a strip the nap arrow, below it the ruler, in points.
ROOM_ABOVE, ROOM_BELOW = 11.0, 13.0
STRIP_GAP = 6.0

#: Scales 1:n at which most blocks have room for their words, from the smallest drawing.
GOOD_SCALES = (25, 20, 15, 12)
#: Scales for cloth that is too long or too wide for those, from the largest drawing.
SMALL_SCALES = (30, 40, 50, 75, 100)
MOST_STRIPS = 8

#: Above a strip, by whether the nap may run either way; and how far beyond them the arrow ends.
NAP_WORDS = {False: "grain and nap run this way", True: "grain; nap either way"}
NAP_ARROW = 34.0

TENTHS = 10
RULER_STEP_MM: Mapping[bool, tuple[float, str]] = {False: (1000.0, "m"), True: (914.4, "yd")}


@dataclass(frozen=True, slots=True)
class Strip:
    """Part of a spread, from start to end, with what it shows in points from its lower left
    corner."""

    start_mm: float
    end_mm: float
    blocks: tuple[Shown, ...]
    labels: tuple[Label, ...]


@dataclass(frozen=True, slots=True)
class LayDiagram:
    """A lay drawn 1:`scale`. The spread is counted from its start, so the blocks begin after the
    end allowance of `end_mm`."""

    lay: Lay
    end_mm: int
    scale: int
    strips: tuple[Strip, ...]

    @property
    def spread_mm(self) -> float:
        return spread_mm(self.lay, self.end_mm)

    @property
    def width(self) -> float:
        """That of the cloth, or of the words above it where they are longer."""
        cloth = max(strip.end_mm - strip.start_mm for strip in self.strips) * MM / self.scale
        words = max(text_width(each, LEAST_SIZE) for each in NAP_WORDS.values())
        return max(cloth, words + NAP_ARROW)

    @property
    def height(self) -> float:
        return _height(self.lay, self.scale, len(self.strips))

    @property
    def key(self) -> tuple[str, ...]:
        """What the numbers in the drawing stand for, in order: the first is 1."""
        return tuple(
            label.stands_for for strip in self.strips for label in strip.labels if not label.lines
        )


def spread_mm(lay: Lay, end_mm: int) -> float:
    """How long each ply is laid: the lay with an end allowance at both ends."""
    return lay.length_mm + 2 * end_mm


def lay_diagram(
    lay: Lay, end_mm: int, shapes: Shapes, width: float, height: float, most_strips: int
) -> LayDiagram | None:
    """The smallest drawing in the fewest strips that names every block in words, else the largest
    that fits into width x height points; None when none fits in so many strips.

    Only cloth that fits at none of GOOD_SCALES is drawn smaller, as large as can be.
    """
    for strips in range(1, most_strips + 1):
        largest = None
        for scale in GOOD_SCALES:
            strip_mm = width * scale / MM
            fits = strips * strip_mm >= spread_mm(lay, end_mm)
            if fits and _height(lay, scale, strips) <= height:
                largest = _diagram(lay, end_mm, scale, strip_mm, shapes)
                if not largest.key:
                    break
        if largest:
            return largest
    for scale in SMALL_SCALES:
        strip_mm = width * scale / MM
        strips = math.ceil(spread_mm(lay, end_mm) / strip_mm)
        if strips <= most_strips and _height(lay, scale, strips) <= height:
            return _diagram(lay, end_mm, scale, strip_mm, shapes)
    return None


def _height(lay: Lay, scale: int, strips: int) -> float:
    one = lay.usable_width_mm * MM / scale + ROOM_ABOVE + ROOM_BELOW
    return strips * (one + STRIP_GAP) - STRIP_GAP


def _diagram(lay: Lay, end_mm: int, scale: int, strip_mm: float, shapes: Shapes) -> LayDiagram:
    whole_mm = spread_mm(lay, end_mm)
    strips = []
    for at in range(math.ceil(whole_mm / strip_mm)):
        start_mm, last_mm = at * strip_mm, min((at + 1) * strip_mm, whole_mm)
        blocks = tuple(_shown(lay, end_mm, scale, shapes, start_mm, last_mm))
        labels = tuple(found for found in map(label, blocks) if found)
        strips.append(Strip(start_mm, last_mm, blocks, labels))
    return LayDiagram(lay, end_mm, scale, tuple(strips))


def _shown(
    lay: Lay, end_mm: int, scale: int, shapes: Shapes, start_mm: float, last_mm: float
) -> Iterator[Shown]:
    points = MM / scale
    window = box(0.0, 0.0, (last_mm - start_mm) * points, lay.usable_width_mm * points)
    # Blocks may stand over the edge of the cloth by the planner's tolerance, never by more.
    window = window.buffer(0.1, join_style="mitre")
    for place in lay.placements:
        outline = placed_outline(place, shapes[place.block, place.size].cut_outline_mm)
        whole = Polygon([((x + end_mm - start_mm) * points, y * points) for x, y in outline])
        part = whole.intersection(window)
        if part.area > 0:
            yield Shown(place, whole, part)


def draw_lay(
    canvas: Canvas, diagram: LayDiagram, left: float, top: float, *, two_way: bool, unit: str
) -> None:
    """Draws the strips from (left, top) down; right blocks are shaded."""
    points = MM / diagram.scale
    cloth = diagram.lay.usable_width_mm * points
    number = 0
    for strip in diagram.strips:
        top -= ROOM_ABOVE + cloth
        canvas.saveState()
        canvas.setLineJoin(1)
        canvas.translate(left, top)
        _draw_blocks(canvas, strip.blocks)
        for found in strip.labels:
            number += not found.lines
            draw_label(canvas, found, number)
        _draw_cloth(canvas, diagram, strip, cloth)
        _draw_ruler(canvas, strip, points, unit)
        _draw_cross_ruler(canvas, diagram.lay.usable_width_mm, points, unit)
        _draw_nap(canvas, cloth, two_way)
        canvas.restoreState()
        top -= ROOM_BELOW + STRIP_GAP


def _draw_blocks(canvas: Canvas, blocks: Iterable[Shown]) -> None:
    canvas.setStrokeGray(0)
    canvas.setLineWidth(0.6)
    for block in blocks:
        canvas.setFillGray(0.9 if block.place.side == "right" else 1)
        for part in getattr(block.part, "geoms", (block.part,)):
            if isinstance(part, Polygon):
                ring = ring_path(canvas, _points(part.exterior)[:-1])
                canvas.drawPath(ring, stroke=0, fill=1)
        for line in _lines(block.whole.exterior.intersection(block.part)):
            canvas.drawPath(line_path(canvas, _points(line)), stroke=1, fill=0)


def _points(line: LineString) -> list[tuple[float, float]]:
    return [(x, y) for x, y in line.coords]


def _lines(cut_line: BaseGeometry) -> Iterable[LineString]:
    """The cut line without the straight end where a strip breaks it off."""
    for part in getattr(cut_line, "geoms", (cut_line,)):
        if isinstance(part, LineString) and part.length > 0:
            yield part


def _draw_cloth(canvas: Canvas, diagram: LayDiagram, strip: Strip, height: float) -> None:
    """Both edges of the cloth, the ends of the spread, and the end allowances dashed."""
    points = MM / diagram.scale
    width = (strip.end_mm - strip.start_mm) * points
    canvas.setStrokeGray(0)
    canvas.setLineWidth(1.0)
    canvas.lines([(0, 0, width, 0), (0, height, width, height)])
    if diagram.lay.mode == FOLDED:
        canvas.setLineWidth(2.2)
        canvas.line(0, height + 0.6, width, height + 0.6)
        put_text(canvas, width, height + 3.4, "fold", LEAST_SIZE, align="right")
    last_mm = diagram.spread_mm
    ends = {0.0: True, last_mm: True}
    ends |= (
        {float(diagram.end_mm): False, last_mm - diagram.end_mm: False} if diagram.end_mm else {}
    )
    for at_mm, solid in ends.items():
        if strip.start_mm - 0.01 <= at_mm <= strip.end_mm + 0.01:
            x = (at_mm - strip.start_mm) * points
            canvas.setLineWidth(1.0 if solid else 0.4)
            canvas.setDash([] if solid else [2, 2])
            canvas.line(x, 0, x, height)
    canvas.setDash()


def _draw_ruler(canvas: Canvas, strip: Strip, points: float, unit: str) -> None:
    """Along the near edge: long ticks with words on each whole metre or yard of the spread, short
    ones on each tenth."""
    step_mm, name = RULER_STEP_MM[unit == IMPERIAL]
    canvas.setFillGray(0)
    tenth_mm = step_mm / TENTHS
    first, last = math.ceil(strip.start_mm / tenth_mm), math.floor(strip.end_mm / tenth_mm)
    for count in range(first, last + 1):
        x = (count * tenth_mm - strip.start_mm) * points
        whole, rest = divmod(count, TENTHS)
        canvas.setLineWidth(0.3 if rest else 0.5)
        canvas.line(x, 0, x, -(3 if rest == TENTHS // 2 else 2) if rest else -4)
        if not rest:
            words = f"{whole} {name}" if whole else "0"
            put_text(canvas, x, -11.5, words, LEAST_SIZE, align="center" if whole else "left")


def _draw_cross_ruler(canvas: Canvas, width_mm: float, points: float, unit: str) -> None:
    """The same across the cloth, where a strip begins; without words."""
    tenth_mm = RULER_STEP_MM[unit == IMPERIAL][0] / TENTHS
    for count in range(int(width_mm / tenth_mm) + 1):
        canvas.setLineWidth(0.3 if count % TENTHS else 0.5)
        y = count * tenth_mm * points
        canvas.line(0, y, -(2 if count % (TENTHS // 2) else 4), y)


def _draw_nap(canvas: Canvas, height: float, two_way: bool) -> None:
    canvas.setFillGray(0)
    y = height + 3.2
    taken = put_text(canvas, 0, y, NAP_WORDS[two_way], LEAST_SIZE)
    arrow(canvas, (taken + 4, y + 2.4), (taken + NAP_ARROW, y + 2.4), both=two_way)
