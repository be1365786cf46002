"""Naming the blocks of a lay diagram: in words where they fit, else by a number with a key."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas
from shapely import Polygon, box, prepare
from shapely.geometry.base import BaseGeometry

from production.documents.paper import LEAST_SIZE, put_text, text_width
from production.planning.plan import Placement

SIZE = LEAST_SIZE
LINE_HEIGHT = SIZE + 0.8
#: How far letters of DejaVu Sans reach above and below their base line, as shares of the size.
ABOVE, BELOW = 0.76, 0.24
REACH_BELOW = set("gjpqy,;_()")
#: Between the words and the cut line, in points.
PADDING = 0.9

#: Where a label is tried, as shares of the block's bounding box.
TRIES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9)

#: A block on the border of two strips is named on both if each shows at least this share of it.
WORTH_A_NAME = 0.2


@dataclass(frozen=True, slots=True)
class Shown:
    """A block in points, and the part of it that a strip shows."""

    place: Placement
    whole: Polygon
    part: BaseGeometry

    @property
    def share(self) -> float:
        return float(self.part.area / self.whole.area)

    @property
    def words(self) -> tuple[str, ...]:
        side = () if self.place.side == "single" else (self.place.side,)
        return (self.place.block, self.place.size, *side)


@dataclass(frozen=True, slots=True)
class Label:
    """Lines of text centered on (x, y) in points, turned a quarter when `upright`; without lines,
    a number. `stands_for` are the words that a number or a shorter text stands for."""

    lines: tuple[str, ...]
    x: float
    y: float
    upright: bool = False
    stands_for: str = ""


def label(block: Shown) -> Label | None:
    """The block's words where they fit, else with L or R for its side, else a number; None on the
    lesser part of a block that another strip names."""
    if block.share < WORTH_A_NAME:
        return None
    words = block.words
    room = block.part.simplify(0.3).buffer(-PADDING)
    prepare(room)
    for some in dict.fromkeys((words, (*words[:2], *(side[0].upper() for side in words[2:])))):
        stands_for = "" if some is words else " ".join(words)
        for lines in dict.fromkeys(((" ".join(some),), (some[0], " ".join(some[1:])), some)):
            for upright in (False, True):
                at = _fitting(room, lines, upright)
                if at:
                    return Label(lines, *at, upright, stands_for)
    if block.share < 0.5:
        return None
    spot = block.part.representative_point()
    at = _fitting(room, ("88",), False) or (spot.x, spot.y)
    return Label((), *at, stands_for=" ".join(words))


def _fitting(
    room: BaseGeometry, lines: tuple[str, ...], upright: bool
) -> tuple[float, float] | None:
    """The center of a box for the lines inside the room, as near its middle as can be."""
    if room.is_empty:
        return None
    width, height = max(text_width(line, SIZE) for line in lines), _ink_height(lines)
    if upright:
        width, height = height, width
    x0, y0, x1, y1 = room.bounds
    if x1 - x0 < width or y1 - y0 < height:
        return None
    for across in TRIES:
        for up in TRIES:
            x, y = x0 + across * (x1 - x0), y0 + up * (y1 - y0)
            if room.contains(box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)):
                return x, y
    return None


def _ink_height(lines: tuple[str, ...]) -> float:
    """From the top of the first line to the lowest letter of the last: a placket is hardly wider
    than a line of capitals."""
    below = BELOW if REACH_BELOW & set(lines[-1]) else 0.0
    return (len(lines) - 1) * LINE_HEIGHT + (ABOVE + below) * SIZE


def draw_label(canvas: Canvas, label: Label, number: int) -> None:
    """Writes the label; `number` is written where it has no lines of its own."""
    lines = label.lines or (str(number),)
    canvas.saveState()
    canvas.setFillGray(0)
    canvas.translate(label.x, label.y)
    if label.upright:
        canvas.rotate(90)
    baseline = _ink_height(lines) / 2 - ABOVE * SIZE
    for at, line in enumerate(lines):
        y = baseline - at * LINE_HEIGHT
        put_text(canvas, 0, y, line, SIZE, bold=not label.lines, align="center")
    canvas.restoreState()
