"""manage.py make_plan: plans, improves the lays for a while, prints."""

from __future__ import annotations

import io
import json
import os
import signal
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from orders.models import TeamOrder
from production.cutting import jobs, lay_search
from production.models import LayPlan, PlanningJob, Run
from production.tracking import record
from tests.production.lay_choice_factories import (
    choice,
    one_better,
    run_with_rows,
    searches_by,
    ticket_of,
)
from tests.production.run_factories import make_run
from tests.production.test_record_stage import make_order_of_one

pytestmark = pytest.mark.django_db


def make_plan(code: str, *options: str) -> tuple[dict[str, Any], str]:
    out, told = io.StringIO(), io.StringIO()
    call_command("make_plan", code, "--format", "json", *options, stdout=out, stderr=told)
    plan: dict[str, Any] = json.loads(out.getvalue())
    return plan, told.getvalue()


@pytest.fixture
def planned() -> Run:
    return run_with_rows(make_run())


def test_a_new_run_is_planned_improved_and_printed(monkeypatch):
    searches_by(monkeypatch, one_better)
    order = make_order_of_one()
    plan, told = make_plan(order.code)
    run = Run.objects.get()
    assert plan == run.plan
    assert run.planning_jobs.get().seconds == 10  # the usual time
    assert [ticket["ticket"] for ticket in plan["cut_tickets"]] == ["R-0001-T1"]
    assert LayPlan.objects.get(is_in_use=True).aim == "money"
    assert "Cut ticket R-0001-T1: now the lays with least money" in told and " %  " in told
    assert TeamOrder.objects.get(code=order.code).run_order.run == run


def test_a_search_that_finds_nothing_leaves_the_rows(monkeypatch):
    searches_by(monkeypatch, lambda ticket, is_stopped: iter(()))
    plan, _ = make_plan(make_order_of_one().code, "--seconds", "1")
    assert LayPlan.objects.get(is_in_use=True).aim == "rows"
    assert all(check["holds"] for check in plan["checks"])


def test_the_plan_of_a_run_is_printed_unchanged_unless_seconds_are_given(planned, monkeypatch):
    searches_by(monkeypatch, one_better)
    plan, told = make_plan("TO-1")
    assert plan == planned.plan and "This is its plan, unchanged" in told
    assert not PlanningJob.objects.exists()
    better, _ = make_plan("TO-1", "--seconds", "1")
    assert better != plan and list(better) == list(plan)


def test_a_run_that_is_being_cut_is_printed_unchanged(planned, monkeypatch):
    searches_by(monkeypatch, one_better)
    record("TO-1-01", "done", "cut", None)
    plan, told = make_plan("TO-1", "--seconds", "1")
    assert plan == planned.plan
    assert "Jacket TO-1-01 of cut ticket R-0001-T1 is cut already. This is its plan" in told


def test_ctrl_c_ends_the_search_and_keeps_the_best_so_far(planned, monkeypatch):
    monkeypatch.setattr(lay_search, "BEAT_SECONDS", 0.0)

    def look(ticket, is_stopped):
        yield choice(ticket)
        os.kill(os.getpid(), signal.SIGINT)
        assert is_stopped()

    searches_by(monkeypatch, look)
    plan, told = make_plan("TO-1", "--seconds", "60")
    assert plan != planned.plan and "Stopped after 0 s" in told
    assert LayPlan.objects.get(is_in_use=True, aim="money").ticket == ticket_of(planned, "oat")


def test_a_search_on_the_web_is_not_disturbed(planned):
    jobs.open_job(planned, 60, None)
    with pytest.raises(CommandError, match="are being looked for already"):
        make_plan("TO-1", "--seconds", "1")


@pytest.mark.parametrize("seconds", ["inf", "nan", "0", "-1"])
def test_a_time_without_end_is_refused(planned, seconds):
    with pytest.raises(CommandError, match="give a time above 0"):
        make_plan("TO-1", "--seconds", seconds)
