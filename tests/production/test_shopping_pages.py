"""The shopping list, the purchases and the shelf as pages, on paper and as a spreadsheet."""

from __future__ import annotations

import io
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from patterns.models import Fabric, Supplier, Workroom, Zipper
from patterns.services import workroom
from production.buying import purchases
from production.buying.shopping import shopping_of
from production.models import Jacket, Purchase, Run, StockLot, Ware, WareMovement
from production.needs import run_needs
from production.planning.plan import PlanError
from production.stock import wares
from tests.production.run_factories import person
from tests.production.shopping_factories import (
    CLOTH,
    ELASTIC,
    HARBOR,
    MILL,
    SPOOLS,
    ZIPPERS,
    count_on_needs,
    make_lot,
    make_stocked_run,
    put_on_shelf,
    spread,
)

pytestmark = pytest.mark.django_db
LIST = "/runs/R-0001/shopping/"
SHELF = "/runs/R-0001/shelf/"
PURCHASE = "/purchases/P-0001/"


@pytest.fixture(autouse=True)
def run(db: None, monkeypatch: pytest.MonkeyPatch) -> Run:
    count_on_needs(monkeypatch)
    return make_stocked_run()


@pytest.fixture
def maker() -> Client:
    return person("maker")


def page(client: Client, address: str, **data: Any) -> str:
    answer = client.get(address, data)
    assert answer.status_code == 200, address
    return answer.content.decode()


def order(client: Client, run: Run, *keys: str, supplier: str = HARBOR, **data: str) -> str:
    group = next(group for group in shopping_of(run).groups if group.supplier == supplier)
    sent = {
        "supplier": supplier,
        "seen": group.mark,
        "line": keys,
        "ordered_on": shopping_of(run).today.isoformat(),
        **data,
    }
    return told(client.post(f"{LIST}order/", sent, follow=True))


def told(answer: Any) -> str:
    assert answer.status_code == 200
    content: str = answer.content.decode()
    return content


def book(client: Client, **data: str) -> str:
    purchase = Purchase.objects.get()
    sent = {
        "seen": purchases.mark_of(purchase),
        "received_on": shopping_of(Run.objects.get()).today.isoformat(),
        **data,
    }
    return told(client.post(PURCHASE, sent, follow=True))


def field(key: str) -> str:
    line = Purchase.objects.get().lines.get(ware__key=key)
    return f"came-{line.pk}"


# The list


def test_the_list_is_grouped_by_supplier_and_opens_to_its_sources(maker: Client, run: Run) -> None:
    html = page(maker, LIST)
    assert html.index(HARBOR) < html.index(MILL)
    for words in ("Thread spruce, spool", "3 spools", "12.00", "spools of 1000 m", "3000 m"):
        assert words in html
    assert "size S" in html
    assert "for TO-1-01" in html
    assert "ticket R-0001-T2 as planned" in html
    assert "as long as one of their jackets" in html


def test_a_workroom_in_yards_buys_in_yards(maker: Client, run: Run) -> None:
    workroom()
    Workroom.objects.update(length_unit="imperial")
    Fabric.objects.update(sold_in="eighth_yd")
    spread(run)
    html = page(maker, LIST)
    assert "6 5/8 yd" in html  # 6 m are 52.5 eighths of a yard
    assert "in steps of 1/8 yd" in html


def test_a_line_that_should_have_been_ordered_is_late_in_words(maker: Client) -> None:
    Supplier.objects.update(lead_days=2000)
    assert ">late</span>" in page(maker, LIST)
    Supplier.objects.update(lead_days=0)
    assert ">late</span>" not in page(maker, LIST)


def test_when_all_is_there_the_list_says_so(maker: Client, run: Run) -> None:
    for key in (SPOOLS, ZIPPERS, ELASTIC):
        put_on_shelf(key, 99)
    plan = run.plan
    for ticket in plan["cut_tickets"]:
        ticket["to_buy_mm"], ticket["from_stock_mm"] = 0, ticket["fabric_needed_mm"]
    run.save()
    html = page(maker, LIST)
    assert "Nothing to buy" in html
    assert "Order what is ticked" not in html


def test_a_run_that_is_over_buys_nothing_more(maker: Client) -> None:
    Jacket.objects.update(stage="handed_over")
    html = page(maker, LIST)
    assert "Nothing more is bought for R-0001" in html
    assert "Order what is ticked" not in html


def test_a_thing_without_a_supplier_cannot_be_ticked(maker: Client) -> None:
    Zipper.objects.update(supplier=None)
    html = page(maker, LIST)
    assert "No supplier named yet" in html
    assert "No supplier is named for it." in html
    assert f'value="{ZIPPERS}"' not in html


def test_needs_that_cannot_be_reckoned_are_told_on_the_run(
    maker: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_zipper(snapshot: object) -> object:
        raise PlanError("Size S needs a zipper of 60 cm, but none is sold.")

    monkeypatch.setattr(run_needs, "notion_needs", no_zipper)
    for address in (LIST, "/runs/R-0001/shopping-list.pdf", "/runs/R-0001/shopping-list.xlsx"):
        html = told(maker.get(address, follow=True))
        assert "needs a zipper of 60 cm" in html
        assert "Run R-0001" in html


def test_the_list_asks_as_often_for_many_jackets_as_for_few(maker: Client) -> None:
    make_stocked_run(jackets=7, code="R-0002", order="TO-2")
    Jacket.objects.filter(run__code="R-0001").update(stage="handed_over")
    page(maker, LIST)
    counts = []
    for code in ("R-0001", "R-0002"):
        Jacket.objects.update(stage="handed_over")
        Jacket.objects.filter(run__code=code).update(stage="cut")
        with CaptureQueriesContext(connection) as queries:
            page(maker, f"/runs/{code}/shopping/")
        counts.append(len(queries))
    assert counts[0] == counts[1]


# Ordering


def test_ticked_lines_are_ordered_and_lead_to_the_purchase(maker: Client, run: Run) -> None:
    html = order(maker, run, SPOOLS, note="by mail")
    assert "P-0001 is written down. Send it to Harbor Haberdashery" in html
    assert "by mail" in html
    assert "3 spools" in html
    assert "P-0001" in page(maker, LIST)
    assert "P-0001" in page(maker, "/purchases/")


@pytest.mark.parametrize(
    ("keys", "data", "words"),
    [
        ((), {}, "Tick what is to be ordered"),
        ((SPOOLS,), {"seen": "old"}, "has changed since it was shown"),
        ((SPOOLS,), {"ordered_on": "soon"}, "Ordered on: Enter a valid date"),
        ((SPOOLS,), {"note": "x" * 81}, "Note: Ensure this value has at most 80"),
        ((CLOTH,), {}, "not to be bought from"),
    ],
)
def test_a_wrong_order_is_told(
    maker: Client, run: Run, keys: tuple[str, ...], data: dict[str, str], words: str
) -> None:
    assert words in order(maker, run, *keys, **data)
    assert not Purchase.objects.exists()


def test_an_order_from_nobody_is_not_found(maker: Client) -> None:
    assert maker.post(f"{LIST}order/", {"supplier": "Nobody"}).status_code == 404


# Goods in


def test_goods_are_booked_as_the_form_proposes_them(maker: Client, run: Run) -> None:
    order(maker, run, SPOOLS, ELASTIC)
    html = page(maker, PURCHASE)
    assert 'value="3"' in html
    html = book(maker, **{field(SPOOLS): "3", field(ELASTIC): "3"})
    assert "All of it is here now" in html
    assert wares.balances() == {SPOOLS: 3, ELASTIC: 3}
    assert "Book it in" not in html


def test_elastic_comes_in_yards_where_the_workroom_measures_so(maker: Client, run: Run) -> None:
    workroom()
    Workroom.objects.update(length_unit="imperial")
    order(maker, run, ELASTIC)
    book(maker, **{field(ELASTIC): "2"})
    assert wares.balances() == {ELASTIC: Decimal("1.829")}


def test_more_than_was_ordered_is_asked_for_and_what_was_typed_is_kept(
    maker: Client, run: Run
) -> None:
    order(maker, run, SPOOLS)
    html = book(maker, **{field(SPOOLS): "4"})
    assert "4 spools would have come of 3 spools ordered" in html
    assert 'value="4"' in html
    assert wares.balances() == {}
    assert "All of it is here" in book(maker, **{field(SPOOLS): "4", "more_came": "on"})
    assert wares.balances() == {SPOOLS: 4}


def test_a_bolt_comes_in_and_waiting_plies_are_laid_onto_it(maker: Client, run: Run) -> None:
    spread(run)
    order(maker, run, CLOTH, supplier=MILL)
    row = f"bolt-{Purchase.objects.get().lines.get().pk}-1"
    assert 'value="B-101"' in page(maker, PURCHASE)
    missing = book(maker, **{f"{row}-length_mm": "6"})
    assert "Its dye lot stands on the supplier&#x27;s label" in missing
    assert not StockLot.objects.exists()
    html = book(
        maker,
        **{
            f"{row}-code": "B-101",
            f"{row}-dye_lot": "lot-7",
            f"{row}-length_mm": "6.1",
            "more_came": "on",
        },
    )
    assert "is in the book: B-101" in html
    assert "4 plies of R-0001-T2 are planned on B-101." in html
    assert StockLot.objects.get().dye_lot == "lot-7"


@pytest.mark.parametrize(
    ("value", "words"),
    [("-1", "greater than or equal to 0"), ("1.5", "no more than 0 decimal"), ("x", "number")],
)
def test_a_wrong_quantity_is_told_beside_its_field(
    maker: Client, run: Run, value: str, words: str
) -> None:
    order(maker, run, SPOOLS)
    html = book(maker, **{field(SPOOLS): value})
    assert words in html
    assert "Not booked" in html
    assert wares.balances() == {}


def test_the_same_delivery_sent_twice_is_booked_once(maker: Client, run: Run) -> None:
    order(maker, run, SPOOLS)
    seen = purchases.mark_of(Purchase.objects.get())
    book(maker, **{field(SPOOLS): "1"})
    assert "perhaps by the same tap sent twice" in book(maker, **{field(SPOOLS): "1", "seen": seen})
    assert wares.balances() == {SPOOLS: 1}


def test_a_purchase_is_closed_with_a_reason(maker: Client, run: Run) -> None:
    order(maker, run, SPOOLS)
    seen = purchases.mark_of(Purchase.objects.get())
    address = f"{PURCHASE}close/"
    assert "This field is required" in told(maker.post(address, {"seen": seen, "reason": ""}))
    sent = {"seen": seen, "reason": "sold out"}
    assert "is closed. Its rest" in told(maker.post(address, sent, follow=True))
    assert "is closed: nothing more comes" in told(maker.post(address, sent, follow=True))


def test_the_list_of_purchases_narrows(maker: Client, run: Run) -> None:
    assert "Nothing ordered yet" in page(maker, "/purchases/")
    order(maker, run, SPOOLS)
    assert "on order" in page(maker, "/purchases/", show="open", text="harbor")
    assert "No purchase fits" in page(maker, "/purchases/", text="Mill")
    assert "No purchase fits" in page(maker, "/purchases/", show="late")
    Purchase.objects.update(ordered_on="2026-01-01", expected_on="2026-01-02")
    assert "P-0001" in page(maker, "/purchases/", show="late")
    assert "overdue" in page(maker, PURCHASE)
    csv = page(maker, "/purchases/", _export="csv")
    assert f"P-0001,{HARBOR},R-0001,2026-01-01,2026-01-02,12.00 EUR,on order" in csv


def test_plies_that_wait_are_planned_onto_cloth_on_hand(maker: Client, run: Run) -> None:
    spread(run)
    assert "Plan waiting plies" not in page(maker, LIST)
    make_lot("B-1", 4000)
    assert "Plan waiting plies" in page(maker, LIST)
    address = f"{LIST}cloth/"
    html = told(maker.post(address, {"color": "spruce"}, follow=True))
    assert "2 plies of R-0001-T2 are planned on B-1." in html
    html = told(maker.post(address, {"color": "spruce"}, follow=True))
    assert "No ply that waits for cloth fits" in html


# The shelf


def test_the_shelf_lists_what_is_sold_and_narrows(maker: Client) -> None:
    put_on_shelf(SPOOLS, 5)
    html = page(maker, "/shelf/")
    assert "5 spools" in html
    assert "hem elastic" in html
    assert "hem elastic" not in page(maker, "/shelf/", there="shelf")
    assert "hem elastic" in page(maker, "/shelf/", there="short")
    assert "spruce" not in page(maker, "/shelf/", kind="elastic")
    assert "No ware fits" in page(maker, "/shelf/", text="nothing of the kind")
    csv = page(maker, "/shelf/", _export="csv", text="spruce")
    assert '"thread spruce, spool",5 spools,3 spools,2 spools' in csv


def test_a_ware_is_counted_with_a_reason(maker: Client) -> None:
    address = f"/shelf/{SPOOLS}/"
    assert "Nothing of it lies here" in page(maker, address)
    assert not Ware.objects.exists()
    sent = {"count-quantity": "7", "count-reason": "from the drawer"}
    html = told(maker.post(f"{address}count/", sent, follow=True))
    assert "7 spools more than the book said" in html
    assert "from the drawer" in html
    assert "nothing was written" in told(maker.post(f"{address}count/", sent, follow=True))
    for wrong in ({"count-quantity": "-1"}, {"count-reason": ""}, {"count-quantity": "1.5"}):
        assert maker.post(f"{address}count/", {**sent, **wrong}).status_code == 200
    assert wares.balances() == {SPOOLS: 7}
    assert maker.get("/shelf/thread:red:spool/").status_code == 404


def test_some_of_a_ware_is_taken_for_a_run(maker: Client) -> None:
    put_on_shelf(SPOOLS, 5)
    address = f"/shelf/{SPOOLS}/take/"
    html = told(maker.post(address, {"take-quantity": "2", "take-run": "R-0001"}, follow=True))
    assert "2 spools taken for R-0001" in html
    html = told(maker.post(address, {"take-quantity": "9", "take-run": "R-0001"}))
    assert "By the book 3 spools" in html
    assert 'value="9"' in html
    assert wares.balances() == {SPOOLS: 3}


def test_the_same_taking_sent_twice_takes_once(maker: Client) -> None:
    put_on_shelf(SPOOLS, 5)
    shown = maker.get(f"/shelf/{SPOOLS}/").content.decode()
    (seen,) = set(re.findall(r'name="seen" value="(\d+)"', shown))
    sent = {"take-quantity": "2", "take-run": "R-0001", "seen": seen}
    maker.post(f"/shelf/{SPOOLS}/take/", sent)
    again = told(maker.post(f"/shelf/{SPOOLS}/take/", sent))
    assert "perhaps by the same tap sent twice" in again
    assert wares.balances() == {SPOOLS: 3}
    counted = {"count-quantity": "5", "count-reason": "counted before it went", "seen": seen}
    assert "moved since this page was shown" in told(maker.post(f"/shelf/{SPOOLS}/count/", counted))
    assert wares.balances() == {SPOOLS: 3}


def test_everything_is_taken_by_one_tap_and_the_rest_comes_back(maker: Client, run: Run) -> None:
    put_on_shelf(SPOOLS, 5)
    html = told(maker.post(f"{SHELF}take/", follow=True))
    assert "1 ware is taken for R-0001" in html
    assert "Not free on the shelf" in html
    assert "Nothing that R-0001 still needs is free" in told(
        maker.post(f"{SHELF}take/", follow=True)
    )
    sent = {"seen": wares.mark_of(run), SPOOLS: "4"}
    assert "holds 3 spools" in told(maker.post(f"{SHELF}bring-back/", sent))
    sent[SPOOLS] = "1"
    assert "1 ware is back" in told(maker.post(f"{SHELF}bring-back/", sent, follow=True))
    assert "meanwhile" in told(maker.post(f"{SHELF}bring-back/", sent))
    assert wares.balances() == {SPOOLS: 3}


def test_what_a_run_holds_beyond_its_needs_comes_back_too(maker: Client, run: Run) -> None:
    put_on_shelf("thread:thread-oat:spool", 2)
    maker.post("/shelf/thread:thread-oat:spool/take/", {"take-quantity": "2", "take-run": "R-0001"})
    html = page(maker, SHELF)
    assert "Thread oat, spool" in html
    assert "2 spools taken" in html


def test_a_helper_sees_the_shelf_and_no_money(run: Run) -> None:
    put_on_shelf(SPOOLS, 5)
    helper = person("helper")
    for address in ("/shelf/", f"/shelf/{SPOOLS}/", SHELF):
        html = page(helper, address)
        assert "EUR" not in html
        assert "shopping/" not in html
        assert "/purchases/" not in html
    assert "Shopping list" not in page(helper, "/runs/R-0001/")
    assert "1 ware is taken" in told(helper.post(f"{SHELF}take/", follow=True))
    assert "Count anew" not in page(helper, f"/shelf/{SPOOLS}/")
    for address in (
        LIST,
        "/runs/R-0001/shopping-list.pdf",
        "/runs/R-0001/shopping-list.xlsx",
        "/purchases/",
        PURCHASE,
    ):
        assert helper.get(address).status_code == 403
    for address in (
        f"{LIST}order/",
        f"{LIST}cloth/",
        PURCHASE,
        f"{PURCHASE}close/",
        f"/shelf/{SPOOLS}/count/",
    ):
        assert helper.post(address).status_code == 403
    assert WareMovement.objects.filter(kind="counted").count() == 1


def test_strangers_are_asked_to_log_in() -> None:
    for address in (LIST, "/purchases/", "/shelf/", SHELF):
        assert Client().get(address).status_code == 302


# Paper and spreadsheet


def test_the_list_is_printed_with_prices_days_and_assumptions(maker: Client, run: Run) -> None:
    answer = maker.get("/runs/R-0001/shopping-list.pdf")
    content = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    text = " ".join(each.extract_text() for each in PdfReader(io.BytesIO(content)).pages)
    listed = shopping_of(run)
    for words in (
        "Shopping list R-0001",
        HARBOR,
        MILL,
        "3 spools",
        "3000 m of thread in all",
        f"All suppliers: {listed.total} EUR",
        "page 1 of",
        "Reserved: what earlier runs need",
    ):
        assert words in text


def test_print_run_writes_the_list_when_it_is_asked_for(run: Run, tmp_path: Path) -> None:
    call_command("print_run", "R-0001", out=tmp_path, only="shopping", stdout=io.StringIO())
    assert [file.name for file in tmp_path.iterdir()] == ["shopping-list-R-0001.pdf"]
    with pytest.raises(CommandError, match="not 'prices'"):
        call_command("print_run", "R-0001", out=tmp_path, only="prices")


def test_the_spreadsheet_holds_figures_and_its_sums(maker: Client, run: Run) -> None:
    from openpyxl import load_workbook

    Supplier.objects.filter(name=HARBOR).update(name="=cmd()")
    answer = maker.get("/runs/R-0001/shopping-list.xlsx")
    book_ = load_workbook(io.BytesIO(b"".join(answer.streaming_content)))  # type: ignore[attr-defined]
    rows: list[Any] = list(book_["Shopping list"].values)
    assert rows[0][:4] == ("Supplier", "What", "Unit", "Needed")
    spools = next(row for row in rows if row[1] == "thread spruce, spool")
    assert spools[:4] == ("'=cmd()", "thread spruce, spool", "spool", 3)
    assert (spools[9], spools[10]) == (3, 12)
    lines = [row[10] for row in rows[1:] if row[1] != "In all"]
    assert rows[-1][10] == pytest.approx(sum(lines), abs=0.001)
    cloth = next(row for row in rows if row[1] == "Test fleece, spruce")
    assert cloth[2] == "m"
    words: list[Any] = [row[0] for row in book_["How it is reckoned"].values]
    assert any(sentence.startswith("Order by:") for sentence in words)
