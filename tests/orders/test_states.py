"""The states of an order: what leads where, who may do it, and what is written down."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product

import pytest
from django.core.management import call_command
from django.utils import timezone

from orders import services, states
from orders.errors import OrderError, OrderFrozenError
from orders.models import Amendment, TeamOrder
from orders.states import TRANSITIONS, State, Who, ways_on
from tests.factories import make_colorway, make_jacket_order, make_maker, make_team_order

#: By whom each step may be made, written out by hand; every pair that is missing is refused.
MAKER_ONLY = {
    ("draft", "open"),
    ("open", "closed"),
    ("closed", "open"),
    ("approved", "closed"),
    ("draft", "cancelled"),
    ("open", "cancelled"),
    ("closed", "cancelled"),
    ("approved", "cancelled"),
}
MAKER_OR_COORDINATOR = {("closed", "approved")}


def ready_order(state: str = State.OPEN) -> TeamOrder:
    order = make_team_order(state=state)
    make_jacket_order(order)
    return order


def stored_state(order: TeamOrder) -> str:
    return TeamOrder.objects.get(pk=order.pk).state


def last(order: TeamOrder) -> Amendment:
    return order.amendments.all()[0]


def test_the_table_has_each_step_once() -> None:
    steps = [(way.start, way.end) for way in TRANSITIONS]
    assert len(steps) == len(set(steps))


def test_the_coordinator_may_approve_a_closed_order_and_nothing_else() -> None:
    offered = [(way.start, way.end) for one in State for way in ways_on(one, Who.COORDINATOR)]
    assert offered == [("closed", "approved")]


def test_the_maker_is_offered_what_is_possible_and_told_what_follows() -> None:
    offered = {(way.start, way.end) for one in State for way in ways_on(one, Who.MAKER)}
    assert offered == MAKER_ONLY | MAKER_OR_COORDINATOR
    assert all(way.button and way.follows for one in State for way in ways_on(one, Who.MAKER))


@pytest.mark.django_db
@pytest.mark.parametrize(("start", "end"), list(product(State.values, State.values)))
def test_every_step_is_made_or_refused_as_the_table_says(start: str, end: str) -> None:
    order, maker = ready_order(start), make_maker()
    people = {
        "maker": (maker, ""),
        "coordinator": (None, "coordinator"),
        "member": (None, "member"),
    }
    for name, (by, by_link) in people.items():
        TeamOrder.objects.update(state=start)
        allowed = (start, end) in MAKER_OR_COORDINATOR and name != "member"
        if allowed or (name == "maker" and (start, end) in MAKER_ONLY):
            states.move(order, end, by=by, by_link=by_link)
            assert stored_state(order) == order.state == end
            assert (last(order).by, last(order).by_link) == (by, by_link)
        else:
            before = order.amendments.count()
            with pytest.raises(OrderError, match=f"{order.code} "):
                states.move(order, end, by=by, by_link=by_link)
            assert stored_state(order) == start and order.amendments.count() == before


@pytest.mark.django_db
def test_a_form_opens_only_with_a_colorway_and_a_closing_day_ahead() -> None:
    order = make_team_order(state=State.DRAFT)
    with pytest.raises(OrderError, match="has no colorway that members could choose"):
        states.move(order, State.OPEN, by=None)
    make_colorway(order)
    TeamOrder.objects.update(closes_on=timezone.localdate() - timedelta(days=1))
    with pytest.raises(OrderError, match="is over; under Edit, name a later one"):
        states.move(order, State.OPEN, by=None)
    TeamOrder.objects.update(closes_on=timezone.localdate())
    states.move(order, State.OPEN, by=None)
    assert TeamOrder.objects.get().takes_members(timezone.localdate())


@pytest.mark.django_db
def test_an_empty_order_is_not_approved() -> None:
    order = make_team_order(state=State.CLOSED)
    with pytest.raises(OrderError, match="nothing to approve"):
        states.move(order, State.APPROVED, by=None, by_link="coordinator")


@pytest.mark.django_db
def test_an_older_page_is_judged_by_the_state_that_the_order_has_by_now() -> None:
    order = ready_order(State.CLOSED)
    TeamOrder.objects.update(state=State.APPROVED)
    with pytest.raises(OrderError, match="is approved; from there it cannot become open"):
        states.move(order, State.OPEN, by=None)


@pytest.mark.django_db
def test_a_closing_day_closes_the_form_on_the_day_after() -> None:
    day = date(2099, 2, 1)
    order = make_team_order("A-1", closes_on=day)
    make_team_order("B-1")
    make_team_order("C-1", closes_on=day, state=State.DRAFT)
    assert states.close_overdue(day) == []
    assert states.close_overdue(day + timedelta(days=1)) == ["A-1"]
    assert last(order).words == "form closed: its closing day 2099-02-01 is over"
    assert states.close_overdue(day + timedelta(days=1)) == []
    assert Amendment.objects.count() == 1
    assert set(TeamOrder.objects.values_list("code", "state")) == {
        ("A-1", "closed"),
        ("B-1", "open"),
        ("C-1", "draft"),
    }


@pytest.mark.django_db
def test_the_command_closes_forms_and_names_them(capsys: pytest.CaptureFixture[str]) -> None:
    order = make_team_order("A-1", closes_on=timezone.localdate() - timedelta(days=1))
    call_command("close_forms")
    call_command("close_forms")
    assert capsys.readouterr().out == "Closed: A-1.\nNo closing day is over.\n"
    assert stored_state(order) == "closed"


@pytest.mark.django_db
@pytest.mark.parametrize("state", ["draft", "open", "closed", "approved"])
def test_the_freeze_says_when_nobody_approved(state: str) -> None:
    order = ready_order(state)
    services.freeze(order, None)
    without = "" if state == "approved" else f", without an approval: it was {state}"
    assert last(order).words == f"frozen for production with 1 jacket{without}"


@pytest.mark.django_db
@pytest.mark.parametrize("state", ["in_production", "handed_over", "cancelled"])
def test_no_freeze_from_where_the_table_has_none(state: str) -> None:
    order = ready_order(state)
    with pytest.raises(OrderFrozenError):
        services.freeze(order, None)
    assert stored_state(order) == state and not order.amendments.exists()


@pytest.mark.django_db
def test_a_cancelled_order_refuses_changes_and_says_why() -> None:
    order = ready_order(State.CANCELLED)
    with pytest.raises(OrderFrozenError, match="is cancelled: nothing in it changes any more"):
        services.delete_jacket_order(order.jacket_orders.get(), by=None)
    with pytest.raises(OrderFrozenError, match="Order again"):
        services.delete_team_order(order, by=None)
    assert order.jacket_orders.count() == 1
