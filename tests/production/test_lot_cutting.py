"""Better lays that keep the dye lots of a ticket apart."""

from __future__ import annotations

from collections import Counter

import pytest

from production.planning.cloth.remnants import fit_nested
from production.planning.cutting.lays import validate_lay
from production.planning.cutting.lot_cutting import choices_by_lot, parts_by_ticket
from production.planning.nesting.blocks import Nest, NestBlock, Strip
from production.planning.planner import plan_run
from tests.production.planning_factories import (
    jacket_shapes,
    make_bolt,
    make_fabric,
    make_jacket,
    make_shape,
    make_snapshot,
)

OAT, SPRUCE = "R-0001-T1", "R-0001-T2"
WEDGE = ((0.0, 0.0), (400.0, 0.0), (0.0, 80.0))


class Shelf(dict[str, tuple[Nest, float]]):
    def put(self, key: str, nest: Nest, seconds: float) -> None:
        self[key] = (nest, seconds)


def split_run():
    """Eight jackets in two sizes, and spruce for three of them on hand."""
    jackets = tuple(make_jacket(f"J-{n:02d}", size="SM"[n % 2]) for n in range(1, 9))
    return make_snapshot(jackets=jackets, bolts=(make_bolt("B-1", "spruce", 2200),))


def test_parts_have_the_rows_of_the_plan():
    snapshot = split_run()
    planned = plan_run(snapshot)
    parts = parts_by_ticket(snapshot)
    (rows, *_) = choices_by_lot(parts[SPRUCE], 0, Shelf())
    assert len(parts[SPRUCE]) == 2
    assert rows.lays == planned.plan.cut_tickets[1].lays
    assert rows.fabric_mm == planned.plan.cut_tickets[1].fabric_needed_mm


def test_every_choice_takes_from_stock_what_the_rows_do():
    snapshot = split_run()
    told = []
    choices = choices_by_lot(parts_by_ticket(snapshot)[SPRUCE], 6, Shelf(), on_better=told.append)
    assert told[0].aim == "rows"
    for choice in choices:
        planned = plan_run(snapshot, {"spruce": choice.lays})
        assert [len(codes) for _, codes in planned.cloth[SPRUCE].dye_lots] == [3, 5]
        assert planned.plan.cut_tickets[1].fabric_needed_mm == choice.fabric_mm
        assert all(check.holds for check in planned.plan.checks)
        assert set(choice.methods) == {lay.lay for lay in choice.lays}


def test_nothing_is_looked_for_once_stopped():
    choices = choices_by_lot(
        parts_by_ticket(split_run())[SPRUCE], 60, Shelf(), is_stopped=lambda: True
    )
    assert len({choice.lays for choice in choices}) == 1


def test_lays_on_remnants_stay():
    bolts = (
        make_bolt("B-1", "oat", 9000),
        make_bolt("R-1", "oat", 500, usable_width_mm=90, is_remnant=True),
    )
    jackets = tuple(make_jacket(f"J-{n:02d}") for n in range(1, 5))
    (part,) = parts_by_ticket(make_snapshot(jackets=jackets, bolts=bolts))["R-0001-T1"]
    for choice in choices_by_lot((part,), 3, Shelf()):
        assert choice.lays[0] == part.lays[0]
        assert choice.lays[0].usable_width_mm == 90


def wedge_run(jackets: int):
    """Jackets with wedges for collars, which may be turned about, and a remnant of the cloth: in
    rows it holds one wedge of 400 x 80, turned to one another two (80 + 4.1 of 90 mm)."""
    shapes = tuple(
        make_shape("CO", "S", WEDGE) if (shape.block, shape.size) == ("CO", "S") else shape
        for shape in jacket_shapes("S")
    )
    bolts = (
        make_bolt("B-1", "oat", 9000),
        make_bolt("R-1", "oat", 500, usable_width_mm=90, is_remnant=True),
    )
    return make_snapshot(
        jackets=tuple(make_jacket(f"J-{n:02d}") for n in range(1, jackets + 1)),
        shapes=shapes,
        fabrics=(make_fabric(nap="two_way"),),
        bolts=bolts,
    )


def test_remnants_are_nested_where_that_covers_more_of_them():
    snapshot = wedge_run(2)
    (part,) = parts_by_ticket(snapshot)[OAT]
    assert [len(lay.placements) for lay in part.lays] == [1, 1]
    rows, *found = choices_by_lot((part,), 3, Shelf())
    assert rows.lays == part.lays
    (lays,) = {choice.lays for choice in found}
    assert [(lay.usable_width_mm, len(lay.placements)) for lay in lays] == [(90, 2)]
    assert found[0].methods == {lays[0].lay: ("nested", "")}
    cloth = part.cloth
    assert validate_lay(lays[0], cloth.shapes, cloth.fabric, 4, cloth.workroom) == []
    planned = plan_run(snapshot, {"oat": lays})
    assert planned.cloth[OAT].to_buy_mm == 0
    assert [spread.bolt for spread in planned.cloth[OAT].spreads] == ["R-1"]
    assert all(check.holds for check in planned.plan.checks)


def test_a_choice_is_never_worse_than_rows_by_its_own_aim():
    (part,) = parts_by_ticket(wedge_run(4))[OAT]
    rows, *found = choices_by_lot((part,), 3, Shelf())
    by_aim = {choice.aim: choice for choice in found}
    assert by_aim["fabric"].fabric_mm <= rows.fabric_mm
    assert by_aim["money"].cost <= rows.cost
    assert len(by_aim["lays"].lays) <= len(rows.lays)
    assert by_aim["time"].cutting_minutes <= rows.cutting_minutes


def test_a_nested_remnant_holds_as_many_left_as_right():
    """Five tall triangles fit, so that of three pairs two are laid."""
    outline = ((0.0, 0.0), (100.0, 0.0), (0.0, 90.0))
    blocks = [
        NestBlock(("FR", "S", side), f"front {side}", outline, 3) for side in ("left", "right")
    ]
    nest = fit_nested(blocks, Strip(width_mm=90, gap_mm=0, longest_mm=520))
    assert Counter(place.key[2] for place in nest.places) == {"left": 2, "right": 2}


@pytest.mark.parametrize("lot", ["narrow", "mixed"])
def test_lays_are_as_narrow_as_the_bolts_of_their_lot(lot):
    """Cloth is 1400 mm wide; the bolts of the lot are 1100, one of them wide enough but short."""
    wide = (make_bolt("B-1", "spruce", 1500),) if lot == "mixed" else ()
    bolts = (*wide, make_bolt("B-2", "spruce", 9000, usable_width_mm=1100))
    jackets = tuple(make_jacket(f"J-{n:02d}") for n in range(1, 5))
    snapshot = make_snapshot(jackets=jackets, bolts=bolts)
    planned = plan_run(snapshot)
    ticket = planned.plan.cut_tickets[1]
    assert {lay.usable_width_mm for lay in ticket.lays} == {1100}
    assert ticket.to_buy_mm == 0
    assert all(check.holds for check in planned.plan.checks)
    (part,) = parts_by_ticket(snapshot)[SPRUCE]
    assert part.lays == ticket.lays
    for choice in choices_by_lot((part,), 4, Shelf()):
        assert {lay.usable_width_mm for lay in choice.lays} == {1100}
        again = plan_run(snapshot, {"spruce": choice.lays})
        assert again.plan.cut_tickets[1].to_buy_mm == 0


def test_a_lot_of_narrow_bolts_serves_part_of_the_jackets():
    jackets = tuple(make_jacket(f"J-{n:02d}") for n in range(1, 9))
    bolts = (make_bolt("B-1", "spruce", 2700, usable_width_mm=1200),)
    planned = plan_run(make_snapshot(jackets=jackets, bolts=bolts))
    ticket, use = planned.plan.cut_tickets[1], planned.cloth[SPRUCE]
    assert [lot for lot, _ in use.dye_lots] == ["lot-1", None]
    widths = {spread.lay: spread.bolt for spread in use.spreads}
    assert {(lay.usable_width_mm, widths[lay.lay]) for lay in ticket.lays} == {
        (1200, "B-1"),
        (1400, None),
    }
    assert all(check.holds for check in planned.plan.checks)


def test_bolts_too_narrow_for_a_block_are_left_alone():
    bolts = (make_bolt("B-1", "spruce", 9000, usable_width_mm=450),)
    planned = plan_run(make_snapshot(bolts=bolts))
    ticket = planned.plan.cut_tickets[1]
    assert {lay.usable_width_mm for lay in ticket.lays} == {1400}
    assert ticket.from_stock_mm == 0
