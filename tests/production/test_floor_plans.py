"""Schedules are made, kept, told to be out of date, and become today's lists."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from typing import Any

import msgspec
import pytest
from django.utils import timezone

from production.errors import ProductionError, UnknownJacketError
from production.models import ExtraHours, FloorPlan, Jacket, Person, Pin
from production.planning.timetable.floor import DAY, FloorSchedule, LateJacket, Slot
from production.scheduling import floor_plans, pins, planned_work
from production.scheduling.floor_plans import out_of_date, percent_up, schedule_of
from production.scheduling.schedule_words import gap_words, late_count_words
from production.scheduling.schedules import (
    late_by_jacket,
    late_words,
    latest_schedule,
    make_schedule,
    todays_list,
    todays_lists,
)
from production.tracking import record
from tests.production.floor_factories import MONDAY, at, make_worker
from tests.production.run_factories import make_person, make_run, make_team_order
from tests.production.test_two_at_once import at_once, own_file

__all__ = ["at_once", "own_file"]  # fixtures

pytestmark = pytest.mark.django_db


def plan(seconds: float = 0.3) -> FloorPlan:
    return make_schedule(None, seconds)


@pytest.fixture
def monday(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[datetime.datetime], None]]:
    """It is nine on Monday, until told otherwise."""
    moments = [at(9)]
    monkeypatch.setattr(timezone, "now", lambda: moments[-1])
    yield moments.append


def slots(made: FloorPlan, stage: str) -> list[Slot]:
    return [slot for slot in schedule_of(made).slots if slot.stage == stage]


def test_a_schedule_is_kept_and_earlier_ones_stay(monday):
    make_run(2)
    make_worker("Ana")
    first = plan()
    monday(at(10))
    second = plan()
    assert latest_schedule() == second
    assert FloorPlan.objects.count() == 2
    assert first.begins_on == MONDAY
    assert first.late_jackets == 0
    found = schedule_of(first)
    assert {slot.jacket for slot in found.slots} == {"TO-1-01", "TO-1-02"}
    assert min(slot.start for slot in found.slots) == 9 * 60


def test_where_nobody_works_it_says_so():
    make_run(1)
    make_worker("Ana", has_left=True)
    with pytest.raises(ProductionError, match="hours"):
        plan()
    assert latest_schedule() is None


def test_pins_are_kept_when_planned_anew(monday):
    make_run(2)
    make_worker("Ana")
    bo = make_worker("Bo", (9, 11))
    thursday = MONDAY + datetime.timedelta(days=3)
    pins.hold("TO-1-02", "sew", person=bo, day=thursday, words="", by=None)
    for _ in range(2):
        own = [slot for slot in slots(plan(), "sew") if slot.jacket == "TO-1-02"]
        assert {slot.hand for slot in own} == {str(bo.pk)}
        assert min(slot.start for slot in own) // DAY == 3
        monday(at(10))


def test_holding_again_lifts_what_held_before_and_both_stay_in_the_history():
    make_run(1)
    ana, bo = make_worker("Ana"), make_worker("Bo")
    mo = make_person("mo", "maker")
    first = pins.hold("TO-1-01", "sew", person=ana, day=None, words=" has  it ", by=mo)
    second = pins.hold("TO-1-01", "sew", person=bo, day=None, words="", by=mo)
    assert [pin.pk for pin in pins.held_now()] == [second.pk]
    first.refresh_from_db()
    assert (first.lifted_by, first.words) == (mo, "has it")
    lifted = pins.lift(second.pk, mo)
    assert lifted.lifted_at and pins.lift(second.pk, None).lifted_by == mo
    assert Pin.objects.count() == 2


@pytest.mark.parametrize(
    ("code", "stage", "values", "words"),
    [
        ("TO-1-09", "sew", {}, "No jacket"),
        ("TO-1-01", "hand_over", {}, "scheduled"),
        ("TO-1-01", "cut", {}, "done already"),
        ("TO-1-01", "sew", {"person": None}, "Choose a person"),
        ("TO-1-01", "finish", {}, "does not do finishing"),
        ("TO-1-01", "sew", {"day": datetime.date(2020, 1, 1)}, "over"),
    ],
)
def test_what_cannot_be_held_is_refused_in_words(code, stage, values, words):
    make_run(1)
    record("TO-1-01", "done", "cut", None)
    ana = make_worker("Ana", can_finish=False)
    with pytest.raises((ProductionError, UnknownJacketError), match=words):
        pins.hold(code, stage, **{"person": ana, "day": None, "words": "", "by": None, **values})
    assert not Pin.objects.exists()


def test_doing_what_it_says_does_not_make_it_out_of_date(monday):
    make_run(2)
    make_worker("Ana")
    made = plan()
    first = min(slots(made, "cut"), key=lambda slot: slot.start)
    record(first.jacket, "start", "cut", None)
    record(first.jacket, "done", "cut", None)
    assert out_of_date(made) == []
    for jacket in ("TO-1-01", "TO-1-02"):
        for stage in ("cut", "sew", "finish", "hand_over"):
            if (jacket, stage) != (first.jacket, "cut"):
                record(jacket, "done", stage, None)
    assert out_of_date(made) == []


def hold_one() -> None:
    pins.hold("TO-1-01", "sew", person=Person.objects.get(), day=None, words="", by=None)


def send_back() -> None:
    record("TO-1-01", "send_back", "cut", None, reason="a hole in the yoke")


def more_hours() -> None:
    ExtraHours.objects.create(
        person=Person.objects.get(),
        day=MONDAY,
        starts=datetime.time(18),
        ends=datetime.time(20),
    )


def one_cancelled() -> None:
    Jacket.objects.filter(code="TO-1-02").update(cancelled_at=timezone.now())


def another_run() -> None:
    make_run(code="R-0002", order=make_team_order("TO-2", 1, state="in_production"))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (hold_one, "held by hand has changed"),
        (send_back, "1 jacket came back"),
        (more_hours, "hours or the machines"),
        (one_cancelled, "jackets were added, changed, cancelled"),
        (another_run, "jackets were added, changed, cancelled"),
    ],
)
def test_what_it_did_not_know_makes_it_out_of_date(monday, change, words):
    make_run(2)
    make_worker("Ana")
    made = plan()
    assert out_of_date(made) == []
    change()
    (said,) = out_of_date(made)
    assert words in said


def test_a_day_later_it_is_out_of_date_and_what_was_left_is_told(monday):
    make_run(2)
    make_worker("Ana")
    made = plan()
    monday(at(9, day=MONDAY + datetime.timedelta(days=1)))
    assert out_of_date(made) == ["it was made yesterday", "2 jackets should be further by now"]


def test_one_made_in_the_evening_holds_the_next_morning(monday):
    make_run(2)
    make_worker("Ana")
    monday(at(19))
    made = plan()
    monday(at(8, day=MONDAY + datetime.timedelta(days=1)))
    assert out_of_date(made) == []
    assert todays_lists().people[0].rows[0].starts == datetime.time(9)
    monday(at(8, day=MONDAY + datetime.timedelta(days=2)))
    assert "it was made on Monday 1 February" in out_of_date(made)


def test_todays_list_is_in_the_order_of_the_schedule_with_what_is_done_ticked_off(monday):
    make_run(2)
    user = make_person("ana")
    ana = make_worker("Ana", user=user)
    made = plan()
    before = todays_list(ana)
    assert before
    planned = sorted(schedule_of(made).slots, key=lambda slot: slot.start)
    assert before.rows[0].work.jacket.code == planned[0].jacket
    assert before.rows[0].starts == datetime.time(9)
    assert [row.number for row in before.rows] == list(range(1, len(before.rows) + 1))
    assert before.left == len(before.rows)
    record(planned[0].jacket, "start", "cut", user)
    assert todays_list(ana).rows[0].work.is_in_work
    record(planned[0].jacket, "done", "cut", user)
    after = todays_list(ana)
    assert [row.work.is_done for row in after.rows] == [True] + [False] * (len(after.rows) - 1)
    assert after.also_done == ()


def test_the_list_tells_machine_threads_and_why_it_is_there(monday):
    make_run(1)
    ana = make_worker("Ana")
    record("TO-1-01", "done", "cut", None)
    record("TO-1-01", "done", "sew", None)
    record("TO-1-01", "send_back", "sew", None, reason="open seam")
    pins.hold("TO-1-01", "sew", person=ana, day=None, words="sewed it", by=None)
    plan()
    sewing = todays_list(ana).rows[0].work
    assert sewing.stage == "sew"
    assert sewing.why == "to mend: open seam; held by hand: sewed it"
    assert sewing.parts[0].machine == "lockstitch"
    assert [thread.name for thread in sewing.parts[0].threads] == ["oat", "spruce"]
    assert sewing.parts[0].operations == ("seam",)  # no operation of that code is stored here


@pytest.mark.parametrize(("stage", "is_told"), [("sew", True), ("finish", False)])
def test_a_part_of_the_sewing_by_hand_is_told_too(stage, is_told):
    part = planned_work.Part("", ("Sew and insert the elastic",), (), "", 0)
    work = planned_work.Work(
        Jacket(code="TO-1-01"),
        stage,
        "1",
        0,
        4,
        (part,),
        is_held=False,
        is_done=False,
        is_in_work=True,
    )
    assert bool(work.told_parts) is is_told


def test_a_jacket_that_cannot_go_on_says_so_on_the_list(monday, monkeypatch):
    make_run(2)
    ana = make_worker("Ana")
    plan()
    told = {"TO-1-01": "waits for a zipper"}
    monkeypatch.setattr(planned_work, "blocked_words", lambda jackets: told)
    why = {row.work.jacket.code: row.work.why for row in todays_list(ana).rows}
    assert why == {**told, "TO-1-02": ""}


def test_work_of_yesterday_stands_first_as_left_over(monday):
    make_run(1)
    ana = make_worker("Ana")
    plan()
    monday(at(9, day=MONDAY + datetime.timedelta(days=1)))
    today = todays_lists()
    assert today.stale
    assert all(row.is_left_over for row in today.of(ana).rows)
    record("TO-1-01", "done", "cut", None)
    assert [row.work.stage for row in todays_list(ana).rows] == ["sew", "finish"]


def test_what_was_done_before_planning_anew_is_still_told(monday):
    make_run(2)
    user = make_person("ana")
    ana = make_worker("Ana", user=user)
    record("TO-1-01", "done", "cut", user)
    monday(at(10))
    plan()
    assert [event.jacket.code for event in todays_list(ana).also_done] == ["TO-1-01"]


def test_where_nothing_is_left_nothing_is_praised(monday):
    make_worker("Ana")
    made = plan()
    assert (late_count_words(made), gap_words(made)) == ("Nothing is left to make.", "")


def test_the_gap_is_rounded_up_and_says_what_is_weighed():
    assert [str(percent_up(share)) for share in (0.0, 0.0001, 0.2301)] == ["0.0", "0.1", "23.1"]
    made = FloorPlan(plan={"slots": [{}]}, gap_percent=percent_up(0.0001))
    assert gap_words(made) == (
        "In changes of thread and foot and the last hour of each order, weighed together, "
        "no schedule can be more than 0.1 % better."
    )
    made.late_jackets = 2
    assert gap_words(made).startswith("In late jackets, minutes late, changes of thread")
    made.gap_percent = percent_up(0.0)
    assert gap_words(made) == "No better one is possible."


def test_late_jackets_are_told_with_their_reason(monday):
    make_run(2)
    FloorPlan.objects.create(
        begins_on=MONDAY,
        plan=stored(late=("TO-1-01", "TO-1-02")),
        late_jackets=2,
        seconds=0,
    )
    words = "Late by the schedule: due Mon 1 Feb, ready Tue 2 Feb 10:00; the serger is taken"
    assert late_words("TO-1-01") == words
    for stage in ("cut", "sew", "finish"):
        record("TO-1-02", "done", stage, None)
    assert late_by_jacket() == {"TO-1-01": words}


def stored(late: tuple[str, ...]) -> dict[str, Any]:
    built: dict[str, Any] = msgspec.to_builtins(
        FloorSchedule(
            begins=MONDAY,
            now=540,
            slots=(),
            late=tuple(LateJacket(code, DAY, DAY + 600, "the serger is taken") for code in late),
            late_jackets=len(late),
            late_minutes=60,
            change_minutes=0,
            changes=0,
            ready=0,
            value=0,
            bound=None,
            gap=None,
            seconds=0.0,
            method="by hand",
        )
    )
    return built


def test_a_schedule_of_another_shape_counts_as_none():
    FloorPlan.objects.create(begins_on=MONDAY, plan={"other": 1}, late_jackets=0, seconds=0)
    assert latest_schedule() is None
    assert todays_lists().plan is None


def test_who_asks_while_one_is_made_gets_that_one(monkeypatch):
    """As when another process makes one during the search."""
    make_run(1)
    make_worker("Ana")
    load = floor_plans.load_floor
    made = []

    def loads_while_another_plans() -> Any:
        monkeypatch.setattr(floor_plans, "load_floor", load)
        made.append(floor_plans._make(None, 0.1, timezone.now()))
        return load()

    monkeypatch.setattr(floor_plans, "load_floor", loads_while_another_plans)
    assert plan() == made[0]
    assert FloorPlan.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_who_plan_at_once_get_one_schedule(at_once):
    make_run(2)
    make_worker("Ana")
    first, second = at_once(plan, plan)
    assert first == second
    assert FloorPlan.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_who_hold_at_once_leave_one_hold(at_once):
    make_run(1)
    ana, bo = make_worker("Ana"), make_worker("Bo")

    def holding(person: Person) -> Callable[[], Pin]:
        return lambda: pins.hold("TO-1-01", "sew", person=person, day=None, words="", by=None)

    at_once(holding(ana), holding(bo))
    assert Pin.objects.filter(lifted_at=None).count() == 1
    assert Pin.objects.count() == 2
