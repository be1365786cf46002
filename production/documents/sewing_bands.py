"""The bands of an operation sheet: what lies ready, and the steps with their seams."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from patterns.geometry.picture import Fill
from production.documents.drawings import swatch
from production.documents.paper import (
    Band,
    draw_qr,
    put_text,
    qr_edge,
    qr_quiet,
    text_width,
    tick_box,
    wrapped,
)
from production.documents.sewing_rows import LINE, NAME, SMALL, TEXT, WIDTH, draw_spool, seam_band
from production.planning.lengths import small_length
from production.planning.sewing import sewing_told as told
from production.planning.sewing.sewing_parts import SewingSheet, WorkStep
from production.planning.snapshot import ThreadSpec
from production.planning.timetable.floor_words import listed


def sheet_bands(sheet: SewingSheet) -> Iterator[Band]:
    yield from _lay_out(sheet)
    yield from _cautions(sheet)
    for step in sheet.steps:
        yield from _step(step, sheet)
    yield _total(sheet)


def jacket_bands(jackets: Sequence[tuple[str, str, str, str, str]]) -> Iterator[Band]:
    """The jackets that share the sheet, each with its code to scan: (code, member, name on the
    jacket, note, address)."""
    yield _heading(f"The {len(jackets)} jackets of this sheet are alike but for whose they are")
    step = max(qr_edge(jacket[-1]) for jacket in jackets) + 1 * MM
    per_row = int(WIDTH // step)
    for at in range(0, len(jackets), per_row):
        yield _code_row(jackets[at : at + per_row], step)
    for code, _, _, note, _ in jackets:
        if note:
            yield from _lines(f"{code}, note: {note}", WIDTH, TEXT, 0)


def _code_row(jackets: Sequence[tuple[str, str, str, str, str]], step: float) -> Band:
    low = max(qr_edge(jacket[-1]) - qr_quiet(jacket[-1]) / 2 for jacket in jackets)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        for at, (code, member, name, _, address) in enumerate(jackets):
            x, quiet = left + at * step, qr_quiet(address)
            # The symbol stands flush with the text; its quiet zone lies around it.
            draw_qr(canvas, address, x - quiet, top + quiet / 2)
            put_text(canvas, x, top - low - 4, code, TEXT, bold=True, width=step - 4)
            put_text(canvas, x, top - low - 14, member, SMALL, width=step - 4)
            if name:
                words = f"named {name}"
                put_text(canvas, x, top - low - 23, words, SMALL, bold=True, width=step - 4)

    return Band(low + 28, draw)


def _lay_out(sheet: SewingSheet) -> Iterator[Band]:
    yield _heading("Lay ready")
    for color, blocks in sheet.colors:
        fill = Fill(color.hex_color, color.hatch, color.name)
        yield from _ready(f"{color.name}: {listed(blocks)}", fill)
    if sheet.placket:
        yield from _ready(f"placket: {'; '.join(told.placket_words(sheet.placket))}")
    yield _threads(sheet.threads)
    yield from _ready(told.zipper_words(sheet.zipper, sheet.unit))
    for cut in sheet.elastics:
        yield from _ready(told.elastic_words(cut, sheet.unit))
    if sheet.notions:
        yield from _ready("; ".join(told.notion_words(cut, sheet.unit) for cut in sheet.notions))


def _cautions(sheet: SewingSheet) -> Iterator[Band]:
    yield _heading("Take care")
    for words in sheet.cautions:
        yield from _lines(words, WIDTH, SMALL, 0)


def _step(step: WorkStep, sheet: SewingSheet) -> Iterator[Band]:
    yield _step_head(step, sheet.unit)
    again = _same_seams(step, sheet.steps)
    for words in _beside(step, sheet.unit):
        yield from _lines(words, WIDTH - NAME, TEXT, NAME)
    if again:
        yield from _as_before(step, again, sheet.unit)
        return
    repeats = _step_head(step, sheet.unit, goes_on=True)
    for seam in step.seams:
        yield seam_band(seam, step, sheet.unit, repeats)


def _beside(step: WorkStep, unit: str) -> Iterator[str]:
    if step.zipper:
        yield told.zipper_words(step.zipper, unit)
    for cut in step.elastics:
        yield told.elastic_words(cut, unit)


def _same_seams(step: WorkStep, steps: Iterable[WorkStep]) -> WorkStep | None:
    """The step before it that sews the same seams in the same threads, so that they need not be
    listed twice."""
    if len(step.seams) < 2:
        return None
    return next(
        (one for one in steps if one.number < step.number and _sewn(one) == _sewn(step)), None
    )


def _sewn(step: WorkStep) -> list[tuple[str, list[tuple[str, Decimal]]]]:
    return [
        (seam.seam, sorted((part.thread.code, part.length_mm) for part in seam.threads))
        for seam in step.seams
    ]


def _as_before(step: WorkStep, before: WorkStep, unit: str) -> Iterator[Band]:
    words = (
        f"The {len(step.seams)} seams of step {before.number}, in the same order and each in the "
        f"same thread: {small_length(float(step.length_mm), unit)} in all"
    )
    yield from _lines(words, WIDTH - NAME, TEXT, NAME)


def _step_head(step: WorkStep, unit: str, *, goes_on: bool = False) -> Band:
    """Number, name and minutes on a gray ground, and below it the machine and what is set on it."""
    told_of = _runs(step, unit)
    lines = 0 if goes_on else len(told_of)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        canvas.setFillGray(0.9)
        canvas.rect(left, top - 18, WIDTH, 14, stroke=0, fill=1)
        canvas.setFillGray(0)
        name = f"{step.number}  {step.operation.name}{', continued' if goes_on else ''}"
        put_text(canvas, left + 3, top - 14.5, name, 10, bold=True, width=WIDTH * 0.8)
        minutes = told.minutes_words(step.minutes)
        put_text(canvas, left + WIDTH - 3, top - 14.5, minutes, TEXT, align="right")
        for at in range(lines):
            x = left + 3
            for words, bold in told_of[at]:
                x += put_text(canvas, x, top - 27 - LINE * at, words, TEXT, bold=bold) + 9

    return Band(20 + LINE * lines, draw, with_next=True)


def _runs(step: WorkStep, unit: str) -> list[list[tuple[str, bool]]]:
    """The words below the head of a step in lines, what is changed in bold letters."""
    machine = told.machine_words(step, unit)
    every = [(machine, False)] if machine else []
    every += [(words, words.startswith("Change")) for words in told.set_up_words(step)]
    lines: list[list[tuple[str, bool]]] = []
    left = 0.0
    for words, bold in every:
        taken = text_width(words, TEXT, bold=bold) + 9
        if not lines or taken > left:
            lines.append([])
            left = WIDTH
        lines[-1].append((words, bold))
        left -= taken
    return lines


def _threads(threads: Sequence[ThreadSpec]) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        tick_box(canvas, left + 1, top - 9.5, 2.6 * MM)
        x = left + NAME
        x += put_text(canvas, x, top - 8.5, "thread, needle, bobbin and loopers alike:", TEXT) + 4
        for thread in threads:
            draw_spool(canvas, thread, x, top - 10)
            x += 10 + put_text(canvas, x + 10, top - 8.5, thread.name, TEXT) + 8

    return Band(LINE + 1, draw)


def _total(sheet: SewingSheet) -> Band:
    changes = sheet.thread_changes
    words = (
        f"{sheet.minutes:.1f} standard minutes without allowance and changes. Sewn seam by seam in "
        f"this order the thread is changed {changes} times; jackets in the same threads together, "
        "or one thread through all seams that do not wait for another, need fewer."
    )
    lines = wrapped(words, SMALL, WIDTH)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        for at, line in enumerate(lines):
            put_text(canvas, left, top - 12 - 9 * at, line, SMALL)

    return Band(9 * len(lines) + 8, draw)


def _heading(words: str) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        put_text(canvas, left, top - 13, words, 10, bold=True, width=WIDTH)

    return Band(17, draw, with_next=True)


def _ready(words: str, fill: Fill | None = None) -> Iterator[Band]:
    """A thing to lay ready with its box to tick, its fabric color drawn before the words."""
    indent = NAME + (17 if fill else 0)
    lines = wrapped(words, TEXT, WIDTH - indent)

    def draw(canvas: Canvas, left: float, top: float) -> None:
        tick_box(canvas, left + 1, top - 9.5, 2.6 * MM)
        if fill:
            swatch(canvas, fill, left + NAME, top - 9.5, 13, 7.5)
        canvas.setFillGray(0)
        for at, line in enumerate(lines):
            put_text(canvas, left + indent, top - 8.5 - LINE * at, line, TEXT)

    yield Band(LINE * len(lines) + 1.5, draw)


def _lines(words: str, width: float, size: float, indent: float) -> Iterator[Band]:
    for line in wrapped(words, size, width):
        yield _line(line, size, indent)


def _line(words: str, size: float, indent: float) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        put_text(canvas, left + indent, top - size, words, size)

    return Band(size * 1.25, draw)
