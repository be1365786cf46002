"""The floor made ready for planning: the work clock, who can do each step, the pins that can be
kept, and the jackets that nobody can do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from production.planning.floor import DAY, Floor, FloorError, FloorJacket, Hand, Held, Step
from production.planning.floor_clock import Presence, Stretch, WorkClock, presence, work_clock
from production.planning.floor_words import day_words

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
    foot. `impossible` are jackets that nobody can do."""

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
        if before is None:
            return 0
        return self.floor.thread_change * (
            before[0] != step.threads
        ) + self.floor.setting_change * (before[1] != step.setting)


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
    pins = _Pins(floor, hands, clock, presences)
    able: dict[StepKey, tuple[str, ...]] = {}
    jackets: dict[str, FloorJacket] = {}
    impossible: list[tuple[str, str]] = []
    for jacket in floor.jackets:
        missing = _missing(floor, hands, jacket)
        if missing:
            impossible.append((jacket.code, missing))
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


def _missing(floor: Floor, hands: Mapping[str, Hand], jacket: FloorJacket) -> str:
    """Why nobody can do this jacket; empty where they can."""
    for at, step in enumerate(jacket.steps):
        if step.machine and floor.machines.get(step.machine) == 0:
            return f"No {step.machine} is in use."
        if at == 0 and jacket.in_work_by in hands:
            continue
        if not any(hand.can_do(step) for hand in hands.values()):
            return _nobody(floor, step)
    return ""


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


class _Pins:
    """The pins that can be kept, with a note for each that cannot."""

    def __init__(
        self,
        floor: Floor,
        hands: Mapping[str, Hand],
        clock: WorkClock,
        presences: Mapping[str, Presence],
    ) -> None:
        self.floor, self.hands, self.clock, self.presences = floor, hands, clock, presences
        self.notes: list[str] = []
        self.days: dict[StepKey, Stretch] = {}
        self.held: set[StepKey] = set()
        self.in_work: set[StepKey] = set()
        self.names = {hand.key: hand.name for hand in floor.hands}
        self.hand_of: dict[tuple[str, str], str] = {}
        by_code = {jacket.code: jacket for jacket in floor.jackets}
        for pin in floor.held:
            jacket = by_code.get(pin.jacket)
            if jacket is not None:
                self._take(pin, jacket)

    def able(self, jacket: FloorJacket, at: int) -> tuple[str, ...]:
        step = jacket.steps[at]
        if at == 0 and jacket.in_work_by:
            if jacket.in_work_by in self.hands:
                self.in_work.add((jacket.code, 0))
                return (jacket.in_work_by,)
            name = self.names.get(jacket.in_work_by, jacket.in_work_by)
            self.notes.append(
                f"{jacket.code} is in work with {name}, who has no working hours; "
                "somebody else is planned to go on with it."
            )
        pinned = self.hand_of.get((jacket.code, step.stage))
        if pinned is not None:
            return (pinned,)
        return tuple(key for key, hand in self.hands.items() if hand.can_do(step))

    def _take(self, pin: Held, jacket: FloorJacket) -> None:
        steps = [at for at, step in enumerate(jacket.steps) if step.stage == pin.stage]
        if not steps or (steps[0] == 0 and jacket.in_work_by in self.hands):
            return  # that stage is begun or done: nothing is left to hold
        refused = self._why_not(pin, [jacket.steps[at] for at in steps])
        hand = "" if refused else pin.hand
        if refused:
            self.notes.append(f"{self._words(pin)} is not kept: {refused}.")
        if hand:
            self.hand_of[jacket.code, pin.stage] = hand
        day = self._day(pin, hand, jacket.steps[steps[0]]) if pin.day is not None else None
        if day is not None:
            self.days[jacket.code, steps[0]] = day
        if hand:
            self.held.update((jacket.code, at) for at in steps)
        elif day is not None:
            self.held.add((jacket.code, steps[0]))

    def _words(self, pin: Held) -> str:
        by = f" by {self.names.get(pin.hand, pin.hand)}" if pin.hand else ""
        on = f" on {day_words(self.floor.begins, pin.day * DAY)}" if pin.day is not None else ""
        return f"The pin of {pin.jacket}, {pin.stage}{by}{on},"

    def _why_not(self, pin: Held, steps: list[Step]) -> str:
        if not pin.hand:
            return ""
        if pin.hand not in self.names:
            return "this person is not listed"
        name = self.names[pin.hand]
        if pin.hand not in self.hands:
            return f"{name} has no working hours"
        hand = self.hands[pin.hand]
        for step in steps:
            if step.stage not in hand.stages:
                return f"{name} does not do the stage '{step.stage}'"
            lacking = [skill for skill in step.skills if skill not in hand.skills]
            if lacking:
                return f"{name} is not listed for '{lacking[0]}'"
        return ""

    def _day(self, pin: Held, hand: str, step: Step) -> Stretch | None:
        assert pin.day is not None
        first, last = pin.day * DAY, (pin.day + 1) * DAY
        if last <= self.floor.now:
            self.notes.append(f"{self._words(pin)} is over: that day has passed.")
            return None
        start, end = self.clock.worked(first), min(self.clock.worked(last), self.clock.known)
        there = [hand] if hand else [key for key, each in self.hands.items() if each.can_do(step)]
        for key in there:
            if start < end and self.presences[key].fit(start, 1)[0] < end:
                return start, end
        who = self.names[hand] if hand else "anybody who can do it"
        self.notes.append(f"{self._words(pin)} is not kept: {who} has no hours on that day.")
        return None
