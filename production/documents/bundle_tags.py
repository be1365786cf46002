"""Bundle tags: one for each jacket, eight on a sheet to be cut apart or each on a label of its own,
and pinned to the bundle."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from reportlab.lib.pagesizes import A4, letter
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from patterns.geometry.picture import Fill
from production.documents.drawings import picture_extent, swatch
from production.documents.drawn_once import show_picture
from production.documents.paper import (
    LEAST_SIZE,
    Target,
    counted,
    draw_qr,
    pdf,
    put_text,
    qr_edge,
    qr_quiet,
    save,
    wrapped,
)
from production.documents.tag_views import TagsOf as TagsOf
from production.documents.tag_views import TagView, tag_views
from production.errors import DocumentError
from production.planning.plan import Plan
from production.planning.snapshot import RunSnapshot


@dataclass(frozen=True, slots=True)
class TagPaper:
    """What tags are printed on, in points: a sheet of columns and rows, or a label. `inset` and
    `pad` are the margins of a tag at its sides and above and below."""

    sheet: tuple[float, float]
    columns: int
    rows: int
    inset: float
    pad: float

    @property
    def width(self) -> float:
        return self.sheet[0] / self.columns

    @property
    def height(self) -> float:
        return self.sheet[1] / self.rows

    @property
    def inner(self) -> float:
        return self.width - 2 * self.inset

    @property
    def per_sheet(self) -> int:
        return self.columns * self.rows


#: Printers leave about 5 mm blank at the edge of a sheet, and label printers 2 mm (common practice,
#: no source). The names are those of `Workroom.TagPaper`.
PAPERS = {
    "a4": TagPaper(A4, 2, 4, 7 * MM, 6 * MM),
    "letter": TagPaper(letter, 2, 4, 7 * MM, 5.5 * MM),
    "label": TagPaper((100 * MM, 62 * MM), 1, 1, 4 * MM, 3.5 * MM),
}

SIZE_WIDTH = 26 * MM
PICTURE_HEIGHT = 19 * MM
SWATCH, LINE, LEAST_LINE = 14.0, 9.2, 8.6


def write(
    target: Target,
    snapshot: RunSnapshot,
    plan: Plan,
    tag_url: Callable[[str], str],
    paper: str = "a4",
) -> None:
    """Writes the tags of a run as one PDF, in the order of the plan's jackets.

    `tag_url` gives the address that the QR code of a jacket opens. Raises DocumentError when the
    plan has no jackets or is not the snapshot's, and writes nothing.
    """
    if not plan.jackets:
        raise DocumentError(f"Run {plan.run} has no jackets, so there are no tags to print.")
    write_some(target, [TagsOf(snapshot, plan)], tag_url, paper)


def write_some(
    target: Target, sources: Sequence[TagsOf], tag_url: Callable[[str], str], paper: str = "a4"
) -> None:
    """As `write`, for tags of several plans of one run one after the other. Raises DocumentError
    also for a paper that is not known and where there is no tag."""
    if paper not in PAPERS:
        raise DocumentError(f"Tags are printed on {', '.join(PAPERS)}, not on '{paper}'.")
    tags = [tag for source in sources for tag in tag_views(source, tag_url)]
    if not tags:
        raise DocumentError("None of these jackets is in this run, so there are no tags to print.")
    on = PAPERS[paper]

    def sheet(some: Sequence[TagView]) -> Callable[[Canvas], None]:
        return lambda canvas: _draw_sheet(canvas, some, on)

    sheets = [sheet(tags[at : at + on.per_sheet]) for at in range(0, len(tags), on.per_sheet)]
    save(target, pdf(f"Bundle tags of run {sources[0].plan.run}", on.sheet, sheets))


def _draw_sheet(canvas: Canvas, tags: Iterable[TagView], on: TagPaper) -> None:
    _draw_cut_lines(canvas, on)
    for at, tag in enumerate(tags):
        left = at % on.columns * on.width
        top = on.sheet[1] - at // on.columns * on.height
        _draw_tag(canvas, tag, left + on.inset, top - on.pad, on)


def _draw_cut_lines(canvas: Canvas, on: TagPaper) -> None:
    canvas.setStrokeGray(0.5)
    canvas.setLineWidth(0.25)
    width, height = on.sheet
    for at in range(1, on.columns):
        canvas.line(at * on.width, 0, at * on.width, height)
    for at in range(1, on.rows):
        canvas.line(0, at * on.height, width, at * on.height)


def _draw_tag(canvas: Canvas, tag: TagView, left: float, top: float, on: TagPaper) -> None:
    jacket, right = tag.jacket, left + on.inner
    low = top - on.height + 2 * on.pad
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    put_text(canvas, left, top - 13, jacket.code, 17, bold=True, width=on.inner - SIZE_WIDTH - 6)
    put_text(canvas, right, top - 25, jacket.size, 32, bold=True, width=SIZE_WIDTH, align="right")
    put_text(canvas, right, top - 35, tag.size_name, 7.5, width=SIZE_WIDTH, align="right")
    edge, quiet = qr_edge(tag.address), qr_quiet(tag.address)
    # The symbol stands flush with the text; its quiet zone lies in the margin of the tag.
    draw_qr(canvas, tag.address, left - quiet, top - 18)
    beside, foot = left + edge - quiet, top - 18 - edge
    put_text(canvas, beside, top - 30, tag.source, LEAST_SIZE, width=right - SIZE_WIDTH - beside)
    _draw_names(canvas, tag, beside, top - 40, right, foot)
    if tag.front:
        height = min(PICTURE_HEIGHT, foot - low)
        right -= picture_extent(tag.front, height)[0]
        show_picture(canvas, tag.front, tag.fills, right, low - 2, height)
    _draw_foot(canvas, tag, left, foot, right - left, low)


def _draw_names(
    canvas: Canvas, tag: TagView, left: float, top: float, right: float, low: float
) -> None:
    """Beside the QR code: for whom the jacket is and how it looks; the note has the room left."""
    jacket, width = tag.jacket, right - left
    name = f"name on jacket: {jacket.name_on_jacket}" if jacket.name_on_jacket else ""
    y = top
    for line in wrapped(jacket.member, 11, width, 2, bold=True):
        y -= 12
        put_text(canvas, left, y, line, 11, bold=True)
    y -= 2
    for words, bold in ((tag.club, False), (tag.look, False), (name, True)):
        if words:
            y -= LINE + 0.6
            put_text(canvas, left, y, words, 8, bold=bold, width=width)
    if jacket.note:
        lines = max(1, int((y - low) // LINE))
        for line in wrapped(f"Note: {jacket.note}", 7.5, width, lines):
            y -= LINE
            put_text(canvas, left, y, line, 7.5)


def _draw_foot(
    canvas: Canvas, tag: TagView, left: float, top: float, width: float, low: float
) -> None:
    """Below the QR code: the blocks by color, and what else belongs to the bundle."""
    bundle = f"{counted(tag.pieces, 'piece')}, {tag.zipper}"
    lines = wrapped(bundle, 8, width - 4, 2, bold=True)
    room = top - low + 1
    rows = _color_rows(tag, width, int(room // LEAST_LINE) - len(lines))
    step = min(LINE, room / (len(rows) + len(lines)))
    for fill, words in rows:
        top -= step
        if fill:
            swatch(canvas, fill, left, top - 1, SWATCH, 6.5)
        put_text(canvas, left + SWATCH + 3, top, words, 7.5)
    for line in lines:
        top -= step
        put_text(canvas, left, top - 1, line, 8, bold=True, width=width)


def _color_rows(tag: TagView, width: float, most: int) -> list[tuple[Fill | None, str]]:
    """Each color on a line of its own, with its swatch; all in one paragraph where they take more
    lines than there are."""
    room = width - SWATCH - 6
    words = [(fill, f"{fill.name}: {' '.join(blocks)}") for fill, blocks in tag.colors]
    rows: list[tuple[Fill | None, str]] = []
    for fill, text in words:
        first, *more = wrapped(text, 7.5, room)
        rows += [(fill, first), *((None, line) for line in more)]
    if len(rows) <= most:
        return rows
    together = "; ".join(text for _, text in words)
    return [(None, line) for line in wrapped(together, 7.5, room, most)]
