from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.planning.nesting import (
    NESTED,
    ROWS,
    Nest,
    NestBlock,
    NestError,
    NestPlace,
    Strip,
    faults_of,
    fill_around,
    fit_into,
    nest,
    nest_key,
)
from production.planning.nesting.blocks import area_mm2, clean_outline, ring_area_mm2
from production.planning.nesting.convex import convex_parts
from production.planning.nesting.rows import in_rows
from production.planning.nesting.slide import slid
from production.planning.nesting.squeeze import squeezed
from tests.production.nesting_factories import polygon, rectangle, some_blocks, stars

CLOTH = Strip(1500.0, 0.0)
NO_TIME = 0.0
TRIANGLE = ((0.0, 0.0), (300.0, 0.0), (0.0, 200.0))
#: Hollow on the upper side.
HOLLOW = ((0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (200.0, 200.0), (200.0, 50.0), (0.0, 50.0))
few = settings(max_examples=15, deadline=None)


def used(found: Nest, blocks: list[NestBlock], strip: Strip) -> float:
    return area_mm2(blocks) / (found.length_mm * strip.width_mm)


# --- what is refused -------------------------------------------------------------------------


def test_block_wider_than_the_cloth_is_refused_by_name():
    with pytest.raises(NestError, match="Back M is 1600 mm wide, but the cloth has 1500 mm"):
        nest([rectangle("Back M", 500, 1600)], CLOTH, 5)


def test_block_that_fits_in_one_of_its_turns_is_taken():
    found = nest([rectangle("Facing", 500, 1600, 1, 0.0, 90.0)], CLOTH, NO_TIME)
    assert [place.rotation_deg for place in found.places] == [90.0]
    assert found.length_mm == pytest.approx(1600)


def test_block_longer_than_the_cloth_is_refused_by_name():
    with pytest.raises(NestError, match="Sleeve L is 700 mm long, but only 650 mm"):
        nest([rectangle("Sleeve L", 700, 400)], Strip(1500, 0, 650), 5)


@pytest.mark.parametrize("gap_mm", [-3.0, math.nan, math.inf])
def test_gap_that_is_none_is_refused(gap_mm):
    with pytest.raises(NestError, match="gap"):
        nest([rectangle("Cuff", 100, 100)], Strip(1500, gap_mm), 5)


@pytest.mark.parametrize("width_mm", [0.0, -1.0, math.nan])
def test_cloth_without_width_is_refused(width_mm):
    with pytest.raises(NestError, match="usable width"):
        nest([rectangle("Cuff", 100, 100)], Strip(width_mm, 0), 5)


@pytest.mark.parametrize(
    ("outline", "words"),
    [
        (((0.0, 0.0), (100.0, 100.0), (100.0, 0.0), (0.0, 100.0)), "crosses itself"),
        (((0.0, 0.0), (100.0, 100.0), (50.0, 50.0)), "encloses no cloth"),
        (((0.0, 0.0), (100.0, 100.0)), "encloses no cloth"),
        (((0.0, 0.0), (math.nan, 100.0), (100.0, 0.0)), "not a number"),
    ],
)
def test_outline_that_is_none_is_refused_by_name(outline, words):
    with pytest.raises(NestError, match=f"Yoke S .*{words}|outline of Yoke S {words}"):
        nest([polygon("Yoke S", outline)], CLOTH, 5)


def test_count_below_one_and_a_key_told_twice_are_refused():
    with pytest.raises(NestError, match="Cuff is asked for 0 times"):
        nest([rectangle("Cuff", 100, 100, 0)], CLOTH, 5)
    with pytest.raises(NestError, match="Two blocks are called Cuff"):
        nest([rectangle("Cuff", 100, 100), rectangle("Cuff", 200, 100)], CLOTH, 5)


# --- clean outlines --------------------------------------------------------------------------


def test_corners_told_twice_are_left_out():
    assert len(clean_outline("a", (*TRIANGLE, TRIANGLE[0], TRIANGLE[0]))) == 3


def test_slit_that_leads_to_a_hole_is_closed():
    slit = ((0, 0), (100, 0), (100, 100), (50, 100), (50, 70), (70, 70), (70, 30), (30, 30))
    keyhole = (*slit, (30, 70), (50, 70), (50, 100), (0, 100))
    ring = clean_outline("a", tuple((float(x), float(y)) for x, y in keyhole))
    assert ring_area_mm2(ring) == pytest.approx(10_000)


@given(stars())
@few
def test_convex_parts_are_convex_and_make_up_the_outline(ring):
    parts = convex_parts(ring)
    assert sum(ring_area_mm2(tuple(map(tuple, part))) for part in parts) == pytest.approx(
        ring_area_mm2(ring)
    )
    for part in parts:
        turned = list(part[2:]) + list(part[:2])
        for a, b, c in zip(part, [*part[1:], part[0]], turned, strict=True):
            assert (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) >= -1e-6


# --- the check -------------------------------------------------------------------------------


def four_squares() -> tuple[list[NestBlock], Strip, Nest]:
    blocks, strip = [rectangle("Square", 100, 100, 4, 0.0, 180.0)], Strip(200.0, 0.0)
    return blocks, strip, nest(blocks, strip, NO_TIME)


def with_first(found: Nest, **changes: Any) -> Nest:
    return replace(found, places=(replace(found.places[0], **changes), *found.places[1:]))


def test_sound_nest_has_no_faults():
    blocks, strip, found = four_squares()
    assert faults_of(found, blocks, strip) == []


def test_block_moved_by_a_millimetre_overlaps():
    blocks, strip, found = four_squares()
    moved = with_first(found, x_mm=found.places[0].x_mm + 1)
    assert any("overlap" in fault for fault in faults_of(moved, blocks, strip))


def test_turn_that_is_not_allowed_is_found():
    blocks, strip, found = four_squares()
    blocks = [replace(blocks[0], turns=(0.0,))]
    turned = with_first(found, rotation_deg=180.0, x_mm=100.0, y_mm=100.0)
    assert faults_of(turned, blocks, strip) == ["Square at (100, 100) is turned by 180 degrees"]


def test_missing_and_unknown_blocks_are_found():
    blocks, strip, found = four_squares()
    fewer = replace(found, places=found.places[1:])
    assert faults_of(fewer, blocks, strip) == ["Square lies 3 times, asked are 4"]
    more = replace(found, places=(*found.places, NestPlace(("Ghost",), 0, 0, 0)))
    assert faults_of(more, blocks, strip) == ["Ghost was not asked for"]


def test_block_outside_the_cloth_or_nowhere_is_found():
    blocks, strip, found = four_squares()
    for changes in ({"x_mm": -1.0}, {"y_mm": -1.0}, {"y_mm": 101.0}, {"x_mm": 101.0}):
        assert any(
            "leaves the cloth" in fault
            for fault in faults_of(with_first(found, **changes), blocks, strip)
        )
    assert any(
        "lies nowhere" in fault
        for fault in faults_of(with_first(found, x_mm=math.nan), blocks, strip)
    )


def test_blocks_nearer_than_the_gap_are_found():
    blocks, _, found = four_squares()
    faults = faults_of(found, blocks, Strip(200.0, 4.0))
    assert faults and all("nearer than 4 mm" in fault for fault in faults)


def test_block_on_one_that_lies_fixed_is_found():
    blocks, strip, found = four_squares()
    fixed = [((150.0, 150.0), (180.0, 150.0), (180.0, 180.0), (150.0, 180.0))]
    assert any(
        "what lies there overlap" in fault for fault in faults_of(found, blocks, strip, fixed)
    )


# --- rows, slides and squeezing --------------------------------------------------------------


@given(some_blocks(), st.sampled_from([0.0, 5.0]))
@few
def test_rows_slid_and_squeezed_stay_sound_and_grow_no_longer(blocks, gap_mm):
    strip = Strip(600.0, gap_mm)
    rows = in_rows(blocks, strip)
    near = slid(rows, blocks, (), gap_mm)
    tight = squeezed(near, blocks, (), strip)
    for found in (rows, near, tight):
        assert faults_of(found, blocks, strip) == []
    assert tight.length_mm <= near.length_mm + 1e-6 <= rows.length_mm + 2e-6


def test_hollow_blocks_slide_into_one_another():
    """The hollow is 200 mm long and 150 mm deep; a square of 150 mm fills it once it slides."""
    blocks = [polygon("Hollow", HOLLOW), rectangle("Square", 150, 150)]
    places = (NestPlace(("Hollow",), 0, 0, 0), NestPlace(("Square",), 0, 200, 0))
    apart = Nest((places[0], replace(places[1], x_mm=500.0, y_mm=0.0)), 650.0, 0.0, ROWS)
    near = slid(apart, blocks, (), 5.0)
    assert near.places[1].x_mm == pytest.approx(305, abs=0.01)
    above = Nest((places[0], replace(places[1], x_mm=100.0, y_mm=220.0)), 300.0, 0.0, ROWS)
    assert slid(above, blocks, (), 5.0).places[1].x_mm == pytest.approx(0)


def test_squeezing_moves_blocks_across_the_cloth_to_win_length():
    """Two wedges overlap along x unless the upper one moves up to the edge of the cloth."""
    wedge = ((0.0, 0.0), (400.0, 0.0), (400.0, 20.0), (0.0, 200.0))
    other = ((0.0, 180.0), (400.0, 0.0), (400.0, 200.0), (0.0, 200.0))
    blocks, strip = [polygon("Low", wedge), polygon("High", other)], Strip(420.0, 4.0)
    apart = Nest((NestPlace(("Low",), 0, 0, 0), NestPlace(("High",), 410, 0, 0)), 810.0, 0.0, ROWS)
    tight = squeezed(apart, blocks, (), strip)
    assert faults_of(tight, blocks, strip) == []
    assert slid(apart, blocks, (), 4.0).length_mm > 450
    assert tight.length_mm == pytest.approx(400)


# --- rectangles that tile --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("blocks", "width_mm", "gap_mm"),
    [
        ([rectangle("a", 100, 300, 25)], 1500.0, 0.0),
        ([rectangle("a", 200, 500, 3), rectangle("b", 100, 750, 4)], 1500.0, 0.0),
        ([rectangle("a", 200, 100, 4, 0.0, 90.0), rectangle("b", 100, 100)], 300.0, 0.0),
        (
            [rectangle("a", 1000, 500, 2), rectangle("b", 500, 1000, 2), rectangle("c", 500, 500)],
            1500.0,
            0.0,
        ),
        ([rectangle("a", 96, 296, 25)], 1496.0, 4.0),
    ],
    ids=["one size", "two rows", "turned pinwheel", "pinwheel", "with a gap"],
)
def test_rectangles_that_tile_waste_nothing(blocks, width_mm, gap_mm):
    strip = Strip(width_mm, gap_mm)
    found = nest(blocks, strip, NO_TIME)
    assert faults_of(found, blocks, strip) == []
    assert found.note == ""
    covered = sum(b.count * (b.outline[2][0] + gap_mm) * (b.outline[2][1] + gap_mm) for b in blocks)
    assert covered / ((width_mm + gap_mm) * (found.length_mm + gap_mm)) == pytest.approx(
        1, rel=1e-6
    )


@st.composite
def cut_rectangles(draw: st.DrawFn) -> list[NestBlock]:
    """A rectangle of 1200 x 900 mm cut across, again and again, at whole centimetres."""
    parts = [(120, 90)]
    for share in draw(st.lists(st.floats(0.2, 0.8), min_size=1, max_size=9)):
        depth, breadth = parts.pop(0)
        at = max(round(share * max(depth, breadth)), 1)
        parts += (
            [(at, breadth), (depth - at, breadth)]
            if depth >= breadth
            else [(depth, at), (depth, breadth - at)]
        )
    return [rectangle(f"r{n}", 10.0 * d, 10.0 * b) for n, (d, b) in enumerate(parts)]


@given(cut_rectangles())
@few
def test_rectangle_cut_to_pieces_is_put_together_again(blocks):
    found = nest(blocks, Strip(900.0, 0.0), NO_TIME)
    assert found.length_mm == pytest.approx(1200)
    assert faults_of(found, blocks, Strip(900.0, 0.0)) == []


# --- around what lies there, and into remnants -----------------------------------------------


@given(some_blocks(), st.sampled_from([0.0, 5.0]))
@settings(few, max_examples=8)
def test_blocks_fill_around_what_lies_fixed(blocks, gap_mm):
    strip = Strip(600.0, gap_mm)
    fixed = [
        ((100.0, 100.0), (300.0, 150.0), (250.0, 400.0), (180.0, 200.0)),
        ((400.0, 0.0), (520.0, 0.0), (520.0, 90.0)),
    ]
    found = fill_around(blocks, fixed, strip)
    assert faults_of(found, blocks, strip, fixed) == []
    assert found.length_mm >= 520


def test_small_blocks_go_into_the_room_before_a_fixed_one():
    fixed = [((500.0, 0.0), (900.0, 0.0), (900.0, 600.0), (500.0, 600.0))]
    found = fill_around([rectangle("Cuff", 100, 150, 20)], fixed, Strip(600.0, 0.0))
    assert found.length_mm == pytest.approx(900)
    assert max(place.x_mm for place in found.places) == pytest.approx(400)


def test_filling_that_is_stopped_sets_the_rest_in_rows_and_says_so():
    blocks, strip = [polygon("Hollow", HOLLOW, 6)], Strip(600.0, 4.0)
    asked = iter([False, False])
    fixed = [((0.0, 0.0), (50.0, 0.0), (50.0, 50.0))]
    found = fill_around(blocks, fixed, strip, is_stopped=lambda: next(asked, True))
    assert faults_of(found, blocks, strip, fixed) == []
    assert (found.method, found.note) == (
        ROWS,
        "nesting was stopped; what had no place yet lies in rows",
    )


def test_remnant_takes_what_fits_and_the_rest_is_told():
    strip = Strip(300.0, 0.0, 400.0)
    blocks = [rectangle("Yoke", 500, 200, 2), rectangle("Cuff", 100, 150, 10)]
    found, left_over = fit_into(blocks, strip)
    assert left_over == (2, 2)
    assert found.length_mm == pytest.approx(400)
    laid = [replace(blocks[1], count=8)]
    assert faults_of(found, laid, strip) == []


def test_remnant_without_a_length_is_refused():
    with pytest.raises(NestError, match="no length"):
        fit_into([rectangle("Cuff", 100, 150)], Strip(300.0, 0.0))


# --- the question ----------------------------------------------------------------------------


def test_equal_questions_have_the_same_key_whatever_their_order():
    a, b = rectangle("a", 100, 200, 2, 0.0, 180.0), rectangle("b", 100, 300)
    key = nest_key([a, b], CLOTH)
    assert key == nest_key([b, replace(a, turns=(180.0, 0.0), name="other")], CLOTH)
    assert len(key) == 64
    for blocks, strip in [
        ([a], CLOTH),
        ([replace(a, count=3), b], CLOTH),
        ([a, replace(b, turns=(0.0, 180.0))], CLOTH),
        ([a, rectangle("b", 100, 301)], CLOTH),
        ([a, b], replace(CLOTH, gap_mm=1.0)),
        ([a, b], replace(CLOTH, longest_mm=9000.0)),
    ]:
        assert nest_key(blocks, strip) != key


def test_nothing_to_nest_takes_no_cloth():
    assert nest([], CLOTH, 5) == Nest((), 0.0, 0.0, ROWS)


# --- with the solver -------------------------------------------------------------------------


def test_solver_beats_rows_and_each_better_nest_is_sound():
    blocks, strip = [polygon("Triangle", TRIANGLE, 8, 0.0, 180.0)], Strip(610.0, 4.0)
    told: list[Nest] = []
    found = nest(blocks, strip, 1.0, on_better=told.append)
    assert told[0].method == ROWS
    assert found.method == NESTED and found.note == ""
    assert [one.length_mm for one in told] == sorted((o.length_mm for o in told), reverse=True)
    assert all(faults_of(one, blocks, strip) == [] for one in [*told, found])
    assert found.length_mm < told[0].length_mm * 0.8


def test_block_as_wide_as_the_cloth_is_nested_with_the_gap_kept_inside_only():
    blocks = [rectangle("Wide", 100, 600), polygon("Triangle", TRIANGLE, 5, 0.0, 180.0)]
    strip = Strip(600.0, 6.0)
    found = nest(blocks, strip, 1.0)
    assert faults_of(found, blocks, strip) == []
    assert found.method == NESTED
