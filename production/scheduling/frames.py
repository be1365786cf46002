"""The hours of a day that are drawn, and what is worked within them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from production.planning.timetable.floor import DAY
from production.planning.timetable.floor_clock import Stretch

HOUR = 60


@dataclass(frozen=True, slots=True)
class Frame:
    """The hours of a day that are drawn, in minutes as in the schedule."""

    start: int
    end: int

    def x(self, at: int) -> str:
        return self._percent(min(max(at, self.start), self.end) - self.start)

    def _percent(self, minutes: int) -> str:
        return f"{100 * minutes / (self.end - self.start):.2f}%"

    def span(self, stretch: Stretch) -> tuple[str, str]:
        start, end = self.inside(stretch)
        return self.x(start), self._percent(end - start)

    def inside(self, stretch: Stretch) -> Stretch:
        return max(stretch[0], self.start), min(stretch[1], self.end)

    def holds(self, stretch: Stretch) -> bool:
        return stretch[0] < self.end and stretch[1] > self.start


def worked(start: int, end: int, spells: Iterable[Stretch]) -> list[Stretch]:
    """The parts of a stretch that lie within the spells; all of it where none does, as when hours
    were changed since it was planned."""
    parts = [
        (max(start, first), min(end, last))
        for first, last in spells
        if start < last and end > first
    ]
    return parts or [(start, end)]


def frame_of(day: int, stretches: Iterable[Stretch]) -> Frame:
    """The day, counted from the beginning of the schedule, from the full hour before the first
    stretch to that after the last."""
    first, last = day * DAY, (day + 1) * DAY
    inside = [
        (max(start, first), min(end, last))
        for start, end in stretches
        if start < last and end > first
    ]
    start = min((start for start, _ in inside), default=first + 9 * HOUR)
    end = max((end for _, end in inside), default=first + 17 * HOUR)
    return Frame(start // HOUR * HOUR, -(-end // HOUR) * HOUR)
