"""The pages of the schedule: today's lists, the days ahead, holding by hand."""

from __future__ import annotations

import datetime
from itertools import count

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from production.models import FloorPlan, Jacket, Machine, Person, Pin
from production.scheduling.floor_plans import make_schedule
from production.tracking import record
from tests.production.floor_factories import at, make_worker
from tests.production.run_factories import make_run, person

pytestmark = pytest.mark.django_db

PAGES = ("today", "schedule", "schedules")


def page(client, name: str, *args: object, **params: str) -> str:
    answer = client.get(reverse(f"production:{name}", args=args), params)
    assert answer.status_code == 200
    text: str = answer.content.decode()
    return text


@pytest.fixture(autouse=True)
def noon(monkeypatch: pytest.MonkeyPatch) -> None:
    """So that today has hours left, whenever the tests run. Each look at the clock takes a
    millisecond."""
    ticks = count()
    monkeypatch.setattr(
        timezone, "now", lambda: at(12) + datetime.timedelta(milliseconds=next(ticks))
    )


@pytest.fixture
def floor() -> Person:
    """Two jackets, and somebody who works on them."""
    make_run(2)
    return make_worker("Ana")


@pytest.mark.parametrize("name", PAGES)
def test_with_nothing_planned_each_page_says_what_to_do(name):
    text = page(person("helper"), name)
    assert "lan" in text and ("Plan the work" in text or "Begin on" in text)


def test_a_helper_plans_anew_and_gets_the_lists(floor):
    helper = person("helper")
    answer = helper.post(reverse("production:plan_anew"), follow=True)
    text = answer.content.decode()
    assert "Planned anew. Every jacket is ready by its deadline." in text
    assert FloorPlan.objects.get().by.username == "helper"
    assert "TO-1-01" in text
    assert "Ana" in text


def test_planning_anew_from_the_schedule_comes_back_there(floor):
    answer = person("helper").post(reverse("production:plan_anew"), {"back": "schedule"})
    assert answer.url == reverse("production:schedule")


def test_what_nobody_can_do_is_told_and_nothing_is_kept():
    make_run(1)
    make_worker("Ana", has_left=True)
    answer = person("maker").post(reverse("production:plan_anew"), follow=True)
    assert "Not done:" in answer.content.decode()
    assert not FloorPlan.objects.exists()


def test_ones_own_list_stands_first(floor):
    make_worker("Bo")
    helper = person("helper")
    Person.objects.filter(name="Bo").update(user=helper.session["_auth_user_id"])
    make_schedule(None, 0.3)
    text = page(helper, "today")
    assert text.index("slip-own") < text.index(">Bo ") < text.index("The others")


def test_who_has_no_person_sees_all_lists(floor):
    make_schedule(None, 0.3)
    text = page(person("maker"), "today")
    assert "slip-own" not in text
    assert "belongs to nobody" in text
    assert "Ana" in text


def test_a_stale_list_says_so(floor):
    make_schedule(None, 0.3)
    record("TO-1-01", "send_back", "cut", None, reason="a hole")
    text = page(person("helper"), "today")
    assert "Plan anew:</strong> 1 jacket came back" in text


def test_the_days_ahead_show_deadlines_the_narrow_place_and_tapes(floor):
    Machine.objects.create(kind="lockstitch", name="L1")
    make_schedule(None, 0.3)
    text = page(person("helper"), "schedule")
    assert "2 jackets to make" in text
    assert "Ana</strong>:" in text
    assert text.count('class="tape"') >= 2
    assert "The same as a table" in text
    assert "/schedule/hold/" not in text


def test_the_maker_holds_and_lifts(floor):
    make_schedule(None, 0.3)
    maker = person("maker")
    address = reverse("production:hold", args=["TO-1-01", "sew"])
    assert address in page(maker, "schedule")
    day = timezone.localdate() + datetime.timedelta(days=1)
    answer = maker.post(
        address, {"person": floor.pk, "day": day.isoformat(), "words": "has it"}, follow=True
    )
    pin = Pin.objects.get()
    assert (pin.person, pin.day, pin.words, pin.by.username) == (floor, day, "has it", "maker")
    text = answer.content.decode()
    assert "Held by hand" in text
    assert "held by hand has changed" in text  # the schedule is out of date
    assert "has it" in page(maker, "hold", "TO-1-01", "sew")
    maker.post(reverse("production:lift_hold", args=[pin.pk]))
    pin.refresh_from_db()
    assert (pin.lifted_by.username, Pin.objects.count()) == ("maker", 1)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({}, "Choose a person, a day, or both."),
        ({"day": "2020-01-01"}, "That day is over"),
        ({"person": "999"}, "valid choice"),
    ],
)
def test_a_hold_that_cannot_be_is_told_in_the_form(floor, values, words):
    answer = person("maker").post(reverse("production:hold", args=["TO-1-01", "sew"]), values)
    assert words in answer.content.decode()
    assert not Pin.objects.exists()


def test_a_helper_neither_holds_nor_lifts(floor):
    pin = Pin.objects.create(jacket=Jacket.objects.first(), stage="sew", person=floor)
    helper = person("helper")
    address = reverse("production:hold", args=["TO-1-01", "sew"])
    assert helper.get(address).status_code == 403
    assert helper.post(address, {"person": floor.pk}).status_code == 403
    assert helper.post(reverse("production:lift_hold", args=[pin.pk])).status_code == 403
    assert Pin.objects.get().lifted_at is None


def test_looking_changes_nothing_and_only_a_post_plans(floor):
    helper = person("helper")
    for name in PAGES:
        page(helper, name)
    assert helper.get(reverse("production:plan_anew")).status_code == 405
    assert not FloorPlan.objects.exists()


def test_nobody_gets_in_without_a_log_in(client):
    for name in (*PAGES, "plan_anew"):
        assert client.post(reverse(f"production:{name}")).status_code == 302


def test_earlier_schedules_stay_as_they_were_made(floor):
    first = make_schedule(None, 0.3)
    make_schedule(None, 0.3)
    helper = person("helper")
    assert reverse("production:old_schedule", args=[first.pk]) in page(helper, "schedules")
    assert "In use is" in page(helper, "old_schedule", first.pk)


def test_a_schedule_of_another_shape_is_told_and_stops_no_page(floor):
    plan = FloorPlan.objects.create(
        begins_on=timezone.localdate(), plan={"other": 1}, late_jackets=0, seconds=0
    )
    helper = person("helper")
    address = reverse("production:old_schedule", args=[plan.pk])
    assert "cannot be read" in helper.get(address, follow=True).content.decode()
    run = Jacket.objects.first().run
    assert helper.get(reverse("production:forecast", args=[run.code])).status_code == 200


@pytest.mark.parametrize("name", ["today", "schedule"])
def test_as_many_queries_for_many_jackets_as_for_few(name):
    helper = person("helper")
    make_worker("Ana")
    counts = []
    for jackets in (2, 12):
        with transaction.atomic():
            make_run(jackets)
            make_schedule(None, 0.3)
            page(helper, name)
            with CaptureQueriesContext(connection) as asked:
                page(helper, name)
            counts.append(len(asked))
            transaction.set_rollback(True)
    assert counts[0] == counts[1]
