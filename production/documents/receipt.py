"""The receipt of one payment: half a sheet, to be given to the club or the member."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from reportlab.lib.pagesizes import A5, landscape
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from production.documents.paper import (
    LEAST_SIZE,
    Target,
    day_in_words,
    pdf,
    put_text,
    save,
    wrapped,
)

PAGE = landscape(A5)
MARGIN = 14 * MM
LEFT, RIGHT = MARGIN, PAGE[0] - MARGIN
TOP = PAGE[1] - MARGIN
LABELS = 38 * MM


@dataclass(frozen=True, slots=True)
class Receipt:
    """What stands on the receipt; `amount` and `balance` are figures with their currency. `member`
    is empty for what was paid for the order as a whole; `is_refund` turns the words round."""

    number: str
    workroom: str
    club: str
    member: str
    what_for: str
    order: str
    amount: str
    paid_on: datetime.date
    balance: str
    is_refund: bool = False

    @property
    def rows(self) -> tuple[tuple[str, str], ...]:
        return (
            ("Paid back to" if self.is_refund else "Received from", self.member or self.club),
            *((("Club", self.club),) if self.member else ()),
            ("For", self.what_for),
            ("Team order", self.order),
            ("Day", day_in_words(self.paid_on)),
            ("Balance after it", self.balance),
        )


def write(target: Target, receipt: Receipt) -> None:
    """Writes the receipt as a PDF of one page; the same receipt gives the same bytes."""
    save(
        target, pdf(f"Receipt {receipt.number}", PAGE, [lambda canvas: _draw_page(canvas, receipt)])
    )


def _draw_page(canvas: Canvas, receipt: Receipt) -> None:
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    width = RIGHT - LEFT
    kind = "Receipt for money paid back" if receipt.is_refund else "Receipt"
    put_text(canvas, LEFT, TOP - 9, kind, 9)
    put_text(canvas, LEFT, TOP - 36, receipt.number, 26, bold=True, width=width / 2)
    put_text(
        canvas, RIGHT, TOP - 36, receipt.workroom, 14, bold=True, width=width * 0.48, align="right"
    )
    _stitches(canvas, TOP - 50)
    y = _draw_rows(canvas, receipt, TOP - 74)
    _draw_amount(canvas, receipt.amount, y)
    _draw_signature(canvas, receipt)


def _stitches(canvas: Canvas, y: float) -> None:
    canvas.setLineWidth(1.2)
    canvas.setDash([7, 4])
    canvas.line(LEFT, y, RIGHT, y)
    canvas.setDash([])


def _draw_rows(canvas: Canvas, receipt: Receipt, y: float) -> float:
    """The facts from y down; the height at which they end."""
    for label, value in receipt.rows:
        put_text(canvas, LEFT, y, label, 9)
        for line in wrapped(value, 11, RIGHT - LEFT - LABELS, 2, bold=True):
            put_text(canvas, LEFT + LABELS, y, line, 11, bold=True)
            y -= 15
        y -= 4
    return y


def _draw_amount(canvas: Canvas, amount: str, y: float) -> None:
    height = 15 * MM
    canvas.setLineWidth(1.2)
    canvas.rect(LEFT, y - height + 6, RIGHT - LEFT, height, stroke=1, fill=0)
    put_text(canvas, LEFT + 10, y - height / 2 + 2, "Amount", 11)
    put_text(canvas, RIGHT - 10, y - height / 2 - 1, amount, 22, bold=True, align="right")


def _draw_signature(canvas: Canvas, receipt: Receipt) -> None:
    y = MARGIN + 8
    canvas.setLineWidth(0.6)
    canvas.line(RIGHT - 70 * MM, y + 12, RIGHT, y + 12)
    who = "Received by" if receipt.is_refund else f"For {receipt.workroom}"
    put_text(canvas, RIGHT - 70 * MM, y, who, LEAST_SIZE, width=70 * MM)
    put_text(canvas, LEFT, y, f"Receipt {receipt.number}", LEAST_SIZE)
