"""The lays on the cut ticket's paper: how they are spread, to which scale, and what is named."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from django.core.management import call_command
from pypdf import PdfReader

from production.documents import cut_tickets
from production.documents.lay_diagrams import lay_diagram
from production.documents.lay_labels import Shown, label
from production.documents.paper import LEAST_SIZE, text_width
from production.documents.ticket_bands import sample_words
from production.documents.ticket_view import ClothRow, PaperCloth, TicketExtras
from production.models import Lay, LayPly, StockLot
from production.planning.explode import shapes_by_key
from production.planning.plan import Lay as PlannedLay
from production.planning.plan import Placement, Plan
from production.planning.snapshot import RunSnapshot
from production.reporting.cut_reports import report_cut
from tests.production.document_factories import printable_run
from tests.production.lay_choice_factories import run_with_rows
from tests.production.report_factories import make_cut_run
from tests.production.run_factories import make_run
from tests.production.test_documents import assert_letters_apart

SHAPES = shapes_by_key(printable_run()[0].shapes)


def pdf_of(
    snapshot: RunSnapshot,
    plan: Plan,
    notes: dict[str, str] | None = None,
    cloth: dict[str, PaperCloth] | None = None,
) -> bytes:
    target = io.BytesIO()
    cut_tickets.write(target, snapshot, plan, extras=TicketExtras(notes or {}, cloth or {}))
    return target.getvalue()


def words_of(content: bytes) -> str:
    return " ".join(
        " ".join(p.extract_text() for p in PdfReader(io.BytesIO(content)).pages).split()
    )


def with_lay(mode: str, plies: int, nap: str = "one_way") -> tuple[RunSnapshot, Plan, PlannedLay]:
    """The printable run with the first lay of its first ticket spread in another mode."""
    snapshot, plan = printable_run()
    first = plan.cut_tickets[0]
    lay = replace(first.lays[0], mode=mode, plies=plies)
    ticket = replace(first, nap=nap, lays=(lay, *first.lays[1:]))
    return snapshot, replace(plan, cut_tickets=(ticket, *plan.cut_tickets[1:])), lay


@pytest.mark.parametrize(
    ("mode", "nap", "words"),
    [
        ("face_up", "one_way", "face up: every ply right side up, all naps the same way"),
        ("face_up", "two_way", "face up: every ply right side up lay"),
        ("face_to_face", "one_way", "cut off each ply and start again from the same end"),
        ("face_to_face", "two_way", "the cloth may go to and fro"),
        ("folded", "one_way", "folded lengthwise, right side inside: fold along the far edge"),
        ("folded", "two_way", "selvedges at the near edge"),
    ],
)
def test_the_ticket_says_how_to_spread_each_mode(mode: str, nap: str, words: str) -> None:
    snapshot, plan, _ = with_lay(mode, 2, nap)
    content = pdf_of(snapshot, plan)
    assert words in words_of(content)
    assert_letters_apart(content)


def test_layers_of_a_folded_lay_are_told_in_lengths_too() -> None:
    snapshot, plan, lay = with_lay("folded", 4)
    words = words_of(pdf_of(snapshot, plan))
    assert "4 plies = 2 lengths folded" in words
    assert f"folded width {lay.usable_width_mm / 1000:.2f} m" in words


def test_a_small_lay_leaves_room_for_the_words_above_it() -> None:
    _, plan = printable_run()
    lay = replace(plan.cut_tickets[0].lays[0], placements=(), length_mm=300.0)
    drawn = lay_diagram(lay, 20, SHAPES, 500, 400, most_strips=1)
    assert drawn
    words = text_width("grain and nap run this way", LEAST_SIZE)
    assert drawn.width >= words + 34  # the arrow ends there


def test_a_lay_in_rows_for_want_of_better_says_why() -> None:
    snapshot, plan = printable_run()
    code = plan.cut_tickets[0].lays[0].lay
    assert "The nester" not in words_of(pdf_of(snapshot, plan))
    content = pdf_of(snapshot, plan, {code: "the nester took longer than it may."})
    assert "The nester took longer than it may." in words_of(content)
    assert_letters_apart(content)


def test_the_ticket_says_from_which_cloth_each_ply_is_spread() -> None:
    snapshot, plan = printable_run()
    ticket = plan.cut_tickets[0]
    flaws = "; ".join(f"oil stain at {n}.20 m, 350 mm from the lower selvedge" for n in range(6))
    rows = (
        ClothRow(ticket.lays[0].lay, "1 to 3", "bolt B-101, dye lot SP-4471", "0.00 m", "9.30 m"),
        ClothRow(ticket.lays[0].lay, "4", "bolt B-101, dye lot SP-4471", "9.90 m", "3.10 m", flaws),
        ClothRow(ticket.lays[0].lay, "5", "to be bought", "", "3.10 m"),
    )
    apart = ("2 dye lots: keep their pieces apart.", "dye lot SP-4471: J-01 to J-09")
    content = pdf_of(snapshot, plan, cloth={ticket.ticket: PaperCloth(rows, apart)})
    words = words_of(content)
    for row in rows:
        assert f"{row.lay} {row.plies} {row.cloth} {row.start}".rstrip() in words
    assert words.count("oil stain at") == 6
    assert all(line in words for line in apart)
    assert words.count("Spread from") == 1
    assert_letters_apart(content)


def test_a_lay_that_is_narrower_than_the_fabric_says_so() -> None:
    snapshot, plan = printable_run()
    ticket = plan.cut_tickets[0]
    assert "narrower than the fabric" not in words_of(pdf_of(snapshot, plan))
    narrow = replace(ticket.lays[0], usable_width_mm=ticket.lays[0].usable_width_mm - 100)
    changed = replace(plan, cut_tickets=(replace(ticket, lays=(narrow, *ticket.lays[1:])),))
    assert words_of(pdf_of(snapshot, changed)).count("narrower than the fabric") == 1


# MIL-STD-105E Tables I and II-A (as ISO 2859-1), AQL 4.0: lots 2-8 go on to letter B, 51-90 are
# 13/1/2, 281-500 are 50/5/6, 501-1200 are 80/7/8.
@pytest.mark.parametrize(
    ("pieces", "words"),
    [
        (2, "check all 2 pieces; accept up to 0 faulty"),
        (84, "check 13 of 84 pieces; accept up to 1 faulty"),
        (400, "check 50 of 400 pieces; accept up to 5 faulty"),
        (1201, "of each 1200 pieces check 80; accept up to 7 faulty"),
    ],
)
def test_the_ticket_says_how_many_pieces_to_check(pieces: int, words: str) -> None:
    assert words in sample_words(pieces)
    assert "ISO 2859-1" in sample_words(pieces)


def test_the_ticket_names_scale_notches_and_safety() -> None:
    words = words_of(pdf_of(*printable_run()))
    for each in ("drawn 1:", "mark every notch before a block leaves its ply", "close the blade"):
        assert each in words


def test_a_lay_of_six_metres_names_all_its_seventy_blocks() -> None:
    """Yokes of 220 by 280 mm, lefts and rights by turns."""
    spots = [(120 + 245 * (n % 24), 150 + 300 * (n // 24)) for n in range(70)]
    placements = [
        Placement("FY", "M", "right" if n % 2 else "left", *spot, 0.0, n % 2 == 1)
        for n, spot in enumerate(spots)
    ]
    lay = PlannedLay("R-1-T1-L1", "face_up", 1, 1400, 5960.0, 0.7, 4000.0, 7000.0, (*placements,))
    diagram = lay_diagram(lay, 20, SHAPES, 774, 400, most_strips=8)
    assert diagram is not None
    assert diagram.scale <= 25
    assert diagram.key == ()
    assert sum(len(strip.labels) for strip in diagram.strips) >= 70


def test_a_block_with_little_room_names_its_side_by_a_letter() -> None:
    from shapely import box

    place = Placement("FY", "M", "right", 0, 0, 0.0, True)
    wide, narrow = (box(0, 0, width, 9) for width in (70, 30))
    full, short = (label(Shown(place, shape, shape)) for shape in (wide, narrow))
    assert full is not None and full.lines == ("FY M right",)
    assert short is not None and short.lines == ("FY M R",)
    assert short.stands_for == "FY M right"


@pytest.mark.django_db
def test_the_printed_tickets_name_the_cloth_that_is_planned_or_cut(tmp_path, capsys) -> None:
    run = make_cut_run()
    code = "R-0001-T2-L1"
    report_cut(code, None, None, lot="B-SPRUCE")
    oat = Lay.objects.get(code="R-0001-T1-L1")
    for number in (1, 2):
        LayPly.objects.create(lay=oat, number=number, takes_mm=500)
    bolt = StockLot.objects.get(code="B-SPRUCE")
    start_mm = LayPly.objects.filter(lay__code=code).values_list("start_mm", flat=True)[0] or 0
    bolt.flaws.create(at_mm=start_mm + 50, across_mm=340, length_mm=10, width_mm=10, words="slub")
    bolt.flaws.create(at_mm=start_mm + 30_000, across_mm=1, length_mm=10, width_mm=10)
    call_command("print_run", run.code, out=tmp_path, only="tickets")
    words = words_of((tmp_path / f"cut-tickets-{run.code}.pdf").read_bytes())
    assert "bolt B-SPRUCE, dye lot lot-spruce, cut already" in words
    assert "slub at 0.05 m, 340 mm from the lower selvedge" in words
    assert "flaw at" not in words
    assert "R-0001-T1-L1 1 to 2 to be bought" in words
    capsys.readouterr()


@pytest.mark.django_db
def test_full_size_lays_are_printed_only_when_asked_for(tmp_path, capsys) -> None:
    run = run_with_rows(make_run(2))
    call_command("print_run", run.code, out=tmp_path / "all")
    assert not list((tmp_path / "all").glob("lay-*"))
    call_command("print_run", run.code, out=tmp_path / "lays", only="lays")
    written = {path.name for path in (tmp_path / "lays").iterdir()}
    assert written == {f"lay-{lay.code}.pdf" for lay in Lay.objects.all()}
    capsys.readouterr()


@pytest.mark.django_db
def test_the_printed_ticket_of_a_run_gives_the_note_of_its_lay(tmp_path, capsys) -> None:
    run = run_with_rows(make_run(2))
    Lay.objects.filter(position=0).update(method_note="the nester was stopped.")
    call_command("print_run", run.code, out=tmp_path, only="tickets")
    words = words_of((tmp_path / f"cut-tickets-{run.code}.pdf").read_bytes())
    assert "The nester was stopped." in words
    capsys.readouterr()
