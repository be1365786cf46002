"""The demo is true: what is past cutting was cut, from cloth that was there."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from orders.models import TeamOrder
from orders.states import State
from patterns.models import FabricColor, Supplier
from production.buying.purchases import Bolt, mark_of, take_in
from production.changing.change_state import supplements_check
from production.handing_over.deliveries import hand_over
from production.looking_back.afterwards import afterwards_of
from production.models import (
    CutTicket,
    Flaw,
    FloorPlan,
    Inspection,
    Jacket,
    LayPly,
    Purchase,
    Run,
    SpoiledPiece,
    StageEvent,
    StandardChange,
    Tap,
    TimeStudy,
    Ware,
)
from production.planning.actuals.afterwards_rules import to_correct
from production.queries import orders_to_plan
from production.reporting.recuts import make_recut
from production.scenario.demo import make_demo
from production.scenario.demo_orders import (
    DEMO_BOUGHT,
    DEMO_ORDERS,
    DEMO_SEWN,
    DEMO_TAKEN_BEYOND,
    PADDLERS,
    YOUTH,
)
from production.services import load_plan, plan_run_for
from production.stages.table import ready_jackets
from production.stock.cloth import lots_with_lengths
from production.stock.wares import balances, bring_back, count

pytestmark = pytest.mark.django_db
#: Of the operation that the demo times, as it is shipped.
SHIPPED_MINUTES = 4


def test_the_demo_is_true_and_can_be_made_anew_after_somebody_played_with_it():
    make_demo()
    run = Run.objects.get()
    assert_everything_is_cut(run)
    assert_one_piece_waits(run)
    assert_the_next_order_can_be_planned(run)
    assert_there_is_something_to_compare(run)
    make_recut(run, None)
    buy_and_take_more(run)
    tap_check_and_hand_over(run)
    make_demo()
    assert Run.objects.count() == 1
    assert TeamOrder.objects.count() == len(DEMO_ORDERS)
    run = Run.objects.get()
    assert_everything_is_cut(run)
    assert_there_is_something_to_compare(run)


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


def assert_there_is_something_to_compare(run: Run) -> None:
    found = afterwards_of(run)
    assert all(color.actual and not color.missing for color in found.cloth)
    assert [stage.jackets for stage in found.minutes] == [0, len(DEMO_SEWN), 3]
    assert all(ware.actual is not None for ware in found.wares)
    assert Purchase.objects.count() == 1
    (quote,) = found.quotes
    assert quote.quoted.jackets == quote.made == len(PADDLERS.roster)
    assert quote.reached and quote.reached < quote.quoted.margin
    assert [advice.kind for advice in to_correct(found)] == ["stage", "thread", "price"]
    costs = load_plan(run).costs
    assert found.total.whole == pytest.approx(costs.total, abs=Decimal("0.05"))
    study = TimeStudy.objects.get()
    assert study.state == TimeStudy.State.ACCEPTED
    assert study.readings.count() == 6
    assert all(left >= 0 for left in balances().values())
    assert StandardChange.objects.get().each_before == SHIPPED_MINUTES


def buy_and_take_more(run: Run) -> None:
    """Somebody plays: a rest comes back, all spools go, cloth is ordered and comes."""
    ware = Ware.objects.get(key=DEMO_TAKEN_BEYOND)
    bring_back(run, {ware.key: Decimal(1)}, None)
    count(ware, quantity=Decimal(0), reason="lost", by=None)
    color = FabricColor.objects.get(code="oat")
    purchase = Purchase.objects.create(
        code="P-0099",
        supplier=Supplier.objects.all()[0],
        run=run,
        ordered_on=timezone.localdate(),
        expected_on=timezone.localdate(),
    )
    line = purchase.lines.create(fabric_color=color, quantity=2000, price=30)
    bolt = Bolt("1", line.pk, "B-PLAYED", "OA-1", 2000)
    take_in(purchase, came={}, bolts=[bolt], by=None, seen=mark_of(purchase))


def tap_check_and_hand_over(run: Run) -> None:
    """What holds on to jackets and their events: taps, checks, deliveries, a schedule."""
    ready = list(run.jackets.filter(stage="hand_over").select_related("jacket_order__team_order"))
    event = ready[0].events.first()
    Tap.objects.create(
        key=uuid4(),
        way="page",
        code=ready[0].code,
        jacket=ready[0],
        action="done",
        outcome="recorded",
        event=event,
        words="",
        at=timezone.now(),
    )
    Inspection.objects.create(
        jacket=ready[0], passed=True, points=[], after_event=event, at=timezone.now()
    )
    hand_over(
        ready[0].jacket_order.team_order,
        ready[:1],
        received_by="Mira Holm",
        signed="screen",
        signature=[[[0.1, 0.2], [0.3, 0.4]]],
        note="",
        by=None,
        form_key=None,
    )
    FloorPlan.objects.create(begins_on=timezone.localdate(), plan={}, late_jackets=0, seconds=0)
