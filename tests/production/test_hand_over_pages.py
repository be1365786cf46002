"""The pages of the hand-over: who sees what, one form one delivery, words for what is refused."""

from __future__ import annotations

import datetime
import html
import json
import re
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from orders.models import JacketOrder, TeamOrder
from patterns.models import Workroom
from patterns.services import workroom
from production.handing_over.hand_over_state import rail_out
from production.models import Delivery, FloorPlan, Jacket
from production.planning.standing import STAGES
from production.tracking import record
from tests.production.run_factories import make_run, make_team_order, person

pytestmark = pytest.mark.django_db

PAGE = "/orders/TO-1/hand-over/"
STROKES = [[[0.1, 0.5], [0.4, 0.25]]]


@pytest.fixture
def run():
    order = make_team_order(jackets=4, state="in_production", price=Decimal("80.00"))
    run = make_run(order=order)
    for number in (1, 2):
        finish(f"TO-1-{number:02d}")
    return run


def finish(code: str) -> None:
    for stage in STAGES[:-1]:
        record(code, "done", stage, None)


def text_of(answer) -> str:
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def posted(*codes: str, **values) -> dict[str, object]:
    jackets = Jacket.objects.filter(code__in=codes or ("TO-1-01", "TO-1-02"))
    return {
        "jackets": [jacket.pk for jacket in jackets],
        "received_by": "Mira Holm",
        "signed": "screen",
        "signature": json.dumps(STROKES),
        "note": "",
        "form_key": str(uuid4()),
        **values,
    }


def test_who_is_ready_and_who_follows_is_told_by_name(run):
    record("TO-1-03", "done", "cut", None)
    page = person("helper").get(PAGE)
    words = text_of(page)
    assert "0 of 4 jackets handed over, 2 ready" in words
    assert "2 follow later" in words and "Member 03, S waits for sewing" in words
    assert page.content.decode().count(" checked>") == 2
    assert "There is no schedule yet that says when" in words


def test_the_latest_schedule_says_when_the_others_come(run):
    plan = {
        "begins": "2027-02-01",
        "now": 0,
        "slots": [
            slot("TO-1-03", 600, 700),
            slot("TO-1-03", 2000, 2100),
            slot("TO-1-04", 700, 800),
        ],
        "late": [],
        "late_jackets": 0,
        "late_minutes": 0,
        "change_minutes": 0,
        "changes": 0,
        "ready": 2100,
        "value": 1,
        "bound": None,
        "gap": None,
        "seconds": 0.1,
        "method": "by hand",
        "unplanned": [["TO-1-04", "nobody can sew"]],
    }
    FloorPlan.objects.create(
        begins_on=datetime.date(2027, 2, 1), plan=plan, late_jackets=0, seconds=1
    )
    words = text_of(person("helper").get(PAGE))
    assert "Member 03, S waits for cutting; about Tue 2 Feb" in words
    assert "Member 04, M waits for cutting; not in the schedule" in words


def slot(jacket: str, start: int, end: int) -> dict[str, object]:
    return {
        "jacket": jacket,
        "step": 0,
        "stage": "sew",
        "hand": "h",
        "machine": "",
        "start": start,
        "end": end,
    }


def test_names_stand_as_a_list_is_looked_through(run):
    names = ("Zoe Marsh", "anna Oakes", "Émile Roe", "Edda Lund")
    for line, name in zip(JacketOrder.objects.order_by("pk"), names, strict=True):
        JacketOrder.objects.filter(pk=line.pk).update(member=name)
    for number in (3, 4):
        finish(f"TO-1-{number:02d}")
    rail = rail_out(TeamOrder.objects.get(code="TO-1"))
    in_order = ["anna Oakes", "Edda Lund", "Émile Roe", "Zoe Marsh"]
    assert [one.jacket_order.member for one in rail.ready] == in_order
    codes = [one.code for one in rail.ready]
    person("helper").post(PAGE, posted(*codes))
    (row,) = rail_out(TeamOrder.objects.get(code="TO-1")).deliveries
    assert [one.jacket.jacket_order.member for one in row.rows] == in_order


def test_the_balance_is_the_makers_alone(run):
    assert "320.00 EUR in all" in text_of(person("maker").get(PAGE))
    helper = text_of(person("helper").get(PAGE))
    assert "EUR" not in helper and "Balance" not in helper


def test_a_helper_hands_over_and_sees_the_signature_drawn(run):
    helper = person("helper")
    answer = helper.post(PAGE, posted("TO-1-01", note="left at the boathouse"), follow=True)
    assert answer.redirect_chain == [("/deliveries/TO-1/1/", 302)]
    words = text_of(answer)
    assert "Delivery 1 of TO-1 is handed over" in words and "Mira Holm" in words
    assert "left at the boathouse" in words
    assert "3 of 4 jackets of the order: 1 ready, 2 follow later" in words and "EUR" not in words
    assert 'd="M50.0 100.0L200.0 50.0"' in answer.content.decode()
    assert Jacket.objects.get(code="TO-1-01").stage == "handed_over"


def test_the_second_tap_of_one_form_shows_the_first_delivery(run):
    helper, form = person("helper"), posted()
    first = helper.post(PAGE, form)
    again = helper.post(PAGE, form)
    assert first.url == again.url == "/deliveries/TO-1/1/"
    assert Delivery.objects.count() == 1


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"jackets": []}, "Tick at least one jacket"),
        ({"jackets": [999]}, "A jacket that is not in this order"),
        ({"signed": ""}, "Say how it is signed"),
        ({"signed": "thumb"}, "not one of the available choices"),
        ({"signature": ""}, "Nothing is drawn in the signing field"),
        ({"signature": "[[[0,0"}, "did not arrive in one piece"),
        ({"signature": "[[[2,0]]]"}, "is not a signature"),
        ({"signature": json.dumps([[[0.1, 0.1]]] * 101)}, "more than 100 strokes"),
        ({"signed": "paper"}, "another way of signing is chosen"),
        ({"form_key": "x"}, "This page is not complete"),
        ({"received_by": "M" * 81}, "at most 80 characters"),
        ({"received_by": "Mira\x07"}, "one line of text"),
    ],
)
def test_what_is_half_said_is_told_and_nothing_is_handed_over(run, values, words):
    answer = person("helper").post(PAGE, posted(**values))
    assert words in text_of(answer)
    assert not Delivery.objects.exists()


def test_what_was_ticked_and_signed_is_kept_when_the_form_comes_back(run):
    answer = person("helper").post(PAGE, posted("TO-1-02", note="x" * 201))
    page = html.unescape(answer.content.decode())
    assert page.count(" checked>") == 1 and json.dumps(STROKES) in page
    assert 'value="screen" id="signed-screen" checked' in page


def test_one_that_was_quicker_is_told_by_name(run):
    form = posted()
    record("TO-1-02", "done", "hand_over", None)
    words = text_of(person("helper").post(PAGE, form))
    assert "TO-1-02 (Member 02) is handed over since a command recorded 'handed over'" in words
    assert "Nothing was handed over" in words


def test_one_taken_back_is_shown_so_and_one_handed_over_alone_too(run):
    helper = person("helper")
    helper.post(PAGE, posted())
    record("TO-1-01", "undo", "hand_over", None)
    finish("TO-1-03")
    record("TO-1-03", "done", "hand_over", None)
    words = text_of(helper.get(PAGE))
    assert "1 jacket of 2; the others were taken back" in words
    assert "Member 03, S handed over alone" in words
    assert "2 of 4 jackets handed over, 1 ready" in words
    delivery = helper.get("/deliveries/TO-1/1/")
    assert "taken back" in text_of(delivery)
    assert 'class="taken-back">Member 01, S' in delivery.content.decode()


def test_one_that_came_back_to_be_mended_can_be_delivered_again(run):
    helper = person("helper")
    helper.post(PAGE, posted())
    record("TO-1-01", "send_back", "finish", None, reason="loose thread")
    assert "came back to be mended" in text_of(helper.get("/deliveries/TO-1/1/"))
    assert "to mend: loose thread; waits for finishing" in text_of(helper.get(PAGE))
    record("TO-1-01", "done", "finish", None)
    answer = helper.post(PAGE, posted("TO-1-01"), follow=True)
    assert answer.redirect_chain == [("/deliveries/TO-1/2/", 302)]


def test_an_order_without_jackets_says_what_comes_first(run):
    make_team_order("TO-2", jackets=1)
    assert "The maker plans its run first" in text_of(
        person("helper").get("/orders/TO-2/hand-over/")
    )


def test_addresses_that_are_none(run):
    helper = person("helper")
    for address in (
        "/orders/NONE/hand-over/",
        "/deliveries/TO-1/1/",
        "/deliveries/NONE/1/",
        "/orders/TO-1/packing-list.pdf?delivery=1",
        "/orders/TO-1/packing-list.pdf?delivery=x",
        "/orders/NONE/care-cards.pdf",
        "/runs/NONE/label-duties/",
    ):
        assert helper.get(address).status_code == 404, address
    assert Client().get(PAGE).status_code == 302
    assert helper.put(PAGE).status_code == 405


def test_reminders_go_by_the_workrooms_market(run):
    helper = person("helper")
    workroom()
    both = text_of(helper.get("/runs/R-0001/label-duties/"))
    assert "the European Union and in the United States is told" in both
    assert "16 CFR 1610" in both and "1007/2011" in both and "does not certify" in both
    assert "Fleece: cannot be told" not in both
    Workroom.objects.update(market="eu", made_in="Terneland", address="Slip Lane 4")
    only = text_of(helper.get("/orders/TO-1/label-duties/"))
    assert "16 CFR" not in only and "1007/2011" in only
    assert "Made in Terneland" in only and "Our workroom, Slip Lane 4" in only
    assert "Sold in: European Union" in text_of(helper.get(PAGE))


def test_the_page_reads_as_often_for_many_jackets_as_for_few(run):
    helper = person("helper")
    helper.post(PAGE, posted("TO-1-01"))
    for number in (2, 3):
        code = f"TO-1-{number:02d}"
        if number == 3:
            finish(code)
        record(code, "done", "hand_over", None)
    few = queries(helper)
    order = make_team_order("TO-2", jackets=9, state="in_production")
    make_run(order=order, code="R-0002")
    for number in range(1, 7):
        finish(f"TO-2-{number:02d}")
    for number in (5, 6):
        record(f"TO-2-{number:02d}", "done", "hand_over", None)
    helper.post("/orders/TO-2/hand-over/", posted("TO-2-01", "TO-2-02", "TO-2-03", signed="screen"))
    assert TeamOrder.objects.get(code="TO-2").deliveries.count() == 1
    assert queries(helper, "/orders/TO-2/hand-over/") == few


def queries(client: Client, address: str = PAGE) -> int:
    with CaptureQueriesContext(
        connection,
    ) as caught:
        assert client.get(address).status_code == 200
    return len(caught)


def test_a_delivery_says_when_and_by_whom(run):
    helper = person("helper")
    helper.post(PAGE, posted(signed="none", signature="", received_by=""))
    words = text_of(helper.get("/deliveries/TO-1/1/"))
    assert f"{timezone.localdate():%Y}" in words and "by helper" in words
    assert "no name noted" in words and "not signed" in words


@pytest.mark.parametrize(("who", "entry"), [("maker", "Orders"), ("helper", "Runs")])
def test_the_navigation_marks_where_the_page_hangs(who, entry):
    make_run()
    page = person(who).get(PAGE).content.decode()
    assert re.findall(r'aria-current="true">([^<]+)</a>', page) == [entry]
