"""When the jackets are ready: the work that is left is gone through many times, each time with
minutes that scatter as measured ones do, from where each jacket stands now.

The steps are taken in the order of the plan. Each goes to the hand who ends it first among those
who may do it, at the machine of its kind that is free first; through nights and breaks it rests.
Changes of thread and foot take what the plan says.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from production.planning.forecasts.forecast_run import Work, ends_of
from production.planning.forecasts.forecast_spread import Draws, Spread, draw, factors
from production.planning.standing import STAGES
from production.planning.timetable.floor import DAY, Floor, FloorJacket, Slot, Step, moment
from production.planning.timetable.floor_dispatch import dispatch
from production.planning.timetable.floor_room import prepare

if TYPE_CHECKING:
    from production.planning.forecasts.forecast_spread import Numbers

#: Codes of jackets, or the slots of a schedule.
Order = Sequence[str] | Sequence[Slot]

SIMULATIONS, SEED = 1000, 1
EVEN, SAFE = 0.5, 0.9


@dataclass(frozen=True, slots=True)
class Simulation:
    """`ends` are the moments at which each work is done (simulations, works) and `ready` those at
    which each jacket is (simulations, jackets), infinite for one that nobody can do, as
    `impossible` says by code."""

    floor: Floor
    works: tuple[Work, ...]
    ends: Numbers
    ready: Numbers
    impossible: Mapping[str, str]

    def of(self, codes: Iterable[str]) -> list[int]:
        """Where these jackets stand in `ready`."""
        wanted = set(codes)
        return [at for at, jacket in enumerate(self.floor.jackets) if jacket.code in wanted]


@dataclass(frozen=True, slots=True)
class Expected:
    """What is expected of some jackets together. `chance` that each is ready by its deadline, 1
    where none has one or no work is left; `even`, `safe` the moments by which all are ready at 50 %
    and 90 %, None where one of them cannot be done; `minutes_left` at standard pace, changes
    included."""

    chance: float
    even: int | None
    safe: int | None
    minutes_left: int


def simulate(
    floor: Floor,
    order: Order,
    spread: Spread,
    *,
    simulations: int = SIMULATIONS,
    seed: int = SEED,
    draws: Draws | None = None,
) -> Simulation:
    """Go through the work that is left in the order of the jackets' codes, or of the slots of a
    schedule of this floor, also an earlier one. The same seed gives the same answer. `draws` are
    made beforehand to compare floors on the same luck. Raises FloorError where nobody has any
    hours."""
    import numpy as np

    draws = draws or draw(len(floor.jackets), spread, simulations, seed)
    room = prepare(floor)
    impossible = dict(room.impossible)
    works = works_of(floor, order, impossible)
    minutes = minutes_of(floor, works, spread, draws)
    ends = ends_of(room, works, minutes)
    ready = np.full((len(draws.shared), len(floor.jackets)), float(floor.now))
    for at, work in enumerate(works):
        ready[:, work.jacket] = np.maximum(ready[:, work.jacket], ends[:, at])
    for at, jacket in enumerate(floor.jackets):
        if jacket.code in impossible:
            ready[:, at] = np.inf
    return Simulation(floor, works, ends, ready, impossible)


def expected(simulation: Simulation, codes: Iterable[str]) -> Expected:
    import numpy as np

    at = simulation.of(codes)
    jackets = [simulation.floor.jackets[one] for one in at]
    if not jackets:
        return Expected(1.0, simulation.floor.now, simulation.floor.now, 0)
    ready = simulation.ready[:, at]
    due = deadlines(jackets)
    is_possible = not any(jacket.code in simulation.impossible for jacket in jackets)
    even, safe = (
        np.quantile(ready.max(axis=1), (EVEN, SAFE), method="inverted_cdf")
        if is_possible
        else (None, None)
    )
    return Expected(
        chance=float((ready <= due).all(axis=1).mean()) if is_possible else 0.0,
        even=None if even is None else int(even),
        safe=None if safe is None else int(safe),
        minutes_left=_minutes_left(simulation, at),
    )


def deadlines(jackets: Iterable[FloorJacket]) -> Numbers:
    """Infinite where there is none, and for a jacket that is ready: when it became so is not told
    here, and it does not get late by waiting to be handed over."""
    import numpy as np

    dues = (jacket.due if jacket.steps else None for jacket in jackets)
    return np.array([np.inf if due is None else due for due in dues], dtype=float)


def _minutes_left(simulation: Simulation, at: Sequence[int]) -> int:
    wanted = set(at)
    changes = sum(work.change_minutes for work in simulation.works if work.jacket in wanted)
    steps = (step for one in at for step in simulation.floor.jackets[one].steps)
    return changes + sum(step.minutes for step in steps)


def day_of(floor: Floor, at: int) -> datetime.date:
    return moment(floor.begins, at).date()


def fan(
    simulation: Simulation, codes: Iterable[str], days: int, levels: Sequence[float]
) -> list[tuple[float, ...]]:
    """The share of the work left on these jackets that is done by the end of each of so many days
    from the first: its quantiles at these levels, a row for each day."""
    import numpy as np

    wanted = set(simulation.of(codes))
    at = [place for place, work in enumerate(simulation.works) if work.jacket in wanted]
    left = sum(step.minutes for one in wanted for step in simulation.floor.jackets[one].steps)
    count = len(simulation.ends)
    if not at or not left:
        return [(1.0,) * len(levels)] * days
    minutes = np.array([simulation.works[place].minutes for place in at], dtype=float)
    day = np.clip(simulation.ends[:, at] // DAY, 0, days).astype(int)
    row = np.arange(count)[:, None] * (days + 1)
    done = np.bincount(
        (row + day).ravel(), np.tile(minutes, count), minlength=count * (days + 1)
    ).reshape(count, days + 1)[:, :days]
    shares = np.quantile(done.cumsum(axis=1) / left, levels, axis=0)
    return [tuple(float(share) for share in column) for column in shares.T]


#: The turn of a jacket that the plan has no place for: after all others.
LAST = 10**9


def works_of(floor: Floor, order: Order, impossible: Collection[str] = ()) -> tuple[Work, ...]:
    """The steps that are left in the order in which the plan begins them. Those of a jacket that
    the plan has no place for come last; a step that only the jacket's others have a place for, as
    after it was sent back, comes right before the next of them."""
    planned = _by_jacket(_slots(floor, order))
    turns = []
    for at, jacket in enumerate(floor.jackets):
        if jacket.code in impossible:
            continue
        places = _places(jacket.steps, planned.get(jacket.code, ()))
        turn = 0
        for number, (step, slot) in enumerate(zip(jacket.steps, places, strict=True)):
            known = next((one.start for one in places[number:] if one), LAST)
            # Never before the step that it follows.
            turn = max(turn, known)
            change = slot.change_minutes if slot else 0
            turns.append((turn, at, number, Work(at, number, step.minutes, change)))
    return tuple(work for *_, work in sorted(turns, key=lambda each: each[:3]))


def _slots(floor: Floor, order: Order) -> Sequence[Slot]:
    slots = [each for each in order if isinstance(each, Slot)]
    if slots or not floor.jackets:
        return slots
    return dispatch(floor, [each for each in order if isinstance(each, str)] or None).slots


def _by_jacket(slots: Iterable[Slot]) -> dict[str, list[Slot]]:
    found: dict[str, list[Slot]] = {}
    for slot in sorted(slots, key=lambda slot: slot.step):
        found.setdefault(slot.jacket, []).append(slot)
    return found


def _places(steps: Sequence[Step], slots: Sequence[Slot]) -> list[Slot | None]:
    """The slot of each step. Since the plan was made steps were done, came anew by mending, or are
    left out to see whether that helps; what follows them is the same, so they are told from the
    end by stage and machine."""
    left = list(slots)
    found: list[Slot | None] = []
    for step in reversed(steps):
        same = [
            at
            for at, slot in enumerate(left)
            if (slot.stage, slot.machine) == (step.stage, step.machine)
        ]
        found.append(left[same[-1]] if same else None)
        if same:
            del left[same[-1] :]
    return found[::-1]


def minutes_of(floor: Floor, works: Sequence[Work], spread: Spread, draws: Draws) -> Numbers:
    """Actual minutes of each work, changes and mending included: (simulations, works)."""
    import numpy as np

    factor = factors(spread, draws)
    minutes = np.empty((len(factor), len(works)))
    for at, work in enumerate(works):
        steps = floor.jackets[work.jacket].steps
        of_stage = factor[:, work.jacket, STAGES.index(steps[work.step].stage)]
        standard = float(work.minutes)
        if work.step == len(steps) - 1:
            mending = spread.mend_minutes * draws.mends[:, work.jacket]
            minutes[:, at] = (standard + mending) * of_stage + work.change_minutes
        else:
            minutes[:, at] = standard * of_stage + work.change_minutes
    return minutes
