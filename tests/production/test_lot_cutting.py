"""Better lays that keep the dye lots of a ticket apart."""

from __future__ import annotations

from production.planning.lot_cutting import choices_by_lot, parts_by_ticket
from production.planning.nesting.blocks import Nest
from production.planning.planner import plan_run
from tests.production.planning_factories import make_bolt, make_jacket, make_snapshot

SPRUCE = "R-0001-T2"


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
