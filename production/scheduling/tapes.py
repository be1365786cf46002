"""The days ahead as measuring tapes: one for each person and for each kind of machine that is
counted, with the jackets as stitches along it."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from production.planning.timetable.floor import DAY, FloorSchedule, Hand, Slot, moment
from production.planning.timetable.floor_clock import Stretch, joined
from production.planning.timetable.floor_words import hours_words
from production.planning.timetable.work_hours import minutes_between
from production.scheduling.frames import HOUR, Frame, frame_of, worked
from production.scheduling.planned_work import Work, times_on

#: Heights in pixels of a tape and of its scale, which lies below.
TAPE, SCALE = 34, 16
#: A stitch takes so many minutes at least to bear the size on a wide screen, and on a narrow one.
#: By looking.
LABELLED, LABELLED_NARROW = 14, 45


@dataclass(frozen=True, slots=True)
class Stitch:
    """A jacket on a tape; `x` and `width` in percent of it, `y` and `height` in pixels."""

    x: str
    width: str
    y: float
    height: float
    stage: str
    size: str
    code: str
    minutes: int
    is_late: bool
    is_done: bool
    is_held: bool

    @property
    def is_labelled(self) -> bool:
        return self.minutes >= LABELLED and self.height >= TAPE / 3

    @property
    def is_narrow(self) -> bool:
        return self.minutes < LABELLED_NARROW

    @property
    def middle(self) -> float:
        return self.y + self.height / 2


@dataclass(frozen=True, slots=True)
class Tape:
    """`count` machines or one person; `cloth` are the stretches that can be worked (x, width);
    `taken` of `whole` minutes are planned."""

    name: str
    count: int
    cloth: tuple[tuple[str, str], ...]
    stitches: tuple[Stitch, ...]
    taken: int
    whole: int

    @property
    def words(self) -> str:
        taken, whole = hours_words(self.taken), hours_words(self.whole)
        return f"{taken} of {whole}"


@dataclass(frozen=True, slots=True)
class DayWork:
    """A row of the day; `starts`, `ends` are None where it goes on from or to another day."""

    name: str
    starts: datetime.time | None
    ends: datetime.time | None
    work: Work


@dataclass(frozen=True, slots=True)
class DayStretch:
    """One day: marks of the hours (x, hour), a tape per person and per kind of machine, and the
    same as rows."""

    day: datetime.date
    marks: tuple[tuple[str, int], ...]
    people: tuple[Tape, ...]
    machines: tuple[Tape, ...]
    rows: tuple[DayWork, ...]

    @property
    def jackets(self) -> int:
        return len({row.work.jacket.pk for row in self.rows})


def days_with_work(found: FloorSchedule, hands: Iterable[Hand]) -> list[int]:
    """Days from the beginning of the schedule, ascending."""
    spells = {hand.key: hand.spells for hand in hands}
    return sorted(
        {
            day
            for slot in found.slots
            for start, end in worked(slot.start, slot.end, spells.get(slot.hand, ()))
            for day in range(start // DAY, max(end - 1, start) // DAY + 1)
        }
    )


def day_stretch(
    found: FloorSchedule,
    day: int,
    work: Sequence[Work],
    hands: Sequence[Hand],
    machines: Mapping[str, int],
    late: set[str],
) -> DayStretch:
    """The day of the schedule with the work on it; `hands` with their hours, `machines` by kind."""
    own_spells = {hand.key: hand.spells for hand in hands}
    frame = frame_of(
        day,
        [
            *(spell for own in own_spells.values() for spell in own),
            *(
                part
                for each in work
                for part in worked(each.start, each.end, own_spells.get(each.hand, ()))
            ),
        ],
    )
    sizes = {each.jacket.code: each.jacket.size for each in work}
    slots = [
        slot for slot in found.slots if slot.jacket in sizes and frame.holds((slot.start, slot.end))
    ]
    date = moment(found.begins, day * DAY).date()
    return DayStretch(
        day=date,
        marks=tuple(
            (frame.x(at), at % DAY // HOUR) for at in range(frame.start, frame.end + 1, HOUR)
        ),
        people=tuple(
            tape
            for hand in hands
            for tape in [_of_hand(hand, frame, work, late)]
            if tape.cloth or tape.stitches
        ),
        machines=tuple(
            _of_kind(kind, count, frame, slots, work, hands, late)
            for kind, count in sorted(machines.items())
            if count and any(slot.machine == kind for slot in slots)
        ),
        rows=tuple(
            DayWork(hand.name, *times_on(found, each, date), each)
            for hand in hands
            for each in work
            if each.hand == hand.key
        ),
    )


def _of_hand(hand: Hand, frame: Frame, work: Iterable[Work], late: set[str]) -> Tape:
    spells = [spell for spell in hand.spells if frame.holds(spell)]
    parts = [
        (each, part)
        for each in work
        if each.hand == hand.key
        for part in worked(each.start, each.end, hand.spells)
        if frame.holds(part)
    ]
    return Tape(
        hand.name,
        1,
        tuple(frame.span(spell) for spell in spells),
        tuple(_stitch(frame, each, part, late) for each, part in parts),
        sum(minutes_between(spells, *frame.inside(part)) for _, part in parts),
        minutes_between(spells, frame.start, frame.end),
    )


def _of_kind(
    kind: str,
    count: int,
    frame: Frame,
    slots: Iterable[Slot],
    work: Sequence[Work],
    hands: Iterable[Hand],
    late: set[str],
) -> Tape:
    """Each machine of the kind has a lane of the tape, filled from the top."""
    of_slot = {(each.jacket.code, each.stage): each for each in work}
    own_spells = {hand.key: hand.spells for hand in hands}
    spells = joined((spell for own in own_spells.values() for spell in own), frame.start)
    free, stitches, taken = [0] * count, [], 0
    for slot in sorted(slots, key=lambda slot: slot.start):
        if slot.machine != kind:
            continue
        lane = min(range(count), key=lambda at: (free[at] > slot.start, at))
        free[lane] = max(free[lane], slot.end)
        each = of_slot[slot.jacket, slot.stage]
        for part in worked(slot.start, slot.end, own_spells.get(slot.hand, ())):
            if frame.holds(part):
                stitches.append(_stitch(frame, each, part, late, lane, count))
                taken += minutes_between(spells, *frame.inside(part))
    return Tape(
        kind,
        count,
        tuple(frame.span(spell) for spell in spells if frame.holds(spell)),
        tuple(stitches),
        taken,
        count * minutes_between(spells, frame.start, frame.end),
    )


def _stitch(
    frame: Frame, work: Work, stretch: Stretch, late: set[str], lane: int = 0, lanes: int = 1
) -> Stitch:
    x, width = frame.span(stretch)
    height = TAPE / lanes
    return Stitch(
        x=x,
        width=width,
        y=lane * height + 3,
        height=height - 6,
        stage=work.stage,
        size=work.jacket.size,
        code=work.jacket.code,
        minutes=min(stretch[1], frame.end) - max(stretch[0], frame.start),
        is_late=work.jacket.code in late,
        is_done=work.is_done,
        is_held=work.pin is not None,
    )
