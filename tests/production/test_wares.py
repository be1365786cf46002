"""The ledger of wares: it only grows, never goes below zero, and serves one run after another."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from patterns.models import Notion, NotionSize, ThreadColor, Zipper
from patterns.services import workroom
from production.errors import ProductionError
from production.models import Jacket, Run, Ware, WareMovement
from production.needs.run_needs import Want, reserved_by_earlier
from production.stock import wares
from production.stock.shelf_queries import shelf
from production.stock.ware_catalog import Catalog, ware_for
from production.stock.wares import Drawn, WareError
from tests.production.run_factories import make_person
from tests.production.shopping_factories import (
    ELASTIC,
    SPOOLS,
    ZIPPERS,
    at_once,
    count_on_needs,
    line_of,
    make_stocked_run,
    put_on_shelf,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def run(db: None, monkeypatch: pytest.MonkeyPatch) -> Run:
    count_on_needs(monkeypatch)
    return make_stocked_run()


def moves(ware: Ware) -> list[tuple[str, int]]:
    return [(move.kind, int(move.quantity)) for move in ware.movements.all()]


# Keys


@pytest.mark.parametrize(
    ("key", "unit", "name", "price"),
    [
        (SPOOLS, "spool", "thread spruce, spool", "4"),
        ("thread:thread-spruce:cone", "cone", "thread spruce, cone", "9.80"),
        (ZIPPERS, "piece", "separating zipper black, 60 cm", "2"),
        (
            "zipper:black:600:made-575",
            "piece",
            "separating zipper black, 60 cm made to 57.5 cm",
            "2.80",
        ),
        (ELASTIC, "m", "hem elastic", "1.20"),
        ("notion:label", "piece", "label", "0.08"),
        ("notion:label:M", "piece", "label, size M", "0.08"),
    ],
)
def test_a_key_names_what_is_sold(key: str, unit: str, name: str, price: str) -> None:
    workroom()
    ThreadColor.objects.update(cone_m=5000, price_per_cone=Decimal("9.80"))
    Notion.objects.create(code="label", name="label", rule="jacket", price=Decimal("0.08"))
    sold = Catalog().sold(key)
    assert (sold.unit, sold.name, sold.price) == (unit, name, Decimal(price))
    assert (ware_for(key).unit, ware_for(key).pk) == (unit, ware_for(key).pk)
    assert Ware.objects.filter(key=key).count() == 1


@pytest.mark.parametrize(
    "key",
    [
        "thread:red:spool",
        "thread:thread-spruce:box",
        "thread:thread-spruce:cone",  # sold on spools alone
        "zipper:black:650",
        "zipper:black:long",
        "zipper:black:600:575",
        "elastic:waist",
        "notion:label",
        "cloth:spruce",
        "",
    ],
)
def test_a_key_of_nothing_that_is_sold_is_refused(key: str) -> None:
    with pytest.raises(ProductionError, match="Nothing that is sold has the key"):
        ware_for(key)
    assert not Ware.objects.exists()


def test_a_cone_that_costs_nothing_costs_nothing() -> None:
    ThreadColor.objects.update(cone_m=5000, price_per_cone=0)
    assert Catalog().sold("thread:thread-spruce:cone").price == 0


def test_what_is_no_longer_sold_keeps_its_name_and_cannot_be_ordered() -> None:
    sold = Catalog().sold("zipper:teal:600", "zipper teal", "piece")
    assert (sold.name, bool(sold.trouble)) == ("zipper teal", True)
    assert sold.price == 0


def test_the_shelf_lists_each_size_of_a_notion_that_differs_by_size() -> None:
    Notion.objects.create(code="label", name="label", rule="jacket", price=1, differs_by_size=True)
    own = Notion.objects.create(
        code="cord", name="cord", rule="size", price=1, differs_by_size=True
    )
    NotionSize.objects.create(notion=own, size="M", quantity=1)
    keys = [row.key for row in shelf()]
    assert [key for key in keys if key.startswith("notion:label")] == [
        "notion:label:S",
        "notion:label:M",
    ]
    assert [key for key in keys if key.startswith("notion:cord")] == ["notion:cord:M"]


# Movements


def test_the_balance_is_the_sum_of_the_movements(run: Run) -> None:
    spools = put_on_shelf(SPOOLS, 10)
    wares.take(spools, run=run, quantity=Decimal(4), by=None)
    wares.bring_back(run, {SPOOLS: Decimal(1)}, None)
    assert wares.balance(spools) == 7
    assert moves(spools) == [("counted", 10), ("taken", -4), ("brought_back", 1)]
    assert wares.balances() == {SPOOLS: 7}


def test_tenths_add_up_without_a_remainder(run: Run) -> None:
    """In floats 0.1 + 0.2 - 0.3 is more than nothing."""
    elastic = put_on_shelf(ELASTIC, "0.1")
    wares.move(elastic, wares.Kind.RECEIVED, Decimal("0.2"), None)
    wares.take(elastic, run=run, quantity=Decimal("0.3"), by=None)
    assert wares.balance(elastic) == 0


def test_a_stock_below_zero_is_refused_in_words(run: Run) -> None:
    spools = put_on_shelf(SPOOLS, 3)
    with pytest.raises(WareError, match="By the book 3 spools of thread spruce, spool") as refused:
        wares.take(spools, run=run, quantity=Decimal(4), by=None)
    assert "4 spools would go" in str(refused.value)
    assert "Nothing was changed" in str(refused.value)
    assert moves(spools) == [("counted", 3)]


def test_a_count_writes_the_difference_and_why() -> None:
    spools = put_on_shelf(SPOOLS, 10)
    person = make_person()
    assert wares.count(spools, quantity=Decimal(8), reason=" two were empty ", by=person) == -2
    last = spools.movements.latest("pk")
    assert last.quantity == -2
    assert (last.reason, last.by) == ("two were empty", person)
    assert wares.count(spools, quantity=Decimal(8), reason="again", by=None) == 0
    assert spools.movements.count() == 2


@pytest.mark.parametrize(
    ("values", "words", "field"),
    [
        ({"quantity": Decimal(-1), "reason": "gone"}, "never less", "quantity"),
        ({"quantity": Decimal(5), "reason": "  "}, "Say why", "reason"),
        ({"quantity": Decimal("2.5"), "reason": "half"}, "whole spools", "quantity"),
    ],
)
def test_a_wrong_count_is_told_and_nothing_is_written(
    values: dict[str, Any], words: str, field: str
) -> None:
    spools = put_on_shelf(SPOOLS, 2)
    with pytest.raises(WareError, match=words) as refused:
        wares.count(spools, by=None, **values)
    assert refused.value.field == field
    assert moves(spools) == [("counted", 2)]


@pytest.mark.django_db(transaction=True)
def test_two_at_once_cannot_take_the_same_spools(run: Run, tmp_path: Path) -> None:
    spools = put_on_shelf(SPOOLS, 5)

    def take() -> object:
        return wares.take(
            Ware.objects.get(pk=spools.pk), run=Run.objects.get(), quantity=Decimal(3), by=None
        ).quantity

    found = at_once(tmp_path, [take, take])
    assert sorted(isinstance(each, WareError) for each in found) == [False, True]
    assert "By the book 2 spools" in str(next(e for e in found if isinstance(e, WareError)))


# Runs


def test_one_click_takes_all_that_a_run_needs(run: Run) -> None:
    for key in (SPOOLS, ZIPPERS, ELASTIC):
        put_on_shelf(key, 10)
    done = wares.take_for_run(run, make_person())
    assert {move.ware.key: move.quantity for move in done.taken} == {
        SPOOLS: -3,
        ZIPPERS: -2,
        ELASTIC: -3,
    }
    assert not done.missing
    with pytest.raises(WareError, match="has taken all that it needs"):
        wares.take_for_run(run, None)
    assert WareMovement.objects.filter(kind="taken").count() == 3


def test_what_is_missing_is_told_and_taken_once_it_has_come(run: Run) -> None:
    put_on_shelf(SPOOLS, 1)
    assert [(name, int(rest)) for name, rest, _ in wares.take_for_run(run, None).missing] == [
        ("thread spruce", 2),
        ("zipper black", 2),
        ("hem elastic", 3),
    ]
    with pytest.raises(WareError, match="Nothing that R-0001 still needs is free"):
        wares.take_for_run(run, None)
    put_on_shelf(SPOOLS, 9)
    assert [move.quantity for move in wares.take_for_run(run, None).taken] == [-2]


def test_the_allowance_is_taken_along(run: Run) -> None:
    run.snapshot["workroom"]["notion_waste"] = "0.3"
    run.save()
    put_on_shelf(ZIPPERS, 9)
    (zippers,) = wares.take_for_run(run, None).taken
    assert zippers.quantity == -3


def test_a_later_run_leaves_what_an_earlier_one_needs(run: Run) -> None:
    later = make_stocked_run(code="R-0002", order="TO-2")
    put_on_shelf(SPOOLS, 4)
    assert reserved_by_earlier(later)[SPOOLS] == 3
    assert not reserved_by_earlier(run)
    (taken,) = wares.take_for_run(later, None).taken
    assert taken.quantity == -1
    wares.take_for_run(run, None)
    assert SPOOLS not in reserved_by_earlier(later)


@pytest.mark.parametrize(
    "values", [{"stage": "handed_over"}, {"cancelled_at": "2026-11-20T08:00Z"}]
)
def test_a_run_that_is_over_reserves_nothing(run: Run, values: dict[str, str]) -> None:
    later = make_stocked_run(code="R-0002", order="TO-2")
    Jacket.objects.filter(run=run).update(**values)
    assert reserved_by_earlier(later) == {}


def test_a_cancelled_jacket_needs_no_zipper(run: Run) -> None:
    later = make_stocked_run(code="R-0002", order="TO-2")
    run.jackets.filter(code="TO-1-01").update(cancelled_at="2026-11-20T08:00Z")
    assert reserved_by_earlier(later)[ZIPPERS] == 1


@pytest.mark.parametrize(
    ("quantities", "served", "holds"),
    [
        ((), 0, 0),
        ((-10,), 10, 10),
        ((-10, 4), 10, 6),
        ((-10, 10), 0, 0),
        ((-10, 10, -3), 3, 3),
        ((-4, 1, -6), 9, 9),
        ((-4, 2, -1), 4, 3),
    ],
)
def test_what_was_served_is_the_most_that_was_held(
    quantities: tuple[int, ...], served: int, holds: int
) -> None:
    drawn = Drawn()
    for quantity in quantities:
        drawn = drawn.after(Decimal(quantity))
    assert drawn == Drawn(Decimal(served), Decimal(holds))


@pytest.mark.parametrize(
    ("unit", "had", "holds", "still"),
    [
        ("spool", 5, 3, 0),  # all was there: 2 are a rest
        ("spool", 4, 3, 2),  # it never was: the work waits for 2
        ("m", 5, 1, 0),
        ("piece", 6, 5, 0),
        ("piece", 5, 3, 2),  # each jacket takes its piece
    ],
)
def test_only_a_rest_that_was_brought_back_is_not_asked_for_again(
    unit: str, had: int, holds: int, still: int
) -> None:
    want = Want("key", "name", unit, Decimal(5), Decimal(0), Decimal(had), Decimal(holds))
    assert want.still == still


def test_the_zipper_of_a_cancelled_jacket_is_asked_for_again_by_one_that_is_added(run: Run) -> None:
    put_on_shelf(ZIPPERS, 2)
    wares.take_for_run(run, None)
    run.jackets.filter(code="TO-1-01").update(cancelled_at="2026-11-20T08:00Z")
    wares.bring_back(run, {ZIPPERS: Decimal(1)}, None)
    assert line_of(run, ZIPPERS).to_buy == 0
    run.jackets.update(cancelled_at=None)
    put_on_shelf(ZIPPERS, 0)
    assert line_of(run, ZIPPERS).to_buy == 1


def test_a_part_that_was_taken_and_brought_back_is_still_to_buy(run: Run) -> None:
    put_on_shelf(SPOOLS, 2)
    wares.take_for_run(run, None)
    wares.bring_back(run, {SPOOLS: Decimal(2)}, None)
    put_on_shelf(SPOOLS, 3)
    wares.take(ware_for(SPOOLS), run=run, quantity=Decimal(2), by=None)
    wares.bring_back(run, {SPOOLS: Decimal(1)}, None)
    assert [move.quantity for move in wares.take_for_run(run, None).taken] == [-2]


@pytest.mark.parametrize(
    ("back", "words"),
    [
        ({SPOOLS: Decimal(4)}, "holds 3 spools"),
        ({SPOOLS: Decimal(-1)}, "between nothing and that"),
        ({ZIPPERS: Decimal(1)}, "holds 0 pieces"),
        ({SPOOLS: Decimal(0)}, "Say how much"),
        ({SPOOLS: Decimal(1), ZIPPERS: Decimal(1)}, "holds 0 pieces"),
    ],
)
def test_no_more_comes_back_than_a_run_holds(
    run: Run, back: dict[str, Decimal], words: str
) -> None:
    spools = put_on_shelf(SPOOLS, 3)
    wares.take_for_run(run, None)
    with pytest.raises(WareError, match=words):
        wares.bring_back(run, back, None)
    assert moves(spools) == [("counted", 3), ("taken", -3)]


def test_the_same_rest_sent_twice_comes_back_once(run: Run) -> None:
    spools = put_on_shelf(SPOOLS, 3)
    wares.take_for_run(run, None)
    seen = wares.mark_of(run)
    wares.bring_back(run, {SPOOLS: Decimal(1)}, None, seen=seen)
    with pytest.raises(WareError, match="meanwhile"):
        wares.bring_back(run, {SPOOLS: Decimal(1)}, None, seen=seen)
    assert wares.balance(spools) == 1


def test_zippers_made_to_length_are_on_the_shelf_once_they_moved() -> None:
    key = "zipper:black:600:made-575"
    assert key not in {row.key for row in shelf()}
    put_on_shelf(key, 2)
    (row,) = (row for row in shelf() if row.key == key)
    assert [int(each) for each in (row.on_hand, row.free, row.short)] == [2, 2, 0]


def test_a_thing_that_is_no_longer_sold_stays_on_the_shelf() -> None:
    put_on_shelf(ZIPPERS, 2)
    with pytest.raises(Exception, match="protected"):
        Zipper.objects.all().delete()
