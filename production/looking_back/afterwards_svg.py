"""Planned and actual as bars side by side."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from production.looking_back.afterwards_rows import in_words, percent_words
from production.planning.actuals.afterwards import Compared
from production.planning.actuals.afterwards_rules import headed

WIDTH, LEFT, RIGHT = 360, 8, 352
ROW, BAR = 62, 15
INK, PLANNED, ACTUAL, PENCIL = "#26221c", "#d8ceb9", "#1f5f8b", "#6b6355"


def bars(
    compared: Iterable[Compared], what: str, length_unit: str, currency: str
) -> SafeString | None:
    """An SVG with two bars for each line that has an actual, all to one scale; None where none has
    one. Its label says in words what it shows."""
    known = [(one, one.planned, one.actual) for one in compared if one.actual is not None]
    if not known:
        return None
    most = max(max(planned, actual) for _, planned, actual in known) or Decimal(1)
    told = []
    drawn: list[SafeString] = []
    for at, (one, planned, actual) in enumerate(known):
        name = headed(one.name)
        figures = [in_words(v, one.unit, length_unit, currency) for v in (planned, actual)]
        told.append(f"{name} planned {figures[0]}, actual {figures[1]}")
        drawn.append(_pair(at, name, percent_words(one.share), (planned / most, actual / most)))
    return format_html(
        '<svg class="planned-actual" viewBox="0 0 {} {}" role="img" aria-label="{}">{}</svg>',
        WIDTH,
        ROW * len(known) + 4,
        f"{what}: {'; '.join(told)}",
        format_html_join("", "{}", ((pair,) for pair in drawn)),
    )


def _pair(at: int, name: str, percent: str, parts: tuple[Decimal, Decimal]) -> SafeString:
    top = ROW * at
    widths = [round(max(float(part) * (RIGHT - LEFT), 1.0), 1) for part in parts]
    return format_html(
        '<text x="{x}" y="{text}" fill="{ink}" font-size="14">{name}</text>'
        '<text x="{right}" y="{text}" fill="{ink}" font-size="14" text-anchor="end">'
        "{percent}</text>"
        '<rect x="{x}" y="{first}" width="{planned}" height="{bar}" fill="{light}" '
        'stroke="{pencil}"/>'
        '<rect x="{x}" y="{second}" width="{actual}" height="{bar}" fill="{chalk}"/>',
        x=LEFT,
        right=RIGHT,
        text=top + 17,
        ink=INK,
        name=name,
        percent=percent,
        first=top + 24,
        second=top + 24 + BAR,
        planned=widths[0],
        actual=widths[1],
        bar=BAR,
        light=PLANNED,
        pencil=PENCIL,
        chalk=ACTUAL,
    )
