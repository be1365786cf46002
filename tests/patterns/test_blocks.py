from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from patterns.geometry.blocks import (
    Allowances,
    Anchor,
    BlockName,
    StyleLine,
    cut_blocks,
    mirrored,
    unfolded,
)
from patterns.geometry.bodies import BODIES, Ease
from patterns.geometry.drafting import draft
from patterns.geometry.outline import (
    Edge,
    EdgeKind,
    Mark,
    Notch,
    Pairing,
    PatternError,
    bounds,
    signed_area_mm2,
)
from patterns.geometry.style_lines import split
from patterns.shipped import BLOCKINGS
from tests.patterns.outlines import bends, make_half_front, make_outline, star_outlines

PLAIN = Allowances(10, 30)


def make_cut(code="cut", cuts="P", start=("s0", 0.4), end=("s2", 0.6), left="A", right="B", **more):
    return StyleLine(
        code=code,
        name=f"{code} seam",
        cuts=cuts,
        start=Anchor(*start),
        end=Anchor(*end),
        left=BlockName(left, f"Block {left}"),
        right=right and BlockName(right, f"Block {right}"),
        **more,
    )


YOKE = make_cut("yoke", "FR", ("armhole", 0.6), ("center", 0.2), "BODY", "YOKE")
PANEL = make_cut("panel", "BODY", ("hem", 0.6), ("armhole", 0.3), "MID", "SIDE")
OPEN = make_cut("open", "FR", ("center", 0.0), ("center", 1.0), "HALF", None)

# Unfolding


def make_half(**more):
    """The right half of the 100 x 60 rectangle: half 50 wide, folded on its left."""
    values = {
        "points": ((0, 0), (50, 0), (50, 60), (0, 60)),
        "fold": ["s3"],
        "pairing": Pairing.FOLD,
    } | more
    return make_outline(**values)


def test_edges_that_end_on_the_fold_go_on_into_their_mirror_image():
    whole = unfolded(make_half())
    assert [(edge.name, edge.points) for edge in whole.edges] == [
        ("s0", ((-50, 0), (0, 0), (50, 0))),
        ("s1", ((50, 0), (50, 60))),
        ("s2", ((50, 60), (0, 60), (-50, 60))),
        ("s1", ((-50, 60), (-50, 0))),
    ]
    assert whole.pairing is Pairing.SINGLE


def test_a_half_at_negative_x_unfolds_as_well():
    half = make_outline(((-50, 0), (0, 0), (0, 60), (-50, 60)), fold=["s1"], pairing=Pairing.FOLD)
    whole = unfolded(half)
    assert signed_area_mm2(whole.ring) == 6000
    assert whole.edge("s0").points == ((-50, 0), (0, 0), (50, 0))


def test_a_half_with_one_edge_beside_its_fold_unfolds_to_two():
    arc = tuple((50 * math.cos(t), 50 * math.sin(t)) for t in (-1.5707963267948966, 0.0, 0.5))
    edges = (
        Edge("around", ((0, -50), *arc[1:], (0, 50))),
        Edge("fold", ((0, 50), (0, -50)), EdgeKind.FOLD),
    )
    half = make_outline(edges=edges, pairing=Pairing.FOLD)
    whole = unfolded(half)
    assert [edge.name for edge in whole.edges] == ["around", "around"]
    assert whole.area_mm2 == pytest.approx(2 * half.area_mm2)


def test_unfolding_mirrors_notches_and_keeps_one_on_the_fold():
    notches = (Notch("side", "s1", (50, 20), 2), Notch("center", "s2", (0, 60)))
    assert unfolded(make_half(notches=notches)).notches == (
        Notch("side", "s1", (50, 20), 2),
        Notch("side", "s1", (-50, 20), 2),
        Notch("center", "s2", (0, 60)),
    )


def test_a_notch_on_the_fold_goes_to_the_edge_at_its_end_or_becomes_a_mark():
    notches = (
        Notch("top", "s3", (0, 60)),
        Notch("bottom", "s3", (0, 0)),
        Notch("waist", "s3", (0, 25)),
    )
    whole = unfolded(make_half(notches=notches))
    assert whole.notches == (Notch("top", "s2", (0, 60)), Notch("bottom", "s0", (0, 0)))
    assert whole.marks == (Mark("waist", ((0, 25),)),)


@pytest.mark.parametrize(
    ("points", "expected"),
    [
        (((20, 30),), [((20, 30),), ((-20, 30),)]),
        (((0, 30),), [((0, 30),)]),
        (((50, 30), (0, 40)), [((50, 30), (0, 40), (-50, 30))]),
        (((0, 40), (50, 30)), [((-50, 30), (0, 40), (50, 30))]),
        (((0, 40), (0, 10)), [((0, 40), (0, 10))]),
        (((10, 40), (20, 10)), [((10, 40), (20, 10)), ((-20, 10), (-10, 40))]),
    ],
)
def test_unfolding_mirrors_marks_and_joins_those_that_end_on_the_fold(points, expected):
    whole = unfolded(make_half(marks=(Mark("mark", points, "text"),)))
    assert [mark.points for mark in whole.marks] == expected
    assert {(mark.code, mark.text) for mark in whole.marks} == {("mark", "text")}


def test_what_is_not_folded_stays_as_it_is():
    pair = make_outline(pairing=Pairing.PAIR)
    assert unfolded(pair) is pair


@pytest.mark.parametrize(
    ("half", "message"),
    [
        (make_half(fold=[]), "fold of P must be one stretch, not 0"),
        (make_half(fold=["s1", "s3"]), "fold of P must be one stretch, not 2"),
        (make_half(points=((1, 0), (50, 0), (50, 60), (1, 60))), "must lie on x = 0"),
        (
            make_half(points=((0, 0), (50, 0), (-9, 70), (0, 60))),
            "half outline P crosses its fold",
        ),
        (
            make_half(edges=(Edge("f", ((0, 0), (0, 9), (0, 0)), EdgeKind.FOLD),)),
            "half outline P has no edge beside its fold",
        ),
    ],
)
def test_a_half_that_cannot_be_unfolded_is_refused(half, message):
    with pytest.raises(PatternError, match=message):
        unfolded(half)


@settings(deadline=None)
@given(star_outlines(convex=True))
def test_unfolding_doubles_the_area(outline):
    assume(min(x for x, _ in outline.ring) < -1)  # else an edge lies on the fold: nothing to cut
    right, _ = split(outline, ((0, -300), (0, 300)), "fold")[::-1]
    edges = tuple(
        replace(edge, kind=EdgeKind.FOLD, points=tuple((0.0, y) for _, y in edge.points))
        if edge.name == "fold"
        else edge
        for edge in right.edges
    )
    half = replace(right, edges=edges, pairing=Pairing.FOLD, notches=())
    whole = unfolded(half)
    assert signed_area_mm2(whole.ring) == pytest.approx(2 * half.area_mm2)


# The lay frame


def test_a_block_lies_with_its_grain_along_x_and_its_cut_outline_centered():
    (block,) = cut_blocks((make_outline(hem=["s0"]),), (), PLAIN)
    # Drafted 120 wide and 70 + 30 high, turned by +90 degrees: 100 along the grain, 120 across.
    assert bounds(block.cut_outline_mm) == (-50, -60, 50, 60)
    assert signed_area_mm2(block.cut_outline_mm) == 12000
    assert set(block.stitch_outline_mm) == {(-40, -50), (-40, 50), (20, 50), (20, -50)}
    (ax, ay), (bx, by) = block.grainline
    assert ay == by
    assert ax < bx, "the nap runs down the garment, which is +x in the lay frame"


def test_the_hem_lies_toward_plus_x_where_the_nap_points():
    (block,) = cut_blocks((make_outline(hem=["s0"]),), (), PLAIN)
    left = [x for x, _ in block.cut_outline_mm]
    hem_side = max(left) - max(x for x, _ in block.stitch_outline_mm)
    assert hem_side == 30


def test_the_right_block_is_mirrored_across_the_grainline():
    ring = ((0, 0), (10, 0), (10, 5))
    assert mirrored(ring) == ((10, -5), (10, 0), (0, 0))
    assert signed_area_mm2(mirrored(ring)) == signed_area_mm2(ring)
    assert mirrored(mirrored(ring)) == ring


# Cutting


def test_a_left_and_a_right_block_take_the_place_of_the_one_that_is_cut():
    pieces = (make_outline(code="X"), make_outline(), make_outline(code="Z"))
    blocks = cut_blocks(pieces, (make_cut(),), PLAIN)
    assert [(block.code, block.name, block.piece) for block in blocks] == [
        ("X", "Piece", "X"),
        ("A", "Block A", "P"),
        ("B", "Block B", "P"),
        ("Z", "Piece", "Z"),
    ]


def test_a_later_line_cuts_a_block_of_an_earlier_one_on_the_base_pieces_edges():
    # The second line starts at the hem and ends beyond the yoke seam, where it is clipped.
    second = make_cut("second", "BODY", ("hem", 0.3), ("neckline", 0.5), "IN", "OUT")
    blocks = {
        block.code: block for block in cut_blocks((make_half_front(),), (YOKE, second), PLAIN)
    }
    assert set(blocks) == {"IN", "OUT", "YOKE"}
    lengths = {
        code: sum(edge.length_mm for edge in block.edges if edge.edge == "yoke")
        for code, block in blocks.items()
    }
    # Both halves of the yoke and of the inner block; OUT is one of a pair.
    assert lengths["YOKE"] == pytest.approx(lengths["IN"] + 2 * lengths["OUT"])


def test_a_part_with_fold_is_cut_on_the_fold_and_one_without_is_a_pair():
    blocks = cut_blocks((make_half_front(),), (YOKE, PANEL), PLAIN)
    assert [(block.code, block.pairing, block.pieces_per_jacket) for block in blocks] == [
        ("MID", Pairing.FOLD, 1),
        ("SIDE", Pairing.PAIR, 2),
        ("YOKE", Pairing.FOLD, 1),
    ]
    for block in blocks:
        if block.pairing is Pairing.FOLD:
            area = shapely.Polygon(block.cut_outline_mm)
            mirror = shapely.Polygon(mirrored(block.cut_outline_mm))
            assert area.symmetric_difference(mirror).area <= 0.01 * area.length


def test_an_opened_fold_gives_a_pair_with_allowance_at_the_center():
    (half,) = cut_blocks((make_half_front(),), (OPEN,), PLAIN)
    assert (half.pairing, half.pieces_per_jacket) == (Pairing.PAIR, 2)
    assert {edge.edge: edge.length_mm for edge in half.edges}["open"] == 570
    assert min(y for _, y in half.stitch_outline_mm) - min(
        y for _, y in half.cut_outline_mm
    ) == pytest.approx(10)


def test_edge_lengths_are_those_of_the_whole_block_added_up_by_name():
    (front,) = cut_blocks((make_half_front(),), (), PLAIN)
    lengths = {edge.edge: (edge.kind, edge.length_mm) for edge in front.edges}
    assert lengths["hem"] == (EdgeKind.HEM, 500)
    assert lengths["side"] == (EdgeKind.SEAM, pytest.approx(2 * math.hypot(10, 420)))
    assert "center" not in lengths


def test_a_notch_is_cut_from_the_stitching_line_square_out_to_the_edge():
    piece = make_outline(hem=["s0"], notches=(Notch("a", "s0", (40, 0), 2),))
    (block,) = cut_blocks((piece,), (), PLAIN)
    (notch,) = block.notches
    assert (notch.code, notch.edge, notch.count) == ("a", "s0", 2)
    assert (notch.stitch_point, notch.cut_point) == ((20, -10), (50, -10))


def test_marks_come_along_into_the_lay_frame():
    (block,) = cut_blocks((make_outline(marks=(Mark("dot", ((50, 30),)),)),), (), PLAIN)
    assert block.marks == (("dot", ((0, 0),)),)


def test_the_same_content_is_cut_once_and_other_content_anew():
    first = cut_blocks((make_outline(),), (make_cut(),), PLAIN)
    assert cut_blocks((make_outline(),), (make_cut(),), Allowances(10, 30)) is first
    assert cut_blocks((make_outline(),), (make_cut(end=("s2", 0.5)),), PLAIN) != first


@pytest.mark.parametrize(
    ("pieces", "lines", "message"),
    [
        (
            (make_outline(),),
            (make_cut(cuts="Q"),),
            "Style line cut cuts block Q, which is not there at this step; the blocks are: P",
        ),
        (
            (make_outline(),),
            (make_cut(), make_cut("two")),
            "line two cuts block P, which is not there at this step; the blocks are: A, B",
        ),
        ((make_outline(),), (make_cut(left="B"),), r"Block code B \(Block B\) is used twice"),
        (
            (make_outline(),),
            (make_cut(end=("waist", 0.5)),),
            "cut cannot be placed: Piece P has no",
        ),
        ((make_outline(), make_outline()), (), r"Block code P \(Piece\) is used twice"),
        ((make_outline(),), (make_cut("s1"),), "code s1 is already the name of an edge of piece P"),
        (
            (make_outline(),),
            (make_cut(), make_cut(cuts="A", left="C", right="D")),
            "code cut is already the name of another style line",
        ),
        ((make_outline(),), (make_cut(right=None),), "names no block on its right"),
        ((make_outline(),), (make_cut(end=("s0", 0.9)),), "line cut misses P"),
        (
            (make_half_front(),),
            (make_cut("u", "FR", ("center", 0.2), ("center", 0.8), "A", "B"),),
            "both ends on the fold",
        ),
        (
            (make_outline(tuple(reversed(make_outline().ring))),),
            (),
            "pattern cannot be cut; correct this first: P: the outline runs clockwise",
        ),
        ((make_outline(),), (make_cut(left="A", right="A"),), "Block code A .* is used twice"),
    ],
)
def test_what_cannot_be_cut_is_refused(pieces, lines, message):
    with pytest.raises(PatternError, match=message):
        cut_blocks(pieces, lines, PLAIN)


# A whole jacket


@pytest.mark.parametrize("blocking", BLOCKINGS, ids=lambda blocking: blocking.code)
@pytest.mark.parametrize("body", (BODIES[0], BODIES[6], BODIES[-1]), ids=lambda body: body.code)
def test_every_blocking_of_the_drafted_jacket_can_be_cut(body, blocking):
    pieces = draft(body, Ease()).pieces
    blocks = cut_blocks(pieces, blocking.style_lines, Allowances())
    for block in blocks:
        cut, stitched = (
            shapely.Polygon(ring) for ring in (block.cut_outline_mm, block.stitch_outline_mm)
        )
        assert cut.is_valid and stitched.is_valid
        assert cut.exterior.distance(stitched.exterior) == pytest.approx(10, abs=0.01)
        assert block.stitch_outline_mm and cut.contains_properly(stitched)
        for notch in block.notches:
            assert stitched.exterior.distance(shapely.Point(notch.stitch_point)) <= 0.01
            assert cut.exterior.distance(shapely.Point(notch.cut_point)) <= 0.01
    # Each new seam has its notches, equally many, on the blocks of both sides.
    for line in blocking.style_lines:
        new = Counter(
            (notch.code, notch.count)
            for block in blocks
            for notch in block.notches
            if notch.edge == line.code
            for _ in range(block.pieces_per_jacket)
        )
        assert set(new.values()) <= {2, 4}
        assert (f"{line.code}1", 1) in new


def test_the_sides_of_every_new_seam_are_equally_long():
    pieces = draft(BODIES[6], Ease()).pieces
    for blocking in BLOCKINGS:
        blocks = cut_blocks(pieces, blocking.style_lines, Allowances())
        for line in blocking.style_lines:
            sides = [
                edge.length_mm * block.pieces_per_jacket
                for block in blocks
                for edge in block.edges
                if edge.edge == line.code
            ]
            # Twice the line on each side: both halves, or both of a pair.
            assert max(sides) == pytest.approx(sum(sides) / 2) or len(sides) == 1


# Whatever the lines

fractions = st.floats(0.02, 0.98)


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["hem", "side", "armhole", "shoulder", "neckline", "center"]),
            fractions,
            st.sampled_from(["hem", "side", "armhole", "shoulder", "neckline", "center"]),
            fractions,
            bends,
        ),
        min_size=1,
        max_size=2,
    )
)
def test_blocks_of_any_lines_are_sound_or_the_lines_are_refused(drawn):
    lines = tuple(
        make_cut(f"l{i}", ("FR", "A0")[i], (e1, f1), (e2, f2), f"A{i}", f"B{i}", bends=bent)
        for i, (e1, f1, e2, f2, bent) in enumerate(drawn)
    )
    try:
        blocks = cut_blocks((make_half_front(),), lines, PLAIN)
    except PatternError as error:
        assert str(error).endswith(".") and len(str(error)) > 40
        return
    assert len(blocks) == len(lines) + 1
    for block in blocks:
        cut, stitched = (
            shapely.Polygon(ring) for ring in (block.cut_outline_mm, block.stitch_outline_mm)
        )
        assert cut.is_valid
        assert cut.exterior.distance(stitched.exterior) >= 10 - 0.02
        assert stitched.area == pytest.approx(block.draft.area_mm2, abs=0.002 * stitched.length)
