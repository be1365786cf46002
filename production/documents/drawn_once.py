"""Pictures of a jacket that a document draws once and shows wherever they come again."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

import msgspec
from reportlab.pdfgen.canvas import Canvas

from patterns.geometry.picture import Fill, Picture
from production.documents.drawings import draw_picture, picture_extent


def show_picture(
    canvas: Canvas,
    picture: Picture,
    fills: Mapping[str, Fill],
    left: float,
    low: float,
    height: float,
) -> None:
    """The picture with its lower left corner there. Jackets alike share one drawing in the
    document, or the paper of a big run would take megabytes and minutes."""
    drawn = (picture, sorted(fills.items()), round(height, 2))
    look = hashlib.sha256(msgspec.json.encode(drawn)).hexdigest()
    if not canvas.hasForm(look):
        width, _ = picture_extent(picture, height)
        canvas.beginForm(look, 0, 0, width, height)
        draw_picture(canvas, picture, fills, 0, height, height)
        canvas.endForm()
    canvas.saveState()
    canvas.translate(left, low)
    canvas.doForm(look)
    canvas.restoreState()
