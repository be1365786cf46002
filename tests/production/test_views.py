"""The production pages: who sees what, and what a tap does."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from orders.models import TeamOrder
from production import services
from production.errors import ProductionError
from production.models import Jacket, Run, StageEvent
from production.planning.threads.thread import spool_needs
from production.tracking import record
from tests.production.run_factories import make_person, make_run, make_team_order

pytestmark = pytest.mark.django_db

CODE = "TO-1-01"


@pytest.fixture
def run():
    return make_run(jackets=3)


@pytest.fixture
def helper(client):
    person = make_person("ana", "helper")
    client.force_login(person)
    return person


@pytest.fixture
def maker(client):
    person = make_person("mo", "maker")
    client.force_login(person)
    return person


def pages(run: Run) -> list[str]:
    return [
        reverse("production:runs"),
        reverse("production:run", args=[run.code]),
        reverse("production:needs", args=[run.code]),
        reverse("production:run_jackets", args=[run.code]),
        reverse("production:cut_ticket", args=[run.code, f"{run.code}-T1"]),
        reverse("production:cut_tickets_pdf", args=[run.code]),
        reverse("production:bundle_tags_pdf", args=[run.code]),
        reverse("production:jacket", args=[CODE]),
    ]


def tap(client, code: str = CODE, **step: object):
    return client.post(reverse("production:record", args=[code]), step, follow=True)


def said(response) -> list[str]:
    return [str(message) for message in response.context["messages"]]


def test_a_stranger_is_asked_to_log_in_and_comes_back(client, run):
    for page in pages(run):
        response = client.get(page)
        assert response.status_code == 302
        assert response.url == f"{reverse('login')}?next={page}"
    assert client.post(reverse("production:record", args=[CODE])).status_code == 302


def test_a_helper_sees_every_page_but_no_money_and_no_way_to_plan(client, run, helper):
    for page in pages(run):
        assert client.get(page).status_code == 200, page
    assert b"Costs" not in client.get(reverse("production:needs", args=[run.code])).content
    assert client.get(reverse("production:new_run")).status_code == 403


def test_the_needs_name_every_allowance_that_is_counted_in(client, run, helper):
    page = client.get(reverse("production:needs", args=[run.code])).content.decode()
    for words in (
        "20 mm at each end of a ply and 2 % for shrinkage",
        "blocks lie 4 mm or more apart; seam allowance 10 mm and hem 30 mm",
        "a tail of 60 mm of every thread at both ends of each run of sewing, and 15 % waste",
        "Hem elastic: 80 % of the girth and 20 mm to join",
        "with 11 % relaxation allowance",
    ):
        assert words in page


def test_the_needs_say_how_many_spools_are_bought(client, run, helper):
    plan, snapshot = services.load_plan(run), services.load_snapshot(run)
    page = client.get(reverse("production:needs", args=[run.code])).content.decode()
    bought = re.findall(r"<strong>(\d+)</strong> of 1000 m", page)
    assert [int(spools) for spools in bought] == [
        need.spools for need in spool_needs(snapshot, plan.threads)
    ]


def test_the_maker_sees_the_costs(client, run, maker):
    page = client.get(reverse("production:needs", args=[run.code])).content.decode()
    assert str(services.load_plan(run).costs.total) in page


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("run", ["R-9"]),
        ("needs", ["R-9"]),
        ("run_jackets", ["R-9"]),
        ("cut_ticket", ["R-0001", "R-0001-T9"]),
        ("cut_tickets_pdf", ["R-9"]),
        ("bundle_tags_pdf", ["R-9"]),
    ],
)
def test_what_is_not_there_is_not_found(client, run, helper, name, arguments):
    assert client.get(reverse(f"production:{name}", args=arguments)).status_code == 404


def test_an_unknown_tag_says_so(client, helper):
    for response in (
        client.get("/j/X-1/"),
        client.post("/j/X-1/record/", {"action": "done", "stage": "cut"}),
    ):
        assert response.status_code == 404
        assert "No jacket has the code X-1" in response.content.decode()


def test_one_tap_records_the_next_stage(client, run, helper):
    response = tap(client, action="done", stage="cut", vouch="1")
    assert response.redirect_chain[-1][0] == reverse("production:jacket", args=[CODE])
    assert Jacket.objects.get(code=CODE).stage == "sew"
    event = StageEvent.objects.get()
    assert (event.by, event.kind) == (helper, "done")
    assert said(response)[0].startswith(f"{CODE}: cutting done")


def test_a_second_phone_changes_nothing_and_is_told(client, run, helper):
    record(CODE, "done", "cut", make_person("ben"))
    response = tap(client, action="done", stage="cut")
    assert "already moved on by ben" in said(response)[0]
    assert StageEvent.objects.count() == 1


def test_sending_back_needs_a_reason_and_shows_it(client, run, helper):
    record(CODE, "done", "cut", helper)
    response = tap(client, action="send_back", stage="cut", seen="sew", reason="")
    assert said(response) == [f"{CODE}: Say what is to be mended."]
    response = tap(client, action="send_back", stage="cut", seen="sew", reason="a <b>hole")
    assert "a &lt;b&gt;hole" in response.content.decode()
    assert Jacket.objects.get(code=CODE).mend_reason == "a <b>hole"


def test_the_page_offers_to_undo_its_last_step(client, run, helper):
    event = record(CODE, "done", "cut", helper)
    tap(client, action="undo", stage="cut", undoes=event.pk)
    assert Jacket.objects.get(code=CODE).stage == "cut"


@pytest.mark.parametrize(
    "step", [{}, {"action": "burn", "stage": "cut"}, {"action": "done", "stage": "x"}]
)
def test_a_nonsense_tap_changes_nothing_and_says_so(client, run, helper, step):
    response = tap(client, **step)
    assert "Nothing was changed" in said(response)[0]
    assert not StageEvent.objects.exists()


def test_looking_at_a_tap_records_nothing(client, run, helper):
    assert client.get(reverse("production:record", args=[CODE])).status_code == 405


def test_the_run_page_counts_the_rail_with_mends_first(client, run, helper):
    record("TO-1-01", "done", "cut", helper)
    record("TO-1-02", "start", "cut", helper)
    record("TO-1-03", "done", "cut", helper)
    record("TO-1-03", "send_back", "cut", helper, reason="a hole")
    bands = client.get(run.get_absolute_url()).context["bands"]
    assert [(band.stage, band.waiting, band.in_work, band.mends) for band in bands] == [
        ("cut", 1, 1, 1),
        ("sew", 1, 0, 0),
        ("finish", 0, 0, 0),
        ("hand_over", 0, 0, 0),
    ]
    assert [peg.code for peg in bands[0].pegs] == ["TO-1-03", "TO-1-02"]


def test_the_work_left_counts_from_where_each_jacket_stands(client, run, helper):
    record(CODE, "done", "cut", helper)
    outlook = client.get(run.get_absolute_url()).context["outlook"]
    # Three jackets of 10 + 60 + 20 minutes, one of them cut already.
    assert outlook.minutes_left == 3 * 90 - 10


def test_the_list_of_jackets_asks_as_often_for_forty_as_for_four(
    client, helper, django_assert_num_queries
):
    few = make_run(code="R-0001", order=make_team_order("TO-1", 4, state="in_production"))
    many = make_run(code="R-0002", order=make_team_order("TO-2", 40, state="in_production"))
    for run in (few, many):
        with django_assert_num_queries(8):
            client.get(reverse("production:run_jackets", args=[run.code]))


def test_lists_are_narrowed_sorted_and_taken_along(client, run, helper):
    record(CODE, "done", "cut", helper)
    address = reverse("production:run_jackets", args=[run.code])
    assert len(client.get(address, {"stage": "sew"}).context["table"].rows) == 1
    assert len(client.get(address, {"size": "S"}).context["table"].rows) == 2
    assert len(client.get(address, {"text": "member 02"}).context["table"].rows) == 1
    taken = client.get(address, {"_export": "csv", "sort": "-code"}).content.decode().splitlines()
    assert [row.split(",")[0] for row in taken] == ["Jacket", "TO-1-03", "TO-1-02", "TO-1-01"]
    assert client.get(address, {"_export": "html"}).status_code == 404


def test_runs_are_found_by_club_and_state(client, run, helper):
    address = reverse("production:runs")
    for query, count in (
        ({"text": "test club"}, 1),
        ({"text": "zzz"}, 0),
        ({"state": "in work"}, 0),
    ):
        assert len(client.get(address, query).context["table"].rows) == count
    record(CODE, "done", "cut", helper)
    shown = client.get(address, {"state": "in work", "text": "TO-1"}).context["table"].rows[0]
    assert (shown.get_cell("jacket_count"), shown.get_cell("over_count")) == (3, 0)


def test_planning_offers_open_orders_with_jackets_and_what_they_share(client, run, maker):
    make_team_order("TO-2", 1)
    make_team_order("TO-3", 1)
    make_team_order("TO-4", 0)
    rows = client.get(reverse("production:new_run"), {"order": "TO-2"}).context["rows"]
    assert [row.order.code for row in rows] == ["TO-2", "TO-3"]
    assert [(color.code, others) for color, others in rows[0].colors] == [
        ("oat", ("TO-3",)),
        ("spruce", ("TO-3",)),
    ]


def test_planning_freezes_the_chosen_orders_and_opens_the_run(client, run, maker, monkeypatch):
    make_team_order("TO-2", 1)
    asked = []

    def plan(team_orders, by):
        asked.append(([order.code for order in team_orders], by))
        return run

    monkeypatch.setattr(services, "plan_run_for", plan)
    response = client.post(reverse("production:new_run"), {"team_orders": ["TO-2"]})
    assert response.url == run.get_absolute_url()
    assert asked == [(["TO-2"], maker)]


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        ([], "Choose at least one team order"),
        (["TO-1"], "TO-1 cannot be planned"),
        (["TO-2"], "Block FR does not fit"),
    ],
)
def test_a_run_that_cannot_be_planned_says_why_and_keeps_the_choice(
    client, run, maker, monkeypatch, chosen, words
):
    make_team_order("TO-2", 1)

    def refuse(team_orders, by):
        raise ProductionError("Block FR does not fit the cloth.")

    monkeypatch.setattr(services, "plan_run_for", refuse)
    response = client.post(reverse("production:new_run"), {"team_orders": chosen})
    assert words in response.content.decode()
    assert response.context["chosen"] == chosen
    assert TeamOrder.objects.get(code="TO-2").is_editable
    assert Run.objects.count() == 1


def test_paper_comes_as_a_file_named_after_the_run(client, run, helper):
    response = client.get(reverse("production:bundle_tags_pdf", args=[run.code]))
    assert response["Content-Type"] == "application/pdf"
    assert 'filename="bundle-tags-R-0001.pdf"' in response["Content-Disposition"]
    assert b"".join(response.streaming_content).startswith(b"%PDF-")


def test_a_ticket_shows_its_counts_and_draws_its_lays(client, run, helper):
    address = reverse("production:cut_ticket", args=[run.code, f"{run.code}-T1"])
    shown = client.get(address).context
    lines = services.load_plan(run).cut_tickets[0].lines
    assert shown["matrix"].pieces == sum(line.left + line.right + line.single for line in lines)
    assert all(drawn.svg.count("<title>") == drawn.blocks for drawn in shown["lays"])
