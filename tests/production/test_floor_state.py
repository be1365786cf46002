"""The floor as it is read for the schedule: jackets, people, machines, pins."""

from __future__ import annotations

import datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from patterns.models import Workroom
from production.changing.changes import change_after_freeze
from production.models import DaysOff, ExtraHours, Jacket, Machine, Pin, Run
from production.planning.timetable.floor import DAY, FloorJacket
from production.scheduling.floor_state import load_floor
from production.stages.table import write_ticks
from production.tracking import record
from tests.production.change_factories import facts, make_frozen_run
from tests.production.floor_factories import MONDAY, at, make_worker, of
from tests.production.run_factories import make_person, make_run, make_team_order

pytestmark = pytest.mark.django_db


def minutes(jacket: FloorJacket) -> int:
    return sum(step.minutes for step in jacket.steps)


def test_jackets_with_the_steps_that_are_left():
    make_run(3)
    record("TO-1-02", "done", "cut", None, at=at(9))
    for stage in ("cut", "sew", "finish", "hand_over"):
        record("TO-1-03", "done", stage, None, at=at(9))
    floor = load_floor(at(10))
    assert [jacket.code for jacket in floor.jackets] == ["TO-1-01", "TO-1-02"]
    assert (floor.begins, floor.now) == (MONDAY, 600)
    first = of(floor, "TO-1-01")
    assert (first.run, first.team_order, first.size) == ("R-0001", "TO-1", "S")
    assert first.due == 26 * DAY  # the end of 26 February
    assert {step.stage for step in first.steps} == {"cut", "sew", "finish"}
    assert {step.stage for step in of(floor, "TO-1-02").steps} == {"sew", "finish"}


def test_a_jacket_that_waits_to_be_handed_over_has_no_steps_and_a_cancelled_one_is_gone():
    make_run(2)
    for stage in ("cut", "sew", "finish"):
        record("TO-1-01", "done", stage, None, at=at(9))
    Jacket.objects.filter(code="TO-1-02").update(cancelled_at=at(9))
    floor = load_floor(at(10))
    assert [(jacket.code, jacket.steps) for jacket in floor.jackets] == [("TO-1-01", ())]


def test_all_runs_with_their_own_deadlines():
    make_run(1)
    sooner = make_team_order("TO-2", 1, deadline=datetime.date(2027, 2, 5), state="in_production")
    make_run(code="R-0002", order=sooner)
    floor = load_floor(at(10))
    assert [(jacket.code, jacket.due) for jacket in floor.jackets] == [
        ("TO-2-01", 5 * DAY),
        ("TO-1-01", 26 * DAY),
    ]


def test_a_changed_jacket_is_loaded_from_its_supplement():
    make_frozen_run(2)
    before = load_floor(at(10))
    line = Jacket.objects.get(code="TO-1-01").jacket_order
    change_after_freeze(line.jacket, facts(line, colorway="away"), None)
    after = load_floor(at(10))
    seam = [of(floor, "TO-1-01").steps[1].threads for floor in (before, after)]
    assert seam[0] != seam[1]
    assert of(before, "TO-1-02") == of(after, "TO-1-02")


def test_work_of_today_in_hand_is_taken_off_and_its_worker_named():
    make_run(2)
    ana = make_person("ana")
    worker = make_worker("Ana", user=ana)
    record("TO-1-01", "start", "cut", ana, at=at(8))
    floor = load_floor(at(9, 6))
    assert of(floor, "TO-1-01").in_work_by == str(worker.pk)
    assert minutes(of(floor, "TO-1-02")) - minutes(of(floor, "TO-1-01")) == 6  # from nine on
    assert of(floor, "TO-1-02").in_work_by == ""


def test_work_in_hand_of_a_log_in_that_is_nobody_counts_while_somebody_works():
    make_run(2)
    make_worker("Ana", (9, 12))
    make_worker("Bo", (11, 17))
    record(
        "TO-1-01",
        "start",
        "cut",
        make_person("desk"),
        at=at(16, day=MONDAY - datetime.timedelta(days=1)),
    )
    morning, later = load_floor(at(9)), load_floor(at(9, 5))
    assert of(morning, "TO-1-01").in_work_by == ""
    assert minutes(of(morning, "TO-1-01")) == minutes(of(morning, "TO-1-02"))
    assert minutes(of(later, "TO-1-02")) - minutes(of(later, "TO-1-01")) == 5


def test_two_in_one_hand_share_its_minutes():
    make_run(2)
    ana = make_person("ana")
    make_worker("Ana", user=ana)
    for code in ("TO-1-01", "TO-1-02"):
        record(code, "start", "cut", ana, at=at(9))
    whole = minutes(of(load_floor(at(9)), "TO-1-01"))
    assert minutes(of(load_floor(at(9, 8)), "TO-1-01")) == whole - 4


def test_hours_without_days_off_and_the_morning_that_is_over():
    ana, bo = make_worker("Ana"), make_worker("Bo", (8, 12), can_sew=False, skills=["zippers"])
    make_worker("Cy", has_left=True)
    tuesday, saturday = MONDAY + datetime.timedelta(1), MONDAY + datetime.timedelta(5)
    DaysOff.objects.create(person=bo, first=MONDAY, last=MONDAY)
    DaysOff.objects.create(first=tuesday, last=tuesday, words="harbor day")
    ExtraHours.objects.create(
        person=ana, day=saturday, starts=datetime.time(9), ends=datetime.time(12)
    )
    floor = load_floor(at(10))
    assert [(hand.name, hand.stages, hand.skills) for hand in floor.hands] == [
        ("Ana", ("cut", "sew", "finish"), ()),
        ("Bo", ("cut", "finish"), ("zippers",)),
    ]
    assert floor.hands[0].spells[0] == (600, 1020)
    assert floor.hands[0].spells[1] == (2 * DAY + 540, 2 * DAY + 1020)
    assert (5 * DAY + 540, 5 * DAY + 720) in floor.hands[0].spells
    assert floor.hands[1].spells[0] == (2 * DAY + 480, 2 * DAY + 720)
    assert floor.hands[0].spells[-1][1] > 55 * DAY


def test_without_people_the_number_of_the_workroom_stands_in():
    Workroom.objects.create(pk=1, people=2, minutes_per_person_day=360, working_weekdays="1234")
    floor = load_floor(at(10))
    assert [hand.name for hand in floor.hands] == ["Person 1", "Person 2"]
    assert floor.hands[0].stages == ("cut", "sew", "finish")
    assert floor.hands[0].spells[:2] == ((600, 900), (DAY + 540, DAY + 900))
    assert all(start // DAY % 7 < 4 for start, _ in floor.hands[0].spells)


def test_machines_in_use_are_counted_by_kind():
    for kind, name, is_out in (
        ("serger", "S1", False),
        ("serger", "S2", True),
        ("lockstitch", "L1", True),
    ):
        Machine.objects.create(kind=kind, name=name, is_out_of_use=is_out)
    assert load_floor(at(10)).machines == {"serger": 1, "lockstitch": 0}


def test_pins_that_were_not_lifted():
    make_run(2)
    worker = make_worker("Ana")
    first, second = Jacket.objects.order_by("pk")
    Pin.objects.create(jacket=first, stage="sew", person=worker, day=MONDAY)
    Pin.objects.create(jacket=second, stage="sew", person=worker, lifted_at=at(9))
    (held,) = load_floor(at(10, day=MONDAY + datetime.timedelta(2))).held
    assert (held.jacket, held.stage, held.hand, held.day) == (
        "TO-1-01",
        "sew",
        str(worker.pk),
        -2,
    )


def test_measured_minutes_count_from_five_jackets_on():
    make_run(6)
    ana = make_person("ana")
    whole = minutes(of(load_floor(at(12)), "TO-1-06"))
    for number in range(1, 6):
        code, hour = f"TO-1-{number:02d}", 6 + number
        record(code, "start", "cut", ana, at=at(hour))
        record(code, "done", "cut", ana, at=at(hour, 15))  # standard: 10 minutes
        expected = whole + 5 * (number == 5)
        assert minutes(of(load_floor(at(12)), "TO-1-06")) == expected
    assert minutes(of(load_floor(at(12), corrected=False), "TO-1-06")) == whole


def test_a_jacket_whose_blocks_lie_on_the_table_is_cut_but_for_the_bundle():
    run = make_run()
    before = {jacket.code: jacket.steps[0] for jacket in load_floor(corrected=False).jackets}
    first = Jacket.objects.get(code="TO-1-01")
    write_ticks(first, first.blocks.values_list("block", flat=True), None, run.created_at)
    after = {jacket.code: jacket.steps[0] for jacket in load_floor(corrected=False).jackets}
    assert after["TO-1-01"].stage == "cut" and after["TO-1-01"].minutes < before["TO-1-01"].minutes
    assert after["TO-1-02"] == before["TO-1-02"]


def test_as_many_queries_for_many_jackets_as_for_few():
    make_worker("Ana")
    counts = []
    for number, jackets in enumerate((2, 9), start=1):
        order = make_team_order(f"TO-{number}", jackets, state="in_production")
        make_run(code=f"R-000{number}", order=order)
        record(f"TO-{number}-01", "start", "cut", None, at=at(9))
        load_floor(at(10))
        with CaptureQueriesContext(
            connection,
        ) as asked:
            load_floor(at(10))
        counts.append(len(asked))
        assert Run.objects.count() == number
    assert counts[0] == counts[1]
