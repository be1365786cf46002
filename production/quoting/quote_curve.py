"""The price of one jacket over the number of jackets, as a small drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from orders.money import amount_words
from production.planning.quotes.quotes import Figures

WIDTH, HEIGHT = 520, 230
LEFT, RIGHT, TOP, BOTTOM = 30, 480, 40, 190
#: About the widest that a digit is drawn at the size of the words.
DIGIT = 9
_Place = Callable[[int, Decimal], tuple[float, float]]
INK, CHALK, BAD, LINE = "#26221c", "#1f5f8b", "#9c2a1f", "#d8ceb9"


def curve(figures: Figures, other: Figures | None = None) -> SafeString:
    """An SVG with a point for each quantity; the prices of `other`, dashed, beside those of the
    quote. The drawing says in its title what it shows, for those who do not see it."""
    drawn = [figures, *([other] if other else [])]
    prices = [offer.price for one in drawn for offer in one.offers]
    low, high = min(prices), max(prices)
    room = (high - low) or Decimal(1)
    most = max(offer.jackets for offer in figures.offers)

    def place(jackets: int, price: Decimal) -> tuple[float, float]:
        x = LEFT + (RIGHT - LEFT) * jackets / most
        return round(x, 1), round(BOTTOM - (BOTTOM - TOP) * float((price - low) / room), 1)

    lines = []
    for one, color, dash in zip(drawn, (CHALK, BAD), ("none", "6 4"), strict=False):
        points = [place(offer.jackets, offer.price) for offer in one.offers]
        lines.append((" ".join(f"{x},{y}" for x, y in points), color, dash))
    return format_html(
        '<svg class="curve" viewBox="0 0 {} {}" role="img" aria-label="{}">'
        '<path d="M{} {}H{}" stroke="{}" stroke-width="1" fill="none"/>{}{}{}</svg>',
        WIDTH,
        HEIGHT,
        in_words(figures),
        LEFT,
        BOTTOM + 8,
        RIGHT,
        LINE,
        format_html_join(
            "",
            '<polyline points="{}" fill="none" stroke="{}" stroke-width="2.5" '
            'stroke-dasharray="{}"/>',
            lines,
        ),
        _marks(figures, place),
        _dots(((*place(o.jackets, o.price), BAD) for o in other.offers), 4) if other else "",
    )


def in_words(figures: Figures) -> str:
    told = ", ".join(
        f"{offer.jackets} jackets {amount_words(offer.price, figures.currency)}"
        for offer in figures.offers
    )
    return f"Price of one jacket: {told}"


def _marks(figures: Figures, place: _Place) -> SafeString:
    """A dot with its price over each quantity that has room, and the quantity under it."""
    points, words = [], []
    for at, offer in enumerate(figures.offers):
        x, y = place(offer.jackets, offer.price)
        points.append((x, y, CHALK))
        if not _is_crowded(figures, at):
            # To the right of its dot: on the left the line comes down through it.
            beside = min(x + 6, WIDTH - DIGIT * len(str(offer.price)))
            words += [
                (beside, y - 10, INK, "start", offer.price),
                (x, BOTTOM + 28, INK, "middle", offer.jackets),
            ]
    return _dots(points, 5) + format_html_join(
        "",
        '<text x="{}" y="{}" fill="{}" font-size="14" text-anchor="{}">{}</text>',
        words,
    )


def _is_crowded(figures: Figures, at: int) -> bool:
    """Whether the words at a quantity would run into those of the next, as at 38 and 40."""
    offers: Sequence[int] = [offer.jackets for offer in figures.offers]
    return at + 1 < len(offers) and (offers[at + 1] - offers[at]) * 10 < offers[-1]


def _dots(points: Iterable[tuple[float, float, str]], radius: int) -> SafeString:
    dot = f'<circle cx="{{}}" cy="{{}}" fill="{{}}" r="{radius}"/>'
    return format_html_join("", dot, points)
