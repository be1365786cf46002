"""The pins that can be kept, and what is in work; a note for each that cannot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from production.planning.timetable.floor import DAY, Floor, FloorJacket, Hand, Held, Step
from production.planning.timetable.floor_clock import MOST_AWAY, Presence, Stretch, WorkClock
from production.planning.timetable.floor_words import day_words

if TYPE_CHECKING:
    from production.planning.timetable.floor_room import StepKey


class Pins:
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
                if self._goes_on(jacket):
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

    def _goes_on(self, jacket: FloorJacket) -> bool:
        """Whether who has it in hand can go on with it now. Where not, it stays theirs, and in the
        meantime the machine is for others."""
        there, step = self.presences[jacket.in_work_by], jacket.steps[0]
        start, _ = there.fit(0, step.minutes, MOST_AWAY if step.machine else None)
        return start == 0 == self.clock.worked(jacket.ready_from)

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
