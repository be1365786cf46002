"""The demo is true: what is past cutting was cut, from cloth that was there."""

from __future__ import annotations

from collections import Counter

import pytest

from orders.models import TeamOrder
from orders.states import State
from production.change_state import supplements_check
from production.cloth import lots_with_lengths
from production.cut_counts import ready_jackets
from production.demo import make_demo
from production.demo_orders import DEMO_BOUGHT, DEMO_ORDERS, YOUTH
from production.models import CutTicket, Flaw, Jacket, LayPly, Run, SpoiledPiece, StageEvent
from production.queries import orders_to_plan
from production.recuts import make_recut
from production.services import plan_run_for

pytestmark = pytest.mark.django_db


def test_the_demo_is_true_and_can_be_made_anew_after_somebody_played_with_it():
    make_demo()
    run = Run.objects.get()
    assert_everything_is_cut(run)
    assert_one_piece_waits(run)
    assert_the_next_order_can_be_planned(run)
    make_recut(run, None)
    make_demo()
    assert Run.objects.count() == 1
    assert TeamOrder.objects.count() == len(DEMO_ORDERS)
    assert_everything_is_cut(Run.objects.get())


def assert_everything_is_cut(run: Run) -> None:
    plies = LayPly.objects.all()
    assert plies and not plies.filter(cut_at=None).exists()
    assert not plies.filter(lot=None).exists()
    assert all(vars(lot)["left_mm"] >= 0 for lot in lots_with_lengths())
    assert Flaw.objects.exists()
    assert Counter(run.jackets.values_list("stage", flat=True)) == {
        "cut": 30,
        "sew": 12,
        "finish": 4,
        "hand_over": 2,
        "handed_over": 2,
    }
    last_ply = max(ply.cut_at for ply in plies if ply.cut_at)
    assert last_ply <= StageEvent.objects.earliest("at").at
    assert len(ready_jackets(run)) == 30
    check = supplements_check(run)
    assert check and check.holds


def assert_one_piece_waits(run: Run) -> None:
    piece = SpoiledPiece.objects.waiting().get()
    assert piece.jacket.stage == Jacket.Stage.SEW
    assert piece.recut is None


def assert_the_next_order_can_be_planned(run: Run) -> None:
    order = orders_to_plan().get(code=YOUTH.code)
    assert order.state == State.APPROVED
    assert [row.words for row in order.amendments.order_by("pk")][1:] == ["form closed", "approved"]
    ages = {line.size.age_group for line in order.jacket_orders.select_related("size")}
    assert ages == {"youth", "adult"}
    plan = plan_run_for([order], None).plan or {}
    from_stock = sum(ticket["from_stock_mm"] for ticket in plan["cut_tickets"])
    assert from_stock > 0 and sum(ticket["to_buy_mm"] for ticket in plan["cut_tickets"]) > 0
    assert {color for _, color, *_ in DEMO_BOUGHT} == set(
        CutTicket.objects.filter(run=run).values_list("fabric_color__code", flat=True)
    )
