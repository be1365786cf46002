"""The paper of a supplement: a sheet that says what changes, then its cut tickets."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from production.documents.cut_tickets import (
    FOOTER,
    LEFT,
    LOWEST,
    PAGE,
    TOP,
    Addition,
    Page,
    numbered,
    ticket_pages,
)
from production.documents.paper import (
    LEAST_SIZE,
    Band,
    Target,
    counted,
    day_in_words,
    draw_bands,
    draw_qr,
    paged,
    pdf,
    put_text,
    qr_edge,
    qr_quiet,
    save,
    tick_box,
    wrapped,
)
from production.documents.ticket_view import WIDTH, TicketExtras, TicketView, heading_band
from production.planning.changes import HeldBlock, SupplementPlan
from production.planning.explode import shapes_by_key
from production.planning.lengths import cloth_length
from production.planning.snapshot import RunSnapshot

HEAD, HEAD_WITH_QR, HEAD_NEXT = 27 * MM, 32 * MM, 9 * MM
ROW = 14.5
#: Left edges of a row's columns: ticket, block, size, color, hands; the box to tick is the last.
TICKET, BLOCK, SIZE, COLOR, HANDS, BOX = (x * MM for x in (0, 48, 130, 150, 200, 264))


@dataclass(frozen=True, slots=True)
class SupplementPaper:
    """A supplement with what its paper says. `names` is a snapshot that names the blocks of the
    run and `adds_to` gives the run's ticket of each fabric color."""

    run: str
    number: int
    words: str
    made_on: date
    made_by: str
    deadline: date
    plan: SupplementPlan
    snapshot: RunSnapshot | None
    names: RunSnapshot
    adds_to: Mapping[str, str]
    extras: TicketExtras = field(default_factory=TicketExtras)

    @property
    def named(self) -> str:
        return f"Supplement {self.number} to run {self.run}"

    def color_name(self, code: str) -> str:
        colors = (self.snapshot or self.names).fabric_colors
        return next(color.name for color in colors if color.code == code)

    def block_name(self, block: HeldBlock) -> str:
        shapes = self.names.shapes + (self.snapshot.shapes if self.snapshot else ())
        known = shapes_by_key(shapes)
        return known[block.block, block.size].name


def write(
    target: Target,
    paper: SupplementPaper,
    ticket_url: Callable[[str], str] | None = None,
    address: str | None = None,
) -> None:
    """Writes a supplement as one PDF. `ticket_url` gives the address that a ticket's QR code opens,
    `address` is that of the supplement itself."""
    pages = _cover(paper, address)
    cut = paper.plan.cut
    if paper.snapshot and cut and cut.cut_tickets:
        addition = Addition(
            paper.named, lambda view: _lead(paper, view), "Cut ticket, a supplement"
        )
        pages += ticket_pages(paper.snapshot, cut, ticket_url, addition, paper.extras)
    save(target, pdf(paper.named, PAGE, numbered(pages)))


def _lead(paper: SupplementPaper, view: TicketView) -> list[Band]:
    """What a supplement's ticket says first: what it adds to and why, and what of its color is not
    to be cut."""
    color = view.ticket.fabric_color
    first = paper.adds_to.get(color)
    adds = f"adds to ticket {first}" if first else "a color that the run has no ticket for"
    bands = [*_words_bands(f"{paper.named}, {adds}. Reason: {paper.words}", bold=True)]
    gone = [block for block in paper.plan.difference.withdrawn if block.fabric_color == color]
    return [*bands, *_section(paper, DO_NOT_CUT, gone)]


@dataclass(frozen=True, slots=True)
class _Section:
    title: str
    note: str
    struck: bool = False


DO_NOT_CUT = _Section(
    "Do not cut", "strike one of each from the ticket named; its count was printed before", True
)
TAKE = _Section("Take from the spare parts", "into the bundle, instead of cutting")
PUT_BY = _Section("Put with the spare parts", "cut already and no longer needed")
UNPICK = _Section(PUT_BY.title, f"{PUT_BY.note}; unpick the seams first")
CUT = _Section("Cut", "on the tickets that follow, and nothing else")


def _cover(paper: SupplementPaper, address: str | None) -> list[Page]:
    change = paper.plan.difference
    bands = [
        *_words_bands(f"Reason: {paper.words}", bold=True),
        *_cloth_bands(paper),
        *_section(paper, DO_NOT_CUT, change.withdrawn),
        *_section(paper, UNPICK if paper.plan.sewn else PUT_BY, change.to_spare),
        *_section(paper, TAKE, change.from_spare),
        *_section(paper, CUT, change.to_cut),
    ]
    room = TOP - LOWEST
    head = HEAD_WITH_QR if address else HEAD
    pages = paged(bands, room - head, room - HEAD_NEXT)

    def page(at: int, some: list[Band]) -> Page:
        def draw(canvas: Canvas, number: str) -> None:
            canvas.setFillGray(0)
            canvas.setStrokeGray(0)
            if at == 0:
                _draw_head(canvas, paper, address)
            else:
                put_text(canvas, LEFT, TOP - 13, paper.named, 14, bold=True)
            draw_bands(canvas, some, LEFT, TOP - (HEAD_NEXT if at else head))
            _draw_footer(canvas, paper, number)

        return draw

    return [page(at, some) for at, some in enumerate(pages)]


def _draw_head(canvas: Canvas, paper: SupplementPaper, address: str | None) -> None:
    put_text(canvas, LEFT, TOP - 8, "Change after the freeze", 8)
    put_text(canvas, LEFT, TOP - 34, paper.named, 26, bold=True, width=WIDTH - 50 * MM)
    due = f"Jacket {paper.plan.jacket}, due {day_in_words(paper.deadline)}"
    put_text(canvas, LEFT, TOP - 51, due, 11, bold=True, width=WIDTH - 50 * MM)
    made = f"Made on {day_in_words(paper.made_on)} by {paper.made_by}"
    put_text(canvas, LEFT, TOP - 64, made, 8, width=WIDTH - 50 * MM)
    if address:
        edge, quiet = qr_edge(address), qr_quiet(address)
        draw_qr(canvas, address, LEFT + WIDTH - edge + quiet, TOP + quiet)


def _draw_footer(canvas: Canvas, paper: SupplementPaper, number: str) -> None:
    canvas.setLineWidth(0.4)
    canvas.line(LEFT, FOOTER + 10, LEFT + WIDTH, FOOTER + 10)
    put_text(canvas, LEFT, FOOTER, "All other tickets of the run stay as printed", LEAST_SIZE)
    put_text(canvas, LEFT + WIDTH / 2, FOOTER, paper.plan.supplement, 8, bold=True, align="center")
    put_text(canvas, LEFT + WIDTH, FOOTER, number, LEAST_SIZE, align="right")


def _words_bands(words: str, *, bold: bool = False) -> Iterable[Band]:
    for line in wrapped(words, 11, WIDTH, 3, bold=bold):
        yield Band(16.0, _line_of(line, bold))


def _line_of(line: str, bold: bool) -> Callable[[Canvas, float, float], None]:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        put_text(canvas, left, top - 12, line, 11, bold=bold, width=WIDTH)

    return draw


def _cloth_bands(paper: SupplementPaper) -> list[Band]:
    """How much cloth of which color the supplement takes."""
    cut, snapshot = paper.plan.cut, paper.snapshot
    if not (cut and snapshot and cut.cut_tickets):
        return list(_words_bands("Nothing is cut in addition."))
    unit = snapshot.workroom.length_unit
    parts = [
        f"{paper.color_name(ticket.fabric_color)} "
        f"{cloth_length(ticket.fabric_needed_mm, unit)} (ticket {ticket.ticket})"
        for ticket in cut.cut_tickets
    ]
    return list(_words_bands(f"Cloth in addition: {', '.join(parts)}."))


def _section(paper: SupplementPaper, section: _Section, blocks: Iterable[HeldBlock]) -> list[Band]:
    listed = list(blocks)
    if not listed:
        return []
    pieces = counted(sum(len(block.sides) for block in listed), "piece")
    head = heading_band(section.title, f"{pieces}; {section.note}")
    return [head, *(Band(ROW, _row(paper, section, block), head) for block in listed)]


def _row(
    paper: SupplementPaper, section: _Section, block: HeldBlock
) -> Callable[[Canvas, float, float], None]:
    words = (
        (TICKET, block.ticket, BLOCK),
        (BLOCK, f"{block.block} {paper.block_name(block)}", SIZE),
        (SIZE, block.size, COLOR),
        (COLOR, paper.color_name(block.fabric_color), HANDS),
        (HANDS, hands(block), BOX),
    )

    def draw(canvas: Canvas, left: float, top: float) -> None:
        base = top - ROW + 4
        for at, text, end in words:
            put_text(canvas, left + at, base, text, 9, bold=at == BLOCK, width=end - at - 4)
        canvas.setLineWidth(0.25)
        canvas.line(left, top - ROW, left + WIDTH, top - ROW)
        if section.struck:
            canvas.setLineWidth(0.9)
            canvas.line(left, base + 3, left + BOX - 6 * MM, base + 3)
        tick_box(canvas, left + BOX, base - 1.2)

    return draw


def hands(block: HeldBlock) -> str:
    """How many pieces a block is: '1 left + 1 right', or '1 single'."""
    return " + ".join(f"1 {side}" for side in block.sides)
