"""Care symbols in our own plain drawing, in the forms that ISO 3758 gives them (from memory): a
washtub, a triangle, a square with a circle, an iron, a circle; a cross forbids, a dot is low heat.

Each is drawn into a square of `edge` points with its lower left corner at (left, bottom).
"""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas

from production.documents.paper import put_text
from production.planning.labels.care import CareSign


def draw_sign(canvas: Canvas, sign: CareSign, left: float, bottom: float, edge: float) -> None:
    canvas.saveState()
    canvas.translate(left, bottom)
    canvas.scale(edge / 100, edge / 100)
    canvas.setLineWidth(5)
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    SHAPES[sign.kind](canvas)
    _inside(canvas, sign)
    if sign.crossed:
        canvas.lines([(12, 10, 88, 86), (12, 86, 88, 10)])
    canvas.restoreState()


def _inside(canvas: Canvas, sign: CareSign) -> None:
    if sign.figure:
        put_text(canvas, 50, 30, sign.figure, 36, bold=True, align="center")
    for place in range(sign.dots):
        # The middle of an iron lies lower than that of the drum.
        at = 50 + 16 * (place - (sign.dots - 1) / 2)
        canvas.circle(at, 34 if sign.kind == "iron" else 48, 5, stroke=0, fill=1)


def _washtub(canvas: Canvas) -> None:
    tub = canvas.beginPath()
    tub.moveTo(6, 76)
    tub.lineTo(20, 16)
    tub.lineTo(80, 16)
    tub.lineTo(94, 76)
    canvas.drawPath(tub)
    water = canvas.beginPath()
    water.moveTo(9, 66)
    for at in (9, 36.3, 63.7):
        water.curveTo(at + 9, 76, at + 18, 56, at + 27.3, 66)
    canvas.drawPath(water)


def _triangle(canvas: Canvas) -> None:
    shape = canvas.beginPath()
    shape.moveTo(50, 84)
    shape.lineTo(8, 14)
    shape.lineTo(92, 14)
    shape.close()
    canvas.drawPath(shape)


def _drum(canvas: Canvas) -> None:
    canvas.rect(10, 8, 80, 80)
    canvas.circle(50, 48, 34)


def _iron(canvas: Canvas) -> None:
    shape = canvas.beginPath()
    shape.moveTo(6, 18)
    shape.curveTo(12, 42, 26, 54, 44, 54)
    shape.lineTo(84, 54)
    shape.moveTo(30, 78)
    shape.lineTo(78, 78)
    shape.lineTo(94, 18)
    shape.lineTo(6, 18)
    canvas.drawPath(shape)


def _circle(canvas: Canvas) -> None:
    canvas.circle(50, 48, 40)


SHAPES = {
    "wash": _washtub,
    "bleach": _triangle,
    "tumble": _drum,
    "iron": _iron,
    "clean": _circle,
}
