"""Writing team orders: what is stored, what is refused, and the amendment left in words."""

from __future__ import annotations

from datetime import date
from io import BytesIO
from typing import Any

import pytest

from orders import services
from orders.errors import OrderError, OrderFrozenError, RosterError
from orders.facts import ColorwayFacts, JacketFacts, TeamOrderFacts
from orders.models import Amendment, BlockChoice, Club, Colorway, JacketOrder, TeamOrder
from orders.roster_file import Table, read_table
from orders.roster_store import Differing, take_roster
from tests.factories import (
    FAR_OFF,
    make_blocking,
    make_club,
    make_colorway,
    make_fabric_color,
    make_jacket_order,
    make_maker,
    make_pattern,
    make_team_order,
)

pytestmark = pytest.mark.django_db


def last_words(team_order: TeamOrder) -> str:
    return team_order.amendments.all()[0].words


def order_facts(**overrides: object) -> TeamOrderFacts:
    values: dict[str, Any] = {
        "code": "TQ-99A",
        "club": Club(name="Tern Quay"),
        "title": "jackets",
        "deadline": FAR_OFF,
        "palette": (make_fabric_color("spruce"), make_fabric_color("oat")),
    }
    return TeamOrderFacts(**values | overrides)


def colorway_facts(colorway: Colorway, **overrides: object) -> ColorwayFacts:
    values: dict[str, Any] = {
        "name": colorway.name,
        "blocking": colorway.blocking,
        "zipper_color": colorway.zipper_color,
        "topstitch_thread": colorway.topstitch_thread,
        "fills": {fill.block: fill.fabric_color for fill in colorway.fills.all()},
    }
    return ColorwayFacts(**values | overrides)


def jacket_facts(jacket_order: JacketOrder, **overrides: object) -> JacketFacts:
    values: dict[str, Any] = {
        "member": jacket_order.member,
        "size": jacket_order.size,
        "colorway": jacket_order.colorway,
        "choices": {own.block: own.fabric_color for own in jacket_order.choices.all()},
    }
    return JacketFacts(**values | overrides)


def roster(text: str) -> Table:
    return read_table(BytesIO(text.encode()), "roster.csv")


def test_a_new_order_stores_its_club_and_palette() -> None:
    maker = make_maker()
    made = services.create_team_order(order_facts(contact="the coach"), by=maker)
    assert (made.club.name, made.club.contact) == ("Tern Quay", "the coach")
    assert {color.name for color in made.palette.all()} == {"spruce", "oat"}
    assert made.amendments.get().by == maker
    assert last_words(made) == "opened for Tern Quay, wanted by 2099-03-14"


def test_two_orders_cannot_share_a_code_in_any_case() -> None:
    make_team_order("tq-99a")
    with pytest.raises(OrderError, match="Another team order is called TQ-99A") as caught:
        services.create_team_order(order_facts(), by=None)
    assert caught.value.field == "code"
    assert not Club.objects.filter(name="Tern Quay").exists()


def test_an_update_tells_each_change() -> None:
    order = make_team_order("A-1", club=make_club("Old"), palette=("spruce",))
    services.update_team_order(
        order, order_facts(code="A-2", club=make_club("New"), deadline=date(2099, 4, 1)), by=None
    )
    assert last_words(order) == (
        "code A-1 to A-2; club Old to New; deadline 2099-03-14 to 2099-04-01; "
        "palette spruce to oat, spruce"
    )


def test_saving_without_a_change_leaves_no_amendment() -> None:
    order = make_team_order()
    jacket = make_jacket_order(order)
    services.update_jacket_order(jacket, jacket_facts(jacket), by=None)
    services.update_colorway(jacket.colorway, colorway_facts(jacket.colorway), by=None)
    assert not order.amendments.exists()


def test_a_color_in_use_stays_in_the_palette() -> None:
    order = make_team_order(palette=("spruce", "oat", "slate"))
    make_jacket_order(order, own={"YK": "oat"})
    with pytest.raises(OrderError, match="oat, spruce stays in the palette"):
        services.update_team_order(
            order, order_facts(palette=(make_fabric_color("slate"),)), by=None
        )


def test_deleting_an_order_takes_its_rows_along_and_leaves_its_story() -> None:
    kept = make_jacket_order(make_team_order())
    order = make_team_order()
    code = order.code
    make_jacket_order(order, colorway=make_colorway(order), own={"YK": "oat"})
    services.delete_team_order(order, by=None)
    assert list(TeamOrder.objects.all()) == [kept.team_order]
    assert list(JacketOrder.objects.all()) == [kept]
    assert not BlockChoice.objects.exists()
    (told,) = Amendment.objects.filter(team_order__isnull=True)
    assert told.deleted_order == code
    assert told.words.startswith("deleted ") and told.words.endswith("with 1 jacket")


def test_a_colorway_colors_every_block() -> None:
    order = make_team_order()
    blocking = make_blocking(blocks=("YK", "BD"))
    yoke = blocking.blocks.get(code="YK")
    facts = ColorwayFacts("Harbor", blocking, "spruce", None, {yoke: make_fabric_color("oat")})
    with pytest.raises(OrderError, match="gives no color to BD BD part"):
        services.add_colorway(order, facts, by=None)
    assert not order.colorways.exists()


def test_a_colorway_keeps_to_the_palette() -> None:
    order = make_team_order(palette=("spruce",))
    colorway = make_colorway(order)
    fills = {block: make_fabric_color("teal") for block in colorway.blocking.blocks.all()}
    with pytest.raises(OrderError, match="teal is not in the palette"):
        services.update_colorway(colorway, colorway_facts(colorway, fills=fills), by=None)


def test_a_changed_colorway_tells_its_blocks() -> None:
    colorway = make_colorway(make_team_order(palette=("spruce", "oat")))
    yoke = colorway.blocking.blocks.get(code="YK")
    facts = colorway_facts(colorway, name="Dawn")
    fills = {**facts.fills, yoke: make_fabric_color("oat")}
    services.update_colorway(colorway, colorway_facts(colorway, name="Dawn", fills=fills), by=None)
    assert last_words(colorway.team_order) == (
        "colorway Harbor: name Harbor to Dawn; YK spruce to oat"
    )
    assert colorway.fills.get(block=yoke).fabric_color.name == "oat"


def test_two_colorways_of_an_order_differ_in_name() -> None:
    order = make_team_order()
    make_colorway(order, "Ørsted")
    other = make_colorway(order, "Dawn")
    with pytest.raises(OrderError, match="has a colorway ørsted already"):
        services.update_colorway(other, colorway_facts(other, name="ørsted"), by=None)


def test_a_colorway_in_use_is_not_deleted() -> None:
    jacket = make_jacket_order(make_team_order())
    with pytest.raises(OrderError, match="Harbor is the colorway of 1 jacket;"):
        services.delete_colorway(jacket.colorway, by=None)
    assert Colorway.objects.get() == jacket.colorway


def test_an_added_jacket_is_told_in_words() -> None:
    order = make_team_order()
    colorway = make_colorway(order)
    size = colorway.blocking.pattern.sizes.get(code="M")
    services.add_jacket_order(order, JacketFacts("Wren Calder", size, colorway), by=None)
    assert last_words(order) == "added Wren Calder, M, Harbor"
    assert order.amendments.get().member == "Wren Calder"


def test_a_changed_jacket_tells_size_colorway_and_own_colors() -> None:
    order = make_team_order()
    jacket = make_jacket_order(order, size="M")
    dawn = make_colorway(order, "Dawn")
    yoke = dawn.blocking.blocks.get(code="YK")
    facts = jacket_facts(
        jacket,
        size=dawn.blocking.pattern.sizes.get(code="L"),
        colorway=dawn,
        choices={yoke: make_fabric_color("oat")},
    )
    services.update_jacket_order(jacket, facts, by=None)
    assert last_words(order) == "size M to L; colorway Harbor to Dawn; YK as colorway to oat"


def test_a_choice_like_the_colorway_is_no_choice() -> None:
    jacket = make_jacket_order(make_team_order())
    yoke = jacket.colorway.blocking.blocks.get(code="YK")
    facts = jacket_facts(jacket, choices={yoke: make_fabric_color("spruce")})
    services.update_jacket_order(jacket, facts, by=None)
    assert not jacket.choices.exists()


def test_a_member_has_one_jacket_in_an_order() -> None:
    order = make_team_order()
    first = make_jacket_order(order, "Åsa Lind")
    with pytest.raises(OrderError, match="has a jacket in this order already") as caught:
        services.add_jacket_order(order, jacket_facts(first, member="åsa lind"), by=None)
    assert caught.value.field == "member"


def test_a_size_of_another_pattern_is_refused() -> None:
    jacket = make_jacket_order(make_team_order())
    foreign = make_pattern("P2", ("XL",)).sizes.get()
    with pytest.raises(OrderError, match="Harbor is not made in size XL"):
        services.update_jacket_order(jacket, jacket_facts(jacket, size=foreign), by=None)


def test_a_deleted_jacket_leaves_its_words() -> None:
    order = make_team_order()
    services.delete_jacket_order(make_jacket_order(order, "Wren", size="S"), by=None)
    assert not order.jacket_orders.exists()
    assert last_words(order) == "removed Wren, S, Harbor"


def test_a_roster_is_stored_with_own_colors_and_told() -> None:
    order = make_team_order(palette=("spruce", "oat"))
    make_colorway(order)
    table = roster(
        "member,size,colorway,note,block:YK,block:BD\n"
        "Wren,8,Harbor,tall,oat,spruce\nPip,M,Harbor,,,\n"
    )
    assert take_roster(order, table, "roster.csv", by=None).added == 2
    wren = order.jacket_orders.get(member="Wren")
    assert (wren.size.code, wren.note) == ("8", "tall")
    assert [(own.block.code, own.fabric_color.name) for own in wren.choices.all()] == [
        ("YK", "oat")
    ]
    assert last_words(order) == "took 2 jackets from roster.csv"
    assert order.amendments.filter(member="Pip").get().words == "added Pip, M, Harbor"


def test_one_bad_row_stores_nothing() -> None:
    order = make_team_order()
    make_colorway(order)
    with pytest.raises(RosterError) as caught:
        take_roster(
            order, roster("member,size,colorway\nWren,M,Harbor\nPip,Q,Harbor\n"), "r", by=None
        )
    assert [problem.row for problem in caught.value.problems] == [3]
    assert not order.jacket_orders.exists() and not order.amendments.exists()


def test_the_same_roster_twice_changes_nothing() -> None:
    order = make_team_order()
    make_colorway(order)
    table = roster("member,size,colorway,block:YK\nWren,M,Harbor,oat\nPip,S,Harbor,spruce\n")
    take_roster(order, table, "r", by=None)
    written = Amendment.objects.count()
    again = take_roster(order, table, "r", by=None, differing=Differing.CHANGE)
    assert (again.unchanged, again.added, again.changed) == (2, 0, 0)
    assert order.jacket_orders.count() == 2 and Amendment.objects.count() == written


def test_a_dry_run_stores_nothing() -> None:
    order = make_team_order()
    make_colorway(order)
    table = roster("member,size,colorway\nWren,M,Harbor\n")
    assert take_roster(order, table, "r", by=None, dry_run=True).added == 1
    assert not order.jacket_orders.exists() and not order.amendments.exists()


def test_freeze_puts_the_order_into_production_once() -> None:
    order = make_team_order()
    make_jacket_order(order)
    services.freeze(order, None)
    assert order.state == TeamOrder.objects.get().state == TeamOrder.State.IN_PRODUCTION
    assert (
        last_words(order) == "frozen for production with 1 jacket, without an approval: it was open"
    )
    with pytest.raises(OrderFrozenError):
        services.freeze(order, None)
    assert Amendment.objects.count() == 1


def test_an_empty_order_is_not_frozen() -> None:
    order = make_team_order()
    make_colorway(order)
    with pytest.raises(OrderError, match="has no jacket yet"):
        services.freeze(order, None)
    assert TeamOrder.objects.get().is_editable


def test_an_order_with_an_uncolored_block_is_not_frozen() -> None:
    jacket = make_jacket_order(make_team_order())
    jacket.colorway.fills.get(block__code="BD").delete()
    with pytest.raises(OrderError, match="Colorway Harbor gives no color to BD BD part"):
        services.freeze(jacket.team_order, None)
    assert TeamOrder.objects.get().is_editable


def test_a_frozen_order_refuses_every_write_even_from_an_older_page() -> None:
    stale = make_team_order()
    jacket = make_jacket_order(stale)
    unused = make_colorway(stale, "Dawn")
    TeamOrder.objects.update(state=TeamOrder.State.IN_PRODUCTION)
    table = roster("member,size,colorway\nPip,M,Harbor\n")
    writes = [
        lambda: services.update_team_order(stale, order_facts(), by=None),
        lambda: services.delete_team_order(stale, by=None),
        lambda: services.add_colorway(stale, colorway_facts(unused, name="New"), by=None),
        lambda: services.update_colorway(unused, colorway_facts(unused, name="New"), by=None),
        lambda: services.delete_colorway(unused, by=None),
        lambda: services.add_jacket_order(stale, jacket_facts(jacket, member="Pip"), by=None),
        lambda: services.update_jacket_order(jacket, jacket_facts(jacket, note="x"), by=None),
        lambda: services.delete_jacket_order(jacket, by=None),
        lambda: take_roster(stale, table, "r", by=None),
    ]
    for write in writes:
        with pytest.raises(OrderFrozenError, match="needs a supplement"):
            write()
    assert not Amendment.objects.exists()
    assert JacketOrder.objects.count() == 1 and Colorway.objects.count() == 2
