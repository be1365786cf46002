"""How long stages really take, from the moments at which jackets were started and done.

An estimate only: the clock between two taps runs through breaks and talk, which the relaxation
allowance covers in part. It corrects what is expected; standards are set by time studies.
"""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class StageTime:
    """A stage of one jacket from its start to its end, both in the workroom's local time, by whom,
    and its standard minutes with allowance; `jacket` is its key, where that matters."""

    stage: str
    who: int | None
    started: datetime.datetime
    done: datetime.datetime
    standard_minutes: Decimal
    jacket: int = 0

    @property
    def counts(self) -> bool:
        """Over a night nobody knows how long was worked."""
        return (
            self.started < self.done
            and self.started.date() == self.done.date()
            and self.standard_minutes > 0
        )


@dataclass(frozen=True, slots=True)
class Correction:
    """Actual minutes over standard minutes of a stage, told from `count` jackets; `left_out` more
    did not begin and end within one day."""

    stage: str
    ratio: Decimal | None
    count: int
    left_out: int


def corrections(times: Iterable[StageTime]) -> dict[str, Correction]:
    """By stage the median of actual over standard minutes, each jacket weighing as much as its
    standard minutes, so that neither a forgotten tap nor a small jacket rules it."""
    by_stage: dict[str, list[StageTime]] = defaultdict(list)
    for time in times:
        by_stage[time.stage].append(time)
    counted = [time for stage in by_stage.values() for time in stage if time.counts]
    ratios: dict[str, list[tuple[Decimal, Decimal]]] = defaultdict(list)
    for time, minutes in zip(counted, worked_minutes(counted), strict=True):
        ratios[time.stage].append((minutes / time.standard_minutes, time.standard_minutes))
    return {
        stage: Correction(
            stage,
            weighted_median(ratios[stage]) if ratios[stage] else None,
            len(ratios[stage]),
            len(all_times) - len(ratios[stage]),
        )
        for stage, all_times in by_stage.items()
    }


def worked_minutes(times: Sequence[StageTime]) -> list[Decimal]:
    """Minutes of each time. Who has several jackets in work at once, as a batch at the machine,
    spends each minute on one of them: it is shared equally."""
    by_person: dict[int | None, list[int]] = defaultdict(list)
    for at, time in enumerate(times):
        by_person[time.who].append(at)
    minutes = [Decimal(0)] * len(times)
    for own in by_person.values():
        moments = sorted(
            [(times[at].started, 1, at) for at in own] + [(times[at].done, 0, at) for at in own]
        )
        in_work: set[int] = set()
        last = moments[0][0]
        for moment, starts, at in moments:
            passed = Decimal(str((moment - last).total_seconds())) / 60
            for other in in_work:
                minutes[other] += passed / len(in_work)
            last = moment
            if starts:
                in_work.add(at)
            else:
                in_work.discard(at)
    return minutes


def weighted_median(pairs: Iterable[tuple[Decimal, Decimal]]) -> Decimal:
    """The value at which half of the weight is reached, of (value, weight) pairs; ValueError for
    none."""
    ordered = sorted(pairs)
    half = sum((weight for _, weight in ordered), Decimal(0)) / 2
    reached = Decimal(0)
    for value, weight in ordered:
        reached += weight
        if reached >= half:
            return value
    raise ValueError("There is no value to take the median of.")
