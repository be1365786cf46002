"""Pieces that were short or spoiled: who waits, what is cut once more, and that nothing is lost."""

from __future__ import annotations

from contextlib import suppress

import pytest
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from production.changing.change_state import supplements_check
from production.changing.changes import Cancel, change_after_freeze
from production.errors import MovedOnError, ProductionError, UnknownJacketError
from production.models import (
    CutTicket,
    Jacket,
    Lay,
    LayPly,
    Recut,
    Run,
    SparePart,
    SpoiledPiece,
    StockLot,
    Supplement,
    TicketLine,
)
from production.reporting.cut_reports import report_cut, take_back
from production.reporting.missing import Missing, RecutError, report_missing, take_back_missing
from production.reporting.recuts import load_recut, make_recut
from production.stages.table import ready_jackets
from production.tracking import record
from tests.production.change_factories import facts, jacket, late_member
from tests.production.report_factories import bolt_of, cut_all, cut_whole, make_cut_run
from tests.production.run_factories import make_person, make_run, make_team_order

pytestmark = pytest.mark.django_db

NOW = timezone.now()


def spoil(number: int, block: str = "FR", side: str = "left", **more: object) -> SpoiledPiece:
    return report_missing(Missing(f"TO-1-{number:02d}", block, side, "hole", **more), None)  # type: ignore[arg-type]


def recut(run: Run) -> Recut:
    made = make_recut(run, None)
    assert made
    return made


def holds(run: Run) -> bool:
    check = supplements_check(run)
    assert check is not None
    assert check.holds, check.detail
    return True


def test_a_left_alone_is_cut_once_more_and_then_replaced():
    run = make_cut_run(cut=(1, 2, 3))
    cut_all(run)
    piece = spoil(1)
    assert holds(run)
    made = recut(run)
    ticket = made.cut_tickets.get()
    assert ticket.code == "R-0001-C1-T1"
    line = TicketLine.objects.get(ticket=ticket)
    assert (line.block, line.size, line.left, line.right, line.is_recut) == (
        "FR",
        "S",
        1,
        0,
        True,
    )
    assert [place["side"] for lay in ticket.lays.all() for place in lay.placements] == ["left"]
    piece.refresh_from_db()
    assert (piece.recut, piece.is_replaced) == (made, False)
    assert holds(run)
    cut_whole(ticket)
    piece.refresh_from_db()
    assert piece.is_replaced
    assert holds(run)


def test_the_recut_says_what_it_adds_to_and_who_waits():
    run = make_cut_run(cut=(1,))
    spoil(1)
    spoil(2, "CO", "single")
    snapshot, plan = load_recut(recut(run))
    assert [(piece.jacket, piece.block, piece.side, piece.adds_to) for piece in plan.pieces] == [
        ("TO-1-01", "FR", "left", "R-0001-T2"),
        ("TO-1-02", "CO", "single", "R-0001-T1"),
    ]
    assert all(check.holds for check in plan.cut.checks)
    assert {spec.member for spec in snapshot.jackets} == {""}


def test_a_spare_part_of_the_same_kind_comes_first():
    run = make_cut_run(cut=(1, 3))
    change_after_freeze(jacket(3), Cancel(), None)
    piece = spoil(1, "FR", "right")
    assert piece.is_replaced
    assert piece.spare and piece.spare.from_jacket == jacket(3)
    assert piece.spare.taken_by == jacket(1)
    assert holds(run)
    with pytest.raises(RecutError, match="No piece of run R-0001 waits"):
        make_recut(run, None)


def test_a_spare_part_of_another_size_does_not_help():
    run = make_cut_run(cut=(1, 2))
    change_after_freeze(jacket(2), Cancel(), None)
    assert not spoil(1).is_replaced
    assert holds(run)


def test_spare_parts_that_came_in_meanwhile_serve_before_the_recut():
    run = make_cut_run(cut=(1, 3))
    piece = spoil(1)
    change_after_freeze(jacket(3), Cancel(), None)
    assert make_recut(run, None) is None
    piece.refresh_from_db()
    assert piece.is_replaced and piece.spare
    assert not Recut.objects.exists()
    assert holds(run)


def test_a_recut_piece_can_be_spoiled_again():
    run = make_cut_run(cut=(1,))
    spoil(1)
    cut_whole(recut(run).cut_tickets.get())
    again = spoil(1)
    second = recut(run)
    again.refresh_from_db()
    assert (again.recut, second.number) == (second, 2)
    assert holds(run)
    cut_whole(second.cut_tickets.get())
    assert not SpoiledPiece.objects.filter(is_replaced=False).exists()
    assert holds(run)


def test_pieces_alike_are_replaced_one_by_one():
    run = make_cut_run(jackets=5, cut=(1, 3, 5))
    for number in (1, 3):
        spoil(number)
    made = recut(run)
    lay = made.cut_tickets.get().lays.get()
    report_cut(lay.code, [1], None, lot="B-SPRUCE")
    replaced = list(SpoiledPiece.objects.order_by("pk").values_list("is_replaced", flat=True))
    assert replaced == ([True, True] if lay.plies == 1 else [True, False])


def test_a_cancelled_jacket_waits_for_nothing_and_its_good_pieces_are_spare():
    run = make_cut_run(cut=(1,))
    spoil(1)
    made = change_after_freeze(jacket(1), Cancel(), None)
    piece = SpoiledPiece.objects.get()
    assert (piece.dropped_at, piece.is_replaced) == (made.at, False)
    assert SparePart.objects.filter(block="FR").values_list("side", flat=True).get() == "right"
    assert holds(run)
    with pytest.raises(RecutError, match="waits for a recut"):
        make_recut(run, None)


def test_a_recut_that_is_not_cut_yet_is_withdrawn_with_its_jacket():
    run = make_cut_run(cut=(1,))
    spoil(1)
    recut(run)
    made = change_after_freeze(jacket(1), Cancel(), None)
    withdrawn = (made.plan or {})["difference"]["withdrawn"]
    assert [(block["ticket"], *block["sides"]) for block in withdrawn] == [("R-0001-C1-T1", "left")]
    assert holds(run)
    cut_whole(CutTicket.objects.get(code="R-0001-C1-T1"))  # though it should not be
    assert not SpoiledPiece.objects.filter(is_replaced=True).exists()
    assert holds(run)


def test_a_report_that_was_a_mistake_is_taken_back_and_stays_on_record():
    run = make_cut_run(cut=(1,))
    cut_all(run)
    piece, ana = spoil(1), make_person("ana")
    assert holds(run)
    take_back_missing(piece, ana)
    piece.refresh_from_db()
    assert piece.taken_back_at and piece.taken_back_by == ana
    assert supplements_check(run) is None
    assert not SpoiledPiece.objects.waiting().exists()
    with pytest.raises(RecutError, match="No piece of run R-0001 waits"):
        make_recut(run, None)
    with pytest.raises(MovedOnError, match="FR left was already taken back by ana"):
        take_back_missing(piece, None)
    assert [each.code for each in ready_jackets(run)] == ["TO-1-02", "TO-1-03"]
    again = spoil(1)
    assert again != piece and SpoiledPiece.objects.count() == 2
    recut(run)
    assert holds(run)


def test_a_ply_whose_spoiled_piece_was_a_mistake_can_be_taken_back():
    run = make_cut_run()
    cut_all(run)
    piece = spoil(1, lay="R-0001-T2-L1", ply=1)
    take_back_missing(piece, None)
    take_back("R-0001-T2-L1", 1, None)
    assert not LayPly.objects.get(lay__code="R-0001-T2-L1", number=1).cut_at


def test_a_report_stays_once_something_was_done_about_it():
    run = make_cut_run(cut=(1, 2, 3))
    change_after_freeze(jacket(3), Cancel(), None)
    with_spare, on_recut, dropped = spoil(1), spoil(2), spoil(2, "CO", "single")
    assert with_spare.spare and not dropped.spare
    change_after_freeze(jacket(2), facts(jacket(2).jacket_order, own={"CO": "spruce"}), None)
    recut(run)
    refused(with_spare, "a spare part took its place")
    refused(on_recut, "recut 1 was made for it")
    refused(dropped, "the jacket was changed since")
    assert holds(run)


def refused(piece: SpoiledPiece, why: str) -> None:
    with pytest.raises(RecutError, match=f"stays reported as short or spoiled: {why}"):
        take_back_missing(piece, None)
    piece.refresh_from_db()
    assert piece.taken_back_at is None


@pytest.mark.parametrize(
    "values",
    [
        {"is_replaced": True},  # by nothing
        {"is_replaced": True, "dropped_at": NOW},
        {"taken_back_at": NOW, "dropped_at": NOW},
        {"taken_back_at": NOW, "is_replaced": True},
    ],
)
def test_a_piece_has_one_end_only(values):
    make_cut_run(cut=(1,))
    piece = spoil(1)
    with pytest.raises(IntegrityError), transaction.atomic():
        SpoiledPiece.objects.filter(pk=piece.pk).update(**values)


def test_a_jacket_in_another_size_waits_no_more_for_the_old_one():
    run = make_cut_run(cut=(1,))
    spoil(1, "CO", "single")
    change_after_freeze(jacket(1), facts(jacket(1).jacket_order, size="M"), None)
    assert not SpoiledPiece.objects.waiting().exists()
    assert holds(run)


def test_a_kept_block_is_still_waited_for_after_a_change():
    run = make_cut_run(cut=(1,))
    piece = spoil(1)
    change_after_freeze(jacket(1), facts(jacket(1).jacket_order, own={"CO": "spruce"}), None)
    piece.refresh_from_db()
    assert not piece.is_replaced
    assert holds(run)
    cut_whole(recut(run).cut_tickets.get())
    assert holds(run)


def test_blocks_that_are_reported_as_cut_become_spare_parts_and_are_not_withdrawn():
    run = make_cut_run()
    cut_all(run)
    made = change_after_freeze(jacket(1), Cancel(), None)
    assert (made.plan or {})["difference"]["withdrawn"] == ()
    assert SparePart.objects.count() == 4
    assert holds(run)


def test_a_block_changed_back_is_not_taken_for_the_spoiled_one():
    make_cut_run(cut=(1, 3))
    change_after_freeze(jacket(3), Cancel(), None)
    spoil(1)  # the spare part takes its place
    line = jacket(1).jacket_order
    change_after_freeze(jacket(1), facts(line, own={"FR": "oat"}), None)
    SparePart.objects.filter(taken_by=None).delete()
    change_after_freeze(jacket(1), facts(jacket(1).jacket_order, own={}), None)
    made = change_after_freeze(jacket(1), Cancel(), None)
    withdrawn = [block["block"] for block in (made.plan or {})["difference"]["withdrawn"]]
    assert withdrawn == ["FR"]


@pytest.mark.parametrize(
    ("missing", "words"),
    [
        (Missing("TO-1-01", "XX", "left", "hole"), "has no block 'XX'; it has"),
        (Missing("TO-1-01", "BK", "left", "hole"), "BK has no left side; it is single"),
        (Missing("TO-1-01", "FR", "", "hole"), "no unnamed side; it is left and right"),
        (Missing("TO-1-01", "FR", "left", " "), "Say why"),
        (Missing("TO-1-01", "FR", "left", "hole", "R-0001-T1-L1"), "cuts no FR S left"),
        (Missing("TO-1-01", "FR", "left", "hole", "R-0001-T9-L1"), "No lay has the code"),
        (Missing("TO-1-01", "FR", "left", "hole", "R-0001-T2-L1", 99), "not in ply 99"),
    ],
)
def test_a_report_that_cannot_be_true_changes_nothing(missing: Missing, words: str):
    make_cut_run(cut=(1,))
    with pytest.raises(ProductionError, match=words):
        report_missing(missing, None)
    assert not SpoiledPiece.objects.exists()


def test_a_piece_of_another_run_is_refused():
    make_cut_run()
    make_run(order=make_team_order("TO-2", state="in_production"), code="R-0002")
    with pytest.raises(RecutError, match="belongs to run R-0002, and lay R-0001-T2-L1"):
        report_missing(Missing("TO-2-01", "FR", "left", "hole", "R-0001-T2-L1"), None)


def test_an_unknown_jacket_is_named():
    make_cut_run()
    with pytest.raises(UnknownJacketError, match="NO-1"):
        report_missing(Missing("NO-1", "FR", "left", "hole"), None)


def test_a_piece_is_waited_for_once():
    make_cut_run(cut=(1,))
    spoil(1)
    with pytest.raises(RecutError, match=r"FR left was already reported by a command"):
        spoil(1)
    assert SpoiledPiece.objects.count() == 1


def test_a_jacket_that_is_handed_over_or_cancelled_gets_no_recut():
    make_cut_run(cut=(1, 2))
    for stage in ("sew", "finish", "hand_over"):
        record("TO-1-01", "done", stage, None)
    with pytest.raises(RecutError, match="is handed over: send it back to mend"):
        spoil(1)
    change_after_freeze(jacket(2), Cancel(), None)
    with pytest.raises(RecutError, match="was cancelled"):
        spoil(2)


def test_a_recut_with_nothing_waiting_is_refused():
    run = make_cut_run(cut=(1,))
    with pytest.raises(RecutError, match="No piece of run R-0001 waits for a recut"):
        make_recut(run, None)


def test_a_block_too_wide_for_todays_cloth_leaves_it_waiting():
    run = make_cut_run(cut=(1,))
    spoil(1)
    color = run.cut_tickets.get(code="R-0001-T2").fabric_color
    color.fabric.usable_width_mm = 100
    color.fabric.save()
    with pytest.raises(RecutError, match="wide"):
        make_recut(run, None)
    assert not Recut.objects.exists()
    assert not CutTicket.objects.exclude(recut=None).exists()


def test_a_recut_takes_the_dye_lot_of_the_jacket_where_it_has_room():
    run = make_cut_run(cut=(1,))
    cut_all(run)
    spoil(1)
    _, plan = load_recut(recut(run))
    assert plan.dye_lots == ("lot-spruce",)
    assert [ticket.to_buy_mm for ticket in plan.cut.cut_tickets] == [0]
    ply = LayPly.objects.get(lay__code="R-0001-C1-T1-L1", number=1)
    assert ply.lot == StockLot.objects.get(code="B-SPRUCE")


STEPS = st.lists(
    st.tuples(
        st.sampled_from(
            (
                *("spoil", "spoil", "good", "recut", "ply", "back"),
                *("cut", "size", "own", "cancel", "add"),
            )
        ),
        st.integers(0, 11),
        st.sampled_from((("FR", "left"), ("FR", "right"), ("BK", "single"), ("CO", "single"))),
    ),
    min_size=2,
    max_size=12,
)


@settings(
    deadline=None, max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(steps=STEPS, plies_more=st.integers(0, 2))
def test_whatever_happens_no_piece_is_lost(
    steps: list[tuple[str, int, tuple[str, str]]], plies_more: int
):
    with transaction.atomic():
        run = make_cut_run(cut=(1,))
        # With more plies than the ticket asks for, the last ones yield spare parts.
        Lay.objects.update(plies=F("plies") + plies_more)
        for kind, which, piece in steps:
            _step(run, kind, which, piece)
            assert supplements_check(run) is None or holds(run)
            _cloth_follows_the_reports()
        transaction.set_rollback(True)


def _cloth_follows_the_reports() -> None:
    """A ply that is cut took its cloth, with what was skipped before it; any other took none."""
    for ply in LayPly.objects.exclude(lot=None):
        took_mm = -sum(ply.movements.values_list("mm", flat=True))
        assert took_mm >= ply.takes_mm if ply.cut_at else took_mm == 0


def _step(run: Run, kind: str, which: int, piece: tuple[str, str]) -> None:
    live = list(Jacket.objects.filter(cancelled_at=None).order_by("pk"))
    if not live:
        return
    chosen = live[which % len(live)]
    # What is refused must leave the sums as they are.
    with suppress(ProductionError), transaction.atomic():
        _try(run, kind, which, piece, chosen)


def _try(run: Run, kind: str, which: int, piece: tuple[str, str], chosen: Jacket) -> None:
    line = chosen.jacket_order
    lays = list(Lay.objects.filter(ticket__run=run).order_by("pk"))
    lay = lays[which % len(lays)]
    if kind == "spoil":
        report_missing(Missing(chosen.code, *piece, "hole"), None)
    elif kind == "good":
        if spoiled := chosen.spoiled_pieces.order_by("-pk").first():
            take_back_missing(spoiled, None)
    elif kind == "recut":
        make_recut(run, None)
    elif kind == "ply":
        report_cut(lay.code, [which % lay.plies + 1], None, lot=bolt_of(lay))
    elif kind == "back":
        take_back(lay.code, which % lay.plies + 1, None)
    elif kind == "cut" and chosen.stage == "cut":
        record(chosen.code, "done", "cut", None)
    elif kind == "cancel":
        change_after_freeze(chosen, Cancel(), None)
    elif kind == "size":
        other = "M" if chosen.size == "S" else "S"
        change_after_freeze(chosen, facts(line, size=other), None)
    elif kind == "own":
        had = line.choices.exists()
        change_after_freeze(chosen, facts(line, own={} if had else {"FR": "oat"}), None)
    elif kind == "add":
        member = f"Late {Supplement.objects.count()}"
        change_after_freeze(line.team_order, late_member(line.team_order, member), None)
