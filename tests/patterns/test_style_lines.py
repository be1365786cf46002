from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.geometry.blocks import Anchor, BlockName, StyleLine
from patterns.geometry.outline import (
    CHORD_ERROR_MM,
    EdgeKind,
    Mark,
    Pairing,
    PatternError,
    length_mm,
    point_along,
    signed_area_mm2,
)
from patterns.geometry.style_lines import check_fold_line, line_on, open_fold, split
from tests.patterns.outlines import L_SHAPE, bends, make_half_front, make_outline, star_outlines


def make_style_line(**more) -> StyleLine:
    values: dict[str, Any] = {
        "code": "cut",
        "name": "a cut",
        "cuts": "P",
        "start": Anchor("s0", 0.4),
        "end": Anchor("s2", 0.6),
        "left": BlockName("A", "Left"),
        "right": BlockName("B", "Right"),
    } | more
    return StyleLine(**values)


def edges_of(outline):
    return {edge.name: edge.points for edge in outline.edges}


# Where a style line runs


def test_anchors_are_fractions_of_their_edges():
    assert line_on(make_outline(), make_style_line()) == ((40, 0), (40, 60))


def test_positive_bends_lie_to_the_left_of_the_chord():
    curve = line_on(make_outline(), make_style_line(bends=((0.25, 0.1), (0.75, 0.1))))
    # Walking up at x = 40, left is toward smaller x; a cubic reaches 3/4 of equal bends: 60 * .075.
    assert min(x for x, _ in curve) == pytest.approx(40 - 4.5, abs=CHORD_ERROR_MM)
    assert max(x for x, _ in curve) == 40


def test_a_flattened_curve_stays_within_the_chord_error():
    curve = line_on(make_outline(), make_style_line(bends=((0.1, 0.5), (0.9, -0.4))))
    exact = [
        (
            40 - 60 * (0.5 * 3 * (1 - t) ** 2 * t - 0.4 * 3 * (1 - t) * t * t),
            60 * (0.1 * 3 * (1 - t) ** 2 * t + 0.9 * 3 * (1 - t) * t * t + t**3),
        )
        for t in (step / 500 for step in range(501))
    ]
    from shapely import LineString, Point

    assert max(LineString(curve).distance(Point(p)) for p in exact) <= CHORD_ERROR_MM


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"start": Anchor("sleeve", 0.4)}, "cut cannot be placed: Piece P has no edge 'sleeve'"),
        ({"start": Anchor("s0", 1.4)}, "cut cannot be placed: A fraction of an edge lies between"),
        ({"end": Anchor("s0", 0.4)}, "cut starts and ends in the same place of piece P; move"),
        ({"bends": ((0.5, 0.1),)}, "cut on piece P needs two bends"),
        ({"bends": ((0.5, 0.1), (math.nan, 0.1))}, "cut on piece P needs two bends"),
    ],
)
def test_a_style_line_that_cannot_be_placed_is_refused(values, message):
    with pytest.raises(PatternError, match=message):
        line_on(make_outline(), make_style_line(**values))


# Cutting in two


def test_a_rectangle_is_cut_at_40():
    left, right = split(make_outline(), ((40, 0), (40, 60)), "cut")
    assert (left.area_mm2, right.area_mm2) == (2400, 3600)
    assert edges_of(left) == {
        "cut": ((40, 0), (40, 60)),
        "s2": ((40, 60), (0, 60)),
        "s3": ((0, 60), (0, 0)),
        "s0": ((0, 0), (40, 0)),
    }
    assert edges_of(right) == {
        "cut": ((40, 60), (40, 0)),
        "s0": ((40, 0), (100, 0)),
        "s1": ((100, 0), (100, 60)),
        "s2": ((100, 60), (40, 60)),
    }


def test_both_parts_stay_counterclockwise_and_closed():
    for part in split(make_outline(L_SHAPE), ((0, 30), (100, 40)), "cut"):
        assert signed_area_mm2(part.ring) > 0
        for edge, following in zip(part.edges, (*part.edges[1:], part.edges[0]), strict=True):
            assert edge.points[-1] == following.points[0]


def test_an_l_shape_is_cut_from_its_inner_corner_along_one_side():
    # The line also runs along the side from (100, 50) to (50, 50), where it cuts nothing.
    upper, lower = split(make_outline(L_SHAPE), ((120, 50), (-10, 50)), "cut")[::-1]
    assert (upper.area_mm2, lower.area_mm2) == (2500, 5000)
    assert edges_of(upper)["cut"] == ((0, 50), (50, 50))
    assert "s2" not in edges_of(upper)
    assert edges_of(lower)["s2"] == ((100, 50), (50, 50))


def test_a_line_beyond_the_outline_is_clipped():
    left, _ = split(make_outline(), ((40, -25), (40, 70)), "cut")
    assert edges_of(left)["cut"] == ((40, 0), (40, 60))


def test_an_end_almost_on_the_outline_is_laid_onto_it():
    left, right = split(make_outline(), ((40, 0.004), (40, 59.996)), "cut")
    assert edges_of(left)["cut"] == ((40, 0), (40, 60))
    assert left.area_mm2 + right.area_mm2 == 6000


def test_an_end_almost_in_a_corner_is_laid_into_it():
    left, right = split(make_outline(), ((0.005, 0), (100, 60)), "cut")
    assert edges_of(left)["cut"] == ((0, 0), (100, 60))
    assert [edge.name for edge in left.edges] == ["cut", "s2", "s3"]
    assert [edge.name for edge in right.edges] == ["cut", "s0", "s1"]


def test_a_scoop_leaves_its_edge_in_two_stretches():
    scoop = ((20, 0), (50, 30), (80, 0))
    left, right = split(make_outline(), scoop, "cut")
    assert [edge.points for edge in left.edges if edge.name == "s0"] == [
        ((80, 0), (100, 0)),
        ((0, 0), (20, 0)),
    ]
    assert right.area_mm2 == 900
    assert left.area_mm2 == 5100


def test_parts_of_a_hem_stay_hem_and_new_edges_are_seams():
    left, _ = split(make_outline(hem=["s0"]), ((40, 0), (40, 60)), "cut")
    kinds = {edge.name: edge.kind for edge in left.edges}
    assert kinds["s0"] is EdgeKind.HEM
    assert kinds["cut"] is EdgeKind.SEAM


def test_a_yoke_keeps_its_fold_and_a_side_panel_becomes_a_pair():
    front = make_half_front()
    yoke_from = point_along(front.edge("armhole").points, 0.6)
    body, yoke = split(front, (yoke_from, (0, 460)), "yoke")
    assert (body.pairing, yoke.pairing) == (Pairing.FOLD, Pairing.FOLD)
    assert body.edge("center").points == (pytest.approx((0, 460)), (0, 0))
    panel_to = point_along(front.edge("armhole").points, 0.3)
    center, panel = split(body, ((150, 0), panel_to), "panel")
    assert (center.pairing, panel.pairing) == (Pairing.FOLD, Pairing.PAIR)
    assert sum(part.area_mm2 for part in (yoke, center, panel)) == pytest.approx(
        front.area_mm2, rel=1e-9
    )


C_SHAPE = ((0, 0), (100, 0), (100, 20), (20, 20), (20, 80), (100, 80), (100, 100), (0, 100))


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (((120, 0), (120, 60)), "cut misses P: .* move an end or flatten"),
        (((0, 0), (100, 0)), "cut misses P"),
        (((60, -5), (60, 105)), "cut runs 2 times through P and cuts it into three"),
        (((60, 10), (60, -50)), r"cut does not reach the edge of P: it ends inside, at \(60.0, 10"),
        (((10, 40), (15, 60)), "cut does not reach the edge of P"),
        (((-5, 5), (15, 10), (15, 5), (-5, 10)), "cut on P crosses itself"),
        (((5, 5), (15, 5), (10, 10), (5, 5)), "cut on P crosses itself"),
        (((0, 50), (10, 60), (10, 40), (0, 49.996)), "cut on P comes back to where it started"),
        (((50, 0),), "cut on P needs at least two different points"),
        (((50, 0), (50, 0)), "cut on P needs at least two different points"),
        ((), "cut on P needs at least two different points"),
        (((50, 0), (math.nan, 20)), "cut on P holds a number that is not finite"),
        (((50, 0), (math.inf, 20)), "cut on P holds a number that is not finite"),
    ],
)
def test_a_line_that_does_not_cut_in_two_is_refused(line, message):
    with pytest.raises(PatternError, match=message):
        split(make_outline(C_SHAPE), line, "cut")


# Opening a fold


def test_a_line_along_the_fold_makes_a_pair_with_a_center_seam():
    half = make_half_front(marks=(Mark("pocket", ((100, 100),)),))
    opened = open_fold(half, "cb")
    assert opened.pairing is Pairing.PAIR
    assert opened.edge("cb").points == half.edge("center").points
    assert opened.edge("cb").kind is EdgeKind.SEAM
    assert [(notch.code, notch.count) for notch in opened.notches] == [("cb1", 1), ("cb2", 2)]
    assert opened.marks == half.marks


def test_a_block_without_fold_cannot_be_opened():
    with pytest.raises(PatternError, match="cb would open the fold of block P, which has none"):
        open_fold(make_outline(), "cb")


ALONG_FOLD = {"start": Anchor("center", 0), "end": Anchor("center", 1), "right": None}


def test_a_line_along_the_whole_fold_is_accepted_either_way():
    check_fold_line(make_half_front(), make_style_line(**ALONG_FOLD))
    reverse = {"start": Anchor("center", 1), "end": Anchor("center", 0)}
    check_fold_line(make_half_front(), make_style_line(**(ALONG_FOLD | reverse)))


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"end": Anchor("center", 0.5)}, "both ends on the fold of piece FR"),
        ({"bends": ((0.3, 0.1), (0.6, 0.1))}, "both ends on the fold of piece FR"),
        ({"right": BlockName("B", "Right")}, "both ends on the fold of piece FR"),
        ({"end": Anchor("side", 0.5)}, "names no block on its right"),
    ],
)
def test_a_line_that_touches_the_fold_in_another_way_is_refused(values, message):
    with pytest.raises(PatternError, match=message):
        check_fold_line(make_half_front(), make_style_line(**(ALONG_FOLD | values)))


# Whatever the outline


def assert_cut_in_two(outline, line, parts):
    left, right = parts
    assert left.area_mm2 + right.area_mm2 == pytest.approx(outline.area_mm2, rel=1e-6)
    cut = next(edge.points for edge in left.edges if edge.name == "cut")
    assert next(edge.points for edge in right.edges if edge.name == "cut") == cut[::-1]
    grown = left.perimeter_mm + right.perimeter_mm - outline.perimeter_mm
    assert grown == pytest.approx(2 * length_mm(cut), abs=1e-6)
    assert length_mm(cut) <= length_mm(line) + 0.02


fractions = st.floats(0.0, 1.0)


@settings(deadline=None)
@given(star_outlines(convex=True), st.tuples(fractions, fractions))
def test_a_chord_always_cuts_a_convex_outline_in_two(outline, places):
    start, end = (outline.edges[side].points for side in (0, 2))
    line = (point_along(start, 0.1 + 0.8 * places[0]), point_along(end, 0.1 + 0.8 * places[1]))
    assert_cut_in_two(outline, line, split(outline, line, "cut"))


@settings(deadline=None)
@given(star_outlines(), st.data(), st.tuples(fractions, fractions), bends)
def test_any_line_cuts_any_outline_exactly_in_two_or_says_why_not(outline, data, places, bent):
    sides = st.sampled_from(outline.edges)
    anchors = [Anchor(data.draw(sides).name, place) for place in places]
    try:
        line = line_on(outline, make_style_line(start=anchors[0], end=anchors[1], bends=bent))
        parts = split(outline, line, "cut")
    except PatternError as error:
        reasons = ("misses", "three", "reach", "crosses itself", "comes back", "same place")
        assert any(reason in str(error) for reason in reasons)
        assert "cut" in str(error) and "P" in str(error)
        return
    assert_cut_in_two(outline, line, parts)
