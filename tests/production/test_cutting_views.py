"""The page of a run's cutting: who sees what, what its buttons do, what it says when."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from django_tasks import default_task_backend

from production import services
from production.cutting import jobs, lay_plans
from production.cutting.cutting_state import cutting_of
from production.models import PlanningJob, Run
from production.stock import cloth as lots
from tests.production.lay_choice_factories import (
    in_halves,
    keep,
    lays_in_use,
    run_with_rows,
    ticket_of,
)
from tests.production.run_factories import make_person, make_run

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def queue(settings):
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.dummy.DummyBackend"}}
    default_task_backend.clear()
    return default_task_backend


@pytest.fixture
def run() -> Run:
    return run_with_rows(make_run())


@pytest.fixture
def maker(client):
    client.force_login(make_person("ana", "maker"))
    return client


@pytest.fixture
def helper(client):
    client.force_login(make_person("hal", "helper"))
    return client


def page(client, name: str = "cutting", *args: str) -> str:
    return str(client.get(reverse(f"production:{name}", args=["R-0001", *args])).content.decode())


def post(client, name: str, data: dict[str, str] | None = None, *args: str) -> str:
    address = reverse(f"production:{name}", args=["R-0001", *args])
    response = client.post(address, data or {}, follow=True)
    assert response.redirect_chain
    return str(response.content.decode())


def seen(ticket, aim: str = "money") -> dict[str, str]:
    return {"aim": aim, "seen": lay_plans.mark_of(ticket.lay_plans.get(aim=aim))}


def test_a_fresh_run_shows_its_rows_and_says_what_to_do_next(run, maker):
    html = page(maker)
    assert "These are plain rows" in html and "Look for better lays" in html
    assert html.count("Plain rows") == 3  # in the totals and on both tickets
    assert "So far only plain rows are known" in html
    assert "Lower bound (area / width)" in html and "every 2s" not in html


def test_ways_stand_side_by_side_with_what_they_take_less(run, maker):
    ticket = ticket_of(run)
    keep(ticket, "lays", lays=in_halves(lays_in_use(ticket)))
    keep(ticket, "money")
    html = page(maker)
    assert "Least money" in html and "Fewest lays" in html
    assert html.count("Use these lays</button>") == 2
    assert "more</span>" in html  # the halves take more cloth and more time
    assert f'value="{seen(ticket)["seen"]}"' in html


def test_each_way_says_what_is_to_buy_before_it_is_chosen(run, maker):
    ticket = ticket_of(run)
    lots.receive(
        code="B-9",
        fabric_color=ticket.fabric_color,
        dye_lot="D-1",
        length_mm=200_000,
        received_on=datetime.date(2026, 11, 1),
        by=None,
    )
    keep(ticket, "money")
    shown = cutting_of(Run.objects.get())
    ways = next(each for each in shown.tickets if each.ticket == ticket).ways
    in_use, other = ways
    assert in_use.to_buy_mm == in_use.sums.fabric_mm and in_use.from_stock_mm == 0
    assert (other.from_stock_mm, other.to_buy_mm) == (other.sums.fabric_mm, 0)
    assert other.less_to_buy_mm == in_use.to_buy_mm
    (chosen,) = (total for total in shown.totals if not total.is_in_use)
    assert chosen.less_to_buy_mm == in_use.to_buy_mm
    html = page(maker)
    assert html.count("<dt>To buy</dt>") == html.count("<dt>From stock</dt>") == 3
    lay_plans.use_lay_plan(ticket, "money", None)
    planned = next(
        each
        for each in services.load_plan(Run.objects.get()).cut_tickets
        if each.ticket == ticket.code
    )
    assert (planned.from_stock_mm, planned.to_buy_mm) == (other.from_stock_mm, other.to_buy_mm)


def test_a_way_that_cuts_more_than_is_asked_for_says_so(run, maker):
    ticket = ticket_of(run)
    (first, *rest) = lays_in_use(ticket)
    more = (replace(first, plies=first.plies + 1), *rest)
    keep(ticket, "lays", lays=more)
    assert f"{len(first.placements)} pieces for spare parts" in page(maker)
    shown = cutting_of(Run.objects.get()).tickets[1]
    assert [way.over_cut for way in shown.ways] == [0, len(first.placements)]


def test_equal_lays_stand_there_once_with_all_that_they_are_best_for(run, maker):
    ticket = ticket_of(run)
    keep(ticket, "fabric")
    keep(ticket, "money")
    html = page(maker)
    assert "Least money, least fabric" in html
    assert html.count("Use these lays</button>") == 1


def test_a_helper_sees_lays_but_no_money_and_no_buttons(run, helper):
    keep(ticket_of(run))
    html = page(helper)
    assert "Least money" in html and "Cloth used" in html
    assert "EUR" not in html and "Use these" not in html and "50.00" not in html
    assert "seconds" not in html
    for name in ("look_for_lays", "stop_looking", "use_for_run"):
        assert helper.post(reverse(f"production:{name}", args=["R-0001"])).status_code == 403
    address = reverse("production:use_lays", args=["R-0001", "R-0001-T2"])
    assert helper.post(address, seen(ticket_of(run))).status_code == 403


def test_looking_is_left_to_a_worker_and_the_page_follows_it(run, maker, queue):
    html = post(maker, "look_for_lays", {"seconds": "20"})
    assert len(queue.results) == 1
    assert "Looking for better lays" in html and 'hx-trigger="every 2s"' in html
    assert "0 % of 20 s" in html and "Asked for by ana" in html
    assert "Show what is found by now" in html  # for a browser without scripts


@pytest.mark.parametrize("seconds", ["0", "-5", "3601", "soon", ""])
def test_seconds_that_are_none_start_nothing(run, maker, queue, seconds):
    assert "Nothing was started" in post(maker, "look_for_lays", {"seconds": seconds})
    assert not queue.results and not PlanningJob.objects.exists()


def test_the_second_of_two_people_sees_the_progress_of_the_first(run, maker):
    job = jobs.open_job(run, 60, make_person("bo", "maker"))
    jobs.claim(job.pk)
    jobs.beat(job.pk, 37, "Cut ticket R-0001-T1, 1 of 2")
    html = post(maker, "look_for_lays", {"seconds": "20"})
    assert "looked for already: asked for by bo" in html
    assert "37 % of 60 s" in html and "1 of 2" in html
    assert PlanningJob.objects.count() == 1


def test_the_followed_part_stops_asking_when_the_job_is_over(run, maker):
    job = jobs.open_job(run, 60, None)
    assert "every 2s" in page(maker, "cutting_job")
    jobs.claim(job.pk)
    jobs.close(job.pk, PlanningJob.State.DONE, "Looked for 60 s.")
    html = page(maker, "cutting_job")
    assert "every 2s" not in html and "Looked for 60 s." in html and "Done:" in html


def test_the_page_is_told_only_when_better_lays_were_found(run, maker):
    jobs.open_job(run, 60, None)
    address = reverse("production:cutting_job", args=["R-0001"])
    mark = maker.get(reverse("production:cutting", args=["R-0001"])).context["mark"]
    assert "HX-Trigger" not in maker.get(address, {"seen": mark})
    keep(ticket_of(run))
    assert maker.get(address, {"seen": mark})["HX-Trigger"] == "lays-found"


def test_a_stop_button_stops(run, maker):
    job = jobs.open_job(run, 60, None)
    assert "Stopped:" in post(maker, "stop_looking")
    job.refresh_from_db()
    assert job.state == "stopped"
    assert "Nothing was being looked for any more" in post(maker, "stop_looking")


def test_a_job_without_a_worker_says_how_to_get_one(run, maker):
    job = jobs.open_job(run, 60, None)
    assert "No worker has taken it yet" not in page(maker)
    then = timezone.now() - datetime.timedelta(seconds=30)
    PlanningJob.objects.filter(pk=job.pk).update(asked_at=then)
    assert "No worker has taken it yet" in page(maker)


def test_a_job_whose_worker_was_killed_is_shown_as_failed_with_a_way_on(run, maker):
    job = jobs.open_job(run, 60, None)
    jobs.claim(job.pk)
    then = timezone.now() - datetime.timedelta(minutes=5)
    PlanningJob.objects.filter(pk=job.pk).update(heard_at=then)
    html = page(maker)
    assert "Failed:" in html and "has not answered since" in html
    assert "Looking again goes on from the best lays so far" in html


def test_a_ticket_is_given_other_lays_by_its_button(run, maker):
    ticket = ticket_of(run)
    keep(ticket)
    html = post(maker, "use_lays", seen(ticket), ticket.code)
    assert "R-0001-T2: cut by the lays with least money. The run has " in html
    assert ticket.lay_plans.get(is_in_use=True).aim == "money"


def test_all_tickets_are_given_other_lays_by_one_button(run, maker):
    for color in ("spruce", "oat"):
        keep(ticket_of(run, color))
    kept = lay_plans.plans_to_use(run, "money")
    mark = lay_plans.mark_of(*kept)
    assert f'value="{mark}"' in page(maker)
    html = post(maker, "use_for_run", {"aim": "money", "seen": mark})
    assert "R-0001-T1, R-0001-T2: cut by the lays with least money" in html


def test_better_lays_found_meanwhile_are_shown_before_they_are_used(run, maker):
    ticket = ticket_of(run)
    keep(ticket)
    old = seen(ticket)
    keep(ticket, cost=Decimal("1.00"))
    assert "Better lays were found since these were shown" in post(
        maker, "use_lays", old, ticket.code
    )
    assert ticket.lay_plans.get(is_in_use=True).aim == "rows"


@pytest.mark.parametrize("data", [{}, {"aim": "gold", "seen": "x"}, {"aim": "money"}])
def test_a_way_that_is_none_changes_nothing(run, maker, data):
    assert "Nothing was changed" in post(maker, "use_lays", data, "R-0001-T2")
    assert "Nothing was changed" in post(maker, "use_for_run", data)


def test_a_run_being_cut_says_that_its_lays_stay(run, maker):
    keep(ticket_of(run))
    run.jackets.update(stage="sew")
    html = page(maker)
    assert "Every ticket of this run is being cut" in html and "Being cut:" in html
    assert "Use these lays</button>" not in html and "Use for all" not in html


def test_small_pictures_show_every_block_and_may_be_kept(run, maker):
    ticket = ticket_of(run)
    keep(ticket)
    for way in ("rows", "money", "in-use"):
        address = reverse("production:lays_picture", args=["R-0001", ticket.code, way])
        answer = maker.get(address)
        assert answer["Content-Type"] == "image/svg+xml" and "immutable" in answer["Cache-Control"]
        places = sum(len(lay.placements) for lay in lays_in_use(ticket))
        assert answer.content.decode().count("<path") == places
        size = re.search(r'viewBox="0 0 (\d+) (\d+)"', answer.content.decode())
        assert size and f'width="{size[1]}" height="{size[2]}"' in page(maker)
    for bad in (("R-0001", ticket.code, "time"), ("R-0001", "R-0001-T9", "rows")):
        assert maker.get(reverse("production:lays_picture", args=bad)).status_code == 404


def test_the_page_takes_few_queries_however_many_ways(run, maker, django_assert_max_num_queries):
    for color in ("spruce", "oat"):
        for aim in ("money", "fabric", "lays", "time"):
            keep(ticket_of(run, color), aim)
    with django_assert_max_num_queries(16):
        page(maker)


def test_the_run_and_its_tickets_lead_to_the_page(run, maker):
    address = reverse("production:cutting", args=["R-0001"])
    assert address in page(maker, "run")
    assert f"{address}#R-0001-T2" in page(maker, "cut_ticket", "R-0001-T2")
