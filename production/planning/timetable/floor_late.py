"""Why a jacket is late, in words, and which hands and machines are the narrow place: read from the
schedule itself by following back what each step waited for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from production.planning.timetable.floor import Floor, FloorJacket, FloorSchedule, LateJacket, Slot
from production.planning.timetable.floor_chain import DAY_PIN, HAND, MACHINE, READY, Chains, Link
from production.planning.timetable.floor_clock import MOST_AWAY
from production.planning.timetable.floor_room import Room, prepare
from production.planning.timetable.floor_words import day_words, hours_words, moment_words


@dataclass(frozen=True, slots=True)
class NarrowPlace:
    """A hand (by key) or a kind of machine: minutes of work planned at it and minutes that there
    are, both from now to the last deadline; `name` for the reader."""

    key: str
    name: str
    is_machine: bool
    busy_minutes: int
    open_minutes: int

    @property
    def share(self) -> float:
        return self.busy_minutes / self.open_minutes if self.open_minutes else 0.0


def explained(floor: Floor, schedule: FloorSchedule) -> FloorSchedule:
    """The schedule with the reason of every late jacket."""
    if not schedule.late:
        return schedule
    room = prepare(floor)
    reasons = _Reasons(room, schedule)
    late = tuple(replace(each, why=reasons.why(each)) for each in schedule.late)
    return replace(schedule, late=late)


def narrow_places(floor: Floor, schedule: FloorSchedule) -> tuple[NarrowPlace, ...]:
    """Every hand with hours and every kind of machine that people share, the busiest first. Counts
    to the last deadline, or to the end of the work where there is none. Raises FloorError where
    nobody has any hours."""
    return places_in(prepare(floor), schedule)


def places_in(room: Room, schedule: FloorSchedule) -> tuple[NarrowPlace, ...]:
    dues = [jacket.due for jacket in room.floor.jackets if jacket.due is not None]
    until = max(dues, default=schedule.ready)
    work = room.clock.worked(until)
    found = [
        NarrowPlace(
            key,
            hand.name,
            False,
            sum(_worked(room, slot, until) for slot in schedule.slots if slot.hand == key),
            room.presences[key].minutes_until(min(work, room.clock.known)),
        )
        for key, hand in room.hands.items()
    ]
    found += [
        NarrowPlace(
            kind,
            kind,
            True,
            sum(_taken(room, slot, until) for slot in schedule.slots if slot.machine == kind),
            min(work, room.clock.known) * count,
        )
        for kind, count in room.shared.items()
    ]
    return tuple(sorted(found, key=lambda place: (-place.share, place.name)))


def _worked(room: Room, slot: Slot, until: int) -> int:
    spells = room.hands[slot.hand].spells
    return sum(max(0, min(b, slot.end, until) - max(a, slot.start)) for a, b in spells)


def _taken(room: Room, slot: Slot, until: int) -> int:
    """Work minutes of anybody in which the machine is taken."""
    if slot.start >= until:
        return 0
    return room.clock.worked(min(slot.end, until)) - room.clock.worked(slot.start)


class _Reasons:
    def __init__(self, room: Room, schedule: FloorSchedule) -> None:
        self.room, self.schedule = room, schedule
        self.begins = room.floor.begins
        self.places = places_in(room, schedule)
        shares = {(place.is_machine, place.key): place.share for place in self.places}
        self.chains = Chains(room, schedule, shares)
        self.jackets = {jacket.code: jacket for jacket in room.floor.jackets}
        self.unplanned = dict(schedule.unplanned)
        self.minutes: dict[str, int] = defaultdict(int)
        for slot in schedule.slots:
            step = self.jackets[slot.jacket].steps[slot.step]
            self.minutes[slot.jacket] += step.minutes + slot.change_minutes
        self.last = {slot.jacket: slot for slot in sorted(schedule.slots, key=lambda s: s.step)}

    def why(self, late: LateJacket) -> str:
        jacket = self.jackets[late.jacket]
        if jacket.blocked:
            return f"it is blocked: {jacket.blocked}"
        if late.due <= self.room.floor.now:
            return f"its deadline, {day_words(self.begins, late.due - 1)}, has passed"
        if late.jacket in self.unplanned:
            return _as_part(self.unplanned[late.jacket])
        return self._by_chain(jacket, late)

    def _by_chain(self, jacket: FloorJacket, late: LateJacket) -> str:
        """What the jacket itself waits for, and the machine for which most of what comes before it
        waits, where that is another."""
        links = list(self.chains.of(self.last[jacket.code]))
        for link in links:
            if link.slot.jacket != jacket.code:
                break
            words = self._by_link(link, jacket, late)
            if words:
                return words + (self._behind(links) if link.why == HAND else "")
        return self._too_long(jacket, late)

    def _by_link(self, link: Link, jacket: FloorJacket, late: LateJacket) -> str:
        """What holds up one step; empty where it goes on as soon as the step before is done."""
        slot = link.slot
        back = self._away_until(slot)
        if back:
            name = self.room.hands[slot.hand].name
            return f"{name}, who does its {slot.stage}, is away until {back}"
        if link.why == DAY_PIN:
            return f"{slot.stage} is pinned to {day_words(self.begins, slot.start)}"
        if link.before and link.why == MACHINE and not self._is_away(link.before.end, slot):
            return self._machine(link)
        since = link.before.end if link.before else max(jacket.ready_from, self.room.floor.now)
        if link.why == HAND or self._is_away(since, slot):
            return self._hand(slot, since) or self._too_much(jacket, late) or self._full(slot)
        if link.why == READY:
            ready = moment_words(self.begins, jacket.ready_from)
            return f"nothing can be done on it before {ready}"
        return ""

    def _full(self, slot: Slot) -> str:
        until = moment_words(self.begins, slot.start)
        if self._others_have_time(slot):
            name = self.room.hands[slot.hand].name
            return f"{name}, who does its {slot.stage}, is full until {until}"
        return f"everybody is full until {until}"

    def _others_have_time(self, slot: Slot) -> bool:
        minutes = self.jackets[slot.jacket].steps[slot.step].minutes
        return self.chains.others_free(slot, max(minutes, 1))

    def _away_until(self, slot: Slot) -> str:
        """When the hand comes back to a step that it leaves for longer while others work."""
        spells = self.room.hands[slot.hand].spells
        worked = self.room.clock.worked
        for (_, left), (back, _) in pairwise(spells):
            is_within = slot.start < left < slot.end and back < slot.end
            if is_within and worked(back) - worked(left) > MOST_AWAY:
                return moment_words(self.begins, back)
        return ""

    def _behind(self, links: Sequence[Link]) -> str:
        """The machine that is the narrowest place, where most of the chain is spent at it."""
        spent = _spent(links)
        narrowest = self.places[0]
        at_it = spent.get((MACHINE, narrowest.key), 0) if narrowest.is_machine else 0
        if 2 * at_it <= sum(spent.values()):
            return ""
        return f"; what comes before it waits for the {narrowest.name}"

    def _machine(self, link: Link) -> str:
        kind = link.slot.machine
        count = self.room.shared[kind]
        until = moment_words(self.begins, link.slot.start)
        if count == 1:
            return f"the {kind} is taken until {until}"
        return f"all {count} machines of the kind {kind} are taken until {until}"

    def _hand(self, slot: Slot, since: int) -> str:
        """Who is full, or not there, from `since` until the slot begins; empty where anybody could
        do it."""
        able = self.room.able[slot.jacket, slot.step]
        hand = self.room.hands[slot.hand]
        until = moment_words(self.begins, slot.start)
        is_away = self._is_away(since, slot)
        full = f"is not there before {until}" if is_away else f"is full until {until}"
        if slot.is_held and len(able) == 1:
            return f"{slot.stage} is pinned to {hand.name}, who {full}"
        if slot.step == 0 and self.room.jackets[slot.jacket].in_work_by == hand.key:
            return f"it is in work with {hand.name}, who {full}"
        step = self.room.jackets[slot.jacket].steps[slot.step]
        what = " and ".join(f"'{skill}'" for skill in step.skills) or f"the stage '{step.stage}'"
        if len(able) == 1 and len(self.room.hands) > 1:
            return f"only {hand.name} can do {what}, and {full}"
        if len(able) < len(self.room.hands) and not self._others_have_time(slot):
            return f"nobody who can do {what} has time before {until}"
        return ""

    def _is_away(self, since: int, slot: Slot) -> bool:
        """Whether others work between, while this hand does not."""
        clock = self.room.clock
        return clock.worked(slot.start) > clock.worked(since)

    def _too_much(self, jacket: FloorJacket, late: LateJacket) -> str:
        """The work of it and of all that are ready before it, against the hours to the deadline."""
        ready = late.ready if late.ready is not None else self.schedule.ready
        minutes = sum(
            self.minutes[code]
            for code, last in self.last.items()
            if code == jacket.code or last.end <= ready
        )
        due = min(self.room.clock.worked(late.due), self.room.clock.known)
        over = minutes - sum(each.minutes_until(due) for each in self.room.presences.values())
        if over <= 0:
            return ""
        return (
            "the work left for it and those before it is more than the hours to the deadline "
            f"({hours_words(over)} over)"
        )

    def _too_long(self, jacket: FloorJacket, late: LateJacket) -> str:
        minutes = sum(step.minutes for step in jacket.steps)
        left = self.room.clock.worked(late.due) - self.room.clock.worked(jacket.ready_from)
        return (
            f"its own work takes {hours_words(minutes)} one after the other, and there are "
            f"{hours_words(max(left, 0))} to the deadline"
        )


def _resource(link: Link) -> tuple[str, str]:
    return link.why, link.slot.machine if link.why == MACHINE else link.slot.hand


def _spent(links: Sequence[Link]) -> dict[tuple[str, str], int]:
    """Minutes of what each hand and machine did just before, along the chain."""
    spent: dict[tuple[str, str], int] = defaultdict(int)
    for link in links:
        if link.why in (HAND, MACHINE) and link.before is not None:
            spent[_resource(link)] += link.before.end - link.before.start
    return spent


def _as_part(sentence: str) -> str:
    """A sentence as part of another: "No serger is in use." to "no serger is in use"."""
    return sentence[:1].lower() + sentence[1:].rstrip(".")
