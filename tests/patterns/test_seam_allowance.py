from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.geometry.blocks import Allowances
from patterns.geometry.markings import square_to_cut
from patterns.geometry.outline import (
    Edge,
    EdgeKind,
    Notch,
    PatternError,
    distance_mm,
    signed_area_mm2,
)
from patterns.geometry.seam_allowance import NEAR_MM, cut_outline
from patterns.geometry.unfolding import unfolded
from tests.patterns.outlines import L_SHAPE, RECTANGLE, make_half_front, make_outline, star_outlines


def same_ring(ring, expected, within=1e-3) -> bool:
    """Whether two counterclockwise rings have the same corners, wherever they start."""
    starts = [i for i, point in enumerate(ring) if distance_mm(point, expected[0]) <= within]
    return len(ring) == len(expected) and any(
        all(
            distance_mm(a, b) <= within
            for a, b in zip((*ring[i:], *ring[:i]), expected, strict=True)
        )
        for i in starts
    )


# Corners


def test_a_rectangle_gets_its_allowance_all_round():
    cut = cut_outline(make_outline(), Allowances(seam_mm=10))
    assert same_ring(cut, ((-10, -10), (110, -10), (110, 70), (-10, 70)))


def test_a_block_smaller_than_its_allowances_keeps_them():
    cut = cut_outline(make_outline(((0, 0), (8, 0), (8, 8), (0, 8))), Allowances(seam_mm=10))
    assert same_ring(cut, ((-10, -10), (18, -10), (18, 18), (-10, 18)))


def test_an_inner_corner_is_trimmed_at_the_crossing():
    cut = cut_outline(make_outline(L_SHAPE), Allowances(seam_mm=10))
    assert same_ring(cut, ((-10, -10), (110, -10), (110, 60), (60, 60), (60, 110), (-10, 110)))


def test_a_short_edge_in_an_inner_corner_vanishes():
    # The inner corner of the L cut off by 3 mm: both long sides meet beyond the short one's strip.
    chamfered = (*L_SHAPE[:3], (53, 50), (50, 53), *L_SHAPE[4:])
    cut = cut_outline(make_outline(chamfered), Allowances(seam_mm=10))
    assert same_ring(cut, ((-10, -10), (110, -10), (110, 60), (60, 60), (60, 110), (-10, 110)))


def test_a_corner_sharper_than_the_mitre_limit_is_blunted_at_the_allowance():
    # Half a square: the corners of 45 degrees would reach 10 / sin(22.5 deg) = 26.13 mm.
    triangle = make_outline(((0, 0), (100, 0), (0, 100)))
    mitred = cut_outline(triangle, Allowances(seam_mm=10, mitre_limit=2.7))
    assert len(mitred) == 3
    blunted = cut_outline(triangle, Allowances(seam_mm=10, mitre_limit=2.5))
    assert len(blunted) == 5
    assert shapely.LinearRing(blunted).distance(shapely.Point(100, 0)) == pytest.approx(10)


def test_allowances_of_two_depths_meet_at_a_corner():
    cut = cut_outline(
        make_outline(((0, 0), (100, 0), (100, 60), (0, 60)), hem=["s0"]),
        Allowances(seam_mm=10, hem_mm=30),
    )
    assert same_ring(cut, ((-10, -30), (110, -30), (110, 70), (-10, 70)))


def test_a_hem_that_goes_on_straight_into_a_seam_steps():
    points = ((0, 0), (50, 0), (100, 0), (100, 60), (0, 60))
    cut = cut_outline(make_outline(points, hem=["s0"]), Allowances(seam_mm=10, hem_mm=30))
    assert same_ring(cut, ((-10, -30), (50, -30), (50, -10), (110, -10), (110, 70), (-10, 70)))


def test_no_allowance_gives_the_stitching_line():
    cut = cut_outline(make_outline(L_SHAPE, hem=["s0"]), Allowances(seam_mm=0, hem_mm=0))
    assert same_ring(cut, L_SHAPE)


def test_no_seam_allowance_leaves_the_hem():
    cut = cut_outline(make_outline(hem=["s0"]), Allowances(seam_mm=0, hem_mm=30))
    assert same_ring(cut, ((0, -30), (100, -30), (100, 60), (0, 60)))


def test_no_hem_leaves_the_seam_allowance():
    cut = cut_outline(make_outline(hem=["s0"]), Allowances(seam_mm=10, hem_mm=0))
    assert same_ring(cut, ((-10, 0), (110, 0), (110, 70), (-10, 70)))


# Hems

#: Its sides have the direction (3, 4) / 5, so that their allowance of 10 mm is 12.5 mm wide.
TAPERED = ((0, 0), (160, 0), (130, 40), (30, 40))
FLARED = ((30, 0), (130, 0), (160, 40), (0, 40))


def test_the_sides_of_a_folded_hem_mirror_tapering_sides():
    cut = cut_outline(make_outline(TAPERED, hem=["s0"]), Allowances(seam_mm=10, hem_mm=20))
    assert same_ring(cut, ((2.5, -20), (157.5, -20), (172.5, 0), (135, 50), (25, 50), (-12.5, 0)))


def test_the_sides_of_a_folded_hem_mirror_flaring_sides():
    cut = cut_outline(make_outline(FLARED, hem=["s0"]), Allowances(seam_mm=10, hem_mm=20))
    assert same_ring(cut, ((2.5, -20), (157.5, -20), (142.5, 0), (180, 50), (-20, 50), (17.5, 0)))


def test_a_folded_hem_lies_exactly_on_the_cloth_above_it():
    whole = unfolded(make_half_front())
    cut = shapely.Polygon(cut_outline(whole, Allowances(seam_mm=10, hem_mm=30)))
    below = cut.intersection(shapely.box(-1000, -100, 1000, 0))
    above = cut.intersection(shapely.box(-1000, 0, 1000, 30))
    folded = shapely.transform(below, lambda xy: xy * (1, -1))
    assert folded.symmetric_difference(above).area == pytest.approx(0, abs=0.01)


def test_a_curved_hem_is_cut_like_a_seam_of_its_depth():
    curve = tuple((x, -4 * x * (100 - x) / 1000) for x in range(0, 101, 5))
    edges = (
        Edge("hem", curve, EdgeKind.HEM),
        Edge("side", ((100, 0), (100, 200), (0, 200), (0, 0))),
    )
    cut = shapely.LinearRing(cut_outline(make_outline(edges=edges), Allowances(10, 20)))
    assert cut.distance(shapely.LineString(curve)) == pytest.approx(10, abs=0.01)
    assert cut.distance(shapely.LineString(curve[2:-2])) == pytest.approx(20, abs=0.01)


def test_a_hem_deeper_than_its_slanting_sides_allow_is_refused():
    triangle = make_outline(((0, 0), (60, 0), (30, 30)), hem=["s0"])
    with pytest.raises(PatternError, match=r"50 mm hem of block P on edge 's0' near \(0.0, 0.0\)"):
        cut_outline(triangle, Allowances(seam_mm=5, hem_mm=50))


# Inward curves and gaps


def test_an_inward_curve_tighter_than_the_allowance_keeps_it_everywhere():
    bite = tuple(
        (50 - 6 * math.cos(t), 60 - 6 * math.sin(t)) for t in (math.pi * i / 20 for i in range(21))
    )
    edges = (
        Edge("around", ((0, 60), (0, 0), (100, 0), (100, 60), (56, 60))),
        Edge("top", (*bite[::-1], (0, 60))),
    )
    cut = cut_outline(make_outline(edges=edges), Allowances(seam_mm=10))
    assert same_ring(cut, ((-10, -10), (110, -10), (110, 70), (-10, 70)))


def slotted(width: float, mouth: float):
    """A 100 x 100 square with a slot from above, 80 deep, which narrows to its mouth."""
    left, right = 50 - width / 2, 50 + width / 2
    return make_outline(
        (
            *((0, 0), (100, 0), (100, 100), (50 + mouth / 2, 100), (50 + mouth / 2, 90)),
            *((right, 90), (right, 20), (left, 20), (left, 90)),
            *((50 - mouth / 2, 90), (50 - mouth / 2, 100), (0, 100)),
        )
    )


def test_a_gap_narrower_than_both_allowances_is_refused():
    with pytest.raises(
        PatternError, match=r"allowance of block P along edge 's5' near .* disappea"
    ):
        cut_outline(slotted(width=8, mouth=8.5), Allowances(seam_mm=10))


def test_allowances_that_enclose_a_hole_are_refused():
    with pytest.raises(PatternError, match="block P enclose a hole near"):
        cut_outline(slotted(width=40, mouth=8), Allowances(seam_mm=10))


# Refusals


@pytest.mark.parametrize(
    ("outline", "allowances", "message"),
    [
        (make_half_front(), Allowances(), "Block FR still has a fold; unfold"),
        (make_outline(), Allowances(seam_mm=-1), "Seam allowance -1 mm and hem 30.0 mm must be"),
        (make_outline(), Allowances(hem_mm=math.nan), "hem nan mm must be"),
        (make_outline(), Allowances(mitre_limit=0.5), "mitre limit must be .* not 0.5"),
        (
            make_outline(((0, 0), (100, 60), (100, 0), (0, 60))),
            Allowances(),
            r"stitching line of block P crosses .*\[50 30\]",
        ),
    ],
)
def test_what_cannot_get_an_allowance_is_refused(outline, allowances, message):
    with pytest.raises(PatternError, match=message):
        cut_outline(outline, allowances)


# Notches


@pytest.mark.parametrize(
    ("notch", "expected"),
    [
        (Notch("a", "s0", (40, 0)), (40, -30)),
        (Notch("b", "s1", (100, 20)), (110, 20)),
        (Notch("c", "s2", (0, 60)), (0, 70)),
    ],
)
def test_a_notch_goes_square_out_to_the_cut_line(notch, expected):
    outline = make_outline(hem=["s0"], notches=(notch,))
    cut = cut_outline(outline, Allowances(10, 30))
    assert square_to_cut(outline, cut) == (pytest.approx(expected),)


def test_without_allowance_a_notch_has_no_depth():
    outline = make_outline(notches=(Notch("a", "s0", (40, 0)),))
    assert square_to_cut(outline, RECTANGLE) == ((40, 0),)


@pytest.mark.parametrize(
    ("notch", "message"),
    [
        (Notch("a", "s9", (40, 0)), "Notch a of P names the edge 's9', which it lacks"),
        (Notch("a", "s0", (40, -50)), "Notch a of P finds no cut line outside edge 's0'"),
    ],
)
def test_a_notch_without_edge_or_cut_line_is_refused(notch, message):
    with pytest.raises(PatternError, match=message):
        square_to_cut(make_outline(notches=(notch,)), RECTANGLE)


# Whatever the outline

depths = st.floats(0.0, 25.0)


@settings(deadline=None)
@given(star_outlines(convex=True), st.floats(1.0, 25.0))
def test_an_even_allowance_of_a_convex_outline_is_the_mitred_offset(outline, depth):
    cut = shapely.Polygon(cut_outline(outline, Allowances(depth, depth, mitre_limit=50)))
    expected = shapely.Polygon(outline.ring).buffer(depth, join_style="mitre", mitre_limit=50)
    assert cut.symmetric_difference(expected).area <= 0.01 * expected.length


@settings(deadline=None)
@given(star_outlines(), depths, depths)
def test_a_cut_outline_is_sound_and_keeps_the_lesser_allowance(outline, seam, hem):
    hemmed = make_outline(outline.ring, hem=["s0"])
    try:
        ring = cut_outline(hemmed, Allowances(seam, hem))
    except PatternError as error:
        assert any(reason in str(error) for reason in ("disappears", "a hole", "slanting sides"))
        return
    cut, stitched = shapely.Polygon(ring), shapely.Polygon(outline.ring)
    assert cut.is_valid
    assert signed_area_mm2(ring) > 0
    assert stitched.difference(cut).area <= 0.01 * stitched.length
    assert cut.exterior.distance(stitched.exterior) >= min(seam, hem) - 0.02
    assert all(
        distance_mm(a, b) >= NEAR_MM for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)
    )
