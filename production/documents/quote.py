"""The quote in plain words, for the club: prices by quantity, what they hold for, what is not in
them. It names no law: what it says of tax gives way to the rules of the place."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from patterns.geometry.picture import Fill, Picture
from production.documents.drawings import draw_picture, picture_extent
from production.documents.paper import (
    LEAST_SIZE,
    Band,
    Target,
    counted,
    day_in_words,
    draw_bands,
    paged,
    pdf,
    put_text,
    save,
    wrapped,
)

MARGIN = 18 * MM
LEFT, RIGHT = MARGIN, A4[0] - MARGIN
WIDTH = RIGHT - LEFT
TOP = A4[1] - MARGIN
HEAD, FOOT = 24 * MM, 12 * MM
LABELS = 42 * MM
PICTURE = 30 * MM
TAX_WORDS = "Where local tax rules ask for something else than stands here, they go first."


@dataclass(frozen=True, slots=True)
class Look:
    """A colorway from the front, with the fabric colors of its blocks."""

    name: str
    colors: str
    picture: Picture | None
    fills: Mapping[str, Fill]


@dataclass(frozen=True, slots=True)
class Price:
    """What stands in a row of the prices; all are figures in the quote's currency."""

    jackets: int
    each: str
    whole: str
    tax: str
    deposit: str


@dataclass(frozen=True, slots=True)
class SizePrices:
    """What one jacket of each size would cost by itself, for so many jackets."""

    jackets: int
    each: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class QuotePaper:
    """What stands on the quote. `sizes` is None where all cost the same; `standing` says what it is
    worth: a draft, sent, accepted for so many, declined."""

    code: str
    workroom: str
    club: str
    what: str
    order: str
    currency: str
    quoted_on: datetime.date
    valid_until: datetime.date
    wanted_by: datetime.date
    standing: str
    tax: str
    deposit: str
    prices: tuple[Price, ...]
    looks: tuple[Look, ...]
    mix: str
    sizes: SizePrices | None
    words: tuple[str, ...]
    not_included: tuple[str, ...]


def write(target: Target, quote: QuotePaper) -> None:
    """Writes the quote as a PDF; the same quote gives the same bytes."""
    room = TOP - MARGIN - FOOT
    pages = paged(list(_bands(quote)), room - HEAD, room)

    def drawn(number: int, bands: Sequence[Band]) -> Callable[[Canvas], None]:
        def draw(canvas: Canvas) -> None:
            top = TOP
            if number == 1:
                _draw_head(canvas, quote)
                top -= HEAD
            draw_bands(canvas, bands, LEFT, top)
            _draw_foot(canvas, quote, number, len(pages))

        return draw

    document = [drawn(number, bands) for number, bands in enumerate(pages, start=1)]
    save(target, pdf(f"Quote {quote.code}", A4, document))


def _draw_head(canvas: Canvas, quote: QuotePaper) -> None:
    canvas.setFillGray(0)
    put_text(canvas, LEFT, TOP - 10, "Quote", 10)
    put_text(canvas, LEFT, TOP - 38, quote.code, 26, bold=True, width=WIDTH / 2)
    put_text(
        canvas, RIGHT, TOP - 38, quote.workroom, 14, bold=True, width=WIDTH * 0.48, align="right"
    )
    put_text(canvas, RIGHT, TOP - 10, quote.standing, 10, width=WIDTH * 0.6, align="right")
    canvas.setLineWidth(1.2)
    canvas.setStrokeGray(0)
    canvas.setDash([7, 4])
    canvas.line(LEFT, TOP - 52, RIGHT, TOP - 52)
    canvas.setDash([])


def _draw_foot(canvas: Canvas, quote: QuotePaper, number: int, pages: int) -> None:
    canvas.setFillGray(0)
    put_text(canvas, LEFT, MARGIN - 4, f"Quote {quote.code}, {quote.workroom}", LEAST_SIZE + 1)
    put_text(canvas, RIGHT, MARGIN - 4, f"Page {number} of {pages}", LEAST_SIZE + 1, align="right")


def _bands(quote: QuotePaper) -> Iterator[Band]:
    yield from _facts(quote)
    if quote.looks:
        yield _heading("The jackets")
        yield from _look_bands(quote.looks)
    yield _heading(f"Prices in {quote.currency}")
    yield from _price_bands(quote)
    if quote.sizes:
        yield _heading("Sizes")
        yield from _size_bands(quote.sizes)
    if quote.words:
        yield _heading(f"From {quote.workroom}")
        for words in quote.words:
            yield from _paragraph(words)
    yield _heading("What it holds for")
    for sentence in _holds_for(quote):
        yield from _paragraph(sentence)
    yield _heading("Not included")
    if not quote.not_included:
        yield from _paragraph("Nothing was named that is not included.")
    for words in quote.not_included:
        yield from _paragraph(f"–\N{NO-BREAK SPACE}{words}")


def _facts(quote: QuotePaper) -> Iterator[Band]:
    rows = (
        ("For", quote.club),
        ("What", quote.what),
        ("Team order", quote.order),
        ("Of", day_in_words(quote.quoted_on)),
        ("Good until", day_in_words(quote.valid_until)),
        ("Wanted by", day_in_words(quote.wanted_by)),
    )
    for label, value in rows:
        for at, line in enumerate(wrapped(value, 11, WIDTH - LABELS, 2, bold=True)):
            yield _fact("" if at else label, line)


def _fact(label: str, value: str) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        put_text(canvas, left, top - 12, label, 9.5)
        put_text(canvas, left + LABELS, top - 12, value, 11, bold=True)

    return Band(17, draw)


def _heading(words: str) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        put_text(canvas, left, top - 26, words, 13, bold=True, width=WIDTH)

    return Band(34, draw, with_next=True)


def _paragraph(words: str, size: float = 10) -> Iterator[Band]:
    lines = wrapped(words, size, WIDTH)
    for at, line in enumerate(lines):
        last = at == len(lines) - 1
        # No line stands alone at the foot or the head of a page.
        yield _line(line, size, 4 if last else 0, keeps=not last and at in (0, len(lines) - 2))


def _line(words: str, size: float, after: float, *, keeps: bool = False) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        put_text(canvas, left, top - size, words, size)

    return Band(size * 1.4 + after, draw, with_next=keeps)


def _look_bands(looks: Sequence[Look]) -> Iterator[Band]:
    """Four fronts in a row, each with its name and colors."""
    step = WIDTH / 4
    for first in range(0, len(looks), 4):
        yield _look_row(looks[first : first + 4], step)


def _look_row(looks: Sequence[Look], step: float) -> Band:
    highest = max((_height(look, step - 8) for look in looks), default=0.0)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        for at, look in enumerate(looks):
            x = left + at * step
            if look.picture:
                draw_picture(canvas, look.picture, look.fills, x, top, _height(look, step - 8))
            canvas.setFillGray(0)
            put_text(canvas, x, top - highest - 12, look.name, 10, bold=True, width=step - 8)
            for down, line in enumerate(wrapped(look.colors, 8, step - 8, 2)):
                put_text(canvas, x, top - highest - 23 - 10 * down, line, 8)

    return Band(highest + 40, draw)


def _height(look: Look, width: float) -> float:
    """How high the picture is drawn, so that it is no wider than its place."""
    if look.picture is None:
        return 0.0
    wide, high = picture_extent(look.picture, PICTURE)
    return high * min(1.0, width / wide)


def _price_bands(quote: QuotePaper) -> Iterator[Band]:
    titles = (
        "Jackets",
        "One, with tax",
        "All, with tax",
        "of which tax",
        f"Deposit, {quote.deposit}",
    )
    head = _row(titles, is_head=True)
    yield head
    for price in quote.prices:
        cells = (str(price.jackets), price.each, price.whole, price.tax, price.deposit)
        yield _row(cells, repeats=head)
    yield _space(6)


def _row(cells: Sequence[str], *, is_head: bool = False, repeats: Band | None = None) -> Band:
    """A row of figures, each at the right edge of its column; the price of one jacket in bold."""
    step = WIDTH / len(cells)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        for at, cell in enumerate(cells):
            x = left + (at + 1) * step - 6
            bold = is_head or at == 1
            put_text(
                canvas,
                x,
                top - 13,
                cell,
                9 if is_head else 11,
                bold=bold,
                width=step - 8,
                align="right",
            )
        canvas.setStrokeGray(0 if is_head else 0.7)
        canvas.setLineWidth(0.9 if is_head else 0.4)
        canvas.line(left, top - 19, left + WIDTH, top - 19)

    return Band(19, draw, repeats=repeats, with_next=is_head)


def _space(height: float) -> Band:
    return Band(height, lambda canvas, left, top: None)


def _size_bands(sizes: SizePrices) -> Iterator[Band]:
    yield from _paragraph(
        "The price is one for all sizes. Were each paid for by its own cloth, thread and work, one "
        f"of {sizes.jackets} jackets, in the colorways ordered in its size, would cost"
    )
    per_row = 6
    for first in range(0, len(sizes.each), per_row):
        yield _size_row(sizes.each[first : first + per_row], WIDTH / per_row)


def _size_row(sizes: Sequence[tuple[str, str]], step: float) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        for at, (name, price) in enumerate(sizes):
            taken = put_text(canvas, left + at * step, top - 11, name, 9, width=step / 2)
            put_text(canvas, left + at * step + taken + 6, top - 11, price, 10, bold=True)

    return Band(18, draw)


def _holds_for(quote: QuotePaper) -> Iterator[str]:
    yield (
        f"The prices hold until {day_in_words(quote.valid_until)}, for the numbers of jackets "
        f"above, and for {quote.mix}. Another mix has another price."
    )
    yield (
        f"The jackets are wanted by {day_in_words(quote.wanted_by)}. They are picked up at the "
        "workroom, unless something else is agreed."
    )
    yield (
        f"With the order a deposit of {quote.deposit} of the price is asked for, the rest when the "
        "jackets are handed over."
    )
    yield f"Tax of {quote.tax} is in the prices. {TAX_WORDS}"


def jackets_in_mix(jackets: int, colorways: int, sizes: int) -> str:
    """'a mix of 2 colorways in 7 sizes, as in the 12 jackets that are ordered'."""
    mix = f"a mix of {counted(colorways, 'colorway')} in {counted(sizes, 'size')}"
    return f"{mix}, as in the {counted(jackets, 'jacket')} ordered" if jackets else mix
