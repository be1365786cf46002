"""The forecast from the database: pages, the warning on the order's page, the evening's command."""

from __future__ import annotations

import datetime
import json
from dataclasses import replace
from decimal import Decimal
from smtplib import SMTPException

import pytest
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from patterns.models import Workroom
from production.forecasting import forecast_load, forecasts
from production.forecasting.forecast_input import load_spread, measured_ratios, planned_slots
from production.forecasting.forecast_load import reckoning
from production.forecasting.forecast_state import ahead_of
from production.models import Forecast, Jacket, Person, StageEvent
from production.planning.forecasts.forecast import works_of
from production.planning.forecasts.forecast_words import NEVER
from production.scheduling.floor_plans import make_schedule, schedule_of
from production.tracking import Action, record
from tests.production.run_factories import make_person, make_run, make_team_order, person

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def monday_morning(monkeypatch):
    """The chance depends on the hours that are left of the day, and help on where Saturday is."""
    now = timezone.make_aware(datetime.datetime(2027, 2, 1, 8))
    monkeypatch.setattr(timezone, "now", lambda: now)
    cache.clear()


def run_due_in(days, jackets=6, **room):
    """A run in a workroom where one person works 90 minutes a day, which is one jacket's."""
    Workroom.objects.update_or_create(
        pk=1,
        defaults={"people": 1, "minutes_per_person_day": 90, "working_weekdays": "1234567", **room},
    )
    deadline = timezone.localdate() + datetime.timedelta(days=days)
    return make_run(
        order=make_team_order(jackets=jackets, state="in_production", deadline=deadline)
    )


def test_a_run_with_time_enough_is_safe_and_one_without_is_not():
    safe = ahead_of(run_due_in(30))
    assert safe.chance > 0.95
    assert safe.warning == ""
    Workroom.objects.update(minutes_per_person_day=15)
    late = ahead_of(safe_run := Jacket.objects.first().run)
    assert late.chance < 0.2
    assert late.warning.startswith("The chance that TO-1 is ready by its deadline is")
    assert late.even_day > safe.even_day
    assert [one.name for one in late.orders] == ["TO-1"]
    assert late.whole.deadline == safe_run.deadline


def test_what_was_done_counts_and_what_is_sent_back_counts_again():
    run = run_due_in(30, jackets=2)
    before = ahead_of(run)
    record("TO-1-01", Action.DONE, "cut", None)
    record("TO-1-01", Action.DONE, "sew", None)
    after = ahead_of(run)
    assert after.whole.minutes_left < before.whole.minutes_left - 10
    assert after.progress.done_share == pytest.approx(70 / 180)
    record("TO-1-01", Action.SEND_BACK, "sew", None, "seam open")
    assert ahead_of(run).progress.done_share == pytest.approx(10 / 180)


def test_the_schedule_in_use_is_followed_step_by_step():
    run_due_in(30, jackets=3, people=2)
    plan = make_schedule(None, 0.2)
    told = reckoning()
    works = works_of(told.floor, told.order)
    codes = [jacket.code for jacket in told.floor.jackets]
    begun = {(slot.jacket, slot.step): slot.start for slot in schedule_of(plan).slots}
    starts = [begun[codes[work.jacket], work.step] for work in works]
    assert starts == sorted(begun.values())
    assert planned_slots() == schedule_of(plan).slots


@pytest.mark.parametrize(("chance", "is_low"), [(0.57, False), (0.569, True), (0.58, False)])
def test_a_chance_at_the_limit_is_not_low(chance, is_low):
    one = replace(ahead_of(run_due_in(30)).whole, chance=chance, warns_below=round(100 * chance))
    assert one.is_low is is_low


def test_nothing_left_is_nothing_ahead():
    run = run_due_in(30, jackets=1)
    for stage in ("cut", "sew", "finish"):
        record("TO-1-01", Action.DONE, stage, None)
    assert ahead_of(run) is None


def test_nobody_with_hours_is_nothing_ahead():
    run = run_due_in(30)
    Person.objects.create(name="Ana")
    assert ahead_of(run) is None


def test_who_is_missing_is_named():
    run = run_due_in(30)
    ana = Person.objects.create(name="Ana", can_finish=False)
    for weekday in range(1, 8):
        ana.spells.create(weekday=weekday, starts=datetime.time(8), ends=datetime.time(16))
    ahead = ahead_of(run)
    assert (ahead.chance, ahead.even_day) == (0, None)
    assert "finish" in ahead.warning
    row = forecasts.note(run, ahead)[0]
    assert (row.chance, row.even_day) == (0, NEVER)
    address = reverse("production:forecast", args=[row.run.code])
    kept = person("helper").get(address).content.decode().split("How the chance moved")[1]
    assert kept.count("no day that can be told") >= 2


def test_measured_minutes_move_the_forecast():
    """Twice the standard, cut and sewn within a day."""
    run = run_due_in(14)
    before = ahead_of(run)
    day = timezone.localtime() - datetime.timedelta(days=2)
    at = day.replace(hour=8, minute=0)
    helper = make_person("ana")
    for code in ("TO-1-01", "TO-1-02"):
        for stage, minutes in (("cut", 20), ("sew", 120)):
            record(code, Action.START, stage, helper, at=at)
            at += datetime.timedelta(minutes=minutes)
            record(code, Action.DONE, stage, helper, at=at)
    ratios = measured_ratios()
    assert {stage: len(own) for stage, own in ratios.items()} == {"cut": 2, "sew": 2}
    assert ratios["sew"] == pytest.approx([0.693, 0.693], abs=0.001)
    after = ahead_of(run)
    assert after.measured == 4
    # A third of the minutes is done, yet the day is hardly nearer than by half of that.
    assert after.even_day > before.even_day - datetime.timedelta(days=2)


def test_jackets_that_went_back_are_counted_once():
    run_due_in(14)
    for stage in ("cut", "sew", "finish"):
        record("TO-1-01", Action.DONE, stage, None)
    record("TO-1-01", Action.SEND_BACK, "sew", None, "seam open")
    record("TO-1-02", Action.DONE, "cut", None)
    record("TO-1-02", Action.SEND_BACK, "cut", None, "wrong grain")
    spread = load_spread(Workroom.objects.get())
    assert (spread.looked_over, spread.sent_back) == (1, 1)


def test_the_forecast_is_kept_until_something_happens(monkeypatch):
    run, reckoned = run_due_in(14), []
    load = forecast_load.reckoning
    monkeypatch.setattr(forecast_load, "reckoning", lambda: reckoned.append(1) or load())
    ahead_of(run), ahead_of(run)
    assert len(reckoned) == 1
    record("TO-1-01", Action.START, "cut", None)
    ahead_of(run)
    assert len(reckoned) == 2
    Workroom.objects.update(people=2)
    ahead_of(run)
    assert len(reckoned) == 3


# Pages.


def test_the_page_shows_chance_days_and_picture():
    run = run_due_in(5)
    page = person("helper").get(reverse("production:forecast", args=[run.code]))
    text = page.content.decode()
    ahead = ahead_of(run)
    assert page.status_code == 200
    assert ahead.chance_words in text
    assert '<svg class="progress-line"' in text
    assert "of the work is done by" in text
    assert "TO-1" in text
    # A helper keeps nothing and sees no order's page.
    assert "Keep today" not in text
    assert reverse("orders:team_order", args=["TO-1"]) not in text


def test_the_picture_says_in_words_what_it_shows():
    run = run_due_in(5)
    record("TO-1-01", Action.DONE, "cut", None)
    record("TO-1-01", Action.DONE, "sew", None)
    picture = str(ahead_of(run).picture)
    assert "<title" in picture
    assert "12 % of the work is done by" in picture  # 70 of 540 minutes
    assert "style=" not in picture


def test_what_helps_is_reckoned_when_asked_with_and_without_htmx():
    run = run_due_in(8, jackets=8)
    client, address = person("maker"), reverse("production:forecast_helps", args=[run.code])
    part = client.get(address, headers=HTMX).content.decode()
    whole = client.get(address).content.decode()
    assert "Everybody works 30 minutes longer each day." in part
    assert "Everybody works 30 minutes longer each day." in whole
    assert "<html" not in part
    assert "<html" in whole


def test_nothing_left_is_said_where_help_is_asked_for():
    run = run_due_in(30, jackets=1)
    for stage in ("cut", "sew", "finish"):
        record("TO-1-01", Action.DONE, stage, None)
    client = person("maker")
    address = reverse("production:forecast_helps", args=[run.code])
    assert "Nothing is left to do" in client.get(address, headers=HTMX).content.decode()
    page = client.get(reverse("production:forecast", args=[run.code])).content.decode()
    assert "Nothing to look ahead to" in page


def test_a_forecast_is_kept_when_asked_and_shown_in_the_history():
    run = run_due_in(5)
    client, address = person("maker"), reverse("production:keep_forecast", args=[run.code])
    for _ in range(2):
        assert client.post(address).status_code == 302
    assert Forecast.objects.count() == 4  # the run and its order, twice
    page = client.get(reverse("production:forecast", args=[run.code])).content.decode()
    assert page.count("the whole run") == 2
    assert client.get(address).status_code == 405


def test_the_list_of_runs_shows_the_chance_that_was_kept_last():
    run = run_due_in(30)
    client, address = person("maker"), reverse("production:runs")
    assert "over 99 %" not in client.get(address).content.decode()
    ahead = ahead_of(run)
    forecasts.note(run, ahead)
    Forecast.objects.filter(team_order=None).update(chance=Decimal("0.310"))
    forecasts.note(run, ahead, anew=True)
    page = client.get(address).content.decode()
    assert ahead.chance_words in page
    assert "31 %" not in page


def test_a_helper_keeps_no_forecast_and_sees_no_order():
    run = run_due_in(5)
    client = person("helper")
    assert client.post(reverse("production:keep_forecast", args=[run.code])).status_code == 403
    assert client.get(reverse("production:order_ahead", args=["TO-1"])).status_code == 403
    assert not Forecast.objects.exists()


def test_the_orders_page_asks_for_the_warning_and_links_to_it():
    run_due_in(2)
    client, address = person("maker"), reverse("production:order_ahead", args=["TO-1"])
    page = client.get(reverse("orders:team_order", args=["TO-1"])).content.decode()
    assert f'hx-get="{address}"' in page
    assert f'href="{address}"' in page
    part = client.get(address, headers=HTMX).content.decode()
    assert "Early warning:" in part
    assert "<html" not in part
    assert "Early warning:" in client.get(address).content.decode()


def test_an_order_without_a_run_says_so():
    make_team_order()
    text = person("maker").get(reverse("production:order_ahead", args=["TO-1"])).content.decode()
    assert "Not planned yet" in text


def test_the_page_asks_as_often_for_many_jackets_as_for_few():
    counts = []
    client = person("maker")
    for number, jackets in enumerate((2, 12), start=1):
        order = make_team_order(f"TO-{number}", jackets=jackets, state="in_production")
        run = make_run(code=f"R-000{number}", order=order)
        run_address = reverse("production:forecast", args=[run.code])
        for jacket in run.jackets.all():
            record(jacket.code, Action.DONE, "cut", None)
        client.get(run_address)  # legs of a run are read once
        cache.clear()
        with CaptureQueriesContext(
            connection,
        ) as queries:
            client.get(run_address)
        counts.append(len(queries))
    assert counts[0] == counts[1]


# The evening's look ahead.


def look_ahead(**options):
    call_command("look_ahead", seconds=0.05, **options)


def told(capsys):
    look_ahead(format="json")
    return json.loads(capsys.readouterr().out)


@pytest.fixture
def mail(settings):
    settings.EMAIL_HOST = "mail.example"


def test_looking_ahead_plans_and_keeps_and_says(capsys):
    run = run_due_in(30)
    found = told(capsys)
    assert found["schedule"]["late_jackets"] == 0
    assert [(row["run"], row["team_order"]) for row in found["forecasts"]] == [
        (run.code, None),
        (run.code, "TO-1"),
    ]
    assert Decimal(found["forecasts"][0]["chance"]) == Forecast.objects.last().chance
    look_ahead()
    assert "chance to be ready by" in capsys.readouterr().out


def test_the_same_forecast_is_kept_once_a_day():
    run = run_due_in(30)
    ahead = ahead_of(run)
    forecasts.note(run, ahead), forecasts.note(run, ahead)
    assert Forecast.objects.count() == 2
    Forecast.objects.update(at=timezone.now() - datetime.timedelta(days=1))
    forecasts.note(run, ahead)
    assert Forecast.objects.count() == 4


def test_nothing_to_make_is_no_fault(capsys):
    assert told(capsys) == {"schema": 1, "schedule": None, "forecasts": []}


@pytest.mark.parametrize("seconds", ["0", "-1", "inf", "nan"])
def test_a_time_that_cannot_be_is_refused(seconds):
    with pytest.raises(CommandError, match="give a time above 0"):
        call_command("look_ahead", "--seconds", seconds)


def test_nobody_who_works_is_one_clear_line():
    run_due_in(30)
    Person.objects.create(name="Ana")
    with pytest.raises(CommandError, match="working hours"):
        look_ahead()


def test_a_low_chance_is_mailed_once_until_it_was_high_again(mail, mailoutbox, capsys):
    run_due_in(2, warn_to="mo@workroom.example")
    first, again = told(capsys), told(capsys)
    assert [row["mail"] for row in first["forecasts"]] == ["not needed", "sent"]
    assert [row["mail"] for row in again["forecasts"]] == ["not needed", "warned before"]
    assert [message.to for message in mailoutbox] == [["mo@workroom.example"]]
    Workroom.objects.update(people=40)
    assert told(capsys)["forecasts"][1]["mail"] == "not needed"
    Workroom.objects.update(people=1)
    assert told(capsys)["forecasts"][1]["mail"] == "sent"
    assert len(mailoutbox) == 2


def test_the_mail_names_the_order_and_no_member(mail, mailoutbox, capsys):
    run_due_in(0, jackets=1, minutes_per_person_day=15, warn_to="mo@workroom.example")
    told(capsys)
    text = mailoutbox[0].subject + mailoutbox[0].body
    assert "TO-1 may be late" in text
    assert "Test Club" in text
    assert "/runs/R-0001/forecast/" in text
    assert "Left to do: 1 jacket, " in text
    assert "Member" not in text
    assert Forecast.objects.exclude(warned_to="").get().team_order.code == "TO-1"


def test_a_mail_that_fails_is_told_and_tried_again(mail, mailoutbox, monkeypatch, capsys):
    run_due_in(2, warn_to="mo@workroom.example")

    def refuse(*_):
        raise SMTPException("closed")

    with monkeypatch.context() as patch:
        patch.setattr(forecasts, "send_mail", refuse)
        with pytest.raises(CommandError, match="did not take the warning of TO-1"):
            look_ahead()
    assert Forecast.objects.count() == 2
    assert not Forecast.objects.exclude(warned_to="").exists()
    capsys.readouterr()
    assert told(capsys)["forecasts"][1]["mail"] == "sent"


def test_without_a_mail_server_or_an_address_nothing_is_sent(settings, mailoutbox, capsys):
    run_due_in(2, warn_to="mo@workroom.example")
    settings.EMAIL_HOST = ""
    assert told(capsys)["forecasts"][1]["mail"] == "no mail is set up"
    settings.EMAIL_HOST = "mail.example"
    Workroom.objects.update(warn_to="")
    assert told(capsys)["forecasts"][1]["mail"] == "no mail is set up"
    assert mailoutbox == []


def test_looking_ahead_changes_no_jacket():
    run_due_in(30)
    before = list(Jacket.objects.values_list("stage", "in_work"))
    look_ahead(format="json")
    assert list(Jacket.objects.values_list("stage", "in_work")) == before
    assert not StageEvent.objects.exists()
