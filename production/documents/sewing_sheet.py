"""Operation sheets: what is sewn on a jacket, step by step; jackets sewn alike share a sheet."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from patterns.geometry.picture import Fill, Picture
from production.documents.drawings import picture_extent
from production.documents.drawn_once import show_picture
from production.documents.paper import (
    LEAST_SIZE,
    Band,
    Target,
    counted,
    draw_bands,
    draw_qr,
    paged,
    pdf,
    put_text,
    qr_edge,
    qr_quiet,
    save,
)
from production.documents.sewing_bands import jacket_bands, sheet_bands
from production.documents.sewing_rows import LEFT, RIGHT, WIDTH
from production.errors import DocumentError
from production.planning.sewing.sewing_parts import SewingSheet

MARGIN = 13 * MM
TOP = A4[1] - MARGIN
HEAD, FOOT = 37 * MM, 7 * MM
#: From the second page of a sheet on, its head is one line.
SHORT_HEAD = 9 * MM
PICTURE = 30 * MM


@dataclass(frozen=True, slots=True)
class JacketLine:
    """A jacket that is sewn by a sheet, and the address that its code opens."""

    code: str
    member: str
    name_on_jacket: str
    note: str
    address: str


@dataclass(frozen=True, slots=True)
class SheetPaper:
    """A sheet with the jackets that it is for, and the views of them to be drawn."""

    sheet: SewingSheet
    jackets: tuple[JacketLine, ...]
    pictures: tuple[Picture, ...]
    fills: Mapping[str, Fill]

    @property
    def title(self) -> str:
        first = self.jackets[0].code
        if len(self.jackets) == 1:
            return first
        return f"{first} and {counted(len(self.jackets) - 1, 'other jacket')}"


def write(target: Target, run: str, papers: Sequence[SheetPaper]) -> None:
    """Writes the sheets one after the other, each from a page of its own on. Raises DocumentError
    where there are none."""
    if not papers:
        raise DocumentError(f"Run {run} has no jackets to sew, so there are no sheets to print.")
    pages = [page for paper in papers for page in _pages(paper, run)]
    title = f"Operation sheet {papers[0].title}" if len(papers) == 1 else f"Operation sheets {run}"
    save(target, pdf(title, A4, pages))


def _pages(paper: SheetPaper, run: str) -> Iterator[Callable[[Canvas], None]]:
    room = TOP - MARGIN - FOOT
    bands = [*_for_whom(paper), *sheet_bands(paper.sheet)]
    dealt = paged(bands, room - HEAD, room - SHORT_HEAD)

    def drawn(number: int, some: Sequence[Band]) -> Callable[[Canvas], None]:
        def draw(canvas: Canvas) -> None:
            canvas.setFillGray(0)
            canvas.setStrokeGray(0)
            if number == 1:
                _draw_head(canvas, paper)
            else:
                _draw_short_head(canvas, paper)
            draw_bands(canvas, some, LEFT, TOP - (HEAD if number == 1 else SHORT_HEAD))
            _draw_foot(canvas, paper, run, f"page {number} of {len(dealt)}")

        return draw

    for number, some in enumerate(dealt, start=1):
        yield drawn(number, some)


def _for_whom(paper: SheetPaper) -> Iterator[Band]:
    if len(paper.jackets) > 1:
        yield from jacket_bands(
            [
                (one.code, one.member, one.name_on_jacket, one.note, one.address)
                for one in paper.jackets
            ]
        )


def _draw_head(canvas: Canvas, paper: SheetPaper) -> None:
    sheet, right = paper.sheet, RIGHT
    if len(paper.jackets) == 1:
        address = paper.jackets[0].address
        draw_qr(
            canvas, address, RIGHT - qr_edge(address) + qr_quiet(address), TOP + qr_quiet(address)
        )
        right = RIGHT - qr_edge(address) + qr_quiet(address)
    for picture in reversed(paper.pictures):
        wide = picture_extent(picture, PICTURE)[0]
        right -= wide + 2 * MM
        show_picture(canvas, picture, paper.fills, right, TOP - PICTURE, PICTURE)
    width = right - LEFT - 3 * MM
    canvas.setFillGray(0)
    put_text(canvas, LEFT, TOP - 8, "Operation sheet", 9)
    put_text(canvas, LEFT, TOP - 27, paper.title, 18, bold=True, width=width, least=9)
    size = sheet.size.name if sheet.size.name != sheet.size.code else ""
    lines = [
        (f"Size {sheet.size.code}" + (f", {size}" if size else ""), True),
        (f"{sheet.blocking}, {sheet.jacket.colorway}", False),
        (sheet.order.club, False),
    ]
    if len(paper.jackets) == 1:
        lines += _whose(paper.jackets[0])
    y = TOP - 30
    for words, bold in lines:
        y -= 11.5
        put_text(canvas, LEFT, y, words, 9, bold=bold, width=width)


def _whose(jacket: JacketLine) -> Iterator[tuple[str, bool]]:
    yield jacket.member, False
    if jacket.name_on_jacket:
        yield f"name on the jacket: {jacket.name_on_jacket}", True
    if jacket.note:
        yield f"note: {jacket.note}", True


def _draw_short_head(canvas: Canvas, paper: SheetPaper) -> None:
    put_text(canvas, LEFT, TOP - 10, paper.title, 11, bold=True, width=WIDTH * 0.6)
    words = f"size {paper.sheet.size.code}, {paper.sheet.blocking}, {paper.sheet.jacket.colorway}"
    put_text(canvas, RIGHT, TOP - 10, words, 9, width=WIDTH * 0.38, align="right")


def _draw_foot(canvas: Canvas, paper: SheetPaper, run: str, page: str) -> None:
    canvas.setFillGray(0)
    words = f"Run {run}, operation sheet {paper.title}"
    put_text(canvas, LEFT, MARGIN - 2, words, LEAST_SIZE, width=WIDTH * 0.75)
    put_text(canvas, RIGHT, MARGIN - 2, page, LEAST_SIZE, align="right")
