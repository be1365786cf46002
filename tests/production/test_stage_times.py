from __future__ import annotations

import datetime
from decimal import Decimal

import pytest

from production.planning.minutes.stage_times import (
    Correction,
    StageTime,
    corrections,
    weighted_median,
    worked_minutes,
)

DAY = datetime.datetime(2027, 2, 1)


def at(hour: int, minute: int = 0, day: int = 0) -> datetime.datetime:
    return DAY + datetime.timedelta(days=day, hours=hour, minutes=minute)


def sewn(
    started: datetime.datetime, done: datetime.datetime, standard: int = 60, who: int | None = 1
) -> StageTime:
    return StageTime("sew", who, started, done, Decimal(standard))


def test_a_stage_is_corrected_by_the_median_of_its_jackets() -> None:
    times = [
        sewn(at(8), at(9, 6)),
        sewn(at(10), at(11, 12)),
        sewn(at(12), at(13, 15)),
        sewn(at(13, 30), at(21, 30)),  # done was tapped in the evening
        sewn(at(8, day=1), at(9, day=1)),
    ]
    assert corrections(times) == {"sew": Correction("sew", Decimal("1.2"), 5, 0)}


def test_a_jacket_weighs_as_much_as_its_standard_minutes() -> None:
    times = [
        sewn(at(8), at(8, 20), standard=10),
        sewn(at(9), at(9, 20), standard=10),
        sewn(at(10), at(11, 30), standard=90),
    ]
    assert corrections(times)["sew"].ratio == 1


def test_what_ends_on_another_day_or_has_no_standard_is_left_out() -> None:
    times = [
        sewn(at(16), at(9, day=1)),
        sewn(at(8), at(8)),
        sewn(at(9), at(10), standard=0),
        sewn(at(11), at(12)),
    ]
    assert corrections(times) == {"sew": Correction("sew", Decimal(1), 1, 3)}


def test_a_stage_of_which_nothing_counts_has_no_correction() -> None:
    assert corrections([sewn(at(16), at(9, day=1))])["sew"].ratio is None
    assert corrections([]) == {}


def test_minutes_of_a_batch_at_the_machine_are_shared() -> None:
    # 8:00 to 9:00 the first alone, 9:00 to 10:00 both, 10:00 to 10:30 the second alone
    both = [sewn(at(8), at(10)), sewn(at(9), at(10, 30))]
    assert worked_minutes(both) == [90, 60]


def test_people_who_work_side_by_side_share_nothing() -> None:
    both = [sewn(at(8), at(10), who=1), sewn(at(8), at(10), who=2)]
    assert worked_minutes(both) == [120, 120]


def test_a_jacket_that_follows_another_at_once_takes_its_own_minutes() -> None:
    both = [sewn(at(8), at(9)), sewn(at(9), at(9, 30))]
    assert worked_minutes(both) == [60, 30]


def test_there_is_no_median_of_nothing() -> None:
    with pytest.raises(ValueError, match="no value"):
        weighted_median([])
