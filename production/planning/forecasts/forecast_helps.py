"""What helps most to meet the deadline: the same luck again with one thing changed each time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from production.planning.forecasts.forecast import (
    SAFE,
    SEED,
    SIMULATIONS,
    Expected,
    Order,
    Simulation,
    deadlines,
    expected,
    simulate,
)
from production.planning.forecasts.forecast_spread import Spread, draw
from production.planning.forecasts.forecast_words import chance_words, day_words
from production.planning.timetable.floor import DAY, Floor, FloorJacket, Hand, Step, moment
from production.planning.timetable.floor_clock import joined

#: Invented: the hours of an extra Saturday, the half hour more a day, from which chance on nothing
#: is needed, and the gain below which a change does not count as help.
SATURDAY, SATURDAY_HOURS = 6, (9 * 60, 15 * 60)
LONGER_MINUTES = 30
ENOUGH, LEAST_GAIN = 0.95, 0.01


@dataclass(frozen=True, slots=True)
class Skipped:
    """An operation that could be left out: the minutes that it takes of each jacket by code, in the
    floor's own measure, and the thread that is on the machine for it alone."""

    operation: str
    words: str
    minutes: Mapping[str, int]
    threads: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Help:
    """A change in words and what would be expected with it; `gain` in chance. Of a part delivery
    `chance` is that of the part, and `safe` the day of the rest."""

    words: str
    chance: float
    gain: float
    even: int | None
    safe: int | None
    is_part: bool = False


@dataclass(frozen=True, slots=True)
class Helps:
    """`words` says whether anything is needed and helps; `ranked` by gain in chance, then by the
    day that is safe."""

    words: str
    now: Expected
    ranked: tuple[Help, ...]


def what_helps(
    floor: Floor,
    order: Order,
    spread: Spread,
    codes: Collection[str],
    *,
    skipped: Skipped | None = None,
    simulations: int = SIMULATIONS,
    seed: int = SEED,
) -> Helps:
    """What would help these jackets most. Raises FloorError where nobody has any hours."""
    draws = draw(len(floor.jackets), spread, simulations, seed)

    def gone_through(changed: Floor) -> Simulation:
        return simulate(changed, order, spread, draws=draws)

    base = gone_through(floor)
    now = expected(base, codes)
    if now.chance >= ENOUGH:
        return Helps(f"Nothing is needed: the chance is {chance_words(now.chance)}.", now, ())
    helps = [
        _help(words, now, expected(gone_through(changed), codes))
        for words, changed in changes(floor, codes, skipped)
    ]
    helps += _parts(base, codes, now)
    useful = [one for one in helps if one.gain >= LEAST_GAIN]
    ranked = sorted(useful, key=lambda one: (-one.gain, one.safe is None, one.safe or 0))
    return Helps(_told(ranked), now, tuple(ranked))


def _told(ranked: Sequence[Help]) -> str:
    if not ranked:
        return (
            "None of these changes helps by itself: one more person on a Saturday, longer days, one"
            " more machine, a part delivery. Agree on a later date with the club, or on fewer"
            " jackets."
        )
    first = ranked[0]
    return f"What helps most: {first.words} The chance is then {chance_words(first.chance)}."


def _help(words: str, now: Expected, then: Expected) -> Help:
    return Help(words, then.chance, then.chance - now.chance, then.even, then.safe)


def changes(
    floor: Floor, codes: Collection[str], skipped: Skipped | None = None
) -> Iterator[tuple[str, Floor]]:
    """Changed floors with what is changed, in words."""
    due = _latest_due(floor, codes)
    saturday = _saturday(floor, due)
    if saturday is not None:
        yield from _on_saturday(floor, saturday)
    if due is not None and due > floor.now:
        yield f"Everybody works {LONGER_MINUTES} minutes longer each day.", longer_days(floor, due)
    kind = busiest_kind(floor)
    if kind:
        machines = {**floor.machines, kind: floor.machines[kind] + 1}
        yield f"One more {kind} is in use.", replace(floor, machines=machines)
    if skipped and any(skipped.minutes.get(code) for code in codes):
        yield skipped.words, without_operation(floor, codes, skipped)


def _latest_due(floor: Floor, codes: Collection[str]) -> int | None:
    dues = [jacket.due for jacket in floor.jackets if jacket.code in codes and jacket.due]
    return max(dues, default=None)


def _saturday(floor: Floor, due: int | None) -> int | None:
    """The day, from the beginning of the floor, of the next Saturday with its hours still to come
    and before the deadline."""
    if due is None:
        return None
    day = (SATURDAY - floor.begins.isoweekday()) % 7
    if day * DAY + SATURDAY_HOURS[0] < floor.now:
        day += 7
    return day if day * DAY + SATURDAY_HOURS[1] <= due else None


def _on_saturday(floor: Floor, day: int) -> Iterator[tuple[str, Floor]]:
    """One more helper, and each person in turn who does not work then anyway."""
    on = day_words(moment(floor.begins, day * DAY).date())
    spell = tuple(day * DAY + at for at in SATURDAY_HOURS)
    yield (
        f"One more helper, who can do all stages, on {on} from 9 to 15.",
        replace(floor, hands=(*floor.hands, _helper(floor, (spell[0], spell[1])))),
    )
    for hand in floor.hands:
        if any(start < (day + 1) * DAY and end > day * DAY for start, end in hand.spells):
            continue
        more = tuple(sorted((*hand.spells, (spell[0], spell[1]))))
        hands = tuple(
            replace(one, spells=more) if one.key == hand.key else one for one in floor.hands
        )
        yield f"{hand.name} works on {on} from 9 to 15.", replace(floor, hands=hands)


def _helper(floor: Floor, spell: tuple[int, int]) -> Hand:
    steps = [step for jacket in floor.jackets for step in jacket.steps]
    return Hand(
        key="one more",
        name="one more helper",
        stages=tuple(dict.fromkeys(step.stage for step in steps)),
        skills=tuple(dict.fromkeys(skill for step in steps for skill in step.skills)),
        spells=(spell,),
    )


def longer_days(floor: Floor, until: int, minutes: int = LONGER_MINUTES) -> Floor:
    """The last spell of each day lasts longer until the moment `until`, as far as the day does."""
    return replace(
        floor,
        hands=tuple(replace(hand, spells=_longer(hand, until, minutes)) for hand in floor.hands),
    )


def _longer(hand: Hand, until: int, minutes: int) -> tuple[tuple[int, int], ...]:
    last_of_day = {start // DAY: end for start, end in sorted(hand.spells)}
    longer = [
        (start, min(end + minutes, (start // DAY + 1) * DAY))
        if end == last_of_day[start // DAY] and end <= until
        else (start, end)
        for start, end in hand.spells
    ]
    return tuple(joined(longer, 0))


def busiest_kind(floor: Floor) -> str:
    """The kind of machine with the most minutes left for each machine; '' where none is counted."""
    minutes: Counter[str] = Counter()
    for step in (step for jacket in floor.jackets for step in jacket.steps):
        if floor.machines.get(step.machine):
            minutes[step.machine] += step.minutes
    return max(minutes, key=lambda kind: minutes[kind] / floor.machines[kind], default="")


def without_operation(floor: Floor, codes: Collection[str], skipped: Skipped) -> Floor:
    """The floor with the operation left out of these jackets, where it is still to come."""
    jackets = tuple(
        _without(jacket, skipped) if jacket.code in codes else jacket for jacket in floor.jackets
    )
    return replace(floor, jackets=jackets)


def _without(jacket: FloorJacket, skipped: Skipped) -> FloorJacket:
    """A step of that operation alone goes; another loses its minutes and its thread."""
    left = skipped.minutes.get(jacket.code, 0)
    steps: list[Step] = []
    for step in jacket.steps:
        if skipped.operation not in step.operations:
            steps.append(step)
        elif step.operations == (skipped.operation,):
            left -= min(left, step.minutes)
        else:
            off = min(left, step.minutes)
            left -= off
            thread = skipped.threads.get(jacket.code)
            steps.append(
                replace(
                    step,
                    minutes=step.minutes - off,
                    threads=tuple(one for one in step.threads if one != thread),
                    operations=tuple(one for one in step.operations if one != skipped.operation),
                )
            )
    return replace(jacket, steps=tuple(steps))


def _parts(simulation: Simulation, codes: Collection[str], now: Expected) -> Iterable[Help]:
    """As many jackets as can be ready on the day at 90 %, the rest in a later delivery."""
    import numpy as np

    at = simulation.of(codes)
    due = deadlines(simulation.floor.jackets[one] for one in at)
    on_time = (simulation.ready[:, at] <= due).sum(axis=1)
    # The most that are on time in nine simulations of ten.
    ready = int(np.quantile(on_time, 1 - SAFE, method="inverted_cdf"))
    if not 0 < ready < len(at):
        return
    chance = float((on_time >= ready).mean())
    rest = day_words(moment(simulation.floor.begins, now.safe).date() if now.safe else None)
    words = f"Split the delivery: {ready} on the day, {len(at) - ready} on {rest}."
    yield Help(words, chance, chance - now.chance, now.even, now.safe, is_part=True)
