"""An order made again: what is copied, what is not, and who has grown."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from orders.coordinator import answers_of
from orders.errors import OrderError
from orders.models import Expected, JacketOrder, TeamOrder
from orders.repeat import RepeatFacts, one_step_up, repeat
from patterns.geometry.bodies import BODIES
from patterns.models import PatternSize
from tests.factories import make_club, make_colorway, make_jacket_order, make_team_order

SIZES = [
    PatternSize(code=body.code, age_group=body.age_group, chest_mm=int(body.chest_mm))
    for body in BODIES
]


@pytest.mark.parametrize(
    ("size", "grown"),
    [
        ("YS", "YM"),
        ("YM", "YL"),
        ("YL", "YXL"),
        ("YXL", "S"),  # chest 840 mm; adult XS has 820, S has 900: the shipped bodies
        ("XS", "XS"),
        ("3XL", "3XL"),
    ],
)
def test_youth_sizes_go_one_step_up(size: str, grown: str) -> None:
    chosen = next(one for one in SIZES if one.code == size)
    assert one_step_up(chosen, SIZES).code == grown


def test_the_largest_size_of_a_youth_pattern_stays() -> None:
    youth = [one for one in SIZES if one.age_group == "youth"]
    assert one_step_up(youth[-1], youth) is youth[-1]


def facts(**overrides: Any) -> RepeatFacts:
    values: dict[str, Any] = {
        "code": "TQ-99B",
        "title": "Next season",
        "deadline": date(2099, 9, 1),
        "closes_on": date(2099, 8, 1),
        "staying": tuple(JacketOrder.objects.all()),
    }
    return RepeatFacts(**values | overrides)


def youth_order() -> TeamOrder:
    """Wren wears youth size 8, Pip adult M; L is larger than 8, and M and S are not."""
    order = make_team_order(
        "TQ-99A",
        state=TeamOrder.State.HANDED_OVER,
        price="89.00",
        discount="5.00",
        payer="members",
        welcome="Hello",
        names_allowed=False,
        erase_after_days=30,
        handed_over_on=date(2099, 3, 14),
    )
    colorway = make_colorway(order, color="oat")
    sizes = colorway.blocking.pattern.sizes
    sizes.filter(code="8").update(age_group="youth", chest_mm=700)
    sizes.filter(code="S").update(chest_mm=690)
    sizes.filter(code="L").update(chest_mm=800)
    order.sizes.set(sizes.filter(code__in=["8", "M"]))
    order.free_blocks.set(colorway.blocking.blocks.filter(code="YK"))
    make_jacket_order(
        order, "Wren", size="8", own={"YK": "spruce"}, name_on_jacket="WREN", discount="3.00"
    )
    make_jacket_order(order, "Pip", size="M")
    return order


@pytest.mark.django_db
def test_an_order_is_made_again_with_look_choices_price_and_members() -> None:
    old = youth_order()
    made = TeamOrder.objects.get(pk=repeat(old, facts(), by=None).pk)
    assert (made.state, made.repeats, made.club) == ("draft", old, old.club)
    assert (made.price, made.payer, made.welcome) == (Decimal("89.00"), "members", "Hello")
    assert (made.names_allowed, made.erase_after_days) == (False, 30)
    assert (str(made.deadline), str(made.closes_on)) == ("2099-09-01", "2099-08-01")
    assert set(made.palette.all()) == set(old.palette.all())
    assert [block.code for block in made.free_blocks.all()] == ["YK"]
    colorway = made.colorways.get()
    assert colorway.name == "Harbor" and colorway != old.colorways.get()
    assert {(fill.block.code, fill.fabric_color.name) for fill in colorway.fills.all()} == {
        ("YK", "oat"),
        ("BD", "oat"),
    }
    wren = made.jacket_orders.get(member="Wren")
    assert (wren.size.code, wren.name_on_jacket, wren.colorway) == ("8", "WREN", colorway)
    assert [(own.block.code, own.fabric_color.name) for own in wren.choices.all()] == [
        ("YK", "spruce")
    ]


@pytest.mark.django_db
def test_what_belongs_to_the_earlier_order_is_not_copied() -> None:
    old = youth_order()
    made = TeamOrder.objects.get(pk=repeat(old, facts(), by=None).pk)
    assert made.discount == 0 and made.jacket_orders.get(member="Wren").discount == 0
    assert made.handed_over_on is None and not made.links.exists()
    assert old.jacket_orders.count() == 2 and old.colorways.get().jacket_orders.count() == 2


@pytest.mark.django_db
def test_only_who_stays_is_taken_over_and_youth_grow_on_request() -> None:
    old = youth_order()
    wren = old.jacket_orders.filter(member="Wren")
    made = repeat(old, facts(staying=tuple(wren), step_up=True), by=None)
    assert [(line.member, line.size.code) for line in made.jacket_orders.all()] == [("Wren", "L")]
    assert {size.code for size in made.sizes.all()} == {"8", "M", "L"}, "L is on offer by now"


@pytest.mark.django_db
def test_the_roster_is_copied_without_those_who_left() -> None:
    old = youth_order()
    for name in ("wren", "Pip", "Ona"):
        Expected.objects.create(team_order=old, name=name)
    wren = old.jacket_orders.filter(member="Wren")
    made = repeat(old, facts(staying=tuple(wren)), by=None)
    assert [one.name for one in made.expected.all()] == ["Ona", "wren"]
    assert [one.expected.name for one in answers_of(made).missing] == ["Ona"]
    assert old.expected.count() == 3


@pytest.mark.django_db
def test_both_orders_tell_of_it() -> None:
    old = youth_order()
    made = repeat(old, facts(step_up=True), by=None)
    told = list(made.amendments.values_list("words", flat=True))
    assert "repeats TQ-99A with 2 jackets, youth sizes one step up" in told
    assert "added Wren, L, Harbor" in told
    assert old.amendments.get().words == "ordered again as TQ-99B"


@pytest.mark.django_db
def test_a_taken_code_stores_nothing() -> None:
    old = youth_order()
    with pytest.raises(OrderError, match="Another team order is called tq-99a"):
        repeat(old, facts(code="tq-99a"), by=None)
    assert TeamOrder.objects.count() == 1 and not old.amendments.exists()


def page(code: str) -> str:
    return reverse("keeping:repeat", args=[code])


def test_the_page_ticks_everyone_and_takes_those_still_ticked(maker: Client) -> None:
    old = youth_order()
    shown = maker.get(page(old.code)).content.decode()
    assert shown.count("checked") == 2 and "Pip, M, Harbor" in shown
    pip = old.jacket_orders.get(member="Pip")
    form = {"title": "Autumn", "deadline": "2099-09-01", "staying": [pip.pk]}
    response = maker.post(page(old.code), form)
    made = TeamOrder.objects.exclude(pk=old.pk).get()
    assert response.headers["Location"] == made.get_absolute_url()
    assert [line.member for line in made.jacket_orders.all()] == ["Pip"]


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("deadline", "2001-01-01", "The deadline is past"),
        ("closes_on", "2001-01-01", "The closing day is past"),
        ("closes_on", "2099-09-02", "name an earlier closing day"),
        ("code", "TQ-99A", "Another team order is called TQ-99A."),
        ("staying", ["999"], "Select a valid choice"),
    ],
)
def test_a_bad_answer_is_told_by_the_field(
    maker: Client, field: str, value: object, message: str
) -> None:
    old = youth_order()
    form = {"title": "Autumn", "deadline": "2099-09-01", "code": "X-1"} | {field: value}
    response = maker.post(page(old.code), form)
    assert message in " ".join(response.context["form"].errors[field])
    assert TeamOrder.objects.count() == 1


def test_a_jacket_of_another_order_cannot_be_smuggled_in(maker: Client) -> None:
    old, other = youth_order(), make_jacket_order(make_team_order(club=make_club()))
    form = {"title": "Autumn", "deadline": "2099-09-01", "staying": [other.pk]}
    assert maker.post(page(old.code), form).context["form"].errors["staying"]


def test_erased_members_are_not_taken_over(maker: Client) -> None:
    old = youth_order()
    TeamOrder.objects.update(erased_at=timezone.now())
    assert "Wren" not in maker.get(page(old.code)).content.decode()
    maker.post(page(old.code), {"title": "Autumn", "deadline": "2099-09-01"})
    assert not TeamOrder.objects.exclude(pk=old.pk).get().jacket_orders.exists()


def test_a_cancelled_order_can_be_ordered_again(maker: Client) -> None:
    old = youth_order()
    TeamOrder.objects.update(state=TeamOrder.State.CANCELLED)
    maker.post(page(old.code), {"title": "Autumn", "deadline": "2099-09-01"})
    assert TeamOrder.objects.exclude(pk=old.pk).get().state == "draft"
