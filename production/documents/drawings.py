"""Drawings on paper: fabric colors with their hatch, blocks, and jackets to look at."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence

from reportlab.lib.colors import Color, HexColor, black, white
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from patterns.geometry.outline import Line, Point, bounds
from patterns.geometry.picture import Fill, Part, Picture
from production.planning.snapshot import BlockShape

#: Distance between hatch lines, in points.
HATCH_STEP = 1.9 * MM

#: Points of a line nearer than this are drawn as one, in points of the page (0.07 mm).
FINEST = 0.2

HATCH_WORDS = {
    "none": "plain",
    "rising": "rising lines",
    "falling": "falling lines",
    "level": "level lines",
    "upright": "upright lines",
    "dots": "dots",
    "grid": "grid",
}

#: A block drawing is made at the first of these scales at which the largest block fits.
BLOCK_SCALES = (8, 10, 12, 15, 20, 25, 30)

#: WCAG 2 relative luminance at which black and white contrast equally with a color:
#: (L + 0.05)^2 = 1.05 x 0.05.
EVEN_LUMINANCE = 0.179

Place = Callable[[Point], Point]


def fill_hatched(
    canvas: Canvas, ring: Sequence[Point], fill: Fill, step: float = HATCH_STEP
) -> None:
    """Fills a ring of page points with the color and draws its hatch, clipped to the ring, in
    black or white, whichever shows on it; so a black and white print tells colors apart."""
    canvas.saveState()
    color = HexColor(fill.hex_color)
    canvas.setFillColor(color)
    canvas.drawPath(ring_path(canvas, ring), stroke=0, fill=1)
    canvas.clipPath(ring_path(canvas, ring), stroke=0, fill=0)
    ink = black if luminance(color) > EVEN_LUMINANCE else white
    canvas.setStrokeColor(ink)
    canvas.setFillColor(ink)
    canvas.setLineWidth(0.5)
    _hatch(canvas, fill.hatch, bounds(ring), step)
    canvas.restoreState()


def _hatch(canvas: Canvas, hatch: str, box: tuple[float, float, float, float], step: float) -> None:
    """Lines lie on multiples of the step from the page's own corner, so that the hatch runs on
    from one block to its neighbor."""
    x0, y0, x1, y1 = box
    if hatch == "dots":
        # A stroke of no length with round ends is a dot, in a third of the bytes of a circle.
        canvas.setLineCap(1)
        canvas.setLineWidth(0.26 * step)
        rows = list(_multiples(y0, y1, step))
        canvas.lines([(x, y, x, y) for x in _multiples(x0, x1, step) for y in rows])
    if hatch == "rising":
        canvas.lines([(x0, x0 + c, x1, x1 + c) for c in _multiples(y0 - x1, y1 - x0, 1.4 * step)])
    if hatch == "falling":
        canvas.lines([(x0, c - x0, x1, c - x1) for c in _multiples(y0 + x0, y1 + x1, 1.4 * step)])
    if hatch in ("level", "grid"):
        canvas.lines([(x0, y, x1, y) for y in _multiples(y0, y1, step)])
    if hatch in ("upright", "grid"):
        canvas.lines([(x, y0, x, y1) for x in _multiples(x0, x1, step)])


def _multiples(low: float, high: float, step: float) -> Iterable[float]:
    count = int(low // step)
    while count * step <= high:
        yield count * step
        count += 1


def luminance(color: Color) -> float:
    """Relative luminance, 0 (black) to 1 (white), as WCAG 2 defines it for sRGB."""

    def linear(channel: float) -> float:
        return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4

    r, g, b = color.rgb()
    return 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)


def swatch(
    canvas: Canvas, fill: Fill, left: float, bottom: float, width: float, height: float
) -> None:
    step = min(HATCH_STEP, height / 2.5)
    right, top = left + width, bottom + height
    fill_hatched(canvas, ((left, bottom), (right, bottom), (right, top), (left, top)), fill, step)
    canvas.setLineWidth(0.5)
    canvas.setStrokeGray(0)
    canvas.rect(left, bottom, width, height, stroke=1, fill=0)


def ring_path(canvas: Canvas, ring: Sequence[Point]) -> PDFPathObject:
    path = line_path(canvas, ring)
    path.close()
    return path


def line_path(canvas: Canvas, points: Sequence[Point]) -> PDFPathObject:
    """The line without points that no printer can tell apart: outlines are flattened finely enough
    to cut by, which is far finer than a drawing to scale."""
    path = canvas.beginPath()
    path.moveTo(*points[0])
    last = points[0]
    for point in points[1:]:
        if math.dist(last, point) >= FINEST or point is points[-1]:
            path.lineTo(*point)
            last = point
    return path


def block_scale(shapes: Iterable[BlockShape], width: float, height: float) -> int:
    """The one scale for all drawings of a ticket, so that they compare: the first of BLOCK_SCALES
    at which the largest block fits into width x height points, else the smallest."""
    sizes_mm = [_extent_mm(shape) for shape in shapes]
    for scale in BLOCK_SCALES:
        unit = MM / scale
        if all(w * unit <= width and h * unit <= height for w, h in sizes_mm):
            return scale
    return BLOCK_SCALES[-1]


def block_extent(shape: BlockShape, scale: int) -> tuple[float, float]:
    """Width and height of a block's drawing in points."""
    width_mm, height_mm = _extent_mm(shape)
    return width_mm * MM / scale, height_mm * MM / scale


def _extent_mm(shape: BlockShape) -> tuple[float, float]:
    x0, y0, x1, y1 = bounds(shape.cut_outline_mm)
    return x1 - x0, y1 - y0


def draw_block(
    canvas: Canvas, shape: BlockShape, left: float, top: float, scale: int, *, two_way: bool
) -> None:
    """The block as it lies on the cloth, its upper left corner at (left, top): cut line solid,
    stitching line dashed, notches, marks dotted, grain arrow with one head for a one-way nap."""
    x0, _, _, y1 = bounds(shape.cut_outline_mm)
    unit = MM / scale

    def place(point: Point) -> Point:
        return (left + (point[0] - x0) * unit, top - (y1 - point[1]) * unit)

    canvas.saveState()
    canvas.setStrokeGray(0)
    canvas.setLineJoin(1)
    canvas.setLineWidth(0.9)
    canvas.drawPath(ring_path(canvas, _placed(shape.cut_outline_mm, place)), stroke=1, fill=0)
    for stitch, cut, count in shape.notches:
        _notch(canvas, place(stitch), place(cut), count)
    canvas.setLineWidth(0.5)
    canvas.setDash(2.4, 1.6)
    canvas.drawPath(ring_path(canvas, _placed(shape.stitch_outline_mm, place)), stroke=1, fill=0)
    canvas.setDash(0.5, 1.5)
    for _, points in shape.marks:
        _mark(canvas, _placed(points, place))
    canvas.setDash()
    start, end = (place(point) for point in shape.grainline)
    arrow(canvas, start, end, both=two_way)
    canvas.restoreState()


def _placed(points: Line, place: Place) -> Line:
    return tuple(place(point) for point in points)


def _notch(canvas: Canvas, stitch: Point, cut: Point, count: int) -> None:
    """`count` short strokes side by side from the cut edge to the stitching line."""
    dx, dy = stitch[0] - cut[0], stitch[1] - cut[1]
    length = (dx * dx + dy * dy) ** 0.5 or 1.0
    canvas.setLineWidth(0.9)
    for at in range(count):
        aside = (at - (count - 1) / 2) * 1.8
        ax, ay = -dy / length * aside, dx / length * aside
        canvas.line(cut[0] + ax, cut[1] + ay, stitch[0] + ax, stitch[1] + ay)


def _mark(canvas: Canvas, points: Line) -> None:
    if len(points) > 1:
        canvas.drawPath(line_path(canvas, points), stroke=1, fill=0)
        return
    x, y = points[0]
    canvas.lines([(x - 2, y, x + 2, y), (x, y - 2, x, y + 2)])


def arrow(canvas: Canvas, start: Point, end: Point, *, both: bool = False) -> None:
    """A thin arrow from start to end in page points, with a head at both ends if `both`."""
    canvas.setLineWidth(0.7)
    canvas.line(*start, *end)
    for tip, tail in ((end, start), (start, end)) if both else ((end, start),):
        dx, dy = tail[0] - tip[0], tail[1] - tip[1]
        length = (dx * dx + dy * dy) ** 0.5
        if not length:
            continue
        ux, uy = 5.0 * dx / length, 5.0 * dy / length
        head = (
            tip,
            (tip[0] + ux - 0.35 * uy, tip[1] + uy + 0.35 * ux),
            (tip[0] + ux + 0.35 * uy, tip[1] + uy - 0.35 * ux),
        )
        canvas.setFillGray(0)
        canvas.drawPath(ring_path(canvas, head), stroke=0, fill=1)


def picture_extent(picture: Picture, height: float) -> tuple[float, float]:
    """Width and height of a picture drawn `height` points high."""
    return picture.width_mm * height / picture.height_mm, height


def draw_picture(
    canvas: Canvas,
    picture: Picture,
    fills: Mapping[str, Fill],
    left: float,
    top: float,
    height: float,
) -> None:
    """The jacket with the blocks in `fills` colored and hatched, all others left blank."""
    unit = height / picture.height_mm
    canvas.saveState()
    canvas.setLineJoin(1)
    for shape in picture.shapes:
        points = tuple((left + x * unit, top - y * unit) for x, y in shape.points)
        match shape.part:
            case Part.BLOCK:
                _draw_area(canvas, points, fills.get(shape.block))
            case Part.INSIDE:
                _draw_inside(canvas, points, fills.get(shape.block))
            case Part.ZIPPER:
                _draw_line(canvas, points, 1.4, ())
            case Part.STITCHES:
                _draw_line(canvas, points, 0.35, (1.2, 0.9))
    canvas.restoreState()


def _draw_area(canvas: Canvas, ring: Line, fill: Fill | None) -> None:
    if fill:
        fill_hatched(canvas, ring, fill, HATCH_STEP / 2)
    else:
        canvas.setFillGray(1)
        canvas.drawPath(ring_path(canvas, ring), stroke=0, fill=1)
    _outlined(canvas, ring)


def _draw_inside(canvas: Canvas, ring: Line, fill: Fill | None) -> None:
    """The wrong side of the cloth is paler, with the same hatch."""
    if fill:
        color = HexColor(fill.hex_color)
        red, green, blue = (round(255 * (0.5 + channel / 2)) for channel in color.rgb())
        pale = Fill(f"#{red:02x}{green:02x}{blue:02x}", fill.hatch, fill.name)
    _draw_area(canvas, ring, pale if fill else None)


def _outlined(canvas: Canvas, ring: Line) -> None:
    canvas.setStrokeGray(0)
    canvas.setLineWidth(0.4)
    canvas.drawPath(ring_path(canvas, ring), stroke=1, fill=0)


def _draw_line(canvas: Canvas, points: Line, width: float, dash: tuple[float, ...]) -> None:
    canvas.setStrokeGray(0)
    canvas.setLineWidth(width)
    canvas.setDash(list(dash))
    canvas.drawPath(line_path(canvas, points), stroke=1, fill=0)
    canvas.setDash()
