from __future__ import annotations

from typing import Any

import pytest
from django.forms import model_to_dict
from django.test import Client

from patterns.models import Block, Fabric
from patterns.services import install_shipped, workroom
from production.workroom_forms import FabricForm, WorkroomForm
from tests.production.run_factories import make_person

pytestmark = pytest.mark.django_db
WORKROOM, GRAIN = "/workroom/", "/workroom/grain/"


def person(name: str) -> Client:
    client = Client()
    client.force_login(make_person(name, name))
    return client


@pytest.fixture
def maker() -> Client:
    install_shipped()
    return person("maker")


def posted(form: type[WorkroomForm | FabricForm], row: Any, **values: object) -> dict[str, Any]:
    return {**model_to_dict(row, form.Meta.fields), **values}


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
        ("table_length_mm", 0, "from 1 to 100000"),
        ("tool_highest_plies", 0, "from 1 to 200"),
        ("block_gap_mm", -1, "from 0 to 100"),
        ("relaxation_allowance", 2, "from 0 to 1"),
        ("working_weekdays", "89", "Digits 1 (Monday) to 7 (Sunday)."),
    ],
)
def test_a_setting_out_of_bounds_is_told_at_its_field_and_changes_nothing(
    maker: Client, name: str, value: object, told: str
) -> None:
    before = workroom()
    answer = maker.post(
        WORKROOM, posted(WorkroomForm, before, name="Typed anew", **{name: value})
    ).content.decode()
    assert told in answer and "Not saved" in answer and "Typed anew" in answer
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
    assert "Enter a number from 0 to 0.5." in refused.content.decode()
    maker.post(address, posted(FabricForm, fabric, nap="two_way", highest_plies=3))
    fabric.refresh_from_db()
    assert (fabric.nap, fabric.highest_plies) == ("two_way", 3)


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
