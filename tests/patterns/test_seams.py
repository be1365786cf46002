"""Seams agree on both sides, and their runs on the blocks add up to the seams of a jacket."""

from __future__ import annotations

from dataclasses import replace

import pytest

from patterns.geometry.blocks import (
    Allowances,
    Anchor,
    Block,
    BlockName,
    EdgeLength,
    StyleLine,
    cut_blocks,
)
from patterns.geometry.drafting import BODIES, Ease, draft
from patterns.geometry.outline import Edge, EdgeKind, Outline, Pairing, PatternError
from patterns.geometry.seams import (
    EdgeRef,
    Seam,
    SeamKind,
    SeamRun,
    agreement,
    jacket_seams,
    seam_runs,
)

SEAMS = jacket_seams(Ease().cap_mm)


def strip(code: str, length_mm: float, pairing: Pairing = Pairing.PAIR) -> Outline:
    """A strip 100 mm high with a `top` and a `foot` edge of the length."""
    x = length_mm
    corners = ((0.0, 0.0), (x, 0.0), (x, 100.0), (0.0, 100.0), (0.0, 0.0))
    names = ("foot", "right", "top", "left")
    edges = tuple(Edge(name, corners[i : i + 2]) for i, name in enumerate(names))
    return Outline(code, code, pairing, edges)


def block(
    code: str, *edges: tuple[str, float], piece: str = "A", pairing: Pairing = Pairing.PAIR
) -> Block:
    """A block by its edges in order around it, which is all that seams ask of it."""
    lengths: dict[str, float] = {}
    for name, mm in edges:
        lengths[name] = lengths.get(name, 0.0) + mm
    ring = tuple(Edge(name, ((0.0, 0.0), (mm, 0.0))) for name, mm in edges)
    return Block(
        code=code,
        name=code,
        piece=piece,
        pairing=pairing,
        draft=Outline(code, code, pairing, ring),
        stitch_outline_mm=(),
        cut_outline_mm=(),
        notches=(),
        marks=(),
        grainline=((0.0, 0.0), (1.0, 0.0)),
        edges=tuple(EdgeLength(name, EdgeKind.SEAM, mm) for name, mm in lengths.items()),
    )


def style_line(code: str, cuts: str, left: str, right: str | None, *ends: Anchor) -> StyleLine:
    start, end = ends or (Anchor("left", 0.5), Anchor("right", 0.5))
    return StyleLine(
        code=code,
        name=code,
        cuts=cuts,
        start=start,
        end=end,
        left=BlockName(left, left),
        right=None if right is None else BlockName(right, right),
    )


def seam(*leads: EdgeRef, **more) -> Seam:
    return Seam("s", "Seam", SeamKind.JOIN, leads, **more)


def totals(runs: tuple[SeamRun, ...]) -> dict[str, float]:
    found: dict[str, float] = {}
    for run in runs:
        found[run.seam] = found.get(run.seam, 0.0) + run.length_mm
    return found


# -- agreement -------------------------------------------------------------------------------


def test_sides_are_compared_per_jacket_once_the_ease_is_off():
    sewn = seam(EdgeRef("A", "top", 2), follows=(EdgeRef("B", "foot", 2),), ease_mm=6.0)
    (found,) = agreement((strip("A", 200.0), strip("B", 203.4)), (sewn,))
    assert (found.leads_mm, found.follows_mm) == (400.0, pytest.approx(406.8))
    assert found.difference_mm == pytest.approx(0.8)
    assert found.holds


@pytest.mark.parametrize("length_mm", [198.9, 201.1])
def test_a_side_too_long_or_too_short_does_not_agree(length_mm: float):
    sewn = seam(EdgeRef("A", "top", 1), follows=(EdgeRef("B", "foot", 1),))
    (found,) = agreement((strip("A", 200.0), strip("B", length_mm)), (sewn,))
    assert not found.holds
    assert found.difference_mm == pytest.approx(length_mm - 200.0)


def test_a_seam_without_followers_has_nothing_to_agree_with():
    assert agreement((strip("A", 200.0),), (seam(EdgeRef("A", "top", 2)),)) == ()


def test_missing_piece_and_missing_edge_are_named():
    follows = (EdgeRef("B", "foot", 1),)
    with pytest.raises(PatternError, match="Seam 's' joins piece B"):
        agreement((strip("A", 1.0),), (seam(EdgeRef("A", "top", 1), follows=follows),))
    with pytest.raises(PatternError, match="no edge 'hem'"):
        agreement(
            (strip("A", 1.0), strip("B", 1.0)), (seam(EdgeRef("A", "hem", 1), follows=follows),)
        )


def test_jacket_seams_name_existing_edges_as_often_as_a_jacket_has_them():
    pieces = {piece.code: piece for piece in draft(BODIES[0], Ease()).pieces}
    for sewn in SEAMS:
        for ref in sewn.leads:
            pieces[ref.piece].edge(ref.edge)
            single = pieces[ref.piece].pairing is Pairing.SINGLE
            assert ref.times == (1 if single else 2), (sewn.code, ref)


def test_every_seam_edge_of_the_jacket_is_sewn_or_caught_with_its_outer_layer():
    sewn = {(ref.piece, ref.edge) for s in SEAMS for ref in (*s.leads, *s.follows)}
    left_over = {
        (piece.code, edge.name)
        for piece in draft(BODIES[0], Ease()).pieces
        for edge in piece.edges
        if edge.kind is not EdgeKind.FOLD and (piece.code, edge.name) not in sewn
    }
    assert left_over == {
        ("CO", "inner_neck"),
        ("CO", "inner_end"),
        ("CU", "inner_edge"),
        ("PI", "zipper_side"),
    }


# -- runs on blocks made by hand ---------------------------------------------------------------


def test_a_pair_counts_twice_and_a_single_once():
    blocks = (
        block("A", ("top", 120.0)),
        block("B", ("top", 80.0), piece="B", pairing=Pairing.SINGLE),
    )
    sewn = seam(EdgeRef("A", "top", 2), EdgeRef("B", "top", 1), topstitched=True, runs=3)
    assert seam_runs(blocks, (sewn,), ()) == (
        SeamRun("s", SeamKind.JOIN, "A", 240.0, 3, True),
        SeamRun("s", SeamKind.JOIN, "B", 80.0, 0, True),
    )


def test_an_opened_fold_counts_its_whole_edge_once():
    opened = block(
        "A",
        ("hem", 150.0),
        ("hem", 150.0),
        ("side", 300.0),
        ("neck", 100.0),
        ("side", 300.0),
        pairing=Pairing.FOLD,
    )
    hem, side = seam(EdgeRef("A", "hem", 2)), seam(EdgeRef("A", "side", 2))
    (over_the_fold,) = seam_runs((opened,), (hem,), ())
    assert over_the_fold.length_mm == 300.0
    (both_sides,) = seam_runs((opened,), (side,), ())
    assert both_sides.length_mm == 600.0


def test_a_style_line_is_counted_on_its_left_block_alone():
    blocks = (block("L", ("x", 90.0), ("top", 30.0)), block("R", ("x", 90.0), ("top", 70.0)))
    runs = seam_runs(blocks, (seam(EdgeRef("A", "top", 2)),), (style_line("x", "A", "L", "R"),))
    assert runs == (
        SeamRun("s", SeamKind.JOIN, "L", 60.0, 0, False),
        SeamRun("s", SeamKind.JOIN, "R", 140.0, 1, False),
        SeamRun("x", SeamKind.JOIN, "L", 180.0, 2, True, against=("R",)),
    )


def test_a_left_block_cut_again_hands_its_part_of_the_style_line_on():
    lines = (style_line("x", "A", "L", "R"), style_line("y", "L", "L1", "L2"))
    blocks = (
        block("L1", ("x", 60.0), ("y", 20.0)),
        block("L2", ("x", 40.0), ("y", 20.0)),
        block("R", ("x", 100.0)),
    )
    runs = seam_runs(blocks, (), lines)
    assert [(run.seam, run.block, run.length_mm) for run in runs] == [
        ("x", "L1", 120.0),
        ("x", "L2", 80.0),
        ("y", "L1", 40.0),
    ]


def test_a_left_block_may_keep_the_code_of_the_block_that_was_cut():
    lines = (style_line("x", "A", "A", "R"), style_line("y", "A", "T", "A"))
    blocks = (
        block("T", ("x", 60.0), ("y", 20.0)),
        block("A", ("x", 40.0), ("y", 20.0)),
        block("R", ("x", 100.0)),
    )
    assert totals(seam_runs(blocks, (), lines)) == {"x": 200.0, "y": 40.0}


def test_an_opened_fold_is_sewn_once_between_its_two_blocks():
    (run,) = seam_runs((block("H", ("cb", 500.0)),), (), (style_line("cb", "A", "H", None),))
    assert (run.length_mm, run.runs) == (500.0, 1)


def test_a_seam_or_style_line_on_no_block_is_refused():
    blocks = (block("A", ("top", 1.0)),)
    with pytest.raises(PatternError, match="no block of piece A has an edge 'foot'"):
        seam_runs(blocks, (seam(EdgeRef("A", "foot", 2)),), ())
    with pytest.raises(PatternError, match="Style line 'x' lies on no block"):
        seam_runs(blocks, (), (style_line("x", "A", "A", "B"),))


# -- runs on a drafted jacket ------------------------------------------------------------------


YOKE = style_line("yoke", "BK", "BKY", "BKL", Anchor("armhole", 0.5), Anchor("center_back", 0.8))
PANEL = style_line("panel", "BKL", "BKS", "BKC", Anchor("hem", 0.3), Anchor("armhole", 0.75))
CENTER = style_line(
    "back", "BKC", "BKH", None, Anchor("center_back", 0.0), Anchor("center_back", 1.0)
)
CHEST = style_line("chest", "FR", "FRA", "FRB", Anchor("center_front", 0.4), Anchor("armhole", 0.3))
BANDS = (
    style_line(
        "band1", "SL", "SLT", "SLB", Anchor("front_underarm", 0.3), Anchor("back_underarm", 0.7)
    ),
    style_line(
        "band2", "SLB", "SLM", "SLW", Anchor("front_underarm", 0.6), Anchor("back_underarm", 0.4)
    ),
)


def expected_mm(pieces: tuple[Outline, ...]) -> dict[str, float]:
    by_code = {piece.code: piece for piece in pieces}
    return {
        sewn.code: sum(
            ref.times * by_code[ref.piece].edge(ref.edge).length_mm for ref in sewn.leads
        )
        for sewn in SEAMS
    }


@pytest.mark.parametrize(
    "lines",
    [(), (YOKE,), (YOKE, PANEL), (YOKE, PANEL, CENTER), (CHEST, *BANDS, YOKE, PANEL, CENTER)],
    ids=["unsplit", "yoke", "side panels", "split back", "all"],
)
@pytest.mark.parametrize("size", ["YS", "M", "3XL"])
def test_runs_add_up_to_the_seams_however_the_pieces_are_split(
    size: str, lines: tuple[StyleLine, ...]
):
    pieces = draft(next(body for body in BODIES if body.code == size), Ease()).pieces
    blocks = cut_blocks(pieces, lines, Allowances())
    found = totals(seam_runs(blocks, SEAMS, lines))
    for code, length_mm in expected_mm(pieces).items():
        assert found[code] == pytest.approx(length_mm, abs=0.05), code
    # Both hands of a style line are equally long; an opened fold lies on the pair's both blocks.
    for line in lines:
        both_mm = sum(
            part.length_mm * one.pieces_per_jacket
            for one in blocks
            for part in one.edges
            if part.edge == line.code
        )
        assert found[line.code] == pytest.approx(both_mm / 2, abs=0.05), line.code


def test_sewing_goes_on_over_crossing_seams():
    pieces = draft(BODIES[0], Ease()).pieces
    lines = (YOKE, PANEL)
    runs: dict[str, int] = {}
    for run in seam_runs(cut_blocks(pieces, lines, Allowances()), SEAMS, lines):
        runs[run.seam] = runs.get(run.seam, 0) + run.runs
    # The yoke goes over the fold and is sewn once; the side panels stand on both sides.
    assert (runs["yoke"], runs["panel"]) == (1, 2)
    assert (runs["hem"], runs["neck"], runs["zipper"], runs["armhole"]) == (1, 1, 2, 2)


def test_no_topstitching_on_a_style_line_that_asks_for_none():
    pieces = draft(BODIES[0], Ease()).pieces
    plain = replace(YOKE, topstitched=False)
    runs = seam_runs(cut_blocks(pieces, (plain,), Allowances()), SEAMS, (plain,))
    topstitched = {run.seam for run in runs if run.topstitched}
    assert topstitched == {"shoulder", "armhole", "neck", "zipper"}


# -- what lies opposite ------------------------------------------------------------------------


def facing(
    *lines: StyleLine, pieces: tuple[Outline, ...] | None = None, seams: tuple[Seam, ...] = SEAMS
) -> dict[tuple[str, str], tuple[str, ...]]:
    """By seam and block what lies opposite, on the drafted jacket if no pieces are given."""
    pieces = pieces or draft(BODIES[0], Ease()).pieces
    blocks = cut_blocks(pieces, lines, Allowances())
    return {(run.seam, run.block): run.against for run in seam_runs(blocks, seams, lines)}


def test_whole_pieces_face_the_pieces_that_they_are_sewn_to():
    found = facing()
    assert found["shoulder", "FR"] == found["side", "FR"] == ("BK",)
    assert found["armhole", "FR"] == found["armhole", "BK"] == ("SL",)
    assert found["neck", "BK"] == ("CO",)
    assert found["cuff", "SL"] == ("CU",)


def test_a_seam_of_a_piece_with_itself_faces_itself():
    assert facing()["underarm", "SL"] == ("SL",)


def test_a_hem_and_a_zipper_face_nothing():
    found = facing()
    assert found["hem", "FR"] == found["zipper", "CO"] == ()


def test_a_style_line_faces_the_blocks_on_its_other_hand():
    found = facing(CHEST, YOKE, PANEL)
    assert found["chest", "FRA"] == ("FRB",)
    # The panel ends on the armhole below the yoke, so that the yoke meets the center alone.
    assert found["yoke", "BKY"] == ("BKC",)
    assert found["panel", "BKS"] == ("BKC",)


def test_an_opened_fold_faces_its_other_half():
    assert facing(replace(CENTER, cuts="BK"))["back", "BKH"] == ("BKH",)


def test_only_the_blocks_that_overlap_along_the_seam_are_faced():
    # The bands meet at like heights in front and behind, so that each faces itself.
    found = facing(*BANDS)
    assert [found["underarm", code] for code in ("SLT", "SLM", "SLW")] == [
        ("SLT",),
        ("SLM",),
        ("SLW",),
    ]


def test_bands_that_miss_each_other_face_two_blocks():
    # Cut at 0.3 of the way down in front, at 0.5 behind: between them the lower faces the upper.
    line = style_line(
        "band", "SL", "SLT", "SLB", Anchor("front_underarm", 0.3), Anchor("back_underarm", 0.5)
    )
    found = facing(line)
    assert found["underarm", "SLT"] == ("SLT",)
    assert found["underarm", "SLB"] == ("SLT", "SLB")


@pytest.mark.parametrize(("cap_split", "front", "back"), [(0.3, "B", "AB"), (0.7, "AB", "A")])
def test_the_armhole_runs_from_the_front_over_the_shoulder_to_the_back(
    cap_split: float, front: str, back: str
):
    """The cap runs from the back underarm to the front one, the armhole the other way: a cap cut
    near its start, behind, leaves the front facing one block and the back facing both."""
    line = style_line("capline", "SL", "SLX", "SLY", Anchor("cap", cap_split), Anchor("wrist", 0.5))
    found = facing(line)
    # Walking from the cap to the wrist, the back lies on the left: SLX behind, SLY in front.
    behind, ahead = ("SLX", "SLY") if "SLX" in found["armhole", "BK"] else ("SLY", "SLX")
    names = {"A": behind, "B": ahead}
    assert set(found["armhole", "FR"]) == {names[letter] for letter in front}
    assert set(found["armhole", "BK"]) == {names[letter] for letter in back}


def test_necklines_meet_at_the_shoulder_whatever_the_order_of_the_edges():
    """A collar cut at half of its neck seam: the part at the center back faces the back, the one
    at the end the front, also when the seam names the front first."""
    line = style_line("collar", "CO", "COF", "COB", Anchor("neck", 0.5), Anchor("inner_neck", 0.5))
    neck = next(one for one in SEAMS if one.code == "neck")
    turned = replace(neck, leads=neck.leads[::-1])
    for seams in (SEAMS, tuple(turned if one.code == "neck" else one for one in SEAMS)):
        found = facing(line, seams=seams)
        behind = found["neck", "BK"]
        assert len(behind) == 1
        assert set(found["neck", "FR"]) == {"COF", "COB"}


def test_edges_that_both_rise_meet_at_like_heights():
    """Two strips laid on each other, both drawn with the edge on their right: the upper part faces
    the upper part, although both edges run the same way."""
    lower, upper = ((0.0, 0.0), (100.0, 0.0)), ((100.0, 400.0), (0.0, 400.0))
    outlines = tuple(
        Outline(
            code,
            code,
            Pairing.PAIR,
            (
                Edge(f"{code}foot", lower),
                Edge(f"{code}side", ((100.0, 0.0), (100.0, 400.0))),
                Edge(f"{code}top", upper),
                Edge(f"{code}inner", ((0.0, 400.0), (0.0, 0.0))),
            ),
            grainline=((50.0, 300.0), (50.0, 100.0)),
        )
        for code in ("A", "B")
    )
    sewn = seam(EdgeRef("A", "Aside", 2), follows=(EdgeRef("B", "Bside", 2),))
    lines = tuple(
        style_line(
            f"{code}line", code, f"{code}1", f"{code}2",
            Anchor(f"{code}side", 0.25), Anchor(f"{code}inner", 0.75),
        )
        for code in ("A", "B")
    )  # fmt: skip
    found = facing(*lines, pieces=outlines, seams=(sewn,))
    assert found["s", "A1"] == ("B1",)
    assert found["s", "A2"] == ("B2",)


def test_where_the_order_of_the_edges_cannot_be_told_all_blocks_are_faced():
    blocks = (
        block("L", ("top", 60.0)),
        block("R", ("top", 40.0)),
        block("B1", ("foot", 50.0), piece="B"),
        block("B2", ("foot", 50.0), piece="B"),
    )
    sewn = seam(EdgeRef("A", "top", 2), follows=(EdgeRef("B", "foot", 2),))
    assert [run.against for run in seam_runs(blocks, (sewn,), ())] == [("B1", "B2")] * 2
