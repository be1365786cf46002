"""A line to sign on, or the signature that was drawn on the screen."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.pdfgen.canvas import Canvas

from production.documents.paper import put_text

Stroke = Sequence[Sequence[float]]

#: High to wide, as the field on the screen.
SHAPE = 0.4


def draw_line(canvas: Canvas, left: float, bottom: float, width: float, words: str) -> None:
    """A line with its words below."""
    canvas.setLineWidth(0.6)
    canvas.line(left, bottom, left + width, bottom)
    put_text(canvas, left, bottom - 10, words, 8, width=width)


def draw_signature(
    canvas: Canvas, strokes: Sequence[Stroke], left: float, bottom: float, width: float
) -> None:
    """Strokes of points between 0 and 1, y down, on a field `width` wide and SHAPE of it high."""
    height = width * SHAPE
    canvas.saveState()
    canvas.setLineWidth(1.4)
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for stroke in strokes:
        path = canvas.beginPath()
        first, *more = [(left + x * width, bottom + (1 - y) * height) for x, y in stroke]
        path.moveTo(*first)
        for point in more or [first]:
            path.lineTo(*point)
        canvas.drawPath(path)
    canvas.restoreState()
