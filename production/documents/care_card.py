"""Care cards: one for each jacket, eight on an A4 sheet; how it is washed, in symbols and words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from production.documents.care_symbols import draw_sign
from production.documents.label_sheets import Label, Space, label_pdf
from production.documents.paper import LEAST_SIZE, Target, put_text, save, wrapped
from production.errors import DocumentError
from production.planning.labels.care import Care, CareSign

SIGN = 12 * MM
TEXT, LINE = 8.0, 9.8


@dataclass(frozen=True, slots=True)
class CareCard:
    """`maker` is the workroom with its address as far as it is known, `made_in` a country or
    empty, `batch` the run; `count` how many jackets take this card."""

    maker: str
    made_in: str
    batch: str
    care: Care
    count: int


def write(target: Target, cards: Sequence[CareCard], title: str, paper: str = "a4") -> None:
    """Writes all cards as one PDF, those of one combination of fabrics together. Raises
    DocumentError when there is none."""
    labels = [label for card in cards for label in _labels(card)]
    if not labels:
        raise DocumentError(f"{title}: there is no jacket to make a care card for.")
    save(target, label_pdf(title, labels, paper))


def _labels(card: CareCard) -> Iterable[Label]:
    def draw(canvas: Canvas, space: Space) -> None:
        _draw_card(canvas, card, space)

    return [draw] * card.count


def _draw_card(canvas: Canvas, card: CareCard, space: Space) -> None:
    y = space.top - 8
    put_text(canvas, space.left, y, "Care of this jacket", 10, bold=True)
    y = _draw_lines(canvas, _fiber_lines(card.care, space.width), space, y - 4, bold=True)
    y = _draw_signs(canvas, card.care.signs, space, y - SIGN - 5)
    foot = _draw_foot(canvas, card, space)
    hints = [line for hint in card.care.hints for line in wrapped(hint, TEXT, space.width)]
    # Where many fabrics leave no room, what the label must say goes before good advice.
    if y - 3 - len(hints) * LINE > foot:
        _draw_lines(canvas, hints, space, y - 3)


def _draw_signs(canvas: Canvas, signs: Sequence[CareSign], space: Space, bottom: float) -> float:
    """The symbols side by side, each with its words below it; where they end."""
    step, low = space.width / len(signs), bottom
    for place, sign in enumerate(signs):
        left = space.left + place * step
        draw_sign(canvas, sign, left + (step - SIGN) / 2, bottom, SIGN)
        y = bottom - 1
        for line in wrapped(sign.words, LEAST_SIZE, step - 3):
            y -= 8
            put_text(canvas, left + step / 2, y, line, LEAST_SIZE, align="center")
        low = min(low, y)
    return low


def _fiber_lines(care: Care, width: float) -> list[str]:
    fibers = [f"{name}: {fiber}" for name, fiber in care.fibers]
    words = care.fibers[0][1] if len(fibers) == 1 else "; ".join(fibers)
    return wrapped(words, TEXT, width, 5, bold=True)


def _draw_lines(
    canvas: Canvas, lines: Iterable[str], space: Space, y: float, *, bold: bool = False
) -> float:
    for line in lines:
        y -= LINE
        put_text(canvas, space.left, y, line, TEXT, bold=bold)
    return y


def _draw_foot(canvas: Canvas, card: CareCard, space: Space) -> float:
    """Who made it, at the foot; where it begins."""
    made = f"Made in {card.made_in}" if card.made_in else ""
    last = ", ".join(filter(None, [made, card.batch]))
    lines = [*wrapped(card.maker, LEAST_SIZE, space.width, 2), last]
    low = space.top - space.height
    for place, line in enumerate(reversed(lines)):
        put_text(canvas, space.left, low + place * LINE, line, LEAST_SIZE, width=space.width)
    return low + (len(lines) - 1) * LINE + LEAST_SIZE
