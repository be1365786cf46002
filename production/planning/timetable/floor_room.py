"""The floor made ready for planning: the work clock, who can do each step, the pins that can be
kept, and the jackets that nobody can do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from production.planning.timetable.floor import Floor, FloorError, FloorJacket, Hand, Step
from production.planning.timetable.floor_clock import (
    Presence,
    Stretch,
    WorkClock,
    presence,
    work_clock,
)
from production.planning.timetable.floor_pins import Pins

#: Which threads and foot are on a machine.
Setting = tuple[tuple[str, ...], str]
#: A step: the code of its jacket and its place among the jacket's steps.
StepKey = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Room:
    """`hands` are those with hours, by key. `able` says who may do each step, in the order of the
    floor, after the pins that are kept; `days` the work minutes in which a pinned step is begun.
    `shared` counts the machines of each kind of which there are fewer than people who use it; of
    every other kind each hand has their own; on the kinds of `changing` steps differ in thread or
    foot. `in_work` goes on at once; `impossible` are jackets that nobody can do."""

    floor: Floor
    clock: WorkClock
    hands: Mapping[str, Hand]
    presences: Mapping[str, Presence]
    jackets: Mapping[str, FloorJacket]
    able: Mapping[StepKey, tuple[str, ...]]
    days: Mapping[StepKey, Stretch]
    held: frozenset[StepKey]
    in_work: frozenset[StepKey]
    shared: Mapping[str, int]
    changing: frozenset[str]
    impossible: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]

    def only(self, codes: Iterable[str]) -> Room:
        """The room with these jackets alone."""
        jackets = {code: self.jackets[code] for code in codes}
        able = {key: hands for key, hands in self.able.items() if key[0] in jackets}
        return replace(self, jackets=jackets, able=able)

    def first_missing(self, jacket: FloorJacket) -> int:
        """The place of the first step that nobody can do; their number where there is none."""
        found = _first_missing(self.floor, self.hands, jacket)
        return len(jacket.steps) if found is None else found[0]

    def due(self, jacket: FloorJacket) -> int | None:
        """On the work clock, never after the known hours; -1 for a moment that has passed."""
        if jacket.due is None:
            return None
        if jacket.due <= self.floor.now:
            return -1
        return min(self.clock.worked(jacket.due), self.clock.known)

    def change(self, before: Setting | None, step: Step) -> int:
        """Minutes of changing thread and foot for a step after what is on the machine; None for a
        machine of which that is not known, which counts as ready."""
        return 0 if before is None else change_minutes(self.floor, before, setting_of(step))


def change_minutes(floor: Floor, one: Setting, other: Setting) -> int:
    """Minutes in which a machine is changed from one setting to the other, either way."""
    threads, foot = one[0] != other[0], one[1] != other[1]
    return floor.thread_change * threads + floor.setting_change * foot


def setting_of(step: Step) -> Setting:
    return step.threads, step.setting


def prepare(floor: Floor) -> Room:
    """Raises FloorError where nobody has any hours."""
    hands = {
        hand.key: hand for hand in floor.hands if any(end > floor.now for _, end in hand.spells)
    }
    if not hands:
        raise FloorError(
            "Nobody has working hours from now on. Enter people with their hours, or look whether "
            "everybody has days off."
        )
    beyond = _most_minutes(floor)
    clock = work_clock(hands.values(), floor.now, beyond)
    presences = {key: presence(hand, clock, floor.now) for key, hand in hands.items()}
    pins = Pins(floor, hands, clock, presences)
    able: dict[StepKey, tuple[str, ...]] = {}
    jackets: dict[str, FloorJacket] = {}
    impossible: list[tuple[str, str]] = []
    for jacket in floor.jackets:
        if missing := _first_missing(floor, hands, jacket):
            impossible.append((jacket.code, missing[1]))
            continue
        if not jacket.steps:
            continue
        jackets[jacket.code] = jacket
        for at in range(len(jacket.steps)):
            able[jacket.code, at] = pins.able(jacket, at)
    return Room(
        floor,
        clock,
        hands,
        presences,
        jackets,
        able,
        {key: day for key, day in pins.days.items() if key in able},
        frozenset(key for key in pins.held if key in able),
        frozenset(key for key in pins.in_work if key in able),
        _shared(floor, jackets.values(), able),
        _changing(jackets.values()),
        tuple(impossible),
        tuple(dict.fromkeys(pins.notes)),
    )


def _most_minutes(floor: Floor) -> int:
    change = floor.thread_change + floor.setting_change
    return 60 + sum(step.minutes + change for jacket in floor.jackets for step in jacket.steps)


def _first_missing(
    floor: Floor, hands: Mapping[str, Hand], jacket: FloorJacket
) -> tuple[int, str] | None:
    """The place of the first step of a jacket that nobody can do, and why."""
    for at, step in enumerate(jacket.steps):
        if step.machine and floor.machines.get(step.machine) == 0:
            return at, f"No {step.machine} is in use."
        if at == 0 and jacket.in_work_by in hands:
            continue
        if not any(hand.can_do(step) for hand in hands.values()):
            return at, _nobody(floor, step)
    return None


def _nobody(floor: Floor, step: Step) -> str:
    without_hours = [hand.name for hand in floor.hands if hand.can_do(step)]
    what = " and ".join(f"'{skill}'" for skill in step.skills)
    what = f"{what} ({step.stage})" if what else f"the stage '{step.stage}'"
    if without_hours:
        return f"Nobody who can do {what} has working hours: {', '.join(without_hours)}."
    return f"Nobody listed can do {what}."


def _shared(
    floor: Floor, jackets: Iterable[FloorJacket], able: Mapping[StepKey, tuple[str, ...]]
) -> dict[str, int]:
    users: dict[str, set[str]] = {}
    for jacket in jackets:
        for at, step in enumerate(jacket.steps):
            if step.machine in floor.machines:
                users.setdefault(step.machine, set()).update(able[jacket.code, at])
    return {kind: floor.machines[kind] for kind in users if floor.machines[kind] < len(users[kind])}


def _changing(jackets: Iterable[FloorJacket]) -> frozenset[str]:
    settings: dict[str, set[Setting]] = {}
    for jacket in jackets:
        for step in jacket.steps:
            settings.setdefault(step.machine, set()).add(setting_of(step))
    return frozenset(kind for kind, found in settings.items() if kind and len(found) > 1)
