from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from production.planning.cutting.cutting_prices import CuttingMinutes, CuttingPrice, cutting_price
from production.planning.cutting.lays import (
    asked,
    cloth_width_mm,
    is_own_mirror_image,
    laid_out,
    layer_pieces,
    placed_outline,
    spread_count,
    validate_lay,
)
from production.planning.cutting.row_lays import plan_lays, ply_ladder
from production.planning.cutting.rows import box_rows_mm, polygon_area_mm2
from production.planning.explode import shapes_by_key
from production.planning.plan import Lay, Placement, PlanError, TicketLine
from production.planning.snapshot import BlockShape, FabricSpec, OperationSpec, WorkroomSpec
from production.planning.supplies.materials import fabric_needed_mm
from tests.production.planning_factories import (
    jacket_shapes,
    l_shape,
    make_fabric,
    make_shape,
    make_workroom,
    moved,
    rectangle,
)

KEY = ("FR", "S", "left")
CLOTH = make_fabric(usable_width_mm=1000)
ONE_PLY = replace(CLOTH, highest_plies=1)
ROOM = make_workroom(block_gap_mm=10)
#: Only cutting costs money: the ladder begins at the highest plies. And only cloth does.
MANY_PLIES = CuttingPrice(cloth_mm=0, lay=0, ply=0, outline=1)
LITTLE_CLOTH = CuttingPrice(cloth_mm=1, lay=0, ply=0, outline=0)


def lays_of(
    lines: list[TicketLine],
    shapes: list[BlockShape],
    fabric: FabricSpec = CLOTH,
    room: WorkroomSpec = ROOM,
) -> tuple[Lay, ...]:
    return plan_lays("R-1-T1", lines, shapes_by_key(shapes), fabric, room, MANY_PLIES)


def singles(block: str, count: int) -> TicketLine:
    return TicketLine(block, "S", 0, 0, count)


@pytest.mark.parametrize(
    ("count", "highest", "rungs"),
    [
        (38, 8, [(8, 4), (4, 1), (2, 1)]),  # 32 + 4 + 2
        (11, 5, [(4, 2), (2, 1), (1, 1)]),  # the highest power of two not above 5 is 4
        (3, 1, [(1, 3)]),
        (16, 100, [(16, 1)]),
        (0, 8, []),
    ],
)
def test_plies_fall_by_powers_of_two_and_add_up(
    count: int, highest: int, rungs: list[tuple[int, int]]
) -> None:
    ladder = ply_ladder({KEY: count}, highest)
    assert [(plies, places[KEY]) for plies, places in ladder] == rungs


def test_a_row_is_filled_across_the_width_before_the_next_begins() -> None:
    # 400 + 10 + 400 mm of 1000 mm hold two; the third starts a row after 100 mm and the gap.
    (lay,) = lays_of([singles("A", 3)], [make_shape("A", outline=rectangle(100, 400))], ONE_PLY)
    assert [(p.x_mm - 50, p.y_mm - 200) for p in lay.placements] == [(0, 0), (0, 410), (110, 0)]
    assert lay.length_mm == 210


def test_short_blocks_stand_behind_one_another_in_a_column() -> None:
    # Row of 300: the long block, and 140 + 10 + 140 behind one another. Row of 140: two abreast.
    shapes = [
        make_shape("A", outline=rectangle(300, 400)),
        make_shape("B", outline=rectangle(140, 400)),
    ]
    (lay,) = lays_of([singles("A", 1), singles("B", 4)], shapes, ONE_PLY)
    assert lay.length_mm == 300 + 10 + 140
    assert lay.box_rows_mm == 300 + 10 + 140 + 10 + 140
    assert lay.lower_bound_mm == (300 * 400 + 4 * 140 * 400) / 1000
    assert lay.efficiency == pytest.approx(344 / 450)


def test_plain_box_rows_take_the_deepest_first_and_never_go_back() -> None:
    # Rows 300 (600 wide), 200 (500 wide), 100 (600 wide): the last would fit nowhere earlier.
    boxes = [(100.0, 600.0), (300.0, 600.0), (200.0, 500.0)]
    assert box_rows_mm(boxes, width_mm=1000, gap_mm=0) == 600
    assert box_rows_mm([], width_mm=1000, gap_mm=10) == 0


def test_a_row_too_many_for_the_table_starts_a_new_lay_of_as_many_plies() -> None:
    # Between 20 mm of end allowance at both ends 960 mm are left: two rows of 400 and the gap.
    room = make_workroom(table_length_mm=1000, block_gap_mm=10)
    shape = make_shape("A", outline=rectangle(400, 600))
    lays = lays_of([singles("A", 24)], [shape], CLOTH, room)
    assert [(lay.lay, lay.plies, lay.length_mm) for lay in lays] == [
        ("R-1-T1-L1", 8, 810),
        ("R-1-T1-L2", 8, 400),
    ]


def test_lays_cut_exactly_what_is_asked() -> None:
    lines = [TicketLine("FR", "S", 13, 13, 0), singles("BK", 13), singles("CO", 7)]
    lays = plan_lays("T", lines, shapes_by_key(jacket_shapes("S")), make_fabric(), ROOM, MANY_PLIES)
    assert laid_out(lays) == asked(lines)
    assert {lay.plies for lay in lays} == {8, 4, 2, 1}


def test_dear_cutting_takes_many_plies_and_dear_cloth_few() -> None:
    # Three of 500 x 400 mm on a cloth 1000 mm wide: two plies and one take 2 x 500 + 500 mm,
    # three single ones side by side take 2 rows of 500 mm; end allowances make it more so.
    lines, shapes = (
        [singles("BK", 3)],
        shapes_by_key([make_shape("BK", outline=rectangle(500, 400))]),
    )

    def plies(price: CuttingPrice) -> list[tuple[int, int]]:
        lays = plan_lays("T", lines, shapes, CLOTH, ROOM, price)
        return [(lay.plies, len(lay.placements)) for lay in lays]

    assert plies(MANY_PLIES) == [(2, 1), (1, 1)]
    assert plies(LITTLE_CLOTH) == [(1, 3)]


def test_the_price_of_cutting_is_worked_out_from_minutes_and_cloth() -> None:
    # A tenth of allowance, half an hour's wage a minute; of 1 m on the table 2 % have shrunk.
    operations = [
        OperationSpec("lay-up", "", "cut", "lay", minutes_each=Decimal(9)),
        OperationSpec("spread", "", "cut", "ply", minutes_each=Decimal(2)),
        OperationSpec("cut-out", "", "cut", "outline", minutes_each=Decimal(1)),
        OperationSpec("trim", "", "finish", "jacket", minutes_each=Decimal(5)),
    ]
    room = make_workroom(labor_per_hour=Decimal(30), relaxation_allowance=Decimal("0.1"))
    price = cutting_price(make_fabric(price_per_m=Decimal("9.80")), operations, room)
    assert (price.cloth_mm, price.lay, price.ply, price.outline) == (0.01, 4.95, 1.1, 0.55)
    assert price.minutes == CuttingMinutes(Decimal("9.9"), Decimal("2.2"), Decimal("1.1"))


def test_the_weights_of_the_workroom_choose_the_height_of_the_rows() -> None:
    lines = [singles("BK", 3)]
    shapes = shapes_by_key([make_shape("BK", outline=rectangle(500, 400))])
    price = CuttingPrice(cloth_mm=0.01, lay=0, ply=0, outline=3)
    for cloth, plies in (("1", [1]), ("0.1", [2, 1])):
        room = make_workroom(cloth_weight=Decimal(cloth))
        lays = plan_lays("T", lines, shapes, CLOTH, room, price)
        assert [lay.plies for lay in lays] == plies


def test_a_right_block_lies_mirrored_and_a_left_one_does_not() -> None:
    (lay,) = plan_lays(
        "T",
        [TicketLine("FR", "S", 1, 1, 0)],
        shapes_by_key(jacket_shapes("S")),
        make_fabric(),
        ROOM,
        MANY_PLIES,
    )
    assert {(p.side, p.mirrored, p.rotation_deg) for p in lay.placements} == {
        ("left", False, 0.0),
        ("right", True, 0.0),
    }


def test_an_outline_off_its_center_still_starts_at_the_edge_of_the_cloth() -> None:
    off_center = tuple((x + 70, y - 30) for x, y in l_shape(600, 280))
    shape = make_shape("FR", outline=off_center, pairing="pair")
    (lay,) = lays_of([TicketLine("FR", "S", 1, 1, 0)], [shape])
    points = [q for p in lay.placements for q in placed_outline(p, off_center)]
    assert min(x for x, _ in points) == pytest.approx(0)
    assert min(y for _, y in points) == pytest.approx(0)
    assert validate_lay(lay, shapes_by_key([shape]), CLOTH, 10) == []


def test_a_placement_mirrors_then_turns_then_moves() -> None:
    place = Placement("FR", "S", "right", 100, 50, 90, True)
    (x, y), *_ = placed_outline(place, ((10, 20), (0, 0), (1, 1)))
    assert (x, y) == pytest.approx((120, 60))  # (10, 20) -> (10, -20) -> (20, 10) -> + (100, 50)


def test_the_area_of_the_l_shape_lacks_its_corner() -> None:
    assert polygon_area_mm2(l_shape(600, 280)) == 600 * 280 - 100 * 80


def test_a_block_wider_than_the_cloth_is_named() -> None:
    shape = make_shape("BK", outline=rectangle(600, 1010))
    with pytest.raises(PlanError, match=r"BK in size S is 1010 mm wide.*has 1000 mm"):
        lays_of([singles("BK", 1)], [shape])


def test_a_block_longer_than_the_table_is_named() -> None:
    shape = make_shape("BK", outline=rectangle(5970, 500))
    with pytest.raises(PlanError, match=r"BK in size S is 5970 mm long.*holds 5960 mm"):
        lays_of([singles("BK", 1)], [shape])


def test_a_block_just_as_wide_as_the_cloth_is_laid() -> None:
    (lay,) = lays_of([singles("BK", 1)], [make_shape("BK", outline=rectangle(600, 1000))])
    assert lay.efficiency == 1


SHAPES = shapes_by_key(jacket_shapes("S"))


def sound_lay() -> Lay:
    lines = [TicketLine("FR", "S", 1, 1, 0), singles("BK", 1)]
    (lay,) = plan_lays("T", lines, SHAPES, make_fabric(), ROOM, MANY_PLIES)
    assert validate_lay(lay, SHAPES, make_fabric(), 10) == []
    return lay


def faults_with(lay: Lay, at: int, placement: Placement) -> str:
    placements = (*lay.placements[:at], placement, *lay.placements[at + 1 :])
    changed = replace(lay, placements=placements)
    return "; ".join(validate_lay(changed, SHAPES, make_fabric(), 10))


def test_an_overlap_is_found() -> None:
    lay = sound_lay()
    assert "overlap" in faults_with(lay, 1, moved(lay.placements[1], y_mm=-15))


def test_blocks_nearer_than_the_gap_are_found() -> None:
    lay = sound_lay()
    faults = faults_with(lay, 1, moved(lay.placements[1], y_mm=-5))
    assert "nearer than 10 mm" in faults
    assert "overlap" not in faults


def test_a_block_outside_the_cloth_is_found() -> None:
    lay = sound_lay()
    assert "leaves the cloth" in faults_with(lay, 0, moved(lay.placements[0], y_mm=-1))
    assert "leaves the cloth" in faults_with(lay, 2, moved(lay.placements[2], x_mm=1))


def test_a_block_against_the_nap_is_found() -> None:
    lay = sound_lay()
    turned = replace(lay.placements[0], rotation_deg=180.0)
    assert "against the nap" in faults_with(lay, 0, turned)


def test_a_two_way_nap_allows_half_a_turn_and_no_quarter_turn() -> None:
    lay, two_way = sound_lay(), make_fabric(nap="two_way")
    back = lay.placements[0]
    for turn, allowed in ((180.0, True), (90.0, False)):
        turned = replace(lay, placements=(replace(back, rotation_deg=turn),))
        faults = "; ".join(validate_lay(turned, SHAPES, two_way, 10))
        assert ("against the nap" not in faults) is allowed


def test_a_wrongly_mirrored_block_is_found() -> None:
    lay = sound_lay()
    at = next(i for i, p in enumerate(lay.placements) if p.side == "right")
    assert "is not mirrored" in faults_with(lay, at, replace(lay.placements[at], mirrored=False))


def test_a_side_that_the_block_does_not_have_is_found() -> None:
    lay = sound_lay()
    at = next(i for i, p in enumerate(lay.placements) if p.block == "BK")
    assert "does not have" in faults_with(lay, at, replace(lay.placements[at], side="left"))


def test_an_unknown_block_and_too_many_plies_are_found() -> None:
    lay = sound_lay()
    assert "has no shape" in faults_with(lay, 0, replace(lay.placements[0], block="XX"))
    assert "9 plies" in validate_lay(replace(lay, plies=9), SHAPES, make_fabric(), 10)[0]


def test_a_turned_outline_keeps_its_area() -> None:
    outline = l_shape(600, 280)
    for turn in (0, 90, 180, 33):
        place = Placement("FR", "S", "right", 7, 9, turn, True)
        area = polygon_area_mm2(placed_outline(place, outline))
        assert math.isclose(area, 160_000, rel_tol=1e-9)


def lay_of(mode: str, plies: int, *places: Placement, width_mm: int = 1400) -> Lay:
    return Lay("T-L1", mode, plies, width_mm, 610, 0.5, 305, 610, places)


LEFT = Placement("FR", "S", "left", 300, 140, 0, False)
RIGHT = Placement("FR", "S", "right", 300, 440, 0, True)
BACK = Placement("BK", "S", "single", 300, 900, 0, False)


def faults_of(lay: Lay, room: WorkroomSpec | None = None, **fabric: Any) -> str:
    return "; ".join(validate_lay(lay, SHAPES, make_fabric(**fabric), 10, room))


def test_a_layer_face_up_cuts_what_lies_on_it_as_it_lies() -> None:
    lay = lay_of("face_up", 3, LEFT, RIGHT, BACK)
    once = {("FR", "S", "left"): 1, ("FR", "S", "right"): 1, ("BK", "S", "single"): 1}
    assert layer_pieces(lay, 2) == once
    assert laid_out([lay]) == dict.fromkeys(once, 3)


@pytest.mark.parametrize("mode", ["face_to_face", "folded"])
def test_every_second_layer_that_lies_face_down_cuts_the_other_side(mode: str) -> None:
    lay = lay_of(mode, 4, LEFT, BACK, width_mm=700)
    assert layer_pieces(lay, 1) == {("FR", "S", "left"): 1, ("BK", "S", "single"): 1}
    assert layer_pieces(lay, 2) == {("FR", "S", "right"): 1, ("BK", "S", "single"): 1}
    whole = sum((layer_pieces(lay, layer) for layer in range(1, 5)), Counter())
    assert laid_out([lay]) == whole
    assert whole == {
        ("FR", "S", "left"): 2,
        ("FR", "S", "right"): 2,
        ("BK", "S", "single"): 4,
    }


def test_a_lay_has_no_other_layers_than_its_plies() -> None:
    for layer in (0, 4):
        with pytest.raises(ValueError, match="layers 1 to 3"):
            layer_pieces(lay_of("face_up", 3, LEFT), layer)


def test_a_folded_length_makes_two_layers() -> None:
    folded = lay_of("folded", 4, LEFT, width_mm=700)
    flat = lay_of("face_to_face", 4, LEFT)
    assert (spread_count(folded), spread_count(flat)) == (2, 4)
    assert (cloth_width_mm(folded), cloth_width_mm(flat)) == (1400, 1400)
    # 610 mm and twice 20 mm of end allowance, of which 2 % shrink away: 650 / 0.98 a length.
    fabric = make_fabric()
    assert [fabric_needed_mm([lay], fabric) for lay in (folded, flat)] == [1327, 2654]
    price = CuttingPrice(0.01, 4, 1, 0.5, CuttingMinutes(Decimal(8), Decimal(2), Decimal(1)))
    assert price.of([folded], 20) == 4 + 2 * (1 + 6.5) + 0.5
    assert price.minutes.of([folded]) == 8 + 2 * 2 + 1


def test_a_lay_face_to_face_needs_even_plies_and_left_blocks() -> None:
    assert faults_of(lay_of("face_to_face", 4, LEFT, BACK)) == ""
    assert "3 plies" in faults_of(lay_of("face_to_face", 3, LEFT))
    assert "even in number" in faults_of(lay_of("folded", 3, LEFT, width_mm=700))
    assert "lies as a right block" in faults_of(lay_of("face_to_face", 2, RIGHT))


def test_a_lay_face_to_face_takes_no_single_block_with_two_faces() -> None:
    shapes = shapes_by_key([make_shape("CO", outline=l_shape(600, 280))])
    lay = lay_of("face_to_face", 2, Placement("CO", "S", "single", 300, 140, 0, False))
    faults = validate_lay(lay, shapes, make_fabric(), 10)
    assert ["is not its own mirror image" in fault for fault in faults] == [True]


def test_an_outline_is_its_own_mirror_image_across_its_middle() -> None:
    aside = tuple((x, y + 300) for x, y in rectangle(400, 80))
    assert is_own_mirror_image(aside)
    assert not is_own_mirror_image(l_shape(600, 280))


def test_a_folded_lay_is_half_as_wide_as_the_cloth() -> None:
    assert faults_of(lay_of("folded", 2, LEFT, width_mm=700)) == ""
    assert "wider than half of the 1400 mm" in faults_of(lay_of("folded", 2, LEFT, width_mm=701))
    over_the_fold = replace(LEFT, y_mm=570)
    assert "leaves the cloth" in faults_of(lay_of("folded", 2, over_the_fold, width_mm=700))


def test_the_workroom_limits_plies_length_and_ways_of_spreading() -> None:
    lay, room = lay_of("face_to_face", 8, LEFT), make_workroom(spreading="face_to_face")
    assert faults_of(lay, room) == ""
    assert "tool goes through 6" in faults_of(lay, replace(room, tool_highest_plies=6))
    assert "table holds 600 mm" in faults_of(lay, replace(room, table_length_mm=640))
    assert "spread face to face" in faults_of(lay, replace(room, spreading="folded"))


def test_the_tool_limits_the_plies_of_rows() -> None:
    room = make_workroom(tool_highest_plies=5)
    lays = lays_of(
        [singles("BK", 16)], [make_shape("BK", outline=rectangle(500, 400))], CLOTH, room
    )
    assert max(lay.plies for lay in lays) == 4


@pytest.mark.parametrize("turn", [90.0, 180.0, 270.0])
def test_a_block_that_is_free_on_the_grain_may_be_turned(turn: float) -> None:
    for is_free, words in ((True, ""), (False, "against the nap")):
        shapes = shapes_by_key([make_shape("CO", is_free_on_grain=is_free)])
        lay = lay_of("face_up", 1, Placement("CO", "S", "single", 300, 300, turn, False))
        assert words in "; ".join(validate_lay(lay, shapes, make_fabric(), 10))
        assert bool(validate_lay(lay, shapes, make_fabric(), 10)) is not is_free


def test_rows_turn_a_block_that_is_free_on_the_grain_only_where_it_does_not_fit() -> None:
    wide = make_shape("FA", outline=rectangle(80, 1200), is_free_on_grain=True)
    short = make_shape("CO", outline=rectangle(80, 400), is_free_on_grain=True)
    (lay,) = lays_of([singles("FA", 1), singles("CO", 1)], [wide, short])
    assert {(p.block, p.rotation_deg) for p in lay.placements} == {("FA", 90.0), ("CO", 0.0)}
    assert validate_lay(lay, shapes_by_key([wide, short]), CLOTH, 10) == []


@pytest.mark.parametrize(
    ("fabric", "room", "words"),
    [
        (replace(CLOTH, highest_plies=0), ROOM, "may be cut in 0 plies"),
        (CLOTH, replace(ROOM, tool_highest_plies=0), "goes through 0 plies"),
        (replace(CLOTH, usable_width_mm=0), ROOM, "has 0 mm of usable width"),
        (CLOTH, replace(ROOM, table_length_mm=30), "table holds 0 mm"),
    ],
)
def test_settings_with_which_nothing_can_be_cut_are_refused(
    fabric: FabricSpec, room: WorkroomSpec, words: str
) -> None:
    with pytest.raises(PlanError, match=words):
        lays_of([singles("CO", 1)], [make_shape("CO")], fabric, room)
