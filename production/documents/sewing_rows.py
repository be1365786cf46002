"""A seam as a row of an operation sheet, its threads as drawn spools."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from production.documents.paper import Band, put_text, text_width, tick_box, wrapped
from production.planning.lengths import small_length
from production.planning.sewing import sewing_told as told
from production.planning.sewing.sewing_parts import SeamWork, ThreadStretch, WorkStep
from production.planning.snapshot import ThreadSpec
from production.planning.timetable.floor_words import listed

LEFT, RIGHT = 13 * MM, A4[0] - 13 * MM
WIDTH = RIGHT - LEFT
SMALL, TEXT = 7.5, 8.5
LINE = 10.0
#: Columns of a seam, from the left edge of the band; the length ends at its own.
NAME, JOINS, LENGTH, THREAD = 6 * MM, 52 * MM, 127 * MM, 131 * MM
CHANGE = "change to"


def seam_band(seam: SeamWork, step: WorkStep, unit: str, repeats: Band) -> Band:
    """A seam with a box to tick: name, which blocks meet and how, length, thread by thread."""
    names = wrapped(seam.name[:1].upper() + seam.name[1:], TEXT, JOINS - NAME - 4, bold=True)
    facts = list(_facts(seam, step, unit))
    threads = [
        (part, at == 0, line)
        for part in seam.threads
        for at, line in enumerate(_thread_lines(part, len(seam.threads) > 1, unit))
    ]
    height = LINE * max(len(names), len(facts), len(threads)) + 3

    def draw(canvas: Canvas, left: float, top: float) -> None:
        canvas.setStrokeGray(0.75)
        canvas.setLineWidth(0.3)
        canvas.line(left, top, left + WIDTH, top)
        tick_box(canvas, left + 1, top - 9.5, 2.6 * MM)
        for at, line in enumerate(names):
            put_text(canvas, left + NAME, top - 8.5 - LINE * at, line, TEXT, bold=True)
        for at, (line, bold) in enumerate(facts):
            put_text(canvas, left + JOINS, top - 8.5 - LINE * at, line, SMALL, bold=bold)
        length = small_length(float(seam.length_mm), unit)
        put_text(canvas, left + LENGTH, top - 8.5, length, TEXT, align="right")
        for at, (part, is_first, line) in enumerate(threads):
            _draw_thread(canvas, part, line, left + THREAD, top - 8.5 - LINE * at, is_first)

    return Band(height, draw, repeats=repeats)


def _facts(seam: SeamWork, step: WorkStep, unit: str) -> Iterator[tuple[str, bool]]:
    """Lines in the middle column; what must be waited for in bold letters."""
    width = LENGTH - JOINS - 16 * MM
    how = told.seam_words(seam, step, unit)
    words = ", ".join(filter(None, (told.joins_words(seam), how)))
    yield from ((line, False) for line in wrapped(words, SMALL, width))
    for cut in seam.notions:
        with_it = f"with {told.notion_words(cut, unit)}"
        yield from ((line, False) for line in wrapped(with_it, SMALL, width))
    if seam.waits_for:
        after = f"only after: {seam.waits_for}; then set the machine as here again"
        yield from ((line, True) for line in wrapped(after, SMALL, width, bold=True))


def _thread_lines(part: ThreadStretch, is_part: bool, unit: str) -> list[str]:
    words = part.thread.name
    if is_part:
        words = f"{words} {small_length(float(part.length_mm), unit)}: {listed(part.blocks)}"
    # The spool and, at a change, its words take their room from every line.
    taken = 12 + (text_width(CHANGE, SMALL, bold=True) + 3 if part.is_change else 0)
    return wrapped(words, SMALL, WIDTH - THREAD - taken, bold=part.is_change)


def _draw_thread(
    canvas: Canvas, part: ThreadStretch, line: str, x: float, y: float, is_first: bool
) -> None:
    """A drawn spool before the first line, and 'change to' where another thread is on the
    machine."""
    if part.is_change:
        taken = text_width(CHANGE, SMALL, bold=True) + 3
        if is_first:
            put_text(canvas, x, y, CHANGE, SMALL, bold=True)
        x += taken
    if is_first:
        draw_spool(canvas, part.thread, x, y - 1.5)
    put_text(canvas, x + 10, y, line, SMALL, bold=part.is_change)


def draw_spool(canvas: Canvas, thread: ThreadSpec, left: float, bottom: float) -> None:
    """A spool from the side: two flanges with the thread between them, 7 points wide."""
    canvas.saveState()
    canvas.setStrokeGray(0)
    canvas.setLineWidth(0.5)
    canvas.setFillColor(HexColor(thread.hex_color))
    canvas.rect(left + 1, bottom + 1.2, 5, 5.6, stroke=1, fill=1)
    canvas.setLineWidth(1.2)
    canvas.lines([(left, y, left + 7, y) for y in (bottom + 0.8, bottom + 7.2)])
    canvas.restoreState()
