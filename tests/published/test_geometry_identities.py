"""Identities of plane geometry that the outlines, style lines and allowances must obey.

Source of every value: standard mathematics, recomputed. The shapely library's buffer is the
reference where a round offset is wanted, which the program itself does not use.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.geometry.blocks import Allowances
from patterns.geometry.blocks import mirrored as across_grainline
from patterns.geometry.outline import (
    Edge,
    EdgeKind,
    Line,
    Outline,
    Pairing,
    distance_mm,
    mirrored,
    signed_area_mm2,
    turned,
)
from patterns.geometry.seam_allowance import cut_outline
from patterns.geometry.style_lines import split

RECTANGLE: Line = ((0, 0), (100, 0), (100, 60), (0, 60))
TRIANGLE: Line = ((0, 0), (100, 0), (50, 50 * math.sqrt(3)))
PENTAGON: Line = ((5, 8), (4, 4), (1, 6), (3, 1), (7, 2))


def outline_of(ring: Line) -> Outline:
    edges = tuple(
        Edge(f"s{index}", (ring[index], ring[(index + 1) % len(ring)]))
        for index in range(len(ring))
    )
    return Outline("P", "Piece", Pairing.SINGLE, edges)


def area_of(ring: Line) -> float:
    return signed_area_mm2(ring)


def perimeter_of(ring: Line) -> float:
    return sum(distance_mm(a, b) for a, b in zip(ring, (*ring[1:], ring[0]), strict=True))


def offset(ring: Line, depth_mm: float, mitre_limit: float = 100.0) -> Line:
    return cut_outline(outline_of(ring), Allowances(depth_mm, depth_mm, mitre_limit))


def inner_angles(ring: Line) -> list[float]:
    angles = []
    for before, corner, after in zip((ring[-1], *ring), ring, (*ring[1:], ring[0]), strict=False):
        a = math.atan2(before[1] - corner[1], before[0] - corner[0])
        b = math.atan2(after[1] - corner[1], after[0] - corner[0])
        angles.append((a - b) % (2 * math.pi))
    return angles


@st.composite
def convex_rings(draw) -> Line:
    """Points on a circle; no direction is nearer than 15 degrees to the next."""
    gaps = draw(st.lists(st.floats(0.3, 1.0), min_size=3, max_size=7))
    angles = [sum(gaps[:index]) * 2 * math.pi / sum(gaps) for index in range(len(gaps))]
    return tuple((200 * math.cos(angle), 200 * math.sin(angle)) for angle in angles)


# Shoelace: A = abs(sum of cross products) / 2 (standard mathematics, recomputed)


def test_shoelace_area():
    assert abs(signed_area_mm2(((1, 6), (3, 1), (7, 2), (4, 4), (8, 5)))) == 16.5


# Steiner, round offset of a convex outline: A + P d + pi d^2, perimeter P + 2 pi d
# (standard mathematics, recomputed)


@pytest.mark.parametrize(("ring", "expected"), [(RECTANGLE, 9514.159), (TRIANGLE, 7644.286)])
def test_steiner_area_of_a_round_offset(ring, expected):
    outline = outline_of(ring)
    steiner = outline.area_mm2 + outline.perimeter_mm * 10 + math.pi * 100
    assert steiner == pytest.approx(expected, abs=1e-3)
    rounded = shapely.Polygon(ring).buffer(10, quad_segs=256)
    assert rounded.area == pytest.approx(steiner, rel=1e-5)
    assert rounded.length == pytest.approx(outline.perimeter_mm + 20 * math.pi, rel=1e-5)


@settings(deadline=None)
@given(convex_rings(), st.floats(1, 25))
def test_a_mitred_allowance_contains_the_round_one(ring, depth):
    outline = outline_of(ring)
    steiner = outline.area_mm2 + outline.perimeter_mm * depth + math.pi * depth**2
    assert area_of(offset(ring, depth)) >= steiner - 0.1


# Mitred convex offset: A + P d + d^2 * sum of tan(exterior angle / 2)
# (standard mathematics, recomputed)


@pytest.mark.parametrize(("ring", "expected"), [(RECTANGLE, 9600), (TRIANGLE, 7849.742)])
def test_mitred_area_of_a_convex_outline(ring, expected):
    assert area_of(offset(ring, 10)) == pytest.approx(expected, abs=1e-3)


@settings(deadline=None)
@given(convex_rings(), st.floats(1, 25))
def test_mitred_area_of_any_convex_outline(ring, depth):
    outline = outline_of(ring)
    corners = sum(math.tan((math.pi - angle) / 2) for angle in inner_angles(ring))
    expected = outline.area_mm2 + outline.perimeter_mm * depth + depth**2 * corners
    assert area_of(offset(ring, depth)) == pytest.approx(expected, abs=0.01 * outline.perimeter_mm)


# Mitre point: d / sin(phi / 2) from the corner; a limit L clips below phi = 2 asin(1 / L)
# (standard mathematics, recomputed)


@pytest.mark.parametrize(("ring", "distance"), [(TRIANGLE, 20.0), (RECTANGLE, 14.142)])
def test_distance_of_the_mitre_point(ring, distance):
    for corner in ring:
        nearest = min(distance_mm(corner, point) for point in offset(ring, 10))
        assert nearest == pytest.approx(distance, abs=1e-3)


@pytest.mark.parametrize(("degrees", "corners"), [(28.9, 4), (29.0, 3)])
def test_mitre_limit_4_clips_below_28_955_degrees(degrees, corners):
    assert math.degrees(2 * math.asin(1 / 4)) == pytest.approx(28.955, abs=1e-3)
    half = math.radians(degrees / 2)
    wedge = ((0, 0), (300 * math.cos(half), -300 * math.sin(half)))
    ring = (*wedge, (300 * math.cos(half), 300 * math.sin(half)))
    assert len(offset(ring, 10, mitre_limit=4)) == corners


# Rotation and reflection keep area and perimeter; reflection flips the sign of the area
# (standard mathematics, recomputed)


@given(convex_rings(), st.floats(-360, 360))
def test_turning_keeps_area_and_perimeter(ring, degrees):
    for moved in (turned(ring, degrees), turned(ring, 90), across_grainline(ring), mirrored(ring)):
        assert signed_area_mm2(moved) == pytest.approx(signed_area_mm2(ring))
        assert perimeter_of(moved) == pytest.approx(perimeter_of(ring))


@given(convex_rings())
def test_a_reflection_that_keeps_the_order_flips_the_sign(ring):
    assert signed_area_mm2([(x, -y) for x, y in ring]) == pytest.approx(-signed_area_mm2(ring))


@settings(deadline=None)
@given(convex_rings(), st.floats(-360, 360))
def test_an_allowance_turns_with_its_outline(ring, degrees):
    straight, slanting = offset(ring, 10), offset(turned(ring, degrees), 10)
    assert area_of(slanting) == pytest.approx(area_of(straight), abs=0.01 * perimeter_of(ring))


# Split along a chord of length L: areas add up, the total perimeter grows by 2 L; k cuts: 2 sum L
# (standard mathematics, recomputed)


def test_a_rectangle_cut_at_40():
    left, right = split(outline_of(RECTANGLE), ((40, 0), (40, 60)), "cut")
    assert (left.area_mm2, right.area_mm2) == (2400, 3600)
    assert (left.perimeter_mm, right.perimeter_mm) == (200, 240)
    assert left.perimeter_mm + right.perimeter_mm == outline_of(RECTANGLE).perimeter_mm + 2 * 60


def test_each_parallel_cut_adds_twice_its_length():
    rest, parts = outline_of(PENTAGON), []
    lengths = []
    for place in (2.1, 3.5, 4.6):
        part, rest = split(rest, ((place, -1), (place, 9)), f"cut{place}")
        parts.append(part)
        lengths.append(rest.edge(f"cut{place}").length_mm)
    parts.append(rest)
    whole = outline_of(PENTAGON)
    assert sum(part.area_mm2 for part in parts) == pytest.approx(whole.area_mm2)
    assert sum(part.perimeter_mm for part in parts) == pytest.approx(
        whole.perimeter_mm + 2 * sum(lengths)
    )


# Allowance s on the split edge only, edges square to it: 2 L s more; all round a rectangle cut
# once: 2 s (L + 2 s) more than round the uncut one (standard mathematics, recomputed)


def test_allowance_on_the_split_edge_only():
    parts = split(outline_of(RECTANGLE), ((40, 0), (40, 60)), "cut")
    # Allowances go by kind of edge: as hem, with a hem of 0, the other edges get none.
    extra = 0.0
    for part in parts:
        edges = tuple(
            edge if edge.name == "cut" else replace(edge, kind=EdgeKind.HEM) for edge in part.edges
        )
        cut = cut_outline(replace(part, edges=edges), Allowances(seam_mm=10, hem_mm=0))
        extra += area_of(cut) - part.area_mm2
    assert extra == pytest.approx(2 * 60 * 10)


def test_allowance_all_round_a_rectangle_cut_once():
    allowances = Allowances(10, 10)
    parts = split(outline_of(RECTANGLE), ((40, 0), (40, 60)), "cut")
    left, right = (area_of(cut_outline(part, allowances)) for part in parts)
    whole = area_of(cut_outline(outline_of(RECTANGLE), allowances))
    assert (left, right, whole) == pytest.approx((60 * 80, 80 * 80, 120 * 80))
    assert left + right - whole == pytest.approx(1600)
    assert 2 * 10 * (60 + 2 * 10) == 1600


# Isoperimetric bound: P^2 >= 4 pi A (standard mathematics, recomputed)


@settings(deadline=None)
@given(convex_rings(), st.floats(0, 25))
def test_isoperimetric_bound(ring, depth):
    cut = offset(ring, depth)
    assert perimeter_of(cut) ** 2 >= 4 * math.pi * area_of(cut)


# Graded by the factor k: perimeter k times, area k^2 times (standard mathematics, recomputed)


@settings(deadline=None)
@given(convex_rings(), st.floats(0.5, 2.0))
def test_grading_by_a_factor(ring, k):
    graded = tuple((k * x, k * y) for x, y in ring)
    assert perimeter_of(graded) == pytest.approx(k * perimeter_of(ring))
    assert area_of(graded) == pytest.approx(k * k * area_of(ring))
    assert area_of(offset(graded, 10 * k)) == pytest.approx(
        k * k * area_of(offset(ring, 10)), abs=0.01 * perimeter_of(graded)
    )
