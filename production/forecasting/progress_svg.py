"""The progress line as a picture: what is done, the even pace, and what is to be expected."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from production.planning.forecasts.forecast_words import percent_words
from production.planning.forecasts.progress import Progress

WIDTH, HEIGHT = 440, 300
LEFT, RIGHT, TOP, BOTTOM = 46, 428, 34, 256
INK, PENCIL, CHALK, LIGHT, THREAD = "#26221c", "#6b6355", "#1f5f8b", "#d8ceb9", "#a23b1e"
Line = Sequence[tuple[datetime.date, float]]


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Where a day and a share lie on the picture. A share is reached at the end of its day."""

    begins: datetime.date
    days: int

    def x(self, day: datetime.date) -> float:
        return round(LEFT + (RIGHT - LEFT) * ((day - self.begins).days + 1) / self.days, 1)

    def y(self, share: float) -> float:
        return round(BOTTOM - (BOTTOM - TOP) * min(max(share, 0.0), 1.0), 1)

    def points(self, line: Iterable[tuple[datetime.date, float]]) -> str:
        return " ".join(f"{self.x(day)},{self.y(share)}" for day, share in line)


def progress_picture(progress: Progress) -> SafeString:
    """An SVG with a title and, in words, what it shows. Each line has its own stroke, so that it
    can be read without color."""
    sheet = _Sheet(progress.begins, max((progress.ends - progress.begins).days + 1, 1))
    parts = [
        _grid(sheet, progress),
        _fan(sheet, progress),
        _line(sheet, progress.pace, PENCIL, 2, "2 5"),
        _line(sheet, _expected(progress), CHALK, 2, "9 5"),
        _line(sheet, progress.done, INK, 4, ""),
        _mark(sheet, progress.deadline, "deadline", THREAD),
        _now(sheet, progress),
    ]
    return format_html(
        '<svg class="progress-line" viewBox="0 0 {} {}" role="img" '
        'aria-labelledby="progress-title progress-desc">'
        '<title id="progress-title">The progress line</title>'
        '<desc id="progress-desc">{}</desc>{}</svg>',
        WIDTH,
        HEIGHT,
        in_words(progress),
        format_html_join("", "{}", ((part,) for part in parts)),
    )


def in_words(progress: Progress) -> str:
    words = (
        f"{percent_words(progress.done_share)} of the work is done by {_day(progress.today)}; the "
        f"even pace to the deadline, {_day(progress.deadline)}, would have "
        f"{percent_words(progress.pace_share)} done by the end of the day."
    )
    by_deadline = [one for one in progress.fan if one.day <= progress.deadline]
    if not by_deadline or progress.today > progress.deadline:
        return words
    last = by_deadline[-1]
    return (
        f"{words} By the deadline {percent_words(last.even)} or more is to be expected at 50 %, and"
        f" {percent_words(last.low)} or more at 90 %."
    )


def _day(day: datetime.date) -> str:
    return date_format(day, "j M")


def _grid(sheet: _Sheet, progress: Progress) -> SafeString:
    """A line and a label for each quarter of the work; the first and the last day below."""
    rows = format_html_join(
        "",
        '<path d="M{} {}H{}" stroke="{}" stroke-width="1"/>'
        '<text x="{}" y="{}" font-size="14" fill="{}" text-anchor="end">{}</text>',
        (
            (LEFT, sheet.y(share), RIGHT, LIGHT, LEFT - 6, sheet.y(share) + 5, INK, f"{share:.0%}")
            for share in (0, 0.25, 0.5, 0.75, 1)
        ),
    )
    ends = format_html(
        '<text x="{}" y="{}" font-size="14" fill="{}">{}</text>'
        '<text x="{}" y="{}" font-size="14" fill="{}" text-anchor="end">{}</text>',
        LEFT,
        BOTTOM + 36,
        INK,
        _day(progress.begins),
        RIGHT,
        BOTTOM + 36,
        INK,
        _day(progress.ends),
    )
    return rows + ends


def _fan(sheet: _Sheet, progress: Progress) -> SafeString:
    """The stretch between what is reached with nine chances in ten and with one in ten."""
    start = [(progress.today, progress.done_share)]
    to_come = [one for one in progress.fan if one.day > progress.today]
    above = [(one.day, one.high) for one in to_come]
    below = [(one.day, one.low) for one in reversed(to_come)]
    return format_html(
        '<polygon points="{}" fill="{}" fill-opacity="0.180" stroke="{}" stroke-width="1"/>',
        sheet.points([*start, *above, *below]),
        CHALK,
        CHALK,
    )


def _expected(progress: Progress) -> Line:
    """What is reached at 50 %, from today on."""
    now = (progress.today, progress.done_share)
    return [now, *((one.day, one.even) for one in progress.fan if one.day > progress.today)]


def _line(sheet: _Sheet, line: Line, color: str, width: int, dashes: str) -> SafeString:
    return format_html(
        '<polyline points="{}" fill="none" stroke="{}" stroke-width="{}" stroke-linejoin="round"'
        ' stroke-dasharray="{}"/>',
        sheet.points(line),
        color,
        width,
        dashes or "none",
    )


def _mark(sheet: _Sheet, day: datetime.date, word: str, color: str) -> SafeString:
    """A day as an upright line with its word above; the word stays on the sheet."""
    x = sheet.x(day)
    anchor = "end" if x > (LEFT + RIGHT) / 2 else "start"
    return format_html(
        '<path d="M{x} {top}V{bottom}" stroke="{color}" stroke-width="2"/>'
        '<text x="{x}" y="{words}" font-size="14" fill="{color}" text-anchor="{anchor}">'
        "{word} {day}</text>",
        x=x,
        top=TOP - 12,
        bottom=BOTTOM,
        words=TOP - 18,
        color=color,
        anchor=anchor,
        word=word,
        day=_day(day),
    )


def _now(sheet: _Sheet, progress: Progress) -> SafeString:
    """Today's point with its words below the picture."""
    x = sheet.x(progress.today)
    return format_html(
        '<circle cx="{x}" cy="{y}" r="6" fill="#ffffff" stroke="{ink}" stroke-width="3"/>'
        '<path d="M{x} {bottom}v6" stroke="{ink}" stroke-width="2"/>'
        '<text x="{words}" y="{below}" font-size="14" fill="{ink}" text-anchor="middle">'
        "today {day}</text>",
        x=x,
        y=sheet.y(progress.done_share),
        words=min(max(x, LEFT + 34), RIGHT - 40),
        bottom=BOTTOM,
        below=BOTTOM + 19,
        ink=INK,
        day=_day(progress.today),
    )
