"""The work clock of a workroom: the minutes in which anybody works, one after the other.

Nights, common breaks and holidays of everybody vanish, so that for those who work all the common
hours a step that goes on over a night is one stretch. After the last known hour the clock goes on
with everybody there, as long as it takes: whatever ends in that part has no place in the plan.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from production.planning.timetable.floor import Hand

Stretch = tuple[int, int]

#: A machine that others wait for is not kept for somebody who is away longer, in minutes.
MOST_AWAY = 60


def joined(stretches: Iterable[Stretch], since: int) -> list[Stretch]:
    """The stretches from `since` on, ascending, with those that touch or overlap as one."""
    found: list[Stretch] = []
    for start, end in sorted(stretches):
        start = max(start, since)
        if start >= end:
            continue
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return found


@dataclass(frozen=True, slots=True)
class WorkClock:
    """`starts` and `ends` are wall-clock minutes of the spells in which anybody works, `firsts` the
    work minutes at which they begin. From work minute `known` on nobody's hours are known; the
    clock ends at `last`."""

    starts: tuple[int, ...]
    ends: tuple[int, ...]
    firsts: tuple[int, ...]
    known: int
    last: int

    def worked(self, at: int) -> int:
        """Work minutes until a moment of the wall clock; all that are known for one after them."""
        spell = bisect_right(self.starts, at) - 1
        if spell < 0:
            return 0
        return min(self.firsts[spell] + min(at, self.ends[spell]) - self.starts[spell], self.known)

    def begins(self, work: int) -> int:
        """The moment at which what starts at this work minute is begun."""
        spell = bisect_right(self.firsts, work) - 1
        return self.starts[spell] + work - self.firsts[spell]

    def ends_at(self, work: int) -> int:
        """The moment at which what takes until this work minute is done."""
        spell = max(bisect_left(self.firsts, work) - 1, 0)
        return self.starts[spell] + work - self.firsts[spell]


def work_clock(hands: Iterable[Hand], now: int, beyond: int) -> WorkClock:
    """The clock of these hands from `now` on, with `beyond` minutes after the last known hour."""
    spells = joined((spell for hand in hands for spell in hand.spells), now)
    known = sum(end - start for start, end in spells)
    close = spells[-1][1] if spells else now
    spells.append((close, close + beyond))
    firsts, sofar = [], 0
    for start, end in spells:
        firsts.append(sofar)
        sofar += end - start
    return WorkClock(
        tuple(start for start, _ in spells),
        tuple(end for _, end in spells),
        tuple(firsts),
        known,
        sofar,
    )


@dataclass(frozen=True, slots=True)
class Presence:
    """When one hand is there, in work minutes: stretches ascending and apart, the last of them
    after the known hours."""

    starts: tuple[int, ...]
    ends: tuple[int, ...]

    @property
    def is_whole(self) -> bool:
        """Whether the hand is there whenever anybody is."""
        return len(self.starts) == 1 and self.starts[0] == 0

    def fit(self, earliest: int, minutes: int, most_away: int | None = None) -> Stretch:
        """The first start from `earliest` on and the end of so many minutes of this hand, away time
        in between included; not more of it than `most_away`."""
        starts, ends = self.starts, self.ends
        at = max(bisect_right(starts, earliest) - 1, 0)
        if earliest >= ends[at]:
            at += 1
        start = max(earliest, starts[at])
        left, now = minutes, start
        while ends[at] - now < left:
            left -= ends[at] - now
            at += 1
            now = starts[at]
            if most_away is not None and now + left - start - minutes > most_away:
                start, left = now, minutes
        return start, now + left

    def minutes_until(self, work: int) -> int:
        return sum(
            min(end, work) - start
            for start, end in zip(self.starts, self.ends, strict=True)
            if start < work
        )

    def away(self) -> Sequence[Stretch]:
        """The stretches between, in which the hand is away while others work."""
        edges = zip((0, *self.ends), self.starts, strict=False)
        return [(end, start) for end, start in edges if end < start]


def presence(hand: Hand, clock: WorkClock, now: int) -> Presence:
    spells = joined(hand.spells, now)
    there = [(clock.worked(start), clock.worked(end)) for start, end in spells]
    merged = joined([*there, (clock.known, clock.last)], 0)
    return Presence(tuple(start for start, _ in merged), tuple(end for _, end in merged))
