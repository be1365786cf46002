"""Sheets of labels to be cut apart, or single ones, on the papers that tags are printed on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from production.documents.bundle_tags import PAPERS, TagPaper
from production.documents.paper import pdf
from production.errors import DocumentError


@dataclass(frozen=True, slots=True)
class Space:
    """Where one label may be drawn, in points: its left edge, its top, and how large it is."""

    left: float
    top: float
    width: float
    height: float


#: Draws one label into its space.
Label = Callable[[Canvas, Space], None]


def label_pdf(title: str, labels: Sequence[Label], paper: str) -> bytes:
    """The labels in order, as many on a page as `paper` (of `bundle_tags.PAPERS`) takes. Raises
    DocumentError for a paper that is not known."""
    if paper not in PAPERS:
        raise DocumentError(f"Labels are printed on {', '.join(PAPERS)}, not on '{paper}'.")
    on = PAPERS[paper]
    pages = [
        _page(labels[at : at + on.per_sheet], on) for at in range(0, len(labels), on.per_sheet)
    ]
    return pdf(title, on.sheet, pages)


def _page(labels: Sequence[Label], on: TagPaper) -> Callable[[Canvas], None]:
    def draw(canvas: Canvas) -> None:
        _cut_lines(canvas, on)
        for place, label in enumerate(labels):
            canvas.setFillGray(0)
            canvas.setStrokeGray(0)
            label(canvas, _space(on, place))

    return draw


def _space(on: TagPaper, place: int) -> Space:
    row, column = divmod(place, on.columns)
    return Space(
        column * on.width + on.inset,
        on.sheet[1] - row * on.height - on.pad,
        on.inner,
        on.height - 2 * on.pad,
    )


def _cut_lines(canvas: Canvas, on: TagPaper) -> None:
    canvas.setStrokeGray(0.5)
    canvas.setLineWidth(0.25)
    wide, high = on.sheet
    for column in range(1, on.columns):
        canvas.line(column * on.width, 0, column * on.width, high)
    for row in range(1, on.rows):
        canvas.line(0, row * on.height, wide, row * on.height)
