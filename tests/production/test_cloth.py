"""Cloth as a ledger: what comes, is planned on, cut, counted and set aside."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from patterns.models import FabricColor
from production.models import CutTicket, Lay, LayPly, Run, StockLot, StockMovement
from production.planning.cloth.bolts import ClothUse, PlySpread
from production.services import load_snapshot
from production.stock.cloth import (
    ClothError,
    bolts_on_hand,
    give_back,
    plan_plies,
    receive,
    take_for,
    with_bolts_again,
)
from production.stock.cloth_upkeep import add_flaw, count_anew, set_aside
from tests.production.run_factories import make_run

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def run() -> Run:
    return make_run()


def make_lot(code: str = "B-1", length_mm: int = 5000, **values: Any) -> StockLot:
    return receive(
        **{
            "code": code,
            "fabric_color": FabricColor.objects.get(code="spruce"),
            "dye_lot": "lot-1",
            "length_mm": length_mm,
            "received_on": datetime.date(2026, 11, 2),
            "by": None,
            **values,
        }
    )


def make_lay(code: str = "R-0001-T9-L1") -> Lay:
    run = Run.objects.get()
    ticket, _ = CutTicket.objects.get_or_create(
        run=run,
        code=code.rpartition("-")[0],
        defaults={
            "fabric_color": FabricColor.objects.get(code="spruce"),
            "supplement": run.supplements.create(
                team_order=run.run_orders.get().team_order,
                number=1 + run.supplements.count(),
                plan={"cut": run.plan},
            ),
            "position": 9,
        },
    )
    return Lay.objects.create(
        ticket=ticket,
        code=code,
        position=0,
        mode="face_up",
        plies=4,
        usable_width_mm=1400,
        length_mm=900,
        placements=[],
    )


def plan(lay: Lay, *stretches: tuple[str | None, int | None, int]) -> list[LayPly]:
    first = lay.ply_rows.count() + 1
    spreads = [
        PlySpread(lay.code, number, bolt, start_mm, takes_mm)
        for number, (bolt, start_mm, takes_mm) in enumerate(stretches, start=first)
    ]
    plan_plies({lay.code: lay}, ClothUse(tuple(spreads), 0, 0))
    return list(lay.ply_rows.filter(number__gte=first))


def cut(ply: LayPly) -> None:
    take_for(ply, None)
    ply.cut_at = timezone.now()
    ply.save(update_fields=["cut_at"])


def free(code: str = "B-1") -> list[tuple[int, int]]:
    return [(bolt.start_mm, bolt.end_mm) for bolt in bolts_on_hand() if bolt.code == code]


def left(code: str = "B-1") -> int:
    return sum(StockMovement.objects.filter(lot__code=code).values_list("mm", flat=True))


def test_all_that_came_is_free() -> None:
    make_lot()
    assert (free(), left()) == ([(0, 5000)], 5000)


def test_a_bolt_is_as_wide_as_its_fabric_unless_told() -> None:
    assert make_lot().usable_width_mm == 1400
    assert make_lot("B-2", usable_width_mm=900).usable_width_mm == 900


def test_planned_plies_are_reserved_and_the_book_is_unchanged() -> None:
    make_lot()
    plan(make_lay(), ("B-1", 0, 1000), ("B-1", 1200, 1000), (None, None, 1000))
    assert (free(), left()) == ([(1000, 1200), (2200, 5000)], 5000)


def test_cutting_takes_the_skipped_bit_along() -> None:
    make_lot()
    first, second = plan(make_lay(), ("B-1", 0, 1000), ("B-1", 1200, 1000))
    cut(first)
    assert (free(), left()) == ([(1000, 1200), (2200, 5000)], 4000)
    cut(second)
    assert (free(), left()) == ([(2200, 5000)], 2800)


def test_a_report_taken_back_gives_all_of_it_back() -> None:
    make_lot()
    [ply] = plan(make_lay(), ("B-1", 300, 1000))
    cut(ply)
    assert left() == 3700
    give_back(ply, None)
    assert left() == 5000


def test_nothing_is_cut_that_is_not_there() -> None:
    lot = make_lot()
    [ply] = plan(make_lay(), ("B-1", 0, 3000))
    StockMovement.objects.create(lot=lot, kind="counted", mm=-3000, reason="moths")
    with pytest.raises(ClothError, match=r"B-1 has 2\.00 m left.* takes 3\.00 m.*Nothing was"):
        take_for(ply, None)
    assert left() == 2000


def test_two_plans_never_get_the_same_stretch() -> None:
    make_lot()
    lay = make_lay()
    plan(lay, ("B-1", 0, 1000))
    with pytest.raises(ClothError, match="planned on meanwhile"):
        plan(lay, ("B-1", 999, 1000))
    with pytest.raises(ClothError, match="does not fit any more"):
        plan(lay, ("B-1", 4500, 501))
    assert lay.ply_rows.count() == 1


def test_a_ticket_planned_again_may_use_its_own_cloth() -> None:
    make_lot()
    mine, other = make_lay(), make_lay("R-0001-T8-L1")
    plan(mine, ("B-1", 0, 1000))
    plan(other, ("B-1", 1000, 1000))
    found = [(b.start_mm, b.end_mm) for b in bolts_on_hand(leaving_out=[mine.ticket])]
    assert found == [(0, 1000), (2000, 5000)]
    snapshot = with_bolts_again(load_snapshot(mine.ticket.run), [mine.ticket])
    assert [(b.start_mm, b.end_mm) for b in snapshot.bolts] == found


def test_a_used_up_bolt_is_not_offered() -> None:
    make_lot(length_mm=1000)
    [ply] = plan(make_lay(), ("B-1", 0, 1000))
    cut(ply)
    assert free() == []


def test_cloth_is_read_in_few_queries_however_many_bolts() -> None:
    for number in range(12):
        lot = make_lot(f"B-{number}")
        add_flaw(lot, at_mm=10, across_mm=10, length_mm=10, width_mm=10)
    with CaptureQueriesContext(
        connection,
    ) as queries:
        assert len(list(bolts_on_hand())) == 12
    assert len(queries) == 3


# Counting


def test_a_count_is_a_movement_with_its_reason() -> None:
    lot = make_lot()
    counted = count_anew(lot, left_mm=4600, reason=" label said more ", by=None)
    assert counted.more_mm == -400
    movement = lot.movements.latest("pk")
    assert (movement.kind, movement.mm, movement.reason) == ("counted", -400, "label said more")
    assert (free(), left()) == ([(0, 4600)], 4600)


def test_a_count_as_in_the_book_writes_nothing() -> None:
    lot = make_lot()
    assert count_anew(lot, left_mm=5000, reason="to be sure", by=None).more_mm == 0
    assert lot.movements.count() == 1


def test_a_count_behind_a_skipped_bit_finds_the_same_end() -> None:
    lot = make_lot()
    [ply] = plan(make_lay(), ("B-1", 300, 1000))
    cut(ply)
    count_anew(lot, left_mm=3600, reason="measured", by=None)
    assert free() == [(1300, 4900)]


def test_plies_on_cloth_that_is_not_there_are_to_be_bought() -> None:
    lot = make_lot()
    kept, lost = plan(make_lay(), ("B-1", 0, 1000), ("B-1", 1000, 1000))
    counted = count_anew(lot, left_mm=1500, reason="short", by=None)
    assert counted.without_cloth == (lost,)
    lost.refresh_from_db()
    kept.refresh_from_db()
    assert (lost.lot, lost.start_mm, kept.lot) == (None, None, lot)


@pytest.mark.parametrize(
    ("left_mm", "reason", "field"), [(-1, "odd", "left_mm"), (4000, "  ", "reason")]
)
def test_a_count_needs_a_length_and_a_reason(left_mm: int, reason: str, field: str) -> None:
    lot = make_lot()
    with pytest.raises(ClothError) as refused:
        count_anew(lot, left_mm=left_mm, reason=reason, by=None)
    assert refused.value.field == field
    assert left() == 5000


# Remnants


def test_a_remnant_is_the_inner_end_with_its_flaws() -> None:
    lot = make_lot()
    plan(make_lay(), ("B-1", 0, 1000))
    for at_mm in (500, 3950, 4200):
        add_flaw(lot, at_mm=at_mm, across_mm=600, length_mm=100, width_mm=50)
    remnant = set_aside(lot, code="R-1", length_mm=1000, by=None, usable_width_mm=640)
    assert (remnant.dye_lot, remnant.is_remnant, remnant.cut_from) == ("lot-1", True, lot)
    assert (free(), left(), free("R-1"), left("R-1")) == (
        [(1000, 4000)],
        4000,
        [(0, 1000)],
        1000,
    )
    assert list(lot.flaws.values_list("at_mm", "length_mm")) == [(500, 100), (3950, 50)]
    flaws = remnant.flaws.values_list("at_mm", "length_mm", "width_mm")
    assert list(flaws) == [(0, 50, 40), (200, 100, 40)]


def test_a_remnant_takes_nothing_that_is_planned() -> None:
    lot = make_lot()
    plan(make_lay(), ("B-1", 1000, 3500))
    with pytest.raises(ClothError, match=r"Behind the last planned ply B-1 has 0\.50 m free"):
        set_aside(lot, code="R-1", length_mm=501, by=None)
    assert not StockLot.objects.filter(code="R-1").exists()


def test_a_remnant_has_a_code_of_its_own_and_is_no_wider_than_its_bolt() -> None:
    lot = make_lot()
    with pytest.raises(ClothError, match="B-1 is a lot of spruce already"):
        set_aside(lot, code="B-1", length_mm=500, by=None)
    with pytest.raises(ClothError, match="no wider than its bolt"):
        set_aside(lot, code="R-1", length_mm=500, by=None, usable_width_mm=1401)
    assert left() == 5000


# What comes, and its flaws


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"code": "B-1"}, "code"),
        ({"length_mm": 0}, "length_mm"),
        ({"usable_width_mm": 0}, "usable_width_mm"),
    ],
)
def test_cloth_that_cannot_be_is_refused(values: dict[str, Any], field: str) -> None:
    make_lot()
    with pytest.raises(ClothError) as refused:
        make_lot(**{"code": "B-2", **values})
    assert refused.value.field == field
    assert StockLot.objects.count() == 1


FLAW: dict[str, Any] = {"at_mm": 100, "across_mm": 100, "length_mm": 10, "width_mm": 10}


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"at_mm": 4991}, "at_mm"),
        ({"at_mm": -1}, "at_mm"),
        ({"across_mm": 1391}, "across_mm"),
        ({"length_mm": 0}, "length_mm"),
        ({"width_mm": 0}, "width_mm"),
    ],
)
def test_a_flaw_lies_on_its_bolt(values: dict[str, int], field: str) -> None:
    lot = make_lot()
    with pytest.raises(ClothError) as refused:
        add_flaw(lot, **{**FLAW, **values})
    assert refused.value.field == field
    assert not lot.flaws.exists()


def test_a_flaw_found_late_names_the_plies_over_it() -> None:
    lot = make_lot()
    before, over, behind = plan(
        make_lay(), ("B-1", 0, 1000), ("B-1", 1000, 1000), ("B-1", 2000, 1000)
    )
    assert add_flaw(lot, **{**FLAW, "at_mm": 1990}) == (over,)
    assert add_flaw(lot, **{**FLAW, "at_mm": 995}) == (before, over)
    assert add_flaw(lot, **{**FLAW, "at_mm": 3000}) == ()
    assert [flaw.at_mm for bolt in bolts_on_hand() for flaw in bolt.flaws] == [3000]
    assert behind.lot == lot


def test_who_did_it_is_kept() -> None:
    maker = User.objects.create_user("maker")
    lot = make_lot(by=maker)
    count_anew(lot, left_mm=1, reason="cut for a sample", by=maker)
    assert {movement.by for movement in lot.movements.all()} == {maker}
