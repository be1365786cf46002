"""From which cloth each ply of a ticket is spread, and which dye lots are kept apart."""

from __future__ import annotations

from collections.abc import Callable

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from production.documents.paper import Band, put_text, wrapped
from production.documents.ticket_view import WIDTH, ClothRow, TicketView, heading_band

ROW, LINE, SIZE = 13.2, 10.4, 8.5
#: Left edges of the columns: lay, plies, cloth, where it begins, how much it takes, flaws.
EDGES = tuple(x * MM for x in (0, 40, 62, 138, 160, 186))
CLOTH = EDGES[2]
NAMES = ("Lay", "Ply", "Cloth", "Begins at", "Takes in all", "Flaws in or near it")
NOTE = "positions count along the bolt from its outer end; every ply lies where this table says"


def cloth_bands(view: TicketView) -> list[Band]:
    """A table with a row for plies that follow one another; none where nothing is known."""
    if not view.cloth.rows:
        return []
    head = heading_band("Spread from", NOTE)
    names = _band(NAMES, head, bold=True)
    return [
        head,
        *(band for words in view.cloth.apart for band in _words_bands(words, bold=True)),
        names,
        *(_row_band(row, names) for row in view.cloth.rows),
        *(band for words in view.cloth.notes for band in _words_bands(words)),
    ]


def _words_bands(words: str, *, bold: bool = False) -> list[Band]:
    """Lines that stand over the table with it (bold), or below it."""
    size = 9.0 if bold else SIZE

    def line_of(line: str) -> Callable[[Canvas, float, float], None]:
        def draw(canvas: Canvas, left: float, top: float) -> None:
            put_text(canvas, left, top - 9.5, line, size, bold=bold, width=WIDTH)

        return draw

    lines = wrapped(words, size, WIDTH, bold=bold)
    return [Band(ROW, line_of(line), with_next=bold) for line in lines]


def _row_band(row: ClothRow, head: Band) -> Band:
    return _band((row.lay, row.plies, row.cloth, row.start, row.takes, row.flaws), head)


def _band(cells: tuple[str, ...], head: Band, *, bold: bool = False) -> Band:
    """Lines in columns; the words of one never run into the next, nor are they shortened."""
    lines = [
        (left, line, number, bold or left == CLOTH)
        for left, right, words in zip(EDGES, (*EDGES[1:], WIDTH), cells, strict=True)
        for number, line in enumerate(
            wrapped(words, SIZE, right - left - 6, bold=bold or left == CLOTH)
        )
    ]
    height = ROW - LINE + LINE * (1 + max(number for _, _, number, _ in lines))

    def draw(canvas: Canvas, left: float, top: float) -> None:
        for at, words, number, is_bold in lines:
            put_text(canvas, left + at, top - 9.2 - LINE * number, words, SIZE, bold=is_bold)
        canvas.setLineWidth(0.8 if bold else 0.25)
        canvas.line(left, top - height, left + WIDTH, top - height)

    return Band(height, draw, head, with_next=bold)
