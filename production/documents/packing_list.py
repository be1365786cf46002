"""The packing list of one delivery: jackets by member with a box to tick, those that follow later
by name, and who received it."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import zip_longest

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from production.documents import signing
from production.documents.paper import (
    LEAST_SIZE,
    Band,
    Draw,
    Target,
    counted,
    day_in_words,
    draw_bands,
    paged,
    pdf,
    put_text,
    save,
    tick_box,
    wrapped,
)
from production.errors import DocumentError

MARGIN = 15 * MM
LEFT, TOP = MARGIN, A4[1] - MARGIN
WIDTH = A4[0] - 2 * MARGIN
HEAD, FOOT = 30 * MM, 7 * MM
ROW = 17.0
SIGNED = 44 * MM
GAP = 6 * MM
#: Left edges of the columns with their heads and widths.
COLUMNS = tuple(
    (head, left * MM, width * MM)
    for head, left, width in (
        ("Member", 8, 56),
        ("Size", 66, 14),
        ("Colorway", 82, 38),
        ("Name on jacket", 122, 30),
        ("Code", 154, 26),
    )
)


@dataclass(frozen=True, slots=True)
class Packed:
    member: str
    size: str
    colorway: str
    name_on_jacket: str
    code: str


@dataclass(frozen=True, slots=True)
class Follows:
    """A jacket that is not in this delivery, with where it is in words."""

    member: str
    size: str
    words: str


@dataclass(frozen=True, slots=True)
class PackingList:
    """`day` is when it was handed over, or is drawn up; `received` whether it was handed over
    already, and then `received_by`, `strokes` and
    `signed` ('on paper', or empty) say how. `before` counts the jackets of
    the order that were handed over before it, `ordered` those in it."""

    order: str
    title: str
    club: str
    workroom: str
    address: str
    number: int
    day: datetime.date
    packed: tuple[Packed, ...]
    follows: tuple[Follows, ...]
    before: int
    ordered: int
    received: bool = False
    received_by: str = ""
    signed: str = ""
    strokes: Sequence[signing.Stroke] = ()
    note: str = ""

    @property
    def name(self) -> str:
        return f"Packing list {self.order}, delivery {self.number}"


def write(target: Target, listed: PackingList) -> None:
    """Writes the list as a PDF; the same list gives the same bytes. Raises DocumentError when
    nothing is packed."""
    if not listed.packed:
        raise DocumentError(
            f"No jacket of order {listed.order} waits to be handed over, so there is nothing to "
            "pack. A delivery that was made has its packing list on its own page."
        )
    room = TOP - HEAD - MARGIN - FOOT
    pages = paged([*_packed(listed), *_following(listed), _signed(listed)], room, room)

    def draw(canvas: Canvas, number: int) -> None:
        canvas.setFillGray(0)
        canvas.setStrokeGray(0)
        _head(canvas, listed)
        draw_bands(canvas, pages[number - 1], LEFT, TOP - HEAD)
        words = f"{listed.name}, page {number} of {len(pages)}"
        put_text(canvas, LEFT, MARGIN - 4, words, LEAST_SIZE, width=WIDTH)

    drawn = [partial(draw, number=number) for number in range(1, len(pages) + 1)]
    save(target, pdf(listed.name, A4, drawn))


def _head(canvas: Canvas, listed: PackingList) -> None:
    right = LEFT + WIDTH
    put_text(canvas, LEFT, TOP - 16, listed.club, 18, bold=True, width=WIDTH * 0.62)
    put_text(canvas, LEFT, TOP - 30, f"{listed.order}, {listed.title}", 9, width=WIDTH * 0.62)
    put_text(
        canvas, right, TOP - 14, listed.workroom, 10, bold=True, width=WIDTH * 0.35, align="right"
    )
    for line, words in enumerate(wrapped(listed.address, 8, WIDTH * 0.35, 2)):
        put_text(canvas, right, TOP - 25 - 10 * line, words, 8, align="right")
    put_text(
        canvas,
        LEFT,
        TOP - 50,
        f"Packing list, delivery {listed.number}",
        12,
        bold=True,
        width=WIDTH,
    )
    put_text(canvas, LEFT, TOP - 63, _count_words(listed), 9, width=WIDTH)
    canvas.setLineWidth(1.2)
    canvas.setDash([7, 4])
    canvas.line(LEFT, TOP - 70, right, TOP - 70)
    canvas.setDash([])


def _count_words(listed: PackingList) -> str:
    when = "Handed over on" if listed.received else "Drawn up on"
    words = [f"{when} {day_in_words(listed.day)}", f"{len(listed.packed)} of {listed.ordered}"]
    words[1] += f" {'jacket' if listed.ordered == 1 else 'jackets'} in this delivery"
    if listed.before:
        words.append(f"{listed.before} handed over before")
    if listed.follows:
        words.append(f"{len(listed.follows)} follow{'s' if len(listed.follows) == 1 else ''} later")
    return "; ".join(words) + "."


def _packed(listed: PackingList) -> list[Band]:
    head = Band(18.0, _table_head, with_next=True)
    return [head, *(Band(ROW, _row(one), repeats=head) for one in listed.packed)]


def _table_head(canvas: Canvas, left: float, top: float) -> None:
    for head, at, width in COLUMNS:
        put_text(canvas, left + at, top - 11, head, 8, width=width)
    canvas.setLineWidth(0.8)
    canvas.line(left, top - 16, left + WIDTH, top - 16)


def _row(one: Packed) -> Draw:
    cells = (one.member, one.size, one.colorway, one.name_on_jacket, one.code)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        tick_box(canvas, left, top - 13)
        for (head, at, width), words in zip(COLUMNS, cells, strict=True):
            bold = head in ("Member", "Size")
            put_text(canvas, left + at, top - 12, words, 9.5, bold=bold, width=width)
        canvas.setLineWidth(0.25)
        canvas.line(left, top - ROW, left + WIDTH, top - ROW)

    return draw


def _following(listed: PackingList) -> list[Band]:
    if not listed.follows:
        return []
    words = f"Follows later: {counted(len(listed.follows), 'jacket')}"

    def heading(canvas: Canvas, left: float, top: float) -> None:
        put_text(canvas, left, top - 22, words, 11, bold=True)

    head = Band(30.0, heading, with_next=True)
    # Down the left column, then down the right one.
    half = (len(listed.follows) + 1) // 2
    pairs = zip_longest(listed.follows[:half], listed.follows[half:])
    return [head, *(_follow(pair, head) for pair in pairs)]


def _follow(pair: tuple[Follows | None, Follows | None], head: Band) -> Band:
    """Where each jacket is, and below it when it comes."""
    told = [(one, one.words.split("; ") if one else []) for one in pair]

    def draw(canvas: Canvas, left: float, top: float) -> None:
        for place, (one, lines) in enumerate(told):
            if one is not None:
                at, base = left + place * (WIDTH + GAP) / 2, top - 10
                put_text(canvas, at, base, one.member, 9, width=33 * MM)
                put_text(canvas, at + 35 * MM, base, one.size, 9, width=9 * MM)
                for down, words in enumerate(lines):
                    line, width = base - 10 * down, WIDTH / 2 - 45 * MM - GAP
                    put_text(canvas, at + 45 * MM, line, words, 8, width=width)

    height = 3.0 + 10 * max(len(lines) for _, lines in told)
    return Band(height, draw, repeats=head)


def _signed(listed: PackingList) -> Band:
    """Who received it, kept together: a line on paper, or the signature from the screen."""

    def draw(canvas: Canvas, left: float, top: float) -> None:
        if listed.note:
            for line, words in enumerate(wrapped(f"Note: {listed.note}", 9, WIDTH, 2)):
                put_text(canvas, left, top - 20 - 12 * line, words, 9)
        bottom = top - SIGNED + 16
        name, day = left + 70 * MM, left + 135 * MM
        put_text(canvas, left, bottom + 22 * MM + 10, _received_words(listed), 9, width=60 * MM)
        if listed.strokes:
            signing.draw_signature(canvas, listed.strokes, left, bottom + 2, 55 * MM)
        if listed.received:
            put_text(canvas, name, bottom + 4, listed.received_by, 11, width=60 * MM)
            put_text(canvas, day, bottom + 4, f"{listed.day:%d %b %Y}", 11)
        signing.draw_line(canvas, left, bottom, 60 * MM, "Signature")
        signing.draw_line(canvas, name, bottom, 60 * MM, "Name")
        signing.draw_line(canvas, day, bottom, 45 * MM, "Day")

    return Band(SIGNED, draw)


def _received_words(listed: PackingList) -> str:
    if not listed.received:
        return "Received complete, as ticked:"
    return f"Received and signed {listed.signed}:" if listed.signed else "Received, not signed:"
