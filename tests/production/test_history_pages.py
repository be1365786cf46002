"""The pages of the history: narrowed, turned over page by page, saved as a file, day by day."""

from __future__ import annotations

import csv
import datetime
import io

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from production.tracking import record
from tests.production.history_factories import make_busy_run
from tests.production.run_factories import make_person, make_run, person, today_at

pytestmark = pytest.mark.django_db

HISTORY = reverse("production:history")
DAYS = reverse("production:history_days")


@pytest.fixture
def helper() -> Client:
    return person("helper")


def test_a_stranger_is_asked_to_log_in(client: Client):
    for page in (HISTORY, DAYS, reverse("production:history_minutes")):
        assert client.get(page).status_code == 302


def test_before_anything_happened_the_pages_say_what_to_do(helper: Client):
    told = helper.get(HISTORY).content.decode()
    assert "Nothing happened yet." in told and reverse("production:runs") in told
    assert "Nothing happened that fits." in helper.get(HISTORY, {"jacket": "X"}).content.decode()
    assert "A stage counts on the day" in helper.get(DAYS).content.decode()


def test_what_was_taken_back_is_struck_on_the_page(helper: Client):
    make_busy_run()
    page = helper.get(HISTORY).content.decode()
    assert '<s>cutting done</s> <span class="help">taken back</span>' in page
    assert "undone: cutting done" in page


def test_the_list_is_narrowed_and_says_so(helper: Client):
    make_busy_run()
    ana = User.objects.get(username="ana")
    page = helper.get(HISTORY, {"kind": "checks", "person": str(ana.pk)}).content.decode()
    assert "looked over, not right" in page and "cutting started" not in page
    assert "Show all" in page
    nobody = helper.get(HISTORY, {"person": "0", "kind": "steps"}).content.decode()
    assert "Nothing happened that fits." in nobody


@pytest.mark.parametrize("wrong", [{"first": "yesterday"}, {"run": "R-9999"}, {"person": "x"}])
def test_what_cannot_be_looked_for_is_told_at_its_field(helper: Client, wrong):
    make_busy_run()
    answer = helper.get(HISTORY, wrong)
    assert answer.status_code == 200
    assert "field-error" in answer.content.decode()


def test_it_is_turned_over_and_read_from_the_beginning(helper: Client):
    run = make_run(60)
    for jacket in run.jackets.all():
        record(jacket.code, "start", "cut", None)
    first = helper.get(HISTORY).content.decode()
    last = helper.get(HISTORY, {"page": 2}).content.decode()
    assert first.count("cutting started") == 50 and last.count("cutting started") == 10
    oldest = helper.get(HISTORY, {"sort": "at"}).content.decode()
    assert oldest.index("TO-1-01") < oldest.index("TO-1-02") and "TO-1-60" not in oldest


def test_the_whole_list_is_saved_with_what_was_taken_back(helper: Client):
    make_busy_run()
    answer = helper.get(HISTORY, {"_export": "csv", "kind": "steps"})
    rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert [row["What"] for row in rows] == [
        "undone: cutting done",
        "cutting done",
        "cutting started",
    ]
    assert [row["Taken back"] for row in rows] == ["", "taken back", ""]
    assert rows[0]["Who"] == "ana" and rows[0]["Jacket"] == "TO-1-01"
    assert helper.get(HISTORY, {"_export": "xlsx"}).status_code == 200


def work_today() -> None:
    """ana cuts one in 12 minutes and sews another in 50; the helper cuts one in 8."""
    make_run(3)
    for code, stage, who, hour, minutes in (
        ("TO-1-01", "cut", "ana", 8, 12),
        ("TO-1-02", "cut", "helper", 8, 8),
        ("TO-1-01", "sew", "ana", 10, 50),
    ):
        by = User.objects.filter(username=who).first() or make_person(who)
        record(code, "start", stage, by, at=today_at(hour, 0))
        record(code, "done", stage, by, at=today_at(hour, minutes))
    record("TO-1-03", "done", "cut", by)
    record("TO-1-03", "undo", "cut", by)


def test_a_day_counts_stages_and_minutes_against_the_standard():
    work_today()
    rows = person("maker").get(DAYS).context["rows"]
    assert [(row.person, row.done, row.jackets) for row in rows] == [
        ("ana", (1, 1, 0, 0), 1),
        ("helper", (1, 0, 0, 0), 1),
    ]
    assert (rows[0].timed, rows[0].minutes, rows[0].standard) == (2, 62, 70)
    assert (rows[1].timed, rows[1].minutes, rows[1].standard) == (1, 8, 10)


def test_minutes_of_a_day_are_for_oneself_and_the_maker_alone():
    work_today()
    helper = Client()
    helper.force_login(User.objects.get(username="helper"))
    rows = helper.get(DAYS).context["rows"]
    assert [(row.person, row.minutes) for row in rows] == [("ana", None), ("helper", 8)]
    assert "1 h 02 min" not in helper.get(DAYS).content.decode()


def test_other_days_are_shown_when_asked_for():
    work_today()
    yesterday = timezone.localdate() - datetime.timedelta(days=1)
    page = person("maker").get(DAYS, {"last": yesterday.isoformat()})
    assert page.context["rows"] == []
    assert page.context["first"] == yesterday - datetime.timedelta(days=6)
    years = person_again("maker").get(DAYS, {"first": "2001-01-01"})
    assert (years.context["last"] - years.context["first"]).days == 92
    assert years.context["rows"]


def person_again(name: str) -> Client:
    client = Client()
    client.force_login(User.objects.get(username=name))
    return client


@pytest.mark.parametrize("page", ["production:history", "production:history_days"])
def test_a_day_out_of_this_world_is_said_by_its_field(page):
    told = person("helper").get(reverse(page), {"first": "0001-01-01", "last": "9999-12-31"})
    assert told.status_code == 200
    assert "A day from 2000 on." in told.content.decode()
    assert "A day up to 2999." in told.content.decode()
