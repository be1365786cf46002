"""Cut reports: ply by ply, with the cloth that each took, what they settle, what they refuse."""

from __future__ import annotations

from contextlib import suppress

import pytest
from django.db import transaction

from production.changing.change_state import Known, supplements_check
from production.changing.changes import Cancel, change_after_freeze
from production.errors import MovedOnError, ProductionError
from production.models import (
    CutTicket,
    Jacket,
    Lay,
    LayPly,
    Run,
    SparePart,
    StockLot,
    StockMovement,
)
from production.planning.cutting.lays import ply_pieces
from production.reporting import cut_counts, cut_reports
from production.reporting.cut_reports import mark_cut, report_cut, take_back
from production.reporting.cut_settling import CutReportError
from production.reporting.missing import Missing, report_missing
from production.reporting.recuts import make_recut
from production.stages.table import ready_jackets
from production.stock.cloth import ClothError, receive
from production.tracking import record
from tests.production.change_factories import jacket
from tests.production.report_factories import cut_all, cut_whole, make_bolts, make_cut_run
from tests.production.run_factories import make_person

pytestmark = pytest.mark.django_db

LAY = "R-0001-T2-L1"


def lay(code: str = LAY) -> Lay:
    return Lay.objects.get(code=code)


def cut_numbers(code: str = LAY) -> list[int]:
    rows = LayPly.objects.filter(lay__code=code, cut_at__isnull=False)
    return list(rows.values_list("number", flat=True))


def left_mm(bolt: str = "B-SPRUCE") -> int:
    return sum(StockMovement.objects.filter(lot__code=bolt).values_list("mm", flat=True))


@pytest.fixture
def run() -> Run:
    run = make_cut_run(jackets=4)
    one = lay()
    one.plies = 3
    one.save()
    return run


def test_a_ply_takes_its_cloth_and_says_who_cut_it(run):
    ana = make_person("ana")
    before_mm = left_mm()
    done = report_cut(LAY, [2], ana, lot="B-SPRUCE")
    ply = LayPly.objects.get(lay__code=LAY, number=2)
    assert (cut_numbers(), ply.cut_by) == ([2], ana)
    assert before_mm - left_mm() == ply.takes_mm
    assert done.words.startswith("R-0001-T2-L1: ply 2 cut.")


def test_all_plies_that_are_left_are_cut_in_one_tap(run):
    report_cut(LAY, [2], None, lot="B-SPRUCE")
    assert report_cut(LAY, None, None, lot="B-SPRUCE").numbers == (1, 3)
    assert cut_numbers() == [1, 2, 3]
    with pytest.raises(MovedOnError, match="all plies are reported as cut already"):
        report_cut(LAY, None, None, lot="B-SPRUCE")


def test_a_ply_is_cut_once_and_the_second_phone_is_told(run):
    report_cut(LAY, [1], make_person("ana"), lot="B-SPRUCE")
    before_mm = left_mm()
    with pytest.raises(MovedOnError, match="ply 1 was already reported as cut by ana at"):
        report_cut(LAY, [1], make_person("ben"), lot="B-SPRUCE")
    assert left_mm() == before_mm


@pytest.mark.parametrize("number", [0, -1, 4, 10_000])
def test_a_ply_that_the_lay_does_not_have_is_refused(run, number):
    with pytest.raises(CutReportError, match=r"has no ply .*: its plies are numbered 1 to 3"):
        report_cut(LAY, [1, number], None, lot="B-SPRUCE")
    with pytest.raises(CutReportError, match="numbered 1 to 3"):
        take_back(LAY, number, None)
    assert not LayPly.objects.exists()


def test_taking_back_is_a_movement_of_its_own(run):
    before_mm = left_mm()
    report_cut(LAY, [1], None, lot="B-SPRUCE")
    take_back(LAY, 1, make_person("ana"))
    assert cut_numbers() == []
    assert left_mm() == before_mm
    kinds = StockMovement.objects.filter(ply__lay__code=LAY).order_by("pk")
    assert list(kinds.values_list("kind", flat=True)) == ["cut", "undone"]
    told = [step.words for step in cut_reports.reports_of(kinds)]
    assert told[0] == "R-0001-T2-L1, ply 1: taken back, not cut from B-SPRUCE (lot-spruce)"
    with pytest.raises(MovedOnError, match="ply 1 is not reported as cut"):
        take_back(LAY, 1, None)
    report_cut(LAY, [1], None)  # the bolt is known by now
    assert cut_numbers() == [1]


@pytest.mark.parametrize(
    ("lot", "words"),
    [
        ("", "say which bolt of spruce it was cut from"),
        ("B-OAT", "B-OAT is oat"),
        ("B-NONE", "No bolt has the code 'B-NONE'"),
        ("B-SHORT", "B-SHORT has no"),
    ],
)
def test_cloth_that_it_cannot_come_from_is_refused(run, lot, words):
    receive(
        code="B-SHORT",
        fabric_color=CutTicket.objects.get(code="R-0001-T2").fabric_color,
        dye_lot="x",
        length_mm=100,
        received_on=run.deadline,
        by=None,
    )
    with pytest.raises(ProductionError, match=words):
        report_cut(LAY, [1], None, lot=lot)
    assert not LayPly.objects.exists()
    assert StockMovement.objects.filter(kind="cut").count() == 0


def test_a_bolt_that_is_on_no_list_comes_in_by_its_dye_lot():
    make_cut_run(bolts=False)
    one = lay()
    one.plies = 3
    one.save()
    for number in (1, 3, 2):
        report_cut(LAY, [number], None, new_dye_lot="77-B")
    lot = StockLot.objects.get()
    assert (lot.code, lot.dye_lot, lot.fabric_color.code) == ("spruce-1", "77-B", "spruce")
    assert left_mm("spruce-1") == 0


def test_a_bolt_that_is_too_short_by_the_books_is_named():
    make_cut_run(bolts=False)
    make_bolts(length_mm=3000)
    report_cut(LAY, [1], None, lot="B-SPRUCE")
    take_back(LAY, 1, None)
    bolt = StockLot.objects.get(code="B-SPRUCE")
    StockMovement.objects.create(lot=bolt, kind="counted", mm=-2900, reason="burnt")
    with pytest.raises(ClothError, match=r"B-SPRUCE"):
        report_cut(LAY, [1], None)
    assert cut_numbers() == []


def test_what_is_cut_beyond_the_ticket_becomes_spare_and_goes_with_the_report(run):
    done = report_cut(LAY, None, None, lot="B-SPRUCE")
    beyond = 2 * len(lay().placements)  # one ply was asked for, and three are cut
    assert done.spares == SparePart.objects.count() == beyond
    assert {part.origin for part in SparePart.objects.all()} == {"cut beyond ticket R-0001-T2"}
    assert {spare.ticket for spare in Known.of(run).spares()} == {"R-0001-T2"}
    check = supplements_check(run)
    assert check and check.holds, check and check.detail
    take_back(LAY, 3, None)
    assert SparePart.objects.count() == beyond // 2


def test_what_is_cut_beyond_a_recut_stands_on_the_ticket_that_the_jackets_are_on(run):
    report_missing(Missing("TO-1-01", "FR", "left", "hole"), None)
    assert make_recut(run, None)
    Lay.objects.filter(code="R-0001-C1-T1-L1").update(plies=2)
    report_cut("R-0001-C1-T1-L1", None, None, lot="B-SPRUCE")
    assert SparePart.objects.get().origin == "cut beyond ticket R-0001-C1-T1"
    [spare] = Known.of(run).spares()
    assert spare.ticket == "R-0001-T2"


def test_a_spare_part_that_a_jacket_gave_back_stays_when_a_ply_is_taken_back(run):
    report_cut(LAY, None, None, lot="B-SPRUCE")
    record("TO-1-01", "done", "cut", None)
    change_after_freeze(jacket(1), Cancel(), None)
    given_back = set(SparePart.objects.filter(from_jacket=jacket(1)))
    take_back_all_but_refused(LAY)
    assert given_back <= set(SparePart.objects.all())
    check = supplements_check(run)
    assert check and check.holds, check and check.detail


def take_back_all_but_refused(code: str) -> None:
    for number in cut_numbers(code):
        with suppress(CutReportError), transaction.atomic():
            take_back(code, number, None)


def test_a_ply_stays_cut_once_its_spare_part_is_taken(run):
    report_cut(LAY, None, None, lot="B-SPRUCE")
    part = SparePart.objects.filter(block="BK").first()
    assert part
    owner = Jacket.objects.filter(size=part.size).first()
    assert owner
    piece = report_missing(Missing(owner.code, "BK", "single", "hole"), None)
    assert piece.spare
    SparePart.objects.filter(block="BK", size=part.size, taken_by=None).delete()
    with pytest.raises(CutReportError, match="was taken by a jacket, so the ply stays cut"):
        for number in (3, 2, 1):
            with transaction.atomic():
                take_back(LAY, number, None)


def test_a_ply_with_a_spoiled_piece_stays_cut():
    make_cut_run()
    report_cut(LAY, None, None, lot="B-SPRUCE")
    ply = lay().ply_rows.get(number=1)
    place = lay().placements[0]
    owner = Jacket.objects.filter(size=place["size"]).first()
    assert owner
    told = Missing(owner.code, place["block"], place["side"], "hole", LAY, 1)
    assert report_missing(told, None).ply == ply
    with pytest.raises(CutReportError, match="is reported as short or spoiled"):
        take_back(LAY, 1, None)


def test_a_ply_that_a_supplement_counts_on_stays_cut():
    run = make_cut_run()
    cut_all(run)
    change_after_freeze(jacket(1), Cancel(), None)
    with pytest.raises(CutReportError, match="supplement 1 was made after that"):
        take_back(LAY, 1, None)


def test_taking_back_a_recut_ply_makes_the_jacket_wait_again():
    run = make_cut_run(cut=(1,))
    piece = report_missing(Missing("TO-1-01", "FR", "left", "hole"), None)
    made = make_recut(run, None)
    assert made
    cut_whole(made.cut_tickets.get())
    piece.refresh_from_db()
    assert piece.is_replaced
    take_back("R-0001-C1-T1-L1", 1, None)
    piece.refresh_from_db()
    assert not piece.is_replaced
    cut_whole(made.cut_tickets.get())
    report_missing(Missing("TO-1-01", "FR", "left", "torn"), None)
    with pytest.raises(CutReportError, match="it was spoiled again"):
        take_back("R-0001-C1-T1-L1", 1, None)


def test_jackets_are_ready_once_every_ply_they_need_is_cut_and_nothing_is_missing():
    run = make_cut_run()
    assert ready_jackets(run) == []
    cut_whole(run.cut_tickets.get(code="R-0001-T2"))
    assert ready_jackets(run) == []
    report_missing(Missing("TO-1-02", "FR", "left", "hole"), None)
    change_after_freeze(jacket(3), Cancel(), None)
    cut_whole(run.cut_tickets.get(code="R-0001-T1"))
    assert [each.code for each in ready_jackets(run)] == ["TO-1-01"]
    ana = make_person("ana")
    assert mark_cut(run, ana) == (["TO-1-01"], [])
    assert (jacket(1).stage, jacket(2).stage) == ("sew", "cut")
    assert jacket(1).events.get().by == ana
    assert mark_cut(run, ana) == ([], [])


def test_a_jacket_that_was_marked_by_hand_is_not_marked_again():
    run = make_cut_run(cut=(1,))
    cut_all(run)
    assert mark_cut(run, None)[0] == ["TO-1-02", "TO-1-03"]


def test_a_jacket_sent_back_to_cutting_is_not_ready_while_a_piece_is_missing():
    run = make_cut_run()
    cut_all(run)
    mark_cut(run, None)
    report_missing(Missing("TO-1-01", "FR", "left", "hole"), None)
    record("TO-1-01", "send_back", "cut", None, "one front missing")
    assert ready_jackets(run) == []


@pytest.mark.parametrize(
    ("mode", "plies", "lengths", "first"),
    [
        ("face_up", 2, 2, {("FR", "S", "left"): 1}),
        ("face_to_face", 2, 2, {("FR", "S", "left"): 1}),
        ("folded", 2, 1, {("FR", "S", "left"): 1, ("FR", "S", "right"): 1}),
    ],
)
def test_a_folded_length_yields_both_of_its_layers(mode, plies, lengths, first):
    one = Lay(code="L", mode=mode, plies=plies, usable_width_mm=1000, length_mm=1000.0)
    one.placements = [
        {
            "block": "FR",
            "size": "S",
            "side": "left",
            "x_mm": 0,
            "y_mm": 0,
            "rotation_deg": 0,
            "mirrored": False,
        }
    ]
    assert cut_counts.length_count(one) == lengths
    assert dict(ply_pieces(cut_counts.planned_lay(one), 1)) == first


def test_an_unknown_lay_is_named():
    with pytest.raises(CutReportError, match="No lay has the code 'R-9'"):
        report_cut("R-9", None, None)
