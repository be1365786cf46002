"""Planned against actual as a page and as a spreadsheet."""

from __future__ import annotations

import csv
import datetime
import io
from decimal import Decimal
from typing import Any

import msgspec
import pytest
from django.test import Client
from django.utils import timezone

from patterns.models import Supplier
from patterns.services import workroom
from production.buying import purchases
from production.buying.shopping import shopping_of
from production.looking_back.afterwards import afterwards_of
from production.models import Jacket, Quote, Run
from production.planning.actuals.afterwards import Compared
from production.planning.plan import PlanError
from production.planning.quotes.quotes import Figures
from production.reporting.cut_reports import report_cut, take_back
from production.stock import wares
from production.stock.ware_catalog import ware_for
from production.tracking import record
from tests.production.run_factories import make_person
from tests.production.shopping_factories import (
    HARBOR,
    SPOOLS,
    count_on_needs,
    make_lot,
    make_stocked_run,
    put_on_shelf,
    spread,
)

pytestmark = pytest.mark.django_db
PAGE = "/runs/R-0001/afterwards/"
D = Decimal


@pytest.fixture(autouse=True)
def run(db: None, monkeypatch: pytest.MonkeyPatch) -> Run:
    count_on_needs(monkeypatch)
    run = make_stocked_run()
    threads = [{**thread, "price_per_spool": "4"} for thread in run.snapshot["threads"]]
    run.snapshot = {**run.snapshot, "threads": threads}
    run.save()
    return run


@pytest.fixture
def maker() -> Client:
    client = Client()
    client.force_login(make_person("maker", "maker"))
    return client


def figures(*values: object) -> Any:
    """Any, as tests compare decimals with whole numbers."""
    return values


def text(client: Client, address: str = PAGE) -> str:
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def cut_spruce(lot_mm: int = 8000, takes_mm: int = 1500) -> str:
    """All plies of the spruce ticket, from one bolt."""
    run = Run.objects.get()
    lay = spread(run, takes_mm=takes_mm)[0].lay
    make_lot("B-1", length_mm=lot_mm)
    report_cut(lay.code, None, None, lot="B-1")
    return lay.code


def cloth_of(run: Run) -> tuple[Compared, Compared]:
    """Spruce and oat."""
    by_color = {one.of: one for one in afterwards_of(run).cloth}
    return by_color["spruce"], by_color["oat"]


def bought_spools(run: Run) -> Compared:
    return next(one for one in afterwards_of(run).purchases if one.name.startswith("thread"))


def buy_all(run: Run, dearer: Decimal = Decimal(1)) -> None:
    group = next(g for g in shopping_of(run).groups if g.supplier == HARBOR)
    supplier = Supplier.objects.get(name=HARBOR)
    keys = [line.sold.key for line in group.lines]
    purchase = purchases.order(run, supplier, keys, by=None, seen=group.mark)
    for line in purchase.lines.all():
        line.price *= dearer
        line.save()
    came = {line.pk: line.quantity for line in purchase.lines.all()}
    seen = purchases.mark_of(purchase)
    purchases.take_in(purchase, came=came, bolts=(), by=None, seen=seen)


def accept_quote(run: Run, currency: str = "EUR") -> None:
    """Two jackets at 238 each, 400 before tax, of which 100 are margin."""
    lines = ("fabric", "thread", "notions", "labor", "overhead", "per_jacket")
    offer = {
        "jackets": 2,
        "costs": dict.fromkeys(lines, "0") | {"total": "300"},
        "parts": [],
        "stages": [],
        "fixed": [],
        "price": "238",
        "gross": "476",
        "tax": "76",
        "net": "400",
        "margin": "100",
        "deposit": "0",
        "kinds": [],
    }
    figures = {"currency": currency, "offers": [offer]}
    msgspec.convert(figures, Figures)
    now = timezone.now()
    Quote.objects.create(
        code="Q-0001",
        team_order=run.run_orders.get().team_order,
        state=Quote.State.ACCEPTED,
        currency=currency,
        terms={},
        snapshot={},
        figures=figures,
        quantity=2,
        quoted_on=now.date(),
        valid_until=now.date(),
        sent_at=now,
        answered_at=now,
    )


def test_an_untouched_run_says_what_is_needed_to_compare(maker: Client, run: Run) -> None:
    page = text(maker)
    assert "Nothing to compare yet" in page
    assert "/runs/R-0001/shelf/" in page
    assert "<svg class=" not in page
    assert "_export" not in page


def test_helpers_do_not_see_it(run: Run) -> None:
    client = Client()
    client.force_login(make_person("helper", "helper"))
    assert client.get(PAGE).status_code == 403


def test_a_run_that_is_not_there_is_not_found(maker: Client) -> None:
    assert maker.get("/runs/R-0009/afterwards/").status_code == 404


def test_cloth_is_what_left_the_bolts_for_the_run(run: Run, maker: Client) -> None:
    cut_spruce()
    make_lot("B-2", length_mm=9000)
    planned = next(t for t in run.plan["cut_tickets"] if t["fabric_color"] == "spruce")
    spruce, oat = cloth_of(run)
    assert figures(spruce.planned, spruce.actual) == (planned["fabric_needed_mm"], 6000)
    assert oat.actual is None
    page = text(maker)
    assert "6.00 m" in page
    assert 'class="planned-actual"' in page


def test_a_cut_report_that_was_taken_back_is_not_counted(run: Run) -> None:
    lay = cut_spruce()
    take_back(lay, 1, None)
    assert cloth_of(run)[0].actual is None
    report_cut(lay, [1], None)
    assert cloth_of(run)[0].actual == 6000


def test_a_bit_that_was_skipped_counts_as_cut(run: Run) -> None:
    from production.models import LayPly

    plies = spread(run)
    lot = make_lot("B-1", length_mm=8000)
    for number, ply in enumerate(plies):
        LayPly.objects.filter(pk=ply.pk).update(lot=lot, start_mm=1600 * number)
    report_cut(plies[0].lay.code, None, None)
    assert cloth_of(run)[0].actual == 3 * 1600 + 1500


def test_minutes_are_those_of_the_timed_jackets(run: Run, maker: Client) -> None:
    day = timezone.localtime().replace(hour=8, minute=0) - datetime.timedelta(days=1)
    helper = make_person("helper")
    jacket = Jacket.objects.filter(run=run).first()
    assert jacket
    record(jacket.code, "start", "cut", helper, at=day)
    record(jacket.code, "done", "cut", helper, at=day + datetime.timedelta(minutes=15))
    cut, sew, _ = afterwards_of(run).minutes
    assert figures(cut.jackets, cut.compared.planned, cut.compared.actual) == (1, 10, 15)
    assert cut.compared.whole == 20
    assert sew.compared.actual is None
    assert "+50.0 %" in text(maker)


def test_wares_taken_and_brought_back_are_held_against_the_need(run: Run, maker: Client) -> None:
    put_on_shelf(SPOOLS, 6)
    wares.take(ware_for(SPOOLS), run=run, quantity=D(5), by=None)
    wares.bring_back(run, {SPOOLS: D(1)}, None)
    thread = next(ware for ware in afterwards_of(run).wares if ware.of == SPOOLS)
    assert figures(thread.planned, thread.actual) == (3, 4)
    page = text(maker)
    assert "4 were taken and not brought back, 3 were needed" in page
    assert "nothing was taken off the shelf for it" in page  # the zippers


def test_purchases_that_came_dearer_say_so(run: Run, maker: Client) -> None:
    buy_all(run, dearer=D("1.5"))
    thread = bought_spools(run)
    assert figures(thread.planned, thread.actual) == (12, 18)  # 3 spools at 4
    page = text(maker)
    assert "50 % more than the plan&#x27;s price list" in page
    wares.take_for_run(run, None)
    thread_money = afterwards_of(run).money[1]
    assert figures(thread_money.planned, thread_money.actual) == (12, 18)


def test_goods_of_a_closed_rest_count_only_as_far_as_they_came(run: Run) -> None:
    buy_all(run)
    line = run.purchases.get().lines.get(ware__key=SPOOLS)
    line.received = D(1)
    line.save()
    thread = bought_spools(run)
    assert figures(thread.planned, thread.actual) == (4, 4)


def test_goods_of_another_currency_are_not_compared(run: Run, maker: Client) -> None:
    buy_all(run)
    room = workroom()
    room.currency = "SEK"
    room.save()
    cut_spruce()
    assert afterwards_of(run).purchases == ()
    assert "counts in SEK now" in text(maker)


def test_the_accepted_quote_is_held_against_the_costs(run: Run, maker: Client) -> None:
    accept_quote(run, currency=run.snapshot["workroom"]["currency"])
    cut_spruce()
    found = afterwards_of(run)
    (quote,) = found.quotes
    assert quote.reached == 400 - found.total.likely
    assert quote.quoted.margin == 100
    assert quote.made == 2
    assert "Q-0001" in text(maker)


def test_without_a_quote_the_page_says_so(run: Run, maker: Client) -> None:
    cut_spruce()
    assert "No quote was accepted" in text(maker)


def test_the_plan_of_money_is_that_of_the_lines(run: Run) -> None:
    found = afterwards_of(run)
    assert found.total.whole == sum(line.whole for line in found.money)
    # jackets of 90 standard minutes each, two of them
    wage = D(str(run.snapshot["workroom"]["labor_per_hour"]))
    assert found.money[3].whole == 3 * wage


def test_figures_as_csv_leave_missing_actuals_empty(run: Run, maker: Client) -> None:
    cut_spruce()
    response = maker.get(f"{PAGE}?_export=csv")
    listed = list(csv.DictReader(io.StringIO(response.content.decode())))
    fabric = {row["What"]: row for row in listed if row["Part"] == "Fabric"}
    spruce, oat = (fabric[one.name] for one in cloth_of(run))
    assert D(spruce["Actual"]) == 6
    assert oat["Actual"] == ""
    assert oat["Missing"]
    assert {row["Part"] for row in listed} >= {"Fabric", "Minutes", "Thread and notions", "Money"}


def test_figures_as_xlsx_are_figures(run: Run, maker: Client) -> None:
    from openpyxl import load_workbook

    cut_spruce()
    response = maker.get(f"{PAGE}?_export=xlsx")
    sheet = load_workbook(io.BytesIO(response.content)).worksheets[0]
    actual = {row[1]: row[5] for row in sheet.iter_rows(min_row=2, max_row=3, values_only=True)}
    spruce, oat = (actual[one.name] for one in cloth_of(run))
    assert figures(spruce, oat) == (6, None)


def test_a_run_that_cannot_be_made_leads_back_with_a_message(
    run: Run, maker: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(run: Run) -> None:
        raise PlanError("Size M needs a longer zipper.")

    monkeypatch.setattr("production.looking_back.afterwards_views.afterwards_of", refuse)
    assert "Size M needs a longer zipper." in maker.get(PAGE, follow=True).content.decode()


def test_yards_stand_on_the_page_and_in_the_figures(run: Run, maker: Client) -> None:
    room = workroom()
    room.length_unit = "imperial"
    room.save()
    cut_spruce(10_000, takes_mm=2286)  # 4 plies of 2.5 yd
    assert "10 yd" in text(maker)
    response = maker.get(f"{PAGE}?_export=csv")
    listed = csv.DictReader(io.StringIO(response.content.decode()))
    cut = [row for row in listed if row["Part"] == "Fabric" and row["Actual"]]
    assert [(row["Unit"], D(row["Actual"])) for row in cut] == [("yd", D(10))]


def test_the_run_page_leads_here_for_the_maker(maker: Client, run: Run) -> None:
    assert PAGE in text(maker, "/runs/R-0001/")


def test_goods_that_the_plan_has_no_price_for_are_named(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    buy_all(run)
    monkeypatch.setattr("production.looking_back.afterwards.list_prices", lambda snapshot: {})
    thread = bought_spools(run)
    assert thread.actual is None
    assert "price list" in thread.missing
