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
from production.models import Lay
from production.planning.explode import shapes_by_key
from production.planning.plan import Lay as PlannedLay
from production.planning.plan import Placement, Plan
from production.planning.snapshot import RunSnapshot
from tests.production.document_factories import printable_run
from tests.production.lay_choice_factories import run_with_rows
from tests.production.run_factories import make_run
from tests.production.test_documents import assert_letters_apart

SHAPES = shapes_by_key(printable_run()[0].shapes)


def pdf_of(snapshot: RunSnapshot, plan: Plan, notes: dict[str, str] | None = None) -> bytes:
    target = io.BytesIO()
    cut_tickets.write(target, snapshot, plan, lay_notes=notes)
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


def test_a_lay_in_rows_for_want_of_better_says_why() -> None:
    snapshot, plan = printable_run()
    code = plan.cut_tickets[0].lays[0].lay
    assert "Laid in plain rows" not in words_of(pdf_of(snapshot, plan))
    content = pdf_of(snapshot, plan, {code: "the nester took longer than it may."})
    assert "Laid in plain rows: the nester took longer than it may." in words_of(content)
    assert_letters_apart(content)


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
    assert "Laid in plain rows: the nester was stopped." in words
    capsys.readouterr()
