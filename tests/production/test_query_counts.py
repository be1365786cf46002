"""Pages read as often for many jackets as for few."""

from __future__ import annotations

import re

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from production.cutting import lay_plans
from production.models import Jacket, Run
from production.services import load_plan, load_snapshot
from tests.production.report_factories import cut_all, make_cut_run
from tests.production.run_factories import make_person

pytestmark = pytest.mark.django_db

RUN, TICKET = "R-0001", "R-0001-T2"
PAGES = {
    "team orders": ("home",),
    "team order": ("orders:team_order", "TO-1"),
    "runs": ("production:runs",),
    "run": ("production:run", RUN),
    "jackets": ("production:run_jackets", RUN),
    "needs": ("production:needs", RUN),
    "ticket": ("production:cut_ticket", RUN, TICKET),
    "jacket": ("production:jacket", "TO-1-01"),
    "cutting": ("production:cutting", RUN),
    "search": ("production:cutting_job", RUN),
    "report of a ticket": ("production:ticket_report", RUN, TICKET),
    "report of a lay": ("production:lay_report", RUN, f"{TICKET}-L1"),
    "missing pieces": ("production:missing", RUN),
    "lay": ("production:lay", RUN, f"{TICKET}-L1"),
    "history": ("production:history",),
    "day by day": ("production:history_days",),
    "minutes of stages": ("production:history_minutes",),
    "today": ("production:today",),
    "scan": ("production:scan",),
    "forecast": ("production:forecast", RUN),
    "hand over": ("production:hand_over", "TO-1"),
    "labels": ("production:run_duties", RUN),
    "stock": ("production:cloth",),
    "bolt": ("production:stock_lot", "B-SPRUCE"),
}


@pytest.fixture
def maker(client):
    client.force_login(make_person("mo", "maker"))
    return client


def make_planned_run(jackets: int, is_cut: bool) -> Run:
    run = make_cut_run(jackets)
    lay_plans.keep_rows(run, load_snapshot(run), load_plan(run))
    if is_cut:
        cut_all(run)
    return run


def queries_with(jackets: int, is_cut: bool, client, name: str, *args: str) -> list[str]:
    """What the page asks the database, the run being gone again afterwards."""
    address = reverse(name, args=args)
    with transaction.atomic():
        run = make_planned_run(jackets, is_cut)
        assert Jacket.objects.filter(run=run).count() == jackets
        client.get(address)  # The first visit may fill what lasts as long as the process.
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address).status_code == 200
        transaction.set_rollback(True)
    return [query["sql"] for query in asked.captured_queries]


@pytest.mark.parametrize("is_cut", [False, True], ids=["to be cut", "cut"])
@pytest.mark.parametrize("page", PAGES)
def test_a_page_asks_the_database_as_often_for_many_jackets(maker, page, is_cut):
    few = queries_with(5, is_cut, maker, *PAGES[page])
    many = queries_with(15, is_cut, maker, *PAGES[page])
    assert len(many) == len(few), "\n".join(many)


@pytest.mark.parametrize("page", PAGES)
def test_a_page_makes_no_dictionaries_of_a_whole_plan(maker, page):
    asked = queries_with(5, True, maker, *PAGES[page])
    whole = re.compile(r'(SELECT|,) "production_run"\."(plan|snapshot)"')
    assert [query for query in asked if whole.search(query)] == []
