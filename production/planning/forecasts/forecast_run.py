"""Going through the work that is left in many simulations at once: all numbers of one step are
arrays with a place for each simulation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from production.planning.timetable.floor import DAY
from production.planning.timetable.floor_clock import Stretch, joined
from production.planning.timetable.floor_room import Room

if TYPE_CHECKING:
    import numpy as np

    from production.planning.forecasts.forecast_spread import Numbers

    Places = np.ndarray[tuple[int, ...], np.dtype[np.intp]]

#: An end at the very close of a spell is not one at the opening of the next.
EDGE = 1e-6
#: After the last known hour of all hands each goes on at the same pace, this many minutes long.
BEYOND = 10_000 * DAY
#: Known hours tell of so many days at least: one morning's are no pace to go on at. Invented.
LEAST_KNOWN = 7 * DAY


@dataclass(frozen=True, slots=True)
class Work:
    """A step that is left: `jacket` counts within the floor's jackets, `step` within its steps;
    `minutes` at standard pace, `change_minutes` before it."""

    jacket: int
    step: int
    minutes: int
    change_minutes: int = 0


def ends_of(room: Room, works: Sequence[Work], minutes: Numbers) -> Numbers:
    """When each work is done, in minutes of the floor: `minutes` and the result have a row for each
    simulation and a column for each work. Works of one jacket come in the order of its steps."""
    import numpy as np

    floor = _floor(room, len(minutes))
    ends = np.empty_like(minutes)
    for at, work in enumerate(works):
        ends[:, at] = floor.do(work, minutes[:, at])
    return ends


@dataclass(frozen=True, slots=True)
class Calendar:
    """Moments of the wall clock and the minutes worked until then, as corners of a line."""

    wall: Numbers
    worked: Numbers

    def end(self, start: Numbers, minutes: Numbers) -> Numbers:
        import numpy as np

        worked = np.interp(start, self.wall, self.worked) + minutes
        return np.interp(worked - EDGE, self.worked, self.wall)


def calendar(spells: Sequence[Stretch], now: int, known: int) -> Calendar:
    """Of stretches ascending and apart, the first of them not before `now`. From `known` on, when
    all known hours are over, they are worked again at their pace from `now` until then."""
    import numpy as np

    lengths = np.array([end - start for start, end in spells], dtype=float)
    after = lengths.cumsum()
    pace = after[-1] / (known - now)
    return Calendar(
        wall=np.array(
            [*(at for spell in spells for at in spell), known, known + BEYOND], dtype=float
        ),
        worked=np.append(
            np.column_stack((after - lengths, after)), (after[-1], after[-1] + BEYOND * pace)
        ),
    )


@dataclass(slots=True)
class _Floor:
    """What is free when: `hands` (hands, simulations), `machines` by kind (machines, simulations),
    `jackets` (jackets, simulations). `hours` are those of each hand, as a number of `calendars`;
    `teams` groups the hands who may do a step by their hours."""

    room: Room
    keys: tuple[str, ...]
    calendars: Sequence[Calendar]
    hours: Sequence[int]
    hands: Numbers
    jackets: Numbers
    machines: dict[str, Numbers]
    teams: dict[tuple[str, ...], list[tuple[int, Places]]] = field(default_factory=dict)

    def do(self, work: Work, minutes: Numbers) -> Numbers:
        """The end of a work; who does it, and the machine, are taken until then."""
        import numpy as np

        jacket = self.room.floor.jackets[work.jacket]
        rows = np.arange(len(minutes))
        earliest = self.jackets[work.jacket]
        pinned = self.room.days.get((jacket.code, work.step))
        if pinned:
            earliest = np.maximum(earliest, self.room.clock.begins(pinned[0]))
        machines = self.machines.get(jacket.steps[work.step].machine)
        if machines is not None:
            unit = machines.argmin(axis=0)
            earliest = np.maximum(earliest, machines[unit, rows])
        team = self._team(self.room.able[jacket.code, work.step])
        end, who = self._soonest(team, earliest, minutes, rows)
        self.hands[who, rows] = end
        self.jackets[work.jacket] = end
        if machines is not None:
            machines[unit, rows] = end
        return end

    def _soonest(
        self,
        team: Sequence[tuple[int, Places]],
        earliest: Numbers,
        minutes: Numbers,
        rows: Places,
    ) -> tuple[Numbers, Places]:
        """The end of who ends first, and who that is. Of hands with the same hours it is the one
        who is free first."""
        import numpy as np

        found: tuple[Numbers, Places] | None = None
        for hours, members in team:
            who = members[self.hands[members].argmin(axis=0)]
            start = np.maximum(earliest, self.hands[who, rows])
            end = self.calendars[hours].end(start, minutes)
            if found is not None:
                is_sooner = end < found[0]
                who = np.where(is_sooner, who, found[1])
                end = np.where(is_sooner, end, found[0])
            found = end, who
        assert found is not None, "a step that nobody may do is not gone through"
        return found

    def _team(self, able: tuple[str, ...]) -> list[tuple[int, Places]]:
        import numpy as np

        if able not in self.teams:
            groups: dict[int, list[int]] = {}
            for key in able:
                at = self.keys.index(key)
                groups.setdefault(self.hours[at], []).append(at)
            self.teams[able] = [(hours, np.array(members)) for hours, members in groups.items()]
        return self.teams[able]


def _floor(room: Room, count: int) -> _Floor:
    import numpy as np

    now = room.floor.now

    def free(rows: int) -> Numbers:
        return np.full((rows, count), float(now))

    spells = [tuple(joined(hand.spells, now)) for hand in room.hands.values()]
    different = list(dict.fromkeys(spells))
    known = max(now + LEAST_KNOWN, *(own[-1][1] for own in spells))
    jackets = free(len(room.floor.jackets))
    for at, jacket in enumerate(room.floor.jackets):
        jackets[at] = max(jacket.ready_from, now)
    return _Floor(
        room=room,
        keys=tuple(room.hands),
        calendars=[calendar(each, now, known) for each in different],
        hours=[different.index(each) for each in spells],
        hands=free(len(room.hands)),
        jackets=jackets,
        machines={kind: free(number) for kind, number in room.shared.items()},
    )
