from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.geometry.markings import (
    LEAST_GRAINLINE_MM,
    LONG_SEAM_MM,
    matching_notches,
    placed_grainline,
)
from patterns.geometry.outline import Mark, Notch, PatternError, distance_mm, length_mm, point_along
from patterns.geometry.style_lines import split
from tests.patterns.outlines import L_SHAPE, make_outline, star_outlines

CUT_AT_40 = ((40, 0), (40, 60))


def codes(part) -> list[str]:
    return [notch.code for notch in part.notches]


# New notches


def test_a_long_seam_gets_a_single_and_a_double_notch_off_the_middle():
    assert matching_notches("yoke", ((0, 0), (300, 0))) == (
        Notch("yoke1", "yoke", (100, 0), 1),
        Notch("yoke2", "yoke", (200, 0), 2),
    )


def test_a_short_seam_gets_one_notch_off_the_middle():
    assert matching_notches("tip", ((0, 0), (LONG_SEAM_MM, 0))) == (Notch("tip1", "tip", (60, 0)),)


def test_both_sides_of_a_new_seam_have_the_same_notches_in_the_same_places():
    left, right = split(make_outline(), CUT_AT_40, "cut")
    assert left.notches == right.notches == (Notch("cut1", "cut", (40, 24)),)


# Notches of the outline


def test_a_notch_goes_to_the_part_on_whose_edge_it_lies():
    notches = (Notch("a", "s0", (10, 0)), Notch("b", "s0", (90, 0), 2), Notch("c", "s1", (100, 9)))
    left, right = split(make_outline(notches=notches), CUT_AT_40, "cut")
    assert codes(left) == ["a", "cut1"]
    assert codes(right) == ["b", "c", "cut1"]
    assert right.notches[0] == notches[1]


def test_a_notch_on_the_cut_goes_to_the_longer_piece_of_its_edge():
    notches = (Notch("a", "s0", (40, 0)), Notch("b", "s2", (40, 60)))
    left, right = split(make_outline(notches=notches), CUT_AT_40, "cut")
    assert codes(left) == ["cut1"]
    assert codes(right) == ["a", "b", "cut1"]


def test_a_notch_that_is_not_on_its_edge_is_refused():
    outline = make_outline(notches=(Notch("a", "s0", (40, 3)),))
    with pytest.raises(PatternError, match="Notch a of P does not lie on its edge 's0'; move it"):
        split(outline, CUT_AT_40, "cut")


# Marks


def test_a_drill_mark_goes_to_the_part_that_contains_it():
    marks = (Mark("pocket", ((10, 10),), "Pocket"), Mark("badge", ((70, 50),)))
    left, right = split(make_outline(marks=marks), CUT_AT_40, "cut")
    assert left.marks == marks[:1]
    assert right.marks == marks[1:]


def test_a_line_is_divided_at_the_cut_and_keeps_its_code_and_text():
    fold = Mark("fold", ((0, 30), (60, 30), (100, 50)), "Fold")
    left, right = split(make_outline(marks=(fold,)), CUT_AT_40, "cut")
    assert left.marks == (Mark("fold", ((0, 30), (40, 30)), "Fold"),)
    assert right.marks == (Mark("fold", ((40, 30), (60, 30), (100, 50)), "Fold"),)


def test_a_line_that_crosses_the_cut_twice_comes_in_three_stretches():
    mark = Mark("wave", ((20, 10), (70, 10), (70, 50), (20, 50)))
    left, right = split(make_outline(marks=(mark,)), CUT_AT_40, "cut")
    assert [mark.points for mark in left.marks] == [((20, 10), (40, 10)), ((40, 50), (20, 50))]
    assert [mark.points for mark in right.marks] == [((40, 10), (70, 10), (70, 50), (40, 50))]


def test_a_mark_outside_the_outline_goes_to_the_nearer_part():
    left, right = split(make_outline(marks=(Mark("far", ((90, 70),)),)), CUT_AT_40, "cut")
    assert (len(left.marks), len(right.marks)) == (0, 1)


# Grainline


def test_the_grainline_keeps_its_direction_and_lies_inside():
    outline = make_outline(L_SHAPE, grainline=((500, 500), (503, 496)))
    (ax, ay), (bx, by) = placed_grainline(outline, outline.grainline)
    assert math.atan2(by - ay, bx - ax) == pytest.approx(math.atan2(-4, 3))
    assert shapely.Polygon(L_SHAPE).contains_properly(shapely.LineString([(ax, ay), (bx, by)]))


def test_each_part_gets_its_own_grainline():
    left, right = split(make_outline(), CUT_AT_40, "cut")
    assert {x for x, _ in left.grainline} == {20}
    assert {x for x, _ in right.grainline} == {70}
    # The default runs down the garment; 80 % of 60 mm leaves 6 mm at both ends.
    assert [y for _, y in left.grainline] == pytest.approx([54, 6])


def test_a_small_part_still_gets_the_least_grainline():
    outline = make_outline(((0, 0), (20, 0), (20, 20), (0, 20)))
    assert distance_mm(*placed_grainline(outline, outline.grainline)) == pytest.approx(
        LEAST_GRAINLINE_MM
    )


@pytest.mark.parametrize("end", [(5, 5), (math.nan, 0)])
def test_a_grainline_without_direction_is_refused(end):
    with pytest.raises(PatternError, match="grainline of P has no direction"):
        placed_grainline(make_outline(), ((5, 5), end))


# Whatever the outline

inside = st.tuples(st.floats(-30, 30), st.floats(-30, 30))


@settings(deadline=None)
@given(star_outlines(convex=True), st.lists(inside, min_size=2, max_size=5), st.floats(0.2, 0.8))
def test_a_cut_loses_no_notch_and_no_bit_of_a_mark(outline, points, place):
    notches = tuple(
        Notch(edge.name, edge.name, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))
        for edge in outline.edges
        for a, b in [edge.points]
    )
    marks = (Mark("line", tuple(points)), *(Mark("spot", (point,)) for point in points))
    marked = make_outline(outline.ring, notches=notches, marks=marks)
    chord = (point_along(outline.edges[0].points, place), point_along(outline.edges[2].points, 0.5))
    left, right = split(marked, chord, "cut")
    kept = [notch for part in (left, right) for notch in part.notches if notch.edge != "cut"]
    assert sorted(notch.code for notch in kept) == sorted(notch.code for notch in notches)
    new = [mark for part in (left, right) for mark in part.marks]
    assert sum(mark.code == "spot" for mark in new) == len(points)
    drawn = sum(length_mm(mark.points) for mark in new if mark.code == "line")
    assert drawn == pytest.approx(length_mm(points), abs=0.05)
