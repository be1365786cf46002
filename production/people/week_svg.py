"""A week drawn simply: a tape for each day from top to bottom, colored where somebody works."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from production.people.people_state import WEEKDAYS, week_words
from production.planning.timetable.hour_text import Spell

TAPE, STEP, HEAD, HOUR = 18, 28, 14, 7.0
#: What is drawn where nobody works earlier or later.
FIRST, LAST = 7, 18


def hours_shown(weeks: Iterable[Sequence[Sequence[Spell]]]) -> tuple[int, int]:
    """The first and last whole hour that the weeks reach, for drawing all to one scale."""
    spells = [spell for week in weeks for day in week for spell in day]
    first = min((start.hour for start, _ in spells), default=FIRST)
    last = max((end.hour + (end.minute > 0) for _, end in spells), default=LAST)
    return min(first, FIRST), max(last, LAST)


def week_svg(days: Sequence[Sequence[Spell]], shown: tuple[int, int]) -> SafeString:
    """The picture, told in words for those who do not see it."""
    first, last = shown
    height = HEAD + (last - first) * HOUR
    tapes = format_html_join("", "{}", ((_tape(at, day, shown),) for at, day in enumerate(days)))
    return format_html(
        '<svg class="week" role="img" aria-label="{}" viewBox="0 0 {} {}" width="{}" height="{}">'
        "{}</svg>",
        f"{week_words(days)} (drawn from {first} to {last} o'clock)",
        7 * STEP,
        height + 1,
        7 * STEP,
        height + 1,
        tapes,
    )


def _tape(at: int, day: Sequence[Spell], shown: tuple[int, int]) -> SafeString:
    first, last = shown
    left = at * STEP + (STEP - TAPE) / 2
    stretches = format_html_join(
        "",
        '<rect x="{}" y="{}" width="{}" height="{}" fill="#1f5f8b"/>',
        (
            (left, f"{_y(start, first):.1f}", TAPE, f"{_y(end, first) - _y(start, first):.1f}")
            for start, end in day
        ),
    )
    noon = HEAD + (12 - first) * HOUR
    return format_html(
        '<text x="{}" y="10" font-size="10" text-anchor="middle" fill="#26221c">{}</text>'
        '<rect x="{}" y="{}" width="{}" height="{}" fill="#fffdf8" stroke="#857a66"/>{}'
        '<path d="M{} {}h{}" stroke="#857a66" stroke-dasharray="2 2"/>',
        left + TAPE / 2,
        WEEKDAYS[at],
        left,
        HEAD,
        TAPE,
        (last - first) * HOUR,
        stretches,
        left,
        noon,
        TAPE,
    )


def _y(at: datetime.time, first: int) -> float:
    return HEAD + (at.hour + at.minute / 60 - first) * HOUR
