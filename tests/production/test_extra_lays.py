"""The lays of supplements and recuts, set by hand before they are cut."""

from __future__ import annotations

import json

import pytest
from django.urls import reverse

from orders.models import Amendment
from production.changing.change_state import load_supplement, supplements_check
from production.changing.changes import change_after_freeze
from production.cutting.laying_by_hand import jackets_by_block, laid_out, save_by_hand
from production.models import Lay, Recut, Run, Supplement
from production.planning.cutting.hand_moves import Position, positions_of
from production.reporting.cut_reports import report_cut
from production.reporting.missing import Missing, report_missing
from production.reporting.recuts import load_recut, make_recut
from tests.production.change_factories import facts, jacket
from tests.production.report_factories import bolt_of, cut_all, make_cut_run
from tests.production.run_factories import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    run = make_cut_run(3)
    cut_all(run)
    return run


@pytest.fixture
def recut(run) -> Recut:
    for side in ("left", "right"):
        report_missing(Missing("TO-1-01", "FR", side, "hole"), None)
    report_missing(Missing("TO-1-02", "FR", "left", "hole"), None)
    made = make_recut(run, None)
    assert made
    return made


@pytest.fixture
def supplement(run) -> Supplement:
    return change_after_freeze(jacket(2), facts(jacket(2).jacket_order, size="S"), None)


@pytest.fixture
def maker(client):
    client.force_login(make_person("mo", "maker"))
    return client


def first_lay(**of: object) -> Lay:
    return Lay.objects.filter(**of).order_by("ticket__position", "position")[0]


def farther(lay: Lay, x_mm: float = 2.0) -> tuple[Position, ...]:
    at = positions_of(laid_out("R-0001", lay.code).lay)
    return tuple(Position(each.x_mm + x_mm, each.y_mm, each.rotation_deg) for each in at)


def saved(lay: Lay) -> None:
    by = make_person("sam", "maker")
    save_by_hand("R-0001", lay.code, farther(lay), laid_out("R-0001", lay.code).seen, by)


def test_a_recut_lay_is_cut_as_it_was_set_by_hand(run, recut):
    lay = first_lay(ticket__recut=recut)
    before = laid_out("R-0001", lay.code).lay
    run.refresh_from_db()
    own = run.plan
    saved(lay)
    after = laid_out("R-0001", lay.code)
    assert after.lay.length_mm == pytest.approx(before.length_mm + 2)
    assert after.stored.length_mm == pytest.approx(before.length_mm + 2)
    assert after.stored.method == "by_hand"
    recut.refresh_from_db()
    _, plan = load_recut(recut)
    assert all(check.holds for check in plan.cut.checks)
    [ticket] = plan.cut.cut_tickets
    assert ticket.from_stock_mm + ticket.to_buy_mm == ticket.fabric_needed_mm
    # Its plies lie on the bolt, as long as the lay is now and its ends.
    plies = after.stored.ply_rows.all()
    assert sum(ply.takes_mm for ply in plies) == pytest.approx(ticket.fabric_needed_mm, abs=1)
    assert {ply.lot.code for ply in plies} == {"B-SPRUCE"}
    assert Amendment.objects.filter(words__contains=f"{ticket.ticket}: lays set by hand").exists()
    run.refresh_from_db()
    assert run.plan == own
    report_cut(lay.code, None, None, lot=bolt_of(after.stored))
    assert not recut.spoiled_pieces.filter(is_replaced=False).exists()
    check = supplements_check(run)
    assert check and check.holds


def test_a_supplement_lay_is_cut_as_it_was_set_by_hand(run, supplement):
    lay = first_lay(ticket__supplement=supplement)
    _, agreed = load_supplement(supplement)
    others = {
        each.code: each.length_mm
        for each in Lay.objects.filter(ticket__supplement=supplement).exclude(pk=lay.pk)
    }
    minutes = jacket(2).standard_minutes
    saved(lay)
    supplement.refresh_from_db()
    snapshot, plan = load_supplement(supplement)
    assert snapshot and plan.cut and agreed.cut
    assert [check.holds for check in plan.cut.checks] == [
        check.holds for check in agreed.cut.checks
    ]
    lays = {each.lay: each for ticket in plan.cut.cut_tickets for each in ticket.lays}
    was = {each.lay: each for ticket in agreed.cut.cut_tickets for each in ticket.lays}
    assert lays[lay.code].length_mm == pytest.approx(was[lay.code].length_mm + 2)
    assert {code: lays[code].length_mm for code in others} == pytest.approx(others)
    # What was agreed to stays: the difference, its costs, the minutes of the jacket.
    assert (plan.difference, plan.costs, plan.minutes) == (
        agreed.difference,
        agreed.costs,
        agreed.minutes,
    )
    assert jacket(2).standard_minutes == minutes


def test_once_a_ply_of_a_recut_is_cut_its_lay_stays(maker, run, recut):
    lay = first_lay(ticket__recut=recut)
    assert laid_out("R-0001", lay.code).why_fixed == ""
    data = {
        "positions": json.dumps([[p.x_mm, p.y_mm, p.rotation_deg] for p in farther(lay)]),
        "pins": "[]",
        "seen": laid_out("R-0001", lay.code).seen,
    }
    report_cut(lay.code, None, None, lot=bolt_of(lay))
    address = reverse("production:save_lay", args=["R-0001", lay.code])
    page = maker.post(address, data, follow=True).content.decode()
    assert f"ply 1 of cut ticket {lay.ticket} is cut already. Nothing was changed." in page
    assert first_lay(ticket__recut=recut).method != "by_hand"


def test_once_the_jacket_of_a_supplement_is_cut_its_lays_stay(run, supplement):
    from production.tracking import record

    lay = first_lay(ticket__supplement=supplement)
    assert laid_out("R-0001", lay.code).why_fixed == ""
    record("TO-1-02", "done", "cut", None)
    assert "TO-1-02" in laid_out("R-0001", lay.code).why_fixed


def test_blocks_of_a_recut_that_overlap_are_refused(run, recut):
    from production.errors import ProductionError

    lay = first_lay(ticket__recut=recut)
    laid = laid_out("R-0001", lay.code)
    [first, *rest] = positions_of(laid.lay)
    with pytest.raises(ProductionError, match="cannot be cut like this"):
        save_by_hand("R-0001", lay.code, (first, first, *rest[1:]), laid.seen, None)
    assert laid_out("R-0001", lay.code).lay == laid.lay


def test_a_block_of_a_recut_tells_the_jackets_that_wait_for_it(run, recut):
    lay = first_lay(ticket__recut=recut)
    found = jackets_by_block(laid_out("R-0001", lay.code))
    told = {key: [code for code, _ in some] for key, some in found.items()}
    # A left and a right of the first jacket, which is an S; a left of the second, an M.
    assert told == {("FR", "S"): ["TO-1-01"], ("FR", "M"): ["TO-1-02"]}
