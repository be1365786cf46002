"""A whole lay drawn on a reportlab canvas at full size; the canvas counts millimetres here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas
from shapely import LineString, Polygon, box

from patterns.geometry.outline import bounds
from production.cutting.lay_svg import LETTER_WIDTH, Label, fitted_label
from production.documents.drawings import line_path, ring_path
from production.documents.paper import clean, letters
from production.planning.cutting.full_lay import FullBlock, FullLay, arrow_lines
from production.planning.snapshot import Line

#: Letters on the cloth are read from where the cutter stands (invented sizes).
LARGEST_LETTERS_MM = 24.0
CUT_MM, STITCH_MM, FINE_MM = 0.6, 0.3, 0.25
HEAD_MM = 12.0
RULER_MM, RULER_TICK_MM = 100.0, 8.0
TEST_SQUARE_MM = 100.0
#: 100 mm are 3.937 in, and 3 15/16 in are 3.9375 in.
TEST_SQUARE_WORDS = "measures 100 mm (3 15/16 in) each way"

Window = tuple[float, float, float, float]


def in_millimetres(canvas: Canvas, left: float, bottom: float, user_unit: float = 1.0) -> None:
    """From here on the canvas counts mm from (left, bottom), which are mm too."""
    canvas.scale(MM / user_unit, MM / user_unit)
    canvas.translate(left, bottom)
    canvas.setLineJoin(1)
    canvas.setLineCap(1)
    canvas.setStrokeGray(0)
    canvas.setFillGray(0)


def draw_full(canvas: Canvas, full: FullLay, window: Window | None = None) -> None:
    """The cloth and its blocks; those that do not reach into the window are left out."""
    _draw_cloth(canvas, full)
    for block in full.blocks:
        if window is None or meets(bounds(block.cut), window):
            _draw_block(canvas, block, full.two_way)


def meets(one: Window, other: Window) -> bool:
    return one[0] < other[2] and one[2] > other[0] and one[1] < other[3] and one[3] > other[1]


def _draw_cloth(canvas: Canvas, full: FullLay) -> None:
    """The edges of the cloth, the ends of the spread, and dashed where the blocks begin and end."""
    length, width, end = full.lay.length_mm, full.lay.usable_width_mm, full.end_mm
    canvas.setLineWidth(CUT_MM)
    canvas.rect(-end, 0, full.spread_mm, width, stroke=1, fill=0)
    canvas.setLineWidth(FINE_MM)
    canvas.setDash(8, 4)
    canvas.lines([(0, 0, 0, width), (length, 0, length, width)])
    canvas.setDash()
    ticks = range(int(length // RULER_MM) + 1)
    canvas.lines([(at * RULER_MM, 0, at * RULER_MM, RULER_TICK_MM) for at in ticks])


def _draw_block(canvas: Canvas, block: FullBlock, two_way: bool) -> None:
    canvas.setLineWidth(CUT_MM)
    canvas.drawPath(ring_path(canvas, block.cut), stroke=1, fill=0)
    canvas.setLineWidth(STITCH_MM)
    canvas.setDash(6, 3)
    canvas.drawPath(ring_path(canvas, block.stitch), stroke=1, fill=0)
    canvas.setDash(1, 3)
    draw_lines(canvas, (line for line in block.marks if len(line) > 1))
    canvas.setDash()
    draw_lines(canvas, (_cross(line) for line in block.marks if len(line) == 1))
    canvas.setLineWidth(CUT_MM)
    canvas.lines([(*start, *end) for start, end in block.notches])
    canvas.setLineWidth(FINE_MM)
    draw_lines(canvas, arrow_lines(*block.grain, HEAD_MM, both=two_way))
    draw_words(canvas, words_of(block))


def _cross(line: Line) -> Line:
    ((x, y),) = line
    return ((x - 4, y), (x + 4, y), (x, y), (x, y + 4), (x, y - 4))


def draw_lines(canvas: Canvas, lines: Iterable[Line]) -> None:
    for line in lines:
        canvas.drawPath(line_path(canvas, line), stroke=1, fill=0)


def words_of(block: FullBlock) -> Label:
    """Code, size and side, as large as the block has room for, beside the grain arrow if it can
    be."""
    place = block.place
    side = "" if place.side == "single" else f" {place.side}"
    label = fitted_label(
        place.block,
        f"{place.size}{side}",
        block.stitch,
        largest_mm=LARGEST_LETTERS_MM,
        smallest_mm=5,
    )
    ring, arrow = Polygon(block.stitch), LineString(block.grain)
    for size_mm in (label.size_mm, 0.6 * label.size_mm):
        aside_mm = size_mm * (len(label.lines) / 2 + 0.3)
        for turn in (0.0, 1.0, -1.0):
            aside = (-turn * aside_mm, 0.0) if label.upright else (0.0, turn * aside_mm)
            at = (label.at[0] + aside[0], label.at[1] + aside[1])
            moved = replace(label, at=at, size_mm=size_mm)
            letters_lie = _box(moved)
            if ring.contains(letters_lie) and not arrow.intersects(letters_lie):
                return moved
    return label


def _box(label: Label) -> Polygon:
    along = max(map(len, label.lines)) * LETTER_WIDTH * label.size_mm / 2
    across = len(label.lines) * label.size_mm / 2
    half = (across, along) if label.upright else (along, across)
    (x, y) = label.at
    return box(x - half[0], y - half[1], x + half[0], y + half[1])


def draw_words(canvas: Canvas, label: Label) -> None:
    canvas.saveState()
    canvas.translate(*label.at)
    if label.upright:
        canvas.rotate(90)
    canvas.setFont(letters().regular, label.size_mm)
    for number, line in enumerate(label.lines):
        y = ((len(label.lines) - 1) / 2 - number) * label.size_mm - 0.36 * label.size_mm
        canvas.drawCentredString(0, y, clean(line))
    canvas.restoreState()


def draw_test_square(canvas: Canvas, left: float, bottom: float) -> None:
    canvas.setLineWidth(FINE_MM)
    canvas.rect(left, bottom, TEST_SQUARE_MM, TEST_SQUARE_MM, stroke=1, fill=0)
    canvas.setFont(letters().regular, 5)
    middle = left + TEST_SQUARE_MM / 2
    canvas.drawCentredString(middle, bottom + 53, TEST_SQUARE_WORDS)
    canvas.drawCentredString(middle, bottom + 43, "if not, print at 100 % without fitting")
