"""The page of a run: who waits, who has what in work, what cannot go on, what is due today."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from production import queries
from production.glance.days_work import DaysWork, days_work
from production.glance.rail import NAMED_AT_ONCE, rail
from production.glance.run_glance import RunGlance, run_glance
from production.models import FloorPlan, Jacket, Person, Run
from production.planning.timetable.floor import DAY, FloorSchedule, LateJacket, Slot
from production.reporting.missing import Missing, report_missing
from production.tracking import record
from tests.production.report_factories import make_cut_run
from tests.production.run_factories import make_person, make_run, person
from tests.production.shopping_factories import put_on_shelf

pytestmark = pytest.mark.django_db


def seen(run: Run) -> RunGlance:
    return run_glance(run, list(queries.run_jackets(run)))


def make_plan(slots: list[Slot], late: tuple[LateJacket, ...] = (), **values: Any) -> FloorPlan:
    begins = values.pop("begins", timezone.localdate())
    found = FloorSchedule(
        begins, 0, tuple(slots), late, len(late), 0, 0, 0, 0, 0, None, None, 0.1, "by hand"
    )
    return FloorPlan.objects.create(
        begins_on=begins, plan=msgspec.to_builtins(found), late_jackets=len(late), seconds=0.1
    )


def slot(jacket: str, stage: str, hand: str, start: int, minutes: int = 30) -> Slot:
    return Slot(jacket, 0, stage, hand, "", start, start + minutes)


def test_who_has_a_jacket_in_work_and_what_was_done_today_are_named():
    run, ana = make_run(3), make_person("ana")
    record("TO-1-01", "start", "cut", ana)
    record("TO-1-02", "done", "cut", ana)
    record("TO-1-03", "done", "cut", ana)
    record("TO-1-03", "undo", "cut", ana)
    found = seen(run)

    assert [(own.name, [peg.code for _, peg in own.pegs]) for own in found.in_hand] == [
        ("ana", ["TO-1-01"])
    ]
    cut, sew, *_ = found.bands
    assert [(done.code, done.by) for done in cut.done_today] == [("TO-1-02", "ana")]
    assert (cut.done, sew.done) == (1, 0)
    assert [peg.by for peg in sew.pegs] == [""]


def test_what_stops_most_jackets_comes_first():
    run = make_cut_run(6, cut=(1, 2, 3, 4, 5, 6))
    put_on_shelf("zipper:black:600", 1)
    report_missing(Missing("TO-1-01", "CO", "single", "a hole"), None)
    found = seen(run)
    # Three of size S take that zipper, the others a longer one of which no book is kept. 03 gets
    # it, as 01 cannot be sewn anyway.
    assert [[peg.code for peg in stuck.pegs] for stuck in found.stuck] == [["TO-1-01"], ["TO-1-05"]]
    assert found.bands[1].blocked == 2
    page = person("helper").get(run.get_absolute_url()).content.decode()
    assert "waits for block CO (no recut ticket yet)" in page
    assert "1 there, 3 needed; not ordered" in page
    assert page.count("cannot go on:") == 4  # two in the list above the rail, two on their pegs


def test_the_slip_of_the_day_names_what_is_left_of_this_run():
    run = make_run(3)
    bo, cy = (Person.objects.create(name=name) for name in ("Bo", "Cy"))
    record("TO-1-03", "done", "cut", None)
    make_plan(
        [
            slot("TO-1-02", "cut", str(bo.pk), 600),
            slot("TO-1-01", "cut", str(bo.pk), 540),
            slot("TO-1-01", "sew", str(bo.pk), 630),
            slot("TO-1-01", "sew", str(bo.pk), 660),
            slot("TO-1-03", "cut", str(cy.pk), 540),
            slot("TO-1-02", "sew", str(cy.pk), DAY + 540),
            slot("OTHER-1", "sew", str(cy.pk), 540),
        ],
        (LateJacket("TO-1-02", 600, None, "the serger is taken until Thu 14:00"),),
    )
    found = days_work(list(queries.run_jackets(run)))
    assert [(own.name, [(row.code, row.stage) for row in own.rows]) for own in found.people] == [
        ("Bo", [("TO-1-01", "cut"), ("TO-1-02", "cut"), ("TO-1-01", "sew")])
    ]
    assert found.late == (("the serger is taken until Thu 14:00", ("TO-1-02",)),)
    page = person("helper").get(run.get_absolute_url()).content.decode()
    assert "<strong>1 late by the schedule:</strong> the serger is taken" in page


def test_without_a_schedule_nothing_is_said_of_today():
    run = make_run(1)
    assert days_work(list(queries.run_jackets(run))) == DaysWork()
    assert "No schedule yet" in person("helper").get(run.get_absolute_url()).content.decode()


def test_all_are_on_the_page_though_a_few_are_named_at_once():
    run = make_run(NAMED_AT_ONCE + 3)
    band = rail(queries.run_jackets(run))[0]
    assert (len(band.first), len(band.further)) == (NAMED_AT_ONCE, 3)
    page = person("helper").get(run.get_absolute_url()).content.decode()
    for jacket in run.jackets.all():
        assert f">{jacket.code}</a>" in page


def test_the_page_leads_to_all_paper_and_lists_and_hides_money_from_a_helper():
    run = make_run(1)
    page = person("helper").get(run.get_absolute_url()).content.decode()
    for part in (
        f"/scan/?run={run.code}",
        "bundle-tags.pdf?paper=letter",
        "sewing-sheets.pdf",
        "/orders/TO-1/hand-over/",
        f"/history/?run={run.code}",
        f"/runs/{run.code}/forecast/",
        f"/runs/{run.code}/label-duties/",
        f"/runs/{run.code}/needs/",
    ):
        assert part in page
    for hidden in ("shopping", "afterwards", "/change/"):
        assert f"/runs/{run.code}/{hidden}" not in page
    assert "Shopping list" in person("maker").get(run.get_absolute_url()).content.decode()


def test_a_busy_floor_costs_as_many_queries_for_many_jackets_as_for_few(client: Client):
    client.force_login(make_person("mo", "maker"))
    counts = []
    for jackets in (12, 24):
        with transaction.atomic():
            run = make_busy_floor(jackets)
            client.get(run.get_absolute_url())
            with CaptureQueriesContext(connection) as asked:
                assert client.get(run.get_absolute_url()).status_code == 200
            counts.append(len(asked.captured_queries))
            transaction.set_rollback(True)
    assert counts[0] == counts[1]


def make_busy_floor(jackets: int) -> Run:
    """Half of the jackets are at the machines, some in work, to mend or without a zipper."""
    run, ana = make_cut_run(jackets), make_person(f"ana{jackets}")
    bo = Person.objects.create(name="Bo", user=ana)
    codes = [jacket.code for jacket in Jacket.objects.order_by("pk")]
    for number, code in enumerate(codes[: jackets // 2]):
        record(code, "done", "cut", ana)
        if number % 3 == 1:
            record(code, "start", "sew", ana)
        if number % 3 == 2:
            record(code, "done", "sew", ana)
            record(code, "send_back", "sew", ana, reason="it waves")
    put_on_shelf("zipper:black:600", 1)
    report_missing(Missing(codes[-1], "CO", "single", "a hole"), ana)
    make_plan([slot(code, "cut", str(bo.pk), 540) for code in codes])
    return run
