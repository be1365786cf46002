from __future__ import annotations

import html
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from orders.models import Club, Colorway, JacketOrder, TeamOrder
from patterns.models import (
    Blocking,
    Elastic,
    Fabric,
    FabricColor,
    Notion,
    PatternSize,
    Supplier,
    ThreadColor,
    Workroom,
    Zipper,
)
from patterns.services import install_shipped
from production.models import Ware
from production.planning.plan import PlanError
from production.planning.planner import plan_run
from production.snapshots import take_snapshot
from production.stock.ware_catalog import ware_for
from production.stock.wares import count
from tests.production.planning_factories import MONDAY
from tests.production.run_factories import make_person, person

pytestmark = pytest.mark.django_db
PAGE = "/supplies/"


@pytest.fixture
def maker() -> Client:
    install_shipped()
    return person("maker")


def told(client: Client, address: str, values: dict[str, Any]) -> str:
    """The page after sending, with the message of what was done."""
    return html.unescape(client.post(address, values, follow=True).content.decode())


def thread_values(**values: Any) -> dict[str, Any]:
    return {
        "code": "rust",
        "name": "rust",
        "hex_color": "#aa5522",
        "spool_m": 500,
        "price_per_spool": "3.20",
        **values,
    }


def notion_values(**values: Any) -> dict[str, Any]:
    return {
        "code": "toggle",
        "name": "toggle",
        "rule": "jacket",
        "unit": "piece",
        "quantity": "2",
        "price": "0.25",
        "sold_step": "10",
        **values,
    }


def zipper_values(**values: Any) -> dict[str, Any]:
    return {
        "color_code": "rust",
        "color_name": "rust",
        "hex_color": "#aa5522",
        "more": "50, 55; 60.5",
        "more_price": "2.00",
        "more_each": "0.15",
        **values,
    }


def shipped_order(blocking: str) -> TeamOrder:
    """An order of one jacket of a shipped blocking, in spruce."""
    club = Club.objects.create(name="Test Club")
    order = TeamOrder.objects.create(code="TO-1", club=club, title="Jackets", deadline=MONDAY)
    cut_by = Blocking.objects.get(code=blocking)
    colorway = Colorway.objects.create(
        team_order=order, name="home", blocking=cut_by, zipper_color="spruce"
    )
    spruce = FabricColor.objects.get(code="spruce")
    for block in cut_by.blocks.all():
        colorway.fills.create(block=block, fabric_color=spruce)
    size = cut_by.pattern.sizes.get(code="M")
    JacketOrder.objects.create(team_order=order, member="Member", size=size, colorway=colorway)
    return order


def test_the_page_shows_all_that_is_sold_and_what_counts_from_when(maker: Client) -> None:
    page = maker.get(PAGE).content.decode()
    for words in (
        "from the next plan on",
        "Harbor Haberdashery",
        "30 cm, 35 cm",
        "hem elastic 25 mm",
        "1.05 m a metre of shoulder",
        "each size its own",
    ):
        assert words in page


def test_a_price_finer_than_the_smallest_coin_is_shown_as_it_counts(maker: Client) -> None:
    ThreadColor.objects.filter(code="spruce").update(price_per_spool=Decimal("4.60"))
    Workroom.objects.update(currency="JPY")
    page = maker.get("/supplies/").content.decode()
    assert "4.6 JPY" in page
    assert ", 5 JPY" not in page


def test_an_empty_workroom_is_told_what_to_add_first() -> None:
    page = person("maker").get(PAGE).content.decode()
    for words in ("No supplier yet", "No thread yet", "No zipper yet", "No elastic yet"):
        assert words in page
    assert "No notion of your own yet" in page and "no fabric yet" in page


def test_a_supplier_is_added_and_changed(maker: Client) -> None:
    page = told(maker, "/supplies/new/suppliers/", {"name": "Pier Threads", "lead_days": 3})
    assert "Pier Threads is saved. It counts from the next plan on" in page
    row = Supplier.objects.get(name="Pier Threads")
    told(maker, f"/supplies/suppliers/{row.pk}/", {"name": "Pier Threads", "lead_days": 4})
    row.refresh_from_db()
    assert row.lead_days == 4
    page = told(maker, f"/supplies/suppliers/{row.pk}/", {"name": "Typed", "lead_days": -1})
    assert "Enter days from 0 to 365." in page and 'value="Typed"' in page
    page = told(maker, "/supplies/new/suppliers/", {"name": "Pier Threads", "lead_days": 3})
    assert "already exists" in page


def test_a_supplier_that_sells_something_stays(maker: Client) -> None:
    supplier = Supplier.objects.get(name="Harbor Haberdashery")
    address = f"/supplies/suppliers/{supplier.pk}/delete/"
    assert "Delete Harbor Haberdashery?" in maker.get(address).content.decode()
    page = told(maker, address, {})
    assert "Harbor Haberdashery is used by elastic cuff elastic 25 mm, elastic hem" in page
    assert "more. Nothing was changed" in page
    for model in (Fabric, ThreadColor, Zipper, Elastic, Notion):
        model._default_manager.update(supplier=None)
    assert "Harbor Haberdashery is deleted." in told(maker, address, {})
    assert not Supplier.objects.filter(pk=supplier.pk).exists()


def test_a_thread_is_sold_on_spools_and_where_both_are_told_on_cones(maker: Client) -> None:
    page = told(maker, "/supplies/new/threads/", thread_values(cone_m=5000))
    assert "Enter what a cone costs, or leave both empty." in page
    page = told(maker, "/supplies/new/threads/", thread_values(price_per_cone="12"))
    assert "Enter what a cone holds, or leave both empty." in page
    assert not ThreadColor.objects.filter(code="rust").exists()
    told(maker, "/supplies/new/threads/", thread_values(cone_m=5000, price_per_cone="12"))
    row = ThreadColor.objects.get(code="rust")
    assert (row.cone_m, row.price_per_cone) == (5000, Decimal(12))
    told(maker, "/supplies/threads/rust/", thread_values(code="other", spool_m=1000))
    row.refresh_from_db()
    assert (row.code, row.spool_m, row.cone_m) == ("rust", 1000, None)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"price_per_spool": "-1"}, "A price is from 0 to 10000000."),
        ({"spool_m": 0}, "Enter metres from 1 to 100000."),
        ({"hex_color": "red"}, "A screen color is # and six hex digits."),
        ({"code": "two words"}, "A code is made of letters"),
        ({"code": "spruce"}, "already exists"),
    ],
)
def test_a_thread_out_of_bounds_changes_nothing(
    maker: Client, values: dict[str, Any], words: str
) -> None:
    before = ThreadColor.objects.count()
    page = told(maker, "/supplies/new/threads/", thread_values(**values))
    assert (words in page and "Not saved" in page and 'value="3.20"' in page) or "-1" in page
    assert ThreadColor.objects.count() == before


def test_a_thread_that_a_color_is_sewn_in_stays(maker: Client) -> None:
    page = told(maker, "/supplies/threads/spruce/delete/", {})
    color = ThreadColor.objects.get(code="spruce").fabric_colors.get()
    assert f"is used by fabric color {color.name}. Nothing was changed" in page
    told(maker, "/supplies/new/threads/", thread_values())
    assert "rust is deleted." in told(maker, "/supplies/threads/rust/delete/", {})


def test_what_was_ever_on_the_shelf_stays_and_a_ware_without_a_book_goes(maker: Client) -> None:
    told(maker, "/supplies/new/threads/", thread_values())
    ware = ware_for("thread:rust:spool")
    count(ware, quantity=Decimal(3), reason="found", by=make_person("count", "maker"))
    page = told(maker, "/supplies/threads/rust/delete/", {})
    assert "rust is used by the shelf (thread:rust:spool)." in page
    told(maker, "/supplies/new/threads/", thread_values(code="mud", name="mud"))
    ware_for("thread:mud:spool")
    assert "mud is deleted." in told(maker, "/supplies/threads/mud/delete/", {})
    assert set(Ware.objects.values_list("key", flat=True)) == {"thread:rust:spool"}


# Zippers


def test_a_color_is_added_with_a_row_of_lengths_at_once(maker: Client) -> None:
    page = told(maker, "/supplies/new/zippers/", zipper_values())
    assert "rust is saved." in page and "50 cm, 55 cm, 60.5 cm" in page
    rows = Zipper.objects.filter(color_code="rust").values_list("length_mm", "price", "color_name")
    assert list(rows) == [
        (500, Decimal("2.00"), "rust"),
        (550, Decimal("2.15"), "rust"),
        (605, Decimal("2.30"), "rust"),
    ]


def test_an_imperial_workroom_names_zippers_in_inches(maker: Client) -> None:
    Workroom.objects.update(length_unit="imperial")
    told(maker, "/supplies/new/zippers/", zipper_values(more="20 24.5"))
    lengths = Zipper.objects.filter(color_code="rust").values_list("length_mm", flat=True)
    assert list(lengths) == [508, 622]  # 508.0 and 622.3
    assert "20 in, 24 1/2 in" in maker.get(PAGE).content.decode()


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"more": "50, sixty"}, "'sixty' is no length from 5 cm to 300 cm."),
        ({"more": "5000"}, "'5000' is no length"),
        ({"more": "-50"}, "'-50' is no length"),
        ({"more": "NaN"}, "'NaN' is no length"),
        ({"more": "1e999999"}, "'1e999999' is no length"),
        ({"more": "50 50"}, "50 cm is there already"),
        ({"more_price": "-2"}, "A price is from 0 to 10000000."),
        ({"color_code": "spruce"}, "spruce is the code of"),
    ],
)
def test_zippers_that_cannot_be_are_refused_with_what_was_typed(
    maker: Client, values: dict[str, Any], words: str
) -> None:
    before = Zipper.objects.count()
    page = told(maker, "/supplies/new/zippers/", zipper_values(**values))
    assert words in page and "Not saved" in page
    assert Zipper.objects.count() == before


def edited(color: str, **values: Any) -> dict[str, Any]:
    rows = Zipper.objects.filter(color_code=color)
    first = rows[0]
    return {
        "color_name": first.color_name,
        "hex_color": first.hex_color,
        **{f"price_{row.length_mm}": row.price for row in rows},
        **values,
    }


def test_prices_change_length_by_length_and_lengths_come_and_go(maker: Client) -> None:
    told(maker, "/supplies/new/zippers/", zipper_values())
    told(
        maker,
        "/supplies/zippers/rust/",
        edited("rust", price_500="2.50", gone=[550], more="70", more_price="3", color_name="deep"),
    )
    rows = Zipper.objects.filter(color_code="rust").values_list("length_mm", "price", "color_name")
    assert list(rows) == [
        (500, Decimal("2.50"), "deep"),
        (605, Decimal("2.30"), "deep"),
        (700, Decimal("3.00"), "deep"),
    ]
    page = told(maker, "/supplies/zippers/rust/", edited("rust", more="80"))
    assert "Enter what the shortest of the further lengths costs." in page


def test_a_color_that_a_colorway_has_keeps_a_length(maker: Client) -> None:
    order = shipped_order("breakwater")
    lengths = list(Zipper.objects.filter(color_code="spruce").values_list("length_mm", flat=True))
    page = told(maker, "/supplies/zippers/spruce/", edited("spruce", gone=lengths))
    assert f"is used by colorway home of {order.code}. Nothing was changed" in page
    assert (
        list(Zipper.objects.filter(color_code="spruce").values_list("length_mm", flat=True))
        == lengths
    )
    told(maker, "/supplies/new/zippers/", zipper_values())
    told(maker, "/supplies/zippers/rust/", edited("rust", gone=[500, 550, 605]))
    assert not Zipper.objects.filter(color_code="rust").exists()
    assert maker.get("/supplies/zippers/rust/").status_code == 404


# Elastic


def elastic_values(**values: Any) -> dict[str, Any]:
    return {
        "name": "hem elastic",
        "width_mm": 30,
        "stretch_factor": "0.86",
        "join_mm": 25,
        "price_per_m": "1.10",
        "sold_step_mm": 500,
        **values,
    }


def test_elastic_changes_and_is_there_once_for_each_place(maker: Client) -> None:
    told(maker, "/supplies/elastic/hem/", elastic_values())
    row = Elastic.objects.get(place="hem")
    assert (row.stretch_factor, row.sold_step_mm) == (Decimal("0.860"), 500)
    page = told(maker, "/supplies/elastic/hem/", elastic_values(stretch_factor="8.6"))
    assert "Enter a share from 0.3 to 1.2." in page
    assert "Add an elastic" not in maker.get(PAGE).content.decode()
    assert "is deleted." in told(maker, "/supplies/elastic/cuff/delete/", {})
    page = told(maker, "/supplies/new/elastic/", elastic_values(place="hem"))
    assert "Select a valid choice" in page
    told(maker, "/supplies/new/elastic/", elastic_values(place="cuff", name="cuff elastic"))
    assert Elastic.objects.get(place="cuff").name == "cuff elastic"


# Own notions


def test_a_notion_per_jacket_is_added_after_the_others(maker: Client) -> None:
    told(maker, "/supplies/new/notions/", notion_values())
    row = Notion.objects.get(code="toggle")
    assert (row.quantity, row.position) == (Decimal(2), Notion.objects.count() - 1)
    assert Notion.objects.last() == row


def test_a_notion_by_size_asks_for_every_size(maker: Client) -> None:
    sizes = list(PatternSize.objects.order_by("position").values_list("code", flat=True))
    grid = {f"size_{code}": number for number, code in enumerate(sizes)}
    short = {**grid, f"size_{sizes[1]}": ""}
    page = told(maker, "/supplies/new/notions/", notion_values(rule="size", **short))
    assert page.count("Enter how much this size takes; 0 is none.") == 1
    told(maker, "/supplies/new/notions/", notion_values(rule="size", **grid))
    row = Notion.objects.get(code="toggle")
    assert row.by_size == tuple((code, Decimal(number)) for number, code in enumerate(sizes))
    told(maker, "/supplies/notions/toggle/", notion_values(rule="jacket", **grid))
    assert Notion.objects.get(code="toggle").by_size == ()


def test_a_notion_along_a_seam_names_it_and_no_other_does(maker: Client) -> None:
    page = told(maker, "/supplies/new/notions/", notion_values(rule="seam_metre"))
    assert "Choose the seam or style line that it is taken along." in page
    page = told(maker, "/supplies/new/notions/", notion_values(seam="shoulder"))
    assert "A seam is chosen, but the rule goes by no seam. Choose none." in page
    page = told(maker, "/supplies/new/notions/", notion_values(rule="seam_metre", seam="shuolder"))
    assert "Select a valid choice" in page
    told(maker, "/supplies/new/notions/", notion_values(rule="seam_metre", seam="fyoke"))
    assert Notion.objects.get(code="toggle").seam == "fyoke"


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"price": "-0.10"}, "A price is from 0 to 10000000."),
        ({"quantity": "-1"}, "Enter a quantity from 0 to 10000."),
        ({"sold_step": "0"}, "Enter a quantity from 0.001 to 10000."),
    ],
)
def test_a_notion_out_of_bounds_changes_nothing(
    maker: Client, values: dict[str, Any], words: str
) -> None:
    page = told(maker, "/supplies/new/notions/", notion_values(**values))
    assert words in page and "Not saved" in page
    assert not Notion.objects.filter(code="toggle").exists()


def test_a_notion_on_the_shelf_keeps_its_unit(maker: Client) -> None:
    told(maker, "/supplies/new/notions/", notion_values())
    ware = ware_for("notion:toggle")
    told(maker, "/supplies/notions/toggle/", notion_values(unit="m"))
    assert Notion.objects.get(code="toggle").unit == "m"  # nothing of it was ever there
    ware = ware_for("notion:toggle")
    count(ware, quantity=Decimal(3), reason="found", by=make_person("count", "maker"))
    page = told(maker, "/supplies/notions/toggle/", notion_values(unit="piece"))
    assert "The shelf counts toggle in metres already" in page
    assert Notion.objects.get(code="toggle").unit == "m"


# What plans make of it


def test_a_plan_counts_own_notions_but_none_along_seams_of_other_blockings(
    maker: Client,
) -> None:
    order = shipped_order("breakwater")  # a blocking without the style line fyoke
    Notion.objects.exclude(code="care-label").delete()
    told(
        maker,
        "/supplies/new/notions/",
        notion_values(code="piping", name="piping", rule="seam_metre", seam="fyoke", unit="m"),
    )
    Notion.objects.create(code="ghost", name="ghost tape", rule="seam_metre", seam="gone", price=1)
    snapshot = take_snapshot(run="R-9", team_orders=[order], planned_on=MONDAY)
    assert [notion.code for notion in snapshot.notions] == ["ghost", "care-label"]
    with pytest.raises(PlanError, match=r"ghost tape \(ghost\).*'gone', which no jacket has"):
        plan_run(snapshot)


# Who may


@pytest.mark.parametrize(
    "address",
    [
        PAGE,
        "/supplies/new/threads/",
        "/supplies/new/zippers/",
        "/supplies/zippers/spruce/",
        "/supplies/threads/spruce/",
        "/supplies/threads/spruce/delete/",
    ],
)
def test_supplies_are_the_makers_alone(maker: Client, address: str) -> None:
    helper = person("helper")
    assert maker.get(address).status_code == 200
    assert helper.get(address).status_code == 403
    assert helper.post(address, {}).status_code == 403


@pytest.mark.parametrize(
    "address",
    ["/supplies/new/buttons/", "/supplies/suppliers/x/", "/supplies/threads/none/"],
)
def test_what_is_not_there_is_not_found(maker: Client, address: str) -> None:
    assert maker.get(address).status_code == 404


@pytest.mark.parametrize("kind", ["suppliers", "threads", "elastic", "notions", "zippers"])
def test_a_price_set_on_another_page_is_not_put_back_unseen(maker: Client, kind: str) -> None:
    one, name = {
        "suppliers": (Supplier.objects.first(), "lead_days"),
        "threads": (ThreadColor.objects.first(), "price_per_spool"),
        "elastic": (Elastic.objects.first(), "price_per_m"),
        "notions": (Notion.objects.exclude(rule="size").first(), "price"),
        "zippers": (Zipper.objects.first(), "price_"),
    }[kind]
    key = next(
        str(vars(one)[field])
        for field in ("color_code", "code", "place", "id")
        if field in vars(one)
    )
    shown = maker.get(f"/supplies/{kind}/{key}/").context["form"]
    name = next(field for field in shown.fields if field.startswith(name))
    values = {field: shown[field].value() for field in shown.fields}
    older = {field: value for field, value in values.items() if value not in (None, False)}
    older["seen"] = shown.seen
    told(maker, f"/supplies/{kind}/{key}/", {**older, name: "7"})
    page = told(maker, f"/supplies/{kind}/{key}/", {**older, name: "8"})
    assert "changed on another page meanwhile" in page and 'value="8"' in page
    assert maker.get(f"/supplies/{kind}/{key}/").context["form"][name].value() == 7
