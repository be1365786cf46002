from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from production.planning.cutting_prices import CuttingPrice, cutting_price
from production.planning.explode import shapes_by_key
from production.planning.lays import (
    asked,
    laid_out,
    placed_outline,
    validate_lay,
)
from production.planning.plan import Lay, Placement, PlanError, TicketLine
from production.planning.row_lays import plan_lays, ply_ladder
from production.planning.rows import box_rows_mm, polygon_area_mm2
from production.planning.snapshot import BlockShape, FabricSpec, OperationSpec, WorkroomSpec
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
    operations = [
        OperationSpec("lay-up", "", "cut", "lay", minutes_each=Decimal(9)),
        OperationSpec("spread", "", "cut", "ply", minutes_each=Decimal(2)),
        OperationSpec("cut-out", "", "cut", "outline", minutes_each=Decimal(1)),
        OperationSpec("trim", "", "finish", "jacket", minutes_each=Decimal(5)),
    ]
    fabric = make_fabric(price_per_m=Decimal(10))
    price = cutting_price(fabric, operations, make_workroom(labor_per_hour=Decimal(30)))
    assert price == CuttingPrice(cloth_mm=0.01, lay=4.5, ply=1.0, outline=0.5)


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
