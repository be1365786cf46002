"""Cut tickets: one for each fabric color, complete enough for a cutter to work from alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from production.documents.cloth_bands import cloth_bands
from production.documents.drawings import HATCH_WORDS, swatch
from production.documents.lay_bands import block_bands, lay_bands
from production.documents.paper import (
    LEAST_SIZE,
    Band,
    Target,
    day_in_words,
    draw_bands,
    draw_qr,
    paged,
    pdf,
    plan_id,
    put_text,
    qr_edge,
    qr_quiet,
    save,
)
from production.documents.ticket_bands import (
    count_bands,
    fact_band,
    picture_bands,
    safety_band,
    sign_off_band,
    withdrawn_bands,
)
from production.documents.ticket_view import WIDTH, TicketExtras, TicketView, ticket_views
from production.errors import DocumentError
from production.planning.plan import Plan
from production.planning.snapshot import RunSnapshot

PAGE = landscape(A4)
LEFT = (PAGE[0] - WIDTH) / 2
TOP = PAGE[1] - 10 * MM
FOOTER = 7 * MM
LOWEST = 12 * MM
HEAD_FIRST, HEAD_WITH_QR, HEAD_NEXT = 22 * MM, 31 * MM, 9 * MM
#: The lays lie on the pages that follow; their code is read from near by, and small.
HEAD_NEXT_WITH_QR, SMALL_QR = 18 * MM, 0.6


FIRST = "Cut ticket, the first of this color"

#: Draws a page; the words are its number among all pages of the document.
Page = Callable[[Canvas, str], None]


@dataclass(frozen=True, slots=True)
class Addition:
    """What the tickets of a supplement or a recut say beyond those of a run: whose they are, the
    bands that come first on each ticket, and which kind of ticket it is."""

    named: str
    bands: Callable[[TicketView], list[Band]]
    kind: str = FIRST


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One page of a ticket: page `at` of `of`; `named` says whose ticket it is."""

    named: str
    kind: str
    view: TicketView
    at: int
    of: int
    bands: list[Band]
    address: str | None

    @property
    def head_height(self) -> float:
        return _first_head(self.address) if self.at == 1 else _next_head(self.address)


def write(
    target: Target,
    snapshot: RunSnapshot,
    plan: Plan,
    tag_url: Callable[[str], str] | None = None,
    extras: TicketExtras | None = None,
) -> None:
    """Writes the tickets of a run as one PDF, each ticket on pages of its own.

    `tag_url` gives the address that a ticket's QR code opens; without it there is no QR code.
    `extras` are what they say beyond the plan.
    Raises DocumentError when the plan has no tickets or is not the snapshot's, and writes nothing.
    """
    if not plan.cut_tickets:
        raise DocumentError(f"Run {plan.run} has no cut tickets: plan the run before printing.")
    pages = ticket_pages(snapshot, plan, tag_url, extras=extras)
    save(target, pdf(f"Cut tickets of run {plan.run}", PAGE, numbered(pages)))


def ticket_pages(
    snapshot: RunSnapshot,
    plan: Plan,
    tag_url: Callable[[str], str] | None,
    addition: Addition | None = None,
    extras: TicketExtras | None = None,
) -> list[Page]:
    """The pages of all tickets of a plan, of a run or, with what it adds, of a supplement."""
    addition = addition or Addition(f"Run {plan.run}", lambda view: [])
    source = f"{addition.named}, printed from plan {plan_id(plan)}"

    def page(sheet: _Sheet) -> Page:
        return lambda canvas, number: _draw_sheet(canvas, sheet, source, number)

    return [
        page(sheet)
        for view in ticket_views(snapshot, plan, extras)
        for sheet in _sheets(view, tag_url(view.ticket.ticket) if tag_url else None, addition)
    ]


def numbered(pages: Sequence[Page]) -> list[Callable[[Canvas], None]]:
    def with_number(draw: Page, number: int) -> Callable[[Canvas], None]:
        return lambda canvas: draw(canvas, f"page {number} of {len(pages)}")

    return [with_number(draw, number) for number, draw in enumerate(pages, 1)]


def _sheets(view: TicketView, address: str | None, addition: Addition) -> list[_Sheet]:
    room = TOP - LOWEST
    bands = [
        *addition.bands(view),
        *withdrawn_bands(view),
        fact_band(view),
        safety_band(),
        *count_bands(view),
        sign_off_band(view),
        *picture_bands(view),
        *cloth_bands(view),
        *lay_bands(view),
        *block_bands(view),
    ]
    pages = paged(bands, room - _first_head(address), room - _next_head(address))
    return [
        _Sheet(addition.named, addition.kind, view, at, len(pages), page, address)
        for at, page in enumerate(pages, 1)
    ]


def _first_head(address: str | None) -> float:
    return HEAD_WITH_QR if address else HEAD_FIRST


def _next_head(address: str | None) -> float:
    return HEAD_NEXT_WITH_QR if address else HEAD_NEXT


def _draw_sheet(canvas: Canvas, sheet: _Sheet, source: str, page: str) -> None:
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    if sheet.at == 1:
        _draw_first_head(canvas, sheet)
    else:
        _draw_next_head(canvas, sheet)
    draw_bands(canvas, sheet.bands, LEFT, TOP - sheet.head_height)
    _draw_footer(canvas, sheet, source, page)


def _draw_first_head(canvas: Canvas, sheet: _Sheet) -> None:
    view, right = sheet.view, LEFT + WIDTH
    put_text(canvas, LEFT, TOP - 8, sheet.kind, 8)
    put_text(canvas, LEFT, TOP - 34, view.ticket.ticket, 26, bold=True, width=92 * MM)
    due = f"{sheet.named}, due {day_in_words(view.plan.deadline)}"
    put_text(canvas, LEFT, TOP - 51, due, 11, bold=True, width=92 * MM)
    if sheet.address:
        # The symbol stands flush with the margins; its quiet zone lies in them.
        edge, quiet = qr_edge(sheet.address), qr_quiet(sheet.address)
        draw_qr(canvas, sheet.address, right - edge + quiet, TOP + quiet)
        right -= edge - quiet
    swatch(canvas, view.fill, right - 44 * MM, TOP - 52, 44 * MM, 50)
    put_text(
        canvas,
        LEFT + 96 * MM,
        TOP - 34,
        view.color.name,
        30,
        bold=True,
        width=right - LEFT - 144 * MM,
        least=10,
    )
    words = f"Drawn here as: {HATCH_WORDS.get(view.color.hatch, view.color.hatch)}"
    put_text(canvas, LEFT + 96 * MM, TOP - 51, words, 8, width=right - LEFT - 144 * MM)


def _draw_next_head(canvas: Canvas, sheet: _Sheet) -> None:
    view = sheet.view
    taken = put_text(canvas, LEFT, TOP - 13, view.ticket.ticket, 14, bold=True, width=80 * MM)
    swatch(canvas, view.fill, LEFT + taken + 12, TOP - 15, 18 * MM, 14)
    at = LEFT + taken + 12 + 21 * MM
    right = LEFT + WIDTH
    if sheet.address:
        edge, quiet = SMALL_QR * qr_edge(sheet.address), SMALL_QR * qr_quiet(sheet.address)
        canvas.saveState()
        canvas.translate(right - edge + quiet, TOP + quiet)
        canvas.scale(SMALL_QR, SMALL_QR)
        draw_qr(canvas, sheet.address, 0, 0)
        canvas.restoreState()
        right -= edge
        put_text(canvas, right, TOP - 26, "Report what is cut", LEAST_SIZE, align="right")
    due = f"{sheet.named}, due {day_in_words(view.plan.deadline)}"
    end = right - put_text(canvas, right, TOP - 13, due, 8, align="right") - 12
    put_text(canvas, at, TOP - 13, view.color.name, 14, bold=True, width=end - at)


def _draw_footer(canvas: Canvas, sheet: _Sheet, source: str, page: str) -> None:
    canvas.setLineWidth(0.4)
    canvas.line(LEFT, FOOTER + 10, LEFT + WIDTH, FOOTER + 10)
    ticket = f"ticket {sheet.view.ticket.ticket}, page {sheet.at} of {sheet.of}"
    put_text(canvas, LEFT, FOOTER, source, LEAST_SIZE)
    put_text(canvas, LEFT + WIDTH / 2, FOOTER, ticket, 8, bold=True, align="center")
    put_text(canvas, LEFT + WIDTH, FOOTER, page, LEAST_SIZE, align="right")
