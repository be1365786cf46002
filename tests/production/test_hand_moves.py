"""Blocks moved by hand, and the rest nested around those that are pinned."""

from __future__ import annotations

import math
from collections import Counter

import pytest

from production.planning.cutting.hand_moves import (
    Position,
    nest_the_rest,
    positions_of,
    reach_mm,
    set_by_hand,
)
from production.planning.cutting.lays import laid_out, placed_outline, validate_lay
from production.planning.explode import shapes_by_key
from production.planning.plan import Lay, Placement, PlanError
from tests.production.planning_factories import (
    jacket_shapes,
    l_shape,
    make_fabric,
    make_shape,
    make_workroom,
    rectangle,
)

SHAPES = shapes_by_key(
    (
        make_shape("SQ", "S", rectangle(100, 100), "single"),
        make_shape("FR", "S", l_shape(600, 280), "pair"),
    )
)


def place(block: str, x_mm: float, y_mm: float, side: str = "single") -> Placement:
    return Placement(block, "S", side, x_mm, y_mm, 0.0, side == "right")


def lay_of(*placements: Placement, width_mm: int = 400) -> Lay:
    return Lay(
        "R-1-T1-L1",
        "face_up",
        2,
        width_mm,
        reach_mm(placements, SHAPES),
        0.5,
        100.0,
        900.0,
        placements,
    )


def two_squares() -> Lay:
    return lay_of(place("SQ", 50, 50), place("SQ", 300, 50))


def test_a_moved_block_makes_the_lay_as_long_as_it_reaches() -> None:
    moved = set_by_hand(two_squares(), [Position(50, 50, 0), Position(154, 50, 0)], SHAPES)
    assert moved.length_mm == 204
    assert moved.efficiency == pytest.approx(100 / 204)
    assert moved.placements[1].x_mm == 154


def test_a_length_is_never_rounded_below_its_blocks() -> None:
    assert reach_mm((place("SQ", 50.0001, 50),), SHAPES) == 100.001
    assert reach_mm((place("SQ", 50.001, 50),), SHAPES) == 100.001


def test_moves_change_no_counts() -> None:
    lay = lay_of(place("FR", 300, 140, "left"), place("FR", 300, 440, "right"), width_mm=600)
    moved = set_by_hand(lay, [Position(300, 440, 0), Position(300, 140, 0)], SHAPES)
    assert laid_out([moved]) == laid_out([lay])


@pytest.mark.parametrize(
    ("positions", "words"),
    [
        ([Position(0, 0, 0)], "has 2 blocks, but 1 positions"),
        ([Position(0, 0, 0), Position(math.nan, 0, 0)], "no place"),
        ([Position(0, 0, 0), Position(0, 1e9, 0)], "no place"),
    ],
)
def test_positions_that_are_none_are_refused(positions: list[Position], words: str) -> None:
    with pytest.raises(PlanError, match=words):
        set_by_hand(two_squares(), positions, SHAPES)


def test_pinned_blocks_stay_and_the_rest_finds_a_shorter_lay() -> None:
    # Four squares in one row where two rows fit: 400 mm hold three of 100 mm beside one another.
    lay = lay_of(*(place("SQ", 50 + 150 * number, 50) for number in range(4)))
    fabric, room = make_fabric(usable_width_mm=400), make_workroom()
    rest = nest_the_rest(lay, {1}, SHAPES, fabric, room, 1.0)
    assert rest.lay.placements[1] == lay.placements[1]
    assert rest.lay.length_mm < lay.length_mm
    assert validate_lay(rest.lay, SHAPES, fabric, room.block_gap_mm, room) == []
    assert laid_out([rest.lay]) == laid_out([lay])


def test_the_rest_is_nested_within_its_seconds() -> None:
    lay = lay_of(*(place("SQ", 50 + 150 * number, 50) for number in range(4)))
    fabric, room = make_fabric(usable_width_mm=400), make_workroom()
    rest = nest_the_rest(lay, {1}, SHAPES, fabric, room, 0.0)
    assert "lies in rows" in rest.note
    assert rest.lay.placements[1] == lay.placements[1]
    assert validate_lay(rest.lay, SHAPES, fabric, room.block_gap_mm, room) == []


def test_each_side_is_nested_as_it_lies() -> None:
    shapes = shapes_by_key(jacket_shapes("S"))
    placements = (
        Placement("FR", "S", "left", 300, 140, 0.0, False),
        Placement("FR", "S", "right", 950, 140, 0.0, True),
        Placement("CO", "S", "single", 1500, 60, 0.0, False),
    )
    lay = Lay("R-1-T1-L1", "face_up", 1, 1400, 1800.0, 0.3, 300.0, 1800.0, placements)
    fabric, room = make_fabric(), make_workroom()
    rest = nest_the_rest(lay, {0}, shapes, fabric, room, 1.0)
    assert validate_lay(rest.lay, shapes, fabric, room.block_gap_mm, room) == []
    assert [each.mirrored for each in rest.lay.placements] == [False, True, False]
    assert rest.lay.length_mm < 1800


def test_a_lay_with_every_block_pinned_has_nothing_to_nest() -> None:
    with pytest.raises(PlanError, match="Every block is pinned"):
        nest_the_rest(two_squares(), {0, 1}, SHAPES, make_fabric(), make_workroom(), 1.0)


def test_blocks_are_all_placed_when_none_is_pinned() -> None:
    lay = lay_of(*(place("SQ", 50 + 150 * number, 50) for number in range(4)))
    fabric, room = make_fabric(usable_width_mm=400), make_workroom()
    rest = nest_the_rest(lay, set(), SHAPES, fabric, room, 0.5)
    assert Counter(each.block for each in rest.lay.placements) == {"SQ": 4}
    assert validate_lay(rest.lay, SHAPES, fabric, room.block_gap_mm, room) == []
    assert rest.lay.length_mm <= 204 + 0.5


def test_positions_are_those_of_the_placements() -> None:
    assert positions_of(two_squares()) == (Position(50, 50, 0), Position(300, 50, 0))
    ring = placed_outline(two_squares().placements[0], rectangle(100, 100))
    assert min(x for x, _ in ring) == 0
