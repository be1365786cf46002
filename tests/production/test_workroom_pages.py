from __future__ import annotations

import html
import re
from decimal import Decimal
from typing import Any

import pytest
from django.forms import model_to_dict
from django.test import Client

from orders.money import CURRENCIES, DECIMALS
from patterns.models import Block, Fabric, Supplier, Workroom
from patterns.services import install_shipped, workroom
from production.workroom.workroom_forms import GROUPS, FabricForm, WorkroomForm
from tests.production.run_factories import person

pytestmark = pytest.mark.django_db
WORKROOM, GRAIN = "/workroom/", "/workroom/grain/"


@pytest.fixture
def maker() -> Client:
    install_shipped()
    return person("maker")


def posted(form: type[WorkroomForm | FabricForm], row: Any, **values: object) -> dict[str, Any]:
    """What the page sends back as it was shown, but for the values."""
    shown = form(instance=row)
    fields = {name: shown[name].value() for name in shown.fields}
    return {name: "" if value is None else value for name, value in {**fields, **values}.items()}


def test_settings_are_saved_and_said_to_count_from_the_next_plan(maker: Client) -> None:
    answer = maker.post(
        WORKROOM,
        posted(WorkroomForm, workroom(), table_length_mm=4200, block_gap_mm=6, cloth_weight="2.5"),
        follow=True,
    )
    assert "from the next plan on" in answer.content.decode()
    room = workroom()
    assert (room.table_length_mm, room.block_gap_mm) == (4200, 6)
    assert str(room.cloth_weight) == "2.50"


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("table_length_mm", 0, "Enter a length from 1 to 100000 mm."),
        ("table_length_mm", -5, "Enter a length from 1 to 100000 mm."),
        ("tool_highest_plies", 0, "from 1 to 200"),
        ("block_gap_mm", -1, "Enter a length from 0 to 100 mm."),
        ("working_weekdays", "89", "Digits 1 (Monday) to 7 (Sunday)."),
        (
            "relaxation_allowance",
            2,
            "2 is 200 % of the standard minutes. Enter a share from 0",
        ),
        ("relaxation_allowance", 11, "usual is 0.09 to 0.15 (common practice). 0.11 is 11 %."),
        ("relaxation_allowance", "-0.1", "-0.1 is -10 % of the standard minutes."),
        ("thread_waste", "1.5", "1.5 is 150 % of the thread."),
        ("fabric_waste", 3, "3 is 300 % of the cloth."),
        ("notion_waste", 2, "2 is 200 % of the notions."),
        ("margin", 1, "1 is 100 % of the price before tax. Enter a share from 0 to 0.9;"),
        ("tax_rate", 19, "19 is 1900 % of the price before tax."),
        ("deposit_share", "-1", "-1 is -100 % of the price."),
        ("learning_rate", "0.5", "Enter a rate above 0.5 and up to 1"),
        ("learning_rate", 90, "Enter a rate above 0.5 and up to 1"),
        ("labor_per_hour", "-1", "Enter a number from 0 to 10000000."),
        ("exact_zipper_extra", "-0.8", "Enter a number from 0 to 1000000."),
        ("thread_change_minutes", "-3", "Enter a number from 0 to 240."),
        ("stitch_change_minutes", "NaN", "Enter a number."),
        ("quote_days", 0, "from 1 to 365"),
        ("currency", "EU", "EU is no currency of ISO 4217."),
        ("currency", "XXX", "XXX is no currency of ISO 4217."),
        ("thread_method", "guess", "Select a valid choice."),
    ],
)
def test_a_setting_out_of_bounds_is_told_at_its_field_and_changes_nothing(
    maker: Client, name: str, value: object, told: str
) -> None:
    before = workroom()
    answer = maker.post(
        WORKROOM, posted(WorkroomForm, before, **{"name": "Typed anew", name: value})
    )
    page = html.unescape(answer.content.decode())
    assert told in page and "Not saved" in page and "Typed anew" in page
    assert model_to_dict(workroom()) == model_to_dict(before)


def test_lays_need_something_to_be_weighed_by(maker: Client) -> None:
    answer = maker.post(
        WORKROOM, posted(WorkroomForm, workroom(), cloth_weight=0, cutting_weight=0)
    )
    assert "One of the two weights is to be above 0" in answer.content.decode()
    assert workroom().cloth_weight == 1


def test_a_fabric_keeps_its_bounds(maker: Client) -> None:
    fabric = Fabric.objects.get()
    address = f"/workroom/fabrics/{fabric.code}/"
    refused = maker.post(address, posted(FabricForm, fabric, shrinkage="0.9"))
    assert "0.9 is 90 % of the length. Enter a share from 0 to 0.5;" in refused.content.decode()
    maker.post(address, posted(FabricForm, fabric, nap="two_way", highest_plies=3))
    fabric.refresh_from_db()
    assert (fabric.nap, fabric.highest_plies) == ("two_way", 3)


def test_all_that_plans_and_quotes_go_by_is_asked_and_kept(maker: Client) -> None:
    own = {
        "thread_method": "ratio",
        "zipper_rule": "exact",
        "exact_zipper_extra": Decimal("1.20"),
        "thread_change_minutes": Decimal("2.50"),
        "further_spool_minutes": Decimal("1.10"),
        "foot_change_minutes": Decimal("0.90"),
        "stitch_change_minutes": Decimal("0.20"),
        "learning_rate": Decimal("0.900"),
        "fabric_waste": Decimal("0.040"),
        "notion_waste": Decimal("0.010"),
        "margin": Decimal("0.250"),
        "tax_rate": Decimal("0.070"),
        "deposit_share": Decimal("0.500"),
        "quote_days": 14,
    }
    maker.post(WORKROOM, posted(WorkroomForm, workroom(), **own))
    assert model_to_dict(workroom(), list(own)) == own
    maker.post(WORKROOM, posted(WorkroomForm, workroom(), learning_rate=""))
    assert workroom().learning_rate is None


def test_what_the_floor_and_the_labels_go_by_is_asked_and_kept(maker: Client) -> None:
    own = {
        "address": "Slip Lane 4, Tern Quay",
        "tag_paper": "label",
        "inspecting": "2.5",
        "market": "us",
        "made_in": "Terneland",
        "warn_below_percent": 70,
        "warn_to": "maker@example.org",
    }
    maker.post(WORKROOM, posted(WorkroomForm, workroom(), **own))
    assert model_to_dict(workroom(), list(own)) == own
    maker.post(WORKROOM, posted(WorkroomForm, workroom(), market="", warn_to=""))
    assert (workroom().market, workroom().warn_to) == ("", "")


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("warn_below_percent", 101, "Enter a number from 0 to 100."),
        ("warn_to", "nobody", "valid email address"),
        ("market", "moon", "not one of the available choices"),
        ("address", "Slip Lane\x074", "one line of text without control signs"),
    ],
)
def test_nonsense_of_warnings_and_labels_is_told(
    maker: Client, name: str, value: object, told: str
) -> None:
    answer = maker.post(WORKROOM, posted(WorkroomForm, workroom(), **{name: value}))
    assert told in html.unescape(answer.content.decode())
    assert getattr(workroom(), name) != value


def test_a_fabric_says_how_it_is_washed_dried_and_ironed(maker: Client) -> None:
    fabric = Fabric.objects.get()
    address = f"/workroom/fabrics/{fabric.code}/"
    own = {"wash_celsius": 40, "may_tumble_dry": True, "may_iron": True}
    maker.post(address, posted(FabricForm, fabric, **own))
    fabric.refresh_from_db()
    assert model_to_dict(fabric, list(own)) == own
    refused = maker.post(address, posted(FabricForm, fabric, wash_celsius=35))
    assert "35 is not one of the available choices" in refused.content.decode()


def test_every_field_of_the_workroom_stands_in_one_group(maker: Client) -> None:
    grouped = [name for names in GROUPS.values() for name in names]
    columns = {field.name for field in Workroom._meta.get_fields()} - {"id"}
    assert len(grouped) == len(set(grouped)) and set(grouped) == columns
    page = maker.get(WORKROOM).content.decode()
    assert all(
        f'name="{name}"' in page and f">{title}</h2>" in page
        for title, names in GROUPS.items()
        for name in names
    )


def test_what_is_saved_untouched_stays_in_either_unit(maker: Client) -> None:
    fabric = Fabric.objects.get()
    for unit in ("metric", "imperial"):
        Workroom.objects.update(length_unit=unit)
        room, cloth = model_to_dict(workroom()), model_to_dict(fabric)
        maker.post(WORKROOM, posted(WorkroomForm, workroom()))
        maker.post(f"/workroom/fabrics/{fabric.code}/", posted(FabricForm, fabric))
        fabric.refresh_from_db()
        assert (model_to_dict(workroom()), model_to_dict(fabric)) == (room, cloth)


def test_an_imperial_workroom_asks_for_inches_and_bolts_of_yards(maker: Client) -> None:
    Workroom.objects.update(length_unit="imperial")
    page = maker.get(WORKROOM).content.decode()
    assert "Seam allowance (in)" in page
    maker.post(WORKROOM, posted(WorkroomForm, workroom(), seam_allowance_mm="0.375"))
    assert workroom().seam_allowance_mm == 10  # 9.525
    refused = maker.post(WORKROOM, posted(WorkroomForm, workroom(), seam_allowance_mm="2"))
    assert "Enter a length from 0 to 1.969 in." in refused.content.decode()
    fabric = Fabric.objects.get()
    maker.post(f"/workroom/fabrics/{fabric.code}/", posted(FabricForm, fabric, bolt_length_mm="25"))
    fabric.refresh_from_db()
    assert fabric.bolt_length_mm == 22_860  # 25 x 0.9144 m


def test_a_currency_is_known_and_its_decimals_are_told(maker: Client) -> None:
    answer = maker.post(WORKROOM, posted(WorkroomForm, workroom(), currency="jpy"), follow=True)
    page = answer.content.decode()
    assert workroom().currency == "JPY"
    assert "JPY is paid with no decimals: amounts are whole." in page
    again = maker.post(WORKROOM, posted(WorkroomForm, workroom()), follow=True)
    assert "is paid with" not in again.content.decode()


def test_currencies_are_three_letters_and_those_with_other_decimals_are_among_them() -> None:
    assert all(len(code) == 3 and code.isupper() for code in CURRENCIES)
    assert DECIMALS.keys() <= CURRENCIES
    assert {"EUR", "USD", "GBP", "CHF", "CAD", "JPY", "SEK"} <= CURRENCIES


def test_a_fabric_names_its_supplier_and_how_it_is_sold(maker: Client) -> None:
    fabric, mill = Fabric.objects.get(), Supplier.objects.create(name="High Mill", lead_days=3)
    address = f"/workroom/fabrics/{fabric.code}/"
    maker.post(
        address,
        posted(FabricForm, fabric, supplier=mill.pk, sold_in="bolt", bolt_length_mm="30"),
    )
    fabric.refresh_from_db()
    assert (fabric.supplier, fabric.sold_in, fabric.bolt_length_mm) == (mill, "bolt", 30_000)
    refused = maker.post(address, posted(FabricForm, fabric, price_per_m="-1", bolt_length_mm="0"))
    page = refused.content.decode()
    assert "Enter a number from 0 to 10000000." in page
    assert "Enter a length from 0.001 to 1000 m." in page


def test_the_workroom_is_highlighted_and_runs_are_not(maker: Client) -> None:
    for address in (WORKROOM, "/supplies/", "/supplies/zippers/spruce/", "/supplies/new/threads/"):
        page = maker.get(address).content.decode()
        current = re.findall(r'aria-current="true">([^<]+)</a>', page)
        assert current == ["Workroom"]
    assert re.findall(r'aria-current="true">([^<]+)</a>', maker.get("/runs/").content.decode()) == [
        "Runs"
    ]
    assert ">Workroom</a>" not in person("helper").get("/runs/").content.decode()


def test_a_block_is_free_on_grain_in_every_blocking_that_has_it(maker: Client) -> None:
    maker.post(GRAIN, {"free": ["CO"]})
    free = Block.objects.filter(is_free_on_grain=True)
    assert set(free.values_list("code", flat=True)) == {"CO"}
    assert free.count() == Block.objects.filter(code="CO").count() > 1
    maker.post(GRAIN, {"free": ["nothing"]})
    assert free.count() > 1
    maker.post(GRAIN, {})
    assert not free.exists()


def test_settings_are_the_makers_alone(maker: Client) -> None:
    helper = person("helper")
    fabric = f"/workroom/fabrics/{Fabric.objects.get().code}/"
    assert [helper.get(address).status_code for address in (WORKROOM, fabric)] == [403, 403]
    assert helper.post(GRAIN, {"free": ["CO"]}).status_code == 403
    assert not Block.objects.filter(is_free_on_grain=True).exists()


def test_settings_saved_on_another_page_are_not_put_back_unseen(maker: Client) -> None:
    older = {**posted(WorkroomForm, workroom()), "seen": WorkroomForm(instance=workroom()).seen}
    assert f'name="seen" value="{older["seen"]}"' in maker.get(WORKROOM).content.decode()
    maker.post(WORKROOM, {**older, "margin": "0.3"})
    answer = maker.post(WORKROOM, {**older, "overhead": "0.7"})
    assert "changed on another page meanwhile" in answer.content.decode()
    assert 'value="0.7"' in answer.content.decode()
    assert str(workroom().margin) == "0.300"
    told = answer.context["form"].seen
    maker.post(WORKROOM, {**older, "overhead": "0.7", "seen": told})
    assert str(workroom().overhead) == "0.700"


@pytest.mark.parametrize("address", ["/operations/", "/time-studies/", "/thread-samples/"])
def test_the_workroom_leads_to_what_its_minutes_and_thread_come_from(
    maker: Client, address: str
) -> None:
    assert f'href="{address}"' in maker.get(WORKROOM).content.decode()
    assert 'aria-current="true">Workroom' in maker.get(address).content.decode()
