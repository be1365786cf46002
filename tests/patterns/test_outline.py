"""Curves, corners and faults of outlines, worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from patterns.geometry.outline import (
    CHORD_ERROR_MM,
    Edge,
    EdgeKind,
    Notch,
    Outline,
    Pairing,
    corner_deg,
    cubic,
    faults,
    length_mm,
    mirrored,
    notch_on,
    signed_area_mm2,
    start_direction_deg,
)

#: The cubic that stands for a quarter circle, handle 4/3 (sqrt 2 - 1) of the radius (standard
#: mathematics; it strays from the circle by less than 0.03 % of the radius).
HANDLE = 4.0 / 3.0 * (math.sqrt(2.0) - 1.0)
RADIUS = 200.0
QUARTER = (
    (RADIUS, 0.0),
    (RADIUS, HANDLE * RADIUS),
    (HANDLE * RADIUS, RADIUS),
    (0.0, RADIUS),
)

#: Whole micrometres: no pattern has finer ones, and shapely cannot measure subnormal numbers.
micrometres = st.integers(-500_000, 500_000).map(lambda whole: whole / 1000)
coordinates = st.tuples(micrometres, micrometres)


def square(*, pairing: Pairing = Pairing.SINGLE, kind: EdgeKind = EdgeKind.SEAM) -> Outline:
    """100 mm square, its `left` edge on x = 0 of the given kind."""
    corners = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0), (0.0, 0.0))
    names = ("foot", "right", "top", "left")
    edges = tuple(
        Edge(name, corners[i : i + 2], kind if name == "left" else EdgeKind.SEAM)
        for i, name in enumerate(names)
    )
    return Outline("SQ", "Square", pairing, edges)


def test_quarter_circle_has_its_length():
    assert length_mm(cubic(*QUARTER)) == pytest.approx(math.pi / 2 * RADIUS, rel=1e-3)


def test_straight_handles_make_one_segment():
    line = cubic((0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (3.0, 0.0))
    assert line == ((0.0, 0.0), (3.0, 0.0))


@given(coordinates, coordinates, coordinates, coordinates)
def test_flattened_curve_stays_within_the_chord_error(p0, p1, p2, p3):
    from shapely import LineString, Point

    line = cubic(p0, p1, p2, p3)
    assert line[0] == p0 and line[-1] == p3
    flat = LineString(line) if length_mm(line) else Point(p0)
    for fine in cubic(p0, p1, p2, p3, steps=200):
        assert flat.distance(Point(fine)) <= CHORD_ERROR_MM + 1e-9


def test_curve_leaves_in_the_direction_of_its_first_handle():
    assert start_direction_deg(cubic(*QUARTER)) == pytest.approx(90.0)
    assert start_direction_deg(cubic(*QUARTER)[::-1]) == pytest.approx(0.0)
    assert start_direction_deg(((0.0, 0.0), (-1.0, 1.0))) == pytest.approx(135.0)


def test_corner_of_a_square_is_90_and_of_a_notched_one_270():
    foot, right, top, _ = square().edges
    assert corner_deg(foot.points, right.points) == pytest.approx(90.0)
    inward = ((100.0, 0.0), (100.0, -50.0))
    assert corner_deg(foot.points, inward) == pytest.approx(270.0)
    assert corner_deg(right.points, top.points) == pytest.approx(90.0)


def test_mirrored_ring_keeps_its_sense_and_mirrored_twice_is_the_same():
    ring = square().ring
    assert signed_area_mm2(mirrored(ring)) == signed_area_mm2(ring) == 10_000.0
    assert mirrored(mirrored(ring)) == ring


def test_notch_is_measured_from_the_start_of_its_edge():
    notch = notch_on("n", square().edge("right"), 30.0, count=2)
    assert notch == Notch("n", "right", (100.0, 30.0), 2)


def test_sound_outline_has_no_faults():
    assert faults(square()) == ()
    assert faults(square(pairing=Pairing.FOLD, kind=EdgeKind.FOLD)) == ()


def test_gap_between_edges_is_told_with_its_size():
    foot, right, top, left = square().edges
    short = replace(foot, points=((0.0, 0.0), (97.5, 0.0)))
    gapped = replace(square(), edges=(short, right, top, left))
    assert faults(gapped) == ("SQ: edge 'foot' ends 2.500 mm before 'right'.",)


def test_clockwise_outline_is_told():
    turned_round = tuple(replace(e, points=e.points[::-1]) for e in square().edges[::-1])
    assert faults(replace(square(), edges=turned_round)) == ("SQ: the outline runs clockwise.",)


def test_crossing_outline_is_told_with_the_place():
    bow = ((0.0, 0.0), (100.0, 100.0), (100.0, 0.0), (0.0, 100.0), (0.0, 0.0))
    edges = tuple(Edge(f"e{i}", bow[i : i + 2]) for i in range(4))
    (told,) = faults(replace(square(), edges=edges))
    assert "crosses itself" in told and "[50 50]" in told


def test_fold_that_is_missing_or_off_the_center_line_is_told():
    assert faults(square(pairing=Pairing.FOLD)) == ("SQ: 0 fold edges where 1 belong.",)
    whole = square(pairing=Pairing.FOLD, kind=EdgeKind.FOLD)
    aside = tuple(
        replace(edge, points=tuple((x + 5.0, y) for x, y in edge.points)) for edge in whole.edges
    )
    assert faults(replace(whole, edges=aside)) == ("SQ: the fold edge 'left' leaves x = 0.",)


def test_notch_off_its_edge_is_told():
    off = replace(square(), notches=(Notch("n", "top", (50.0, 98.0)),))
    assert faults(off) == ("SQ: notch 'n' lies 2.00 mm off its edge.",)


def test_outline_of_two_points_is_told():
    bare = replace(
        square(), edges=(Edge("a", ((0.0, 0.0), (1.0, 0.0))), Edge("b", ((1.0, 0.0), (0.0, 0.0))))
    )
    assert faults(bare) == ("SQ: an outline takes at least three points, not 2.",)
