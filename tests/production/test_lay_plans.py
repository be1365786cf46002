"""Other lays put to use: the run is planned again with them, or nothing changes."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from django.utils import timezone

from orders.models import Amendment
from production import services
from production.cutting import lay_plans
from production.cutting.lay_plans import LaysRefusedError, use_aim, use_lay_plan
from production.models import Lay, LayPlan, LayPly, Run
from production.tracking import record
from tests.production.change_factories import jacket, make_frozen_run
from tests.production.lay_choice_factories import (
    choice,
    in_halves,
    keep,
    lays_in_use,
    run_with_rows,
    ticket_of,
)
from tests.production.run_factories import make_person, make_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return run_with_rows(make_run(4))


def state(run: Run) -> tuple[object, ...]:
    run.refresh_from_db()
    return (
        run.plan,
        list(Lay.objects.values_list("code", "plies", "length_mm", "method").order_by("pk")),
        list(LayPlan.objects.values_list("pk", "is_in_use").order_by("pk")),
        list(run.jackets.values_list("code", "standard_minutes").order_by("pk")),
        Amendment.objects.count(),
    )


def test_after_the_freeze_the_rows_are_kept_as_the_way_in_use(run):
    kept = LayPlan.objects.order_by("ticket__position")
    assert [(each.aim, each.is_in_use) for each in kept] == [("rows", True)] * 2
    for each in kept:
        assert lay_plans.lays_of(each) == lays_in_use(each.ticket)
        assert each.fabric_mm > 0 and each.cost > 0


def test_chosen_lays_stand_in_the_plan_on_the_ticket_and_in_the_minutes(run):
    ticket, other = ticket_of(run), ticket_of(run, "oat")
    wanted = in_halves(lays_in_use(ticket))
    assert len(wanted) > len(lays_in_use(ticket))
    keep(ticket, "time", lays=wanted, methods={wanted[0].lay: ("rows", "no time")})
    others, minutes = lays_in_use(other), jacket(1).standard_minutes
    assert use_lay_plan(ticket, "time", make_person(role="maker"))
    run.refresh_from_db()
    plan = services.load_plan(run)
    assert lays_in_use(ticket_of(run)) == wanted and lays_in_use(ticket_of(run, "oat")) == others
    assert all(check.holds for check in plan.checks)
    stored = list(ticket.lays.all())
    assert [lay.code for lay in stored] == [lay.lay for lay in wanted]
    assert (stored[0].method, stored[0].method_note) == ("rows", "no time")
    assert jacket(1).standard_minutes != minutes
    total = sum(
        (Decimal(each) for one in run.jackets.all() for each in one.standard_minutes.values()),
        Decimal(0),
    )
    assert total == plan.labor.with_allowance_minutes
    assert ticket.lay_plans.get(is_in_use=True).aim == "time"
    assert other.lay_plans.get(is_in_use=True).aim == "rows"


def test_who_chose_which_lays_is_told_in_the_history_of_the_orders(run):
    ticket = ticket_of(run)
    keep(ticket)
    maker = make_person(role="maker")
    use_lay_plan(ticket, "money", maker)
    told = Amendment.objects.get()
    assert told.team_order.code == "TO-1" and told.by == maker
    assert told.words.startswith("cut ticket R-0001-T2: lays changed to those with least money")


def test_choosing_what_is_in_use_changes_nothing(run):
    before = state(run)
    assert not use_lay_plan(ticket_of(run), "rows", None)
    assert state(run) == before


def test_an_aim_nothing_is_known_for_is_refused(run):
    with pytest.raises(LaysRefusedError, match=r"No lays with fewest lays are known .* Look for"):
        use_lay_plan(ticket_of(run), "lays", None)


def test_lays_stay_once_a_ply_is_cut(run):
    ticket = ticket_of(run)
    keep(ticket)
    lay = ticket.lays.first()
    LayPly.objects.filter(lay=lay).delete()
    LayPly.objects.create(lay=lay, number=1, takes_mm=1000, cut_at=timezone.now())
    before = state(run)
    with pytest.raises(LaysRefusedError, match="R-0001-T2-L1 ply 1 of cut ticket R-0001-T2 is cut"):
        use_lay_plan(ticket, "money", None)
    assert state(run) == before


def test_lays_stay_once_a_jacket_of_the_ticket_is_cut(run):
    keep(ticket_of(run))
    record("TO-1-03", "done", "cut", None)
    before = state(run)
    with pytest.raises(LaysRefusedError, match="Jacket TO-1-03 of cut ticket R-0001-T2 is cut"):
        use_lay_plan(ticket_of(run), "money", None)
    with pytest.raises(LaysRefusedError, match="all are being cut"):
        use_aim(run, "money", None)
    assert state(run) == before


def test_a_jacket_sent_back_to_the_cutting_table_was_cut_before(run):
    keep(ticket_of(run))
    record("TO-1-03", "done", "cut", None)
    record("TO-1-03", "send_back", "cut", None, reason="hole")
    with pytest.raises(LaysRefusedError, match="TO-1-03"):
        use_lay_plan(ticket_of(run), "money", None)


def test_lays_that_break_a_check_change_nothing(run):
    ticket = ticket_of(run)
    lays = lays_in_use(ticket)
    short = (replace(lays[0], placements=lays[0].placements[1:]), *lays[1:])
    keep(ticket, lays=short)
    before = state(run)
    with pytest.raises(LaysRefusedError, match=r"break a check of the plan.*Nothing was changed"):
        use_lay_plan(ticket, "money", None)
    assert state(run) == before


def test_lays_that_got_better_since_they_were_shown_are_not_taken_unseen(run):
    ticket = ticket_of(run)
    keep(ticket)
    seen = lay_plans.mark_of(ticket.lay_plans.get(aim="money"))
    keep(ticket, cost=Decimal("40.00"))
    before = state(run)
    with pytest.raises(LaysRefusedError, match="Better lays were found since"):
        use_lay_plan(ticket, "money", None, seen=seen)
    assert state(run) == before
    now = lay_plans.mark_of(ticket.lay_plans.get(aim="money"))
    assert use_lay_plan(ticket, "money", None, seen=now)


def test_a_whole_run_takes_an_aim_at_once(run):
    for color in ("spruce", "oat"):
        keep(ticket_of(run, color))
    changed = use_aim(run, "money", None)
    assert [ticket.code for ticket in changed] == ["R-0001-T1", "R-0001-T2"]
    run.refresh_from_db()
    for color in ("spruce", "oat"):
        ticket = ticket_of(run, color)
        assert lays_in_use(ticket) == lay_plans.lays_of(ticket.lay_plans.get(aim="money"))
    assert all(check.holds for check in services.load_plan(run).checks)


def test_a_jacket_changed_after_the_freeze_keeps_its_own_minutes():
    from production.changing.changes import change_after_freeze
    from tests.production.change_factories import facts

    run = run_with_rows(make_frozen_run(4))
    change_after_freeze(jacket(2), facts(jacket(2).jacket_order, size="S"), None)
    own = jacket(2).standard_minutes
    ticket = ticket_of(run)
    keep(ticket, lays=in_halves(lays_in_use(ticket)))
    assert use_lay_plan(ticket, "money", None)
    assert jacket(2).standard_minutes == own
    assert jacket(1).standard_minutes != own


def test_lays_of_a_supplement_stay_as_they_were_agreed_to():
    from production.changing.changes import change_after_freeze
    from tests.production.change_factories import facts

    run = run_with_rows(make_frozen_run(4, cut=(2,)))
    change_after_freeze(jacket(2), facts(jacket(2).jacket_order, size="S"), None)
    ticket = run.cut_tickets.filter(supplement__isnull=False).first()
    with pytest.raises(LaysRefusedError, match="stay as they were agreed to"):
        use_lay_plan(ticket, "money", None)
    assert choice(ticket_of(run)).aim == "money"
