"""The tapes of the days ahead: what is drawn where, and what is the narrow place."""

from __future__ import annotations

import datetime
from typing import Any

import msgspec
import pytest

from production.models import FloorPlan, Jacket, Machine
from production.planning.timetable.floor import DAY, FloorSchedule, LateJacket, Slot
from production.scheduling.ahead import Ahead, days_ahead
from production.scheduling.frames import worked
from tests.production.floor_factories import MONDAY, make_worker
from tests.production.run_factories import make_run

pytestmark = pytest.mark.django_db

#: Ana works from nine to five.
NINE, FIVE = 9 * 60, 17 * 60


@pytest.fixture
def ana() -> str:
    make_run(2)
    Machine.objects.create(kind="lockstitch", name="L1")
    Machine.objects.create(kind="lockstitch", name="L2")
    return str(make_worker("Ana").pk)


def ahead(*slots: Slot, page: int = 1, **values: Any) -> Ahead:
    found = FloorSchedule(
        **{
            "begins": MONDAY,
            "now": NINE,
            "slots": slots,
            "late": (),
            "late_jackets": 0,
            "late_minutes": 0,
            "change_minutes": 0,
            "changes": 0,
            "ready": 0,
            "value": 0,
            "bound": None,
            "gap": None,
            "seconds": 0.0,
            "method": "by hand",
            **values,
        }
    )
    plan = FloorPlan.objects.create(
        begins_on=MONDAY, plan=msgspec.to_builtins(found), late_jackets=0, seconds=0
    )
    return days_ahead(plan, page)


def slot(hand: str, start: int, end: int, **values: Any) -> Slot:
    return Slot(
        **{
            "jacket": "TO-1-01",
            "step": 0,
            "stage": "sew",
            "hand": hand,
            "machine": "lockstitch",
            "start": start,
            "end": end,
            **values,
        }
    )


def test_only_worked_hours_are_drawn():
    assert worked(600, DAY + 600, [(540, 1020), (DAY + 540, DAY + 1020)]) == [
        (600, 1020),
        (DAY + 540, DAY + 600),
    ]
    assert worked(600, 660, []) == [(600, 660)]  # its hours were changed since


def test_a_night_is_left_out_and_the_work_stands_on_both_days(ana):
    found = ahead(slot(ana, FIVE - 60, DAY + NINE + 120))
    assert [day.day.day for day in found.days] == [1, 2]
    monday, tuesday = (day.people[0] for day in found.days)
    assert [(one.x, one.width) for one in monday.stitches] == [("87.50%", "12.50%")]
    assert [(one.x, one.width) for one in tuesday.stitches] == [("0.00%", "25.00%")]
    assert (monday.words, tuesday.words) == ("1 h of 8 h", "2 h of 8 h")
    rows = [day.rows[0] for day in found.days]
    assert [(row.starts, row.ends) for row in rows] == [
        (datetime.time(16), None),
        (None, datetime.time(11)),
    ]


def test_two_machines_at_once_lie_in_two_lanes(ana):
    bo = str(make_worker("Bo").pk)
    found = ahead(slot(ana, NINE, NINE + 60), slot(bo, NINE + 30, NINE + 90, jacket="TO-1-02"))
    (tape,) = found.days[0].machines
    assert (tape.name, tape.count, tape.words) == ("lockstitch", 2, "2 h of 16 h")
    assert [one.y for one in tape.stitches] == [3, 20]


def test_the_fullest_is_the_narrow_place(ana):
    found = ahead(slot(ana, NINE, NINE + 120), slot(ana, NINE + 120, NINE + 160, machine=""))
    assert [(load.name, load.percent) for load in found.loads] == [
        ("Ana", 100),
        ("the lockstitch", 38),
    ]
    assert found.narrow and found.narrow.name == "Ana"


def test_late_jackets_stand_with_their_deadline_and_on_the_tape(ana):
    late = LateJacket("TO-1-01", 26 * DAY, 27 * DAY, "Ana is full")
    found = ahead(slot(ana, NINE, FIVE), slot(ana, FIVE, FIVE + 60, jacket="TO-1-02"), late=(late,))
    (deadline,) = found.deadlines
    assert (deadline.jackets, deadline.day) == (2, datetime.date(2027, 2, 26))
    assert deadline.late and deadline.late.reasons == (("Ana is full", ("TO-1-01",)),)
    assert [one.is_late for one in found.days[0].people[0].stitches] == [True, False]


def test_a_cancelled_jacket_is_no_longer_drawn(ana):
    Jacket.objects.filter(code="TO-1-01").update(cancelled_at=datetime.datetime.now(datetime.UTC))
    found = ahead(slot(ana, NINE, FIVE), slot(ana, FIVE, FIVE + 60, jacket="TO-1-02"))
    assert [row.work.jacket.code for row in found.days[0].rows] == ["TO-1-02"]


def test_days_come_five_to_a_page(ana):
    slots = [slot(ana, day * DAY + NINE, day * DAY + FIVE) for day in (0, 1, 2, 3, 4, 7)]
    assert [day.day.day for day in ahead(*slots, page=2).days] == [8]
    assert ahead(*slots, page=99).page == 2
