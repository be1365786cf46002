"""The tickets of a recut: which pieces are cut once more, and which jacket waits for each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from production.documents.cut_tickets import PAGE, Addition, numbered, ticket_pages
from production.documents.paper import (
    Band,
    Target,
    counted,
    day_in_words,
    pdf,
    put_text,
    save,
    tick_box,
    wrapped,
)
from production.documents.ticket_view import WIDTH, TicketExtras, TicketView, heading_band
from production.planning.recuts import RecutPiece, RecutPlan
from production.planning.snapshot import RunSnapshot

ROW = 14.5
#: Left edges of a row's columns; the box to tick is the last.
JACKET, BLOCK, SIZE, ADDS_TO, LOT, REASON, BOX = (x * MM for x in (0, 38, 104, 124, 154, 194, 264))


@dataclass(frozen=True, slots=True)
class RecutPaper:
    """A recut with what its paper says; `reasons` are by the number of the report."""

    run: str
    number: int
    made_on: date
    made_by: str
    plan: RecutPlan
    snapshot: RunSnapshot
    reasons: Mapping[int, str]
    extras: TicketExtras = field(default_factory=TicketExtras)

    @property
    def named(self) -> str:
        return f"Recut {self.number} to run {self.run}"


def write(
    target: Target, paper: RecutPaper, ticket_url: Callable[[str], str] | None = None
) -> None:
    """Writes the tickets of a recut as one PDF. `ticket_url` gives the address that a ticket's QR
    code opens."""
    addition = Addition(paper.named, lambda view: _lead(paper, view), "Cut ticket, a recut")
    pages = ticket_pages(paper.snapshot, paper.plan.cut, ticket_url, addition, paper.extras)
    save(target, pdf(paper.named, PAGE, numbered(pages)))


def _lead(paper: RecutPaper, view: TicketView) -> list[Band]:
    """What a recut's ticket says first: what it adds to, and who waits for which piece."""
    color = view.ticket.fabric_color
    pieces = [piece for piece in paper.plan.pieces if piece.fabric_color == color]
    tickets = ", ".join(dict.fromkeys(piece.adds_to for piece in pieces))
    words = (
        f"{paper.named}, adds to ticket {tickets}. Cut these pieces once more and nothing else; "
        "a left or a right alone is meant."
    )
    made = f"Made on {day_in_words(paper.made_on)} by {paper.made_by}."
    if paper.plan.dye_lots:
        made += f" Dye lots of the jackets' other blocks: {', '.join(paper.plan.dye_lots)}."
    head = heading_band(
        "Who waits for what", f"{counted(len(pieces), 'piece')}, put into the bundle"
    )
    rows = [Band(ROW, _row(paper, view, piece), head) for piece in pieces]
    return [*_words(words, 11, bold=True), *_words(made, 8), head, *rows]


def _words(words: str, size: float, *, bold: bool = False) -> list[Band]:
    def line_of(line: str) -> Callable[[Canvas, float, float], None]:
        def draw(canvas: Canvas, left: float, top: float) -> None:
            put_text(canvas, left, top - size - 1, line, size, bold=bold, width=WIDTH)

        return draw

    lines = wrapped(words, size, WIDTH, 3, bold=bold)
    return [Band(size + 5, line_of(line)) for line in lines]


def _row(
    paper: RecutPaper, view: TicketView, piece: RecutPiece
) -> Callable[[Canvas, float, float], None]:
    name = view.shapes[piece.block, piece.size].name
    side = "" if piece.side == "single" else f" {piece.side}"
    words = (
        (JACKET, piece.jacket, BLOCK),
        (BLOCK, f"{piece.block} {name}{side}", SIZE),
        (SIZE, f"size {piece.size}", ADDS_TO),
        (ADDS_TO, piece.adds_to, LOT),
        (LOT, f"dye lot {piece.dye_lot}" if piece.dye_lot else "", REASON),
        (REASON, paper.reasons.get(piece.number, ""), BOX),
    )

    def draw(canvas: Canvas, left: float, top: float) -> None:
        base = top - ROW + 4
        for at, text, end in words:
            put_text(
                canvas, left + at, base, text, 9, bold=at in (JACKET, BLOCK), width=end - at - 4
            )
        canvas.setLineWidth(0.25)
        canvas.line(left, top - ROW, left + WIDTH, top - ROW)
        tick_box(canvas, left + BOX, base - 1.2)

    return draw
