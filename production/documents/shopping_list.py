"""The shopping list of a run on paper: a table for each supplier, boxes to tick, and what the list
takes for granted."""

from __future__ import annotations

from decimal import Decimal
from functools import partial

from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from orders.money import amount_words, rounded
from production.documents.paper import (
    LEAST_SIZE,
    Band,
    Draw,
    Target,
    day_in_words,
    draw_bands,
    paged,
    pdf,
    put_text,
    save,
    tick_box,
    wrapped,
)
from production.planning.supplies.shopping import ShoppingLine, ShoppingList, SupplierGroup
from production.planning.supplies.shopping_words import holding_words, quantity_words, sold_words

PAGE = landscape(A4)
MARGIN = 12 * MM
LEFT, TOP = MARGIN, PAGE[1] - MARGIN
WIDTH = PAGE[0] - 2 * MARGIN
HEAD, FOOT = 22 * MM, 8 * MM
ROW = 25.0
#: Right edges of the columns of figures, with their heads; the name stands to the left of them.
FIGURES = tuple(
    (head, at * MM)
    for head, at in (
        ("Needed", 97),
        ("Allowance", 118),
        ("Taken", 139),
        ("On hand", 160),
        ("Reserved", 181),
        ("On order", 202),
        ("To buy", 227),
        ("Price", 249),
        ("Order by", 273),
    )
)
NAME, NAME_WIDTH = 7 * MM, 71 * MM
FIGURE_WIDTH = 20 * MM


def write(target: Target, listed: ShoppingList, length_unit: str, workroom: str) -> None:
    """Writes the list as a PDF; the same list gives the same bytes."""
    bands = [band for group in listed.groups for band in _group(group, listed, length_unit)]
    bands += [_total(listed), *_words(listed)]
    room = TOP - HEAD - MARGIN - FOOT
    pages = paged(bands, room, room)

    def draw(canvas: Canvas, number: int) -> None:
        canvas.setFillGray(0)
        canvas.setStrokeGray(0)
        _head(canvas, listed, workroom)
        draw_bands(canvas, pages[number - 1], LEFT, TOP - HEAD)
        words = f"Shopping list {listed.run}, page {number} of {len(pages)}"
        put_text(canvas, LEFT, MARGIN - 4, words, LEAST_SIZE)

    numbers = range(1, len(pages) + 1)
    drawn = [partial(draw, number=number) for number in numbers]
    save(target, pdf(f"Shopping list {listed.run}", PAGE, drawn))


def _head(canvas: Canvas, listed: ShoppingList, workroom: str) -> None:
    put_text(canvas, LEFT, TOP - 18, f"Shopping list {listed.run}", 20, bold=True)
    put_text(canvas, LEFT + WIDTH, TOP - 18, workroom, 11, bold=True, width=90 * MM, align="right")
    words = (
        f"As of {day_in_words(listed.today)}. Cutting has to start on "
        f"{day_in_words(listed.starts_on)}. Prices in {listed.currency}."
    )
    put_text(canvas, LEFT, TOP - 34, words, 9, width=WIDTH)
    canvas.setLineWidth(1.2)
    canvas.setDash([7, 4])
    canvas.line(LEFT, TOP - 42, LEFT + WIDTH, TOP - 42)
    canvas.setDash([])


def _group(group: SupplierGroup, listed: ShoppingList, length_unit: str) -> list[Band]:
    head = Band(39.0, _heading(group), with_next=True)
    rows = [
        Band(ROW, _row(line, listed.currency, length_unit), repeats=head) for line in group.lines
    ]
    total = Band(20.0, _sum(group, listed.currency))
    return [head, *rows, total]


def _heading(group: SupplierGroup) -> Draw:
    lead = "" if group.lead_days is None else f"{group.lead_days} days from order to goods"

    def draw(canvas: Canvas, left: float, top: float) -> None:
        name = group.supplier or "No supplier named yet"
        taken = put_text(canvas, left, top - 17, name, 12, bold=True, width=150 * MM)
        put_text(canvas, left + taken + 8, top - 17, lead, 8)
        put_text(canvas, left + NAME, top - 34, "What", LEAST_SIZE)
        for head, at in FIGURES:
            put_text(canvas, left + at, top - 34, head, LEAST_SIZE, align="right")
        canvas.setLineWidth(0.8)
        canvas.line(left, top - 38, left + WIDTH, top - 38)

    return draw


def _row(line: ShoppingLine, currency: str, length_unit: str) -> Draw:
    def words(quantity: Decimal) -> str:
        return quantity_words(quantity, line.sold.unit, length_unit) if quantity else ""

    stock = line.stock
    figures = (
        *map(
            words,
            (
                line.needed,
                line.allowance,
                stock.taken,
                stock.on_hand,
                stock.reserved,
                stock.on_order,
            ),
        ),
        words(line.to_buy) or "nothing",
        str(rounded(line.price, currency)) if line.to_buy else "",
        f"{line.order_by.day} {line.order_by:%b %Y}" if line.to_buy and line.order_by else "",
    )
    below = _below(line, length_unit)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        base = top - 11
        if line.to_buy:
            tick_box(canvas, left, base - 1.2)
        put_text(canvas, left + NAME, base, line.sold.name, 9, bold=True, width=NAME_WIDTH)
        for (head, at), figure in zip(FIGURES, figures, strict=True):
            is_bold = head in ("To buy", "Price")
            put_text(
                canvas,
                left + at,
                base,
                figure,
                9,
                bold=is_bold,
                width=FIGURE_WIDTH,
                align="right",
            )
        put_text(canvas, left + NAME, base - 9, below, LEAST_SIZE, width=WIDTH - NAME)
        canvas.setLineWidth(0.25)
        canvas.line(left, top - ROW + 2, left + WIDTH, top - ROW + 2)

    return draw


def _below(line: ShoppingLine, length_unit: str) -> str:
    """What stands small below a line: how it is sold, and what to look at."""
    words = [f"Sold {_in_or_by(sold_words(line.sold, length_unit))}"]
    if holds := holding_words(line.to_buy, line.sold, length_unit):
        words.append(f"{holds} of thread in all")
    if line.for_others:
        others = quantity_words(line.for_others, line.sold.unit, length_unit)
        words.append(f"{others} of it for earlier runs")
    if line.sold.trouble:
        words.append(line.sold.trouble.rstrip("."))
    if line.is_late:
        words.append("LATE: the day to order by is past")
    return ". ".join(words)


def _in_or_by(words: str) -> str:
    return words if words.startswith(("in ", "by ")) else f"in {words}"


def _sum(group: SupplierGroup, currency: str) -> Draw:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        price = amount_words(group.total, currency)
        at = FIGURES[-2][1]
        put_text(
            canvas, left + NAME, top - 11, f"In all {group.supplier}".strip(), 9, width=150 * MM
        )
        put_text(canvas, left + at, top - 11, price, 10, bold=True, align="right")

    return draw


def _total(listed: ShoppingList) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        canvas.setLineWidth(0.8)
        canvas.line(left, top - 4, left + WIDTH, top - 4)
        words = f"All suppliers: {amount_words(listed.total, listed.currency)}"
        put_text(canvas, left + FIGURES[-2][1], top - 20, words, 12, bold=True, align="right")

    return Band(30.0, draw)


def _words(listed: ShoppingList) -> list[Band]:
    """How the list is reckoned, line by line."""

    def line_of(line: str, *, bold: bool) -> Draw:
        def draw(canvas: Canvas, left: float, top: float) -> None:
            put_text(canvas, left, top - 9, line, 8, bold=bold, width=WIDTH)

        return draw

    bands = [Band(16.0, line_of("How it is reckoned", bold=True), with_next=True)]
    for sentence in (*listed.warnings, *listed.assumptions):
        for line in wrapped(sentence, 8, WIDTH):
            bands.append(Band(11.0, line_of(line, bold=sentence in listed.warnings)))
    return bands
