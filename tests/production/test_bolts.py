"""Plies on bolts: lots, flaws, lengths and widths. Shrinkage and ends are 0 unless a test says so,
so that positions can be followed on paper."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import replace
from decimal import Decimal

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from production.planning.cloth.bolts import ClothUse, Remnant, lay_onto_bolts, ply_takes_mm
from production.planning.cloth.cloth_notes import in_spans
from production.planning.cloth.dye_lots import dye_lot_groups, jackets_of_lots
from production.planning.cloth.remnants import fit_in_rows, remnant_lays
from production.planning.cutting.lays import asked, laid_out, placed_outline
from production.planning.explode import Shapes
from production.planning.plan import Lay, Placement, TicketLine
from production.planning.planner import plan_run
from production.planning.snapshot import BoltSpec, FabricSpec, FlawSpec
from tests.production.planning_factories import (
    l_shape,
    make_bolt,
    make_fabric,
    make_jacket,
    make_shape,
    make_snapshot,
    make_workroom,
    rectangle,
)

PLAIN = make_fabric(shrinkage=Decimal(0), end_allowance_mm=0)
SHAPES: Shapes = {
    ("BK", "S"): make_shape("BK", outline=rectangle(600, 500), pairing="fold"),
    ("CO", "S"): make_shape("CO", outline=rectangle(400, 80)),
    ("FR", "S"): make_shape("FR", outline=l_shape(600, 280), pairing="pair"),
}


def place(block: str, x_mm: float, y_mm: float, side: str = "single") -> Placement:
    """A block with its middle at (x, y)."""
    return Placement(block, "S", side, x_mm, y_mm, 0.0, side == "right")


def make_lay(code: str = "L1", plies: int = 1, **values: object) -> Lay:
    """A back of 600 x 500 in the lower left corner of 1400 mm of width."""
    return replace(
        Lay(code, "face_up", plies, 1400, 600.0, 0.4, 200.0, 700.0, (place("BK", 300, 250),)),
        **values,  # type: ignore[arg-type]
    )


def bolt(code: str, length_mm: int, *flaws: FlawSpec, **values: object) -> BoltSpec:
    return make_bolt(code, "spruce", length_mm, flaws=flaws, **values)


def places(use: ClothUse) -> list[tuple[str | None, int | None]]:
    return [(spread.bolt, spread.start_mm) for spread in use.spreads]


def test_a_ply_takes_its_length_and_both_ends_before_they_shrink() -> None:
    fabric = make_fabric(shrinkage=Decimal("0.04"), end_allowance_mm=20)
    assert ply_takes_mm(make_lay(length_mm=960.0), fabric) == 1042  # 1000 / 0.96 = 1041.67


def test_notes_tell_lengths_as_the_workroom_measures() -> None:
    flaw = FlawSpec(at_mm=100, across_mm=100, length_mm=50, width_mm=50)
    bolts = [bolt("B-1", 2000, flaw), bolt("B-2", 900, usable_width_mm=1397)]
    use = lay_onto_bolts([make_lay()], SHAPES, bolts, PLAIN, unit="imperial")
    narrow, skipped = use.notes
    # 25.4 mm to the inch: 1397 mm are 55 in, 1400 mm the nearest eighth 55 1/8 in, 150 mm 5 7/8 in.
    assert "B-2 has 55 in of usable width and the lays need 55 1/8 in" in narrow
    assert "ply 1 of L1 begins 5 7/8 in further on" in skipped


def test_plies_follow_one_another_on_a_bolt() -> None:
    use = lay_onto_bolts([make_lay(plies=2)], SHAPES, [bolt("B-1", 2000)], PLAIN)
    assert places(use) == [("B-1", 0), ("B-1", 600)]
    assert (use.from_stock_mm, use.to_buy_mm) == (1200, 0)
    assert use.remnants == (Remnant("B-1", 1200, 800),)


def test_a_short_rest_is_waste() -> None:
    use = lay_onto_bolts([make_lay()], SHAPES, [bolt("B-1", 899)], PLAIN)
    assert use.remnants == ()


def test_a_ply_is_never_longer_than_its_bolt() -> None:
    use = lay_onto_bolts([make_lay()], SHAPES, [bolt("B-1", 599)], PLAIN)
    assert places(use) == [(None, None)]
    assert (use.from_stock_mm, use.to_buy_mm) == (0, 600)


def test_a_lay_is_never_wider_than_its_bolt() -> None:
    use = lay_onto_bolts([make_lay()], SHAPES, [bolt("B-1", 900, usable_width_mm=1399)], PLAIN)
    assert places(use) == [(None, None)]
    assert "B-1 has 1399 mm of usable width and the lays need 1400 mm" in use.notes[0]


def test_nothing_on_hand_is_bought() -> None:
    use = lay_onto_bolts([make_lay(plies=3)], SHAPES, [], PLAIN)
    assert (use.to_buy_mm, use.notes) == (1800, ())


def test_the_shortest_bolt_that_fits_is_used_up() -> None:
    bolts = [bolt("B-1", 5000), bolt("B-2", 650), bolt("B-3", 700)]
    assert places(lay_onto_bolts([make_lay()], SHAPES, bolts, PLAIN)) == [("B-2", 0)]


def test_one_lot_serves_the_ticket_where_one_can() -> None:
    bolts = [bolt("B-1", 650, dye_lot="a"), bolt("B-2", 700, dye_lot="b"), bolt("B-3", 650)]
    bolts[2] = replace(bolts[2], dye_lot="b")
    use = lay_onto_bolts([make_lay(plies=2)], SHAPES, bolts, PLAIN, {"J1": Counter()})
    assert {spread.bolt for spread in use.spreads} == {"B-2", "B-3"}
    assert use.dye_lots == (("b", ("J1",)),)


def backs(*jackets: str) -> dict[str, Counter[tuple[str, str, str]]]:
    return {jacket: Counter({("BK", "S", "single"): 1}) for jacket in jackets}


def test_lots_share_a_ticket_by_whole_jackets() -> None:
    bolts = [bolt("B-1", 1300, dye_lot="a"), bolt("B-2", 650, dye_lot="b")]
    jackets = backs("J-01", "J-02", "J-03", "J-04", "J-05")
    use = lay_onto_bolts([make_lay(plies=5)], SHAPES, bolts, PLAIN, jackets)
    assert [lot for lot, _ in use.dye_lots] == ["a", "b", None]
    assert [len(codes) for _, codes in use.dye_lots] == [2, 1, 2]
    assert (use.from_stock_mm, use.to_buy_mm) == (1800, 1200)
    assert use.notes[0].startswith("3 dye lots, keep them apart: dye lot a: J-01, J-02")


def test_a_lot_that_makes_no_whole_jacket_stays_on_the_shelf() -> None:
    """Backs and collars lie in lays of their own; the bolt holds the collars alone."""
    collars = make_lay("L2", length_mm=400.0, placements=(place("CO", 200, 40),))
    jackets = {"J1": Counter({("BK", "S", "single"): 1, ("CO", "S", "single"): 1})}
    use = lay_onto_bolts([make_lay(), collars], SHAPES, [bolt("B-1", 700)], PLAIN, jackets)
    assert (use.from_stock_mm, use.to_buy_mm) == (0, 1000)
    assert "does not reach for all blocks of the jackets" in use.notes[0]


def test_nobody_knows_who_mixes_without_jackets_so_all_is_bought() -> None:
    use = lay_onto_bolts([make_lay(plies=2)], SHAPES, [bolt("B-1", 700)], PLAIN)
    assert (use.from_stock_mm, use.to_buy_mm) == (0, 1200)


# Flaws


def test_a_flaw_in_a_block_moves_the_ply_on_by_the_least() -> None:
    flaw = FlawSpec(at_mm=100, across_mm=200, length_mm=50, width_mm=10)
    use = lay_onto_bolts([make_lay()], SHAPES, [bolt("B-1", 2000, flaw)], PLAIN)
    assert places(use) == [("B-1", 150)]
    assert "B-1: ply 1 of L1 begins 150 mm further on" in use.notes[0]


def test_a_flaw_in_the_waste_between_blocks_moves_nothing() -> None:
    beside = FlawSpec(at_mm=100, across_mm=500, length_mm=50, width_mm=900)
    assert places(lay_onto_bolts([make_lay()], SHAPES, [bolt("B-1", 900, beside)], PLAIN)) == [
        ("B-1", 0)
    ]


def test_a_flaw_in_the_notch_of_a_block_is_waste() -> None:
    """The L has no cloth in the last 100 mm of its upper 80: the flaw may lie there."""
    lay = make_lay(placements=(place("FR", 300, 140, "left"),))
    flaw = FlawSpec(at_mm=560, across_mm=210, length_mm=30, width_mm=60)
    assert places(lay_onto_bolts([lay], SHAPES, [bolt("B-1", 900, flaw)], PLAIN)) == [("B-1", 0)]
    low = replace(flaw, across_mm=190)
    assert places(lay_onto_bolts([lay], SHAPES, [bolt("B-1", 1600, low)], PLAIN)) == [("B-1", 590)]


def test_positions_of_flaws_count_before_the_cloth_shrinks() -> None:
    """A block ends 600 mm from the start on the table and 620 / 0.9 = 689 mm from it on the bolt;
    a flaw there begins right behind it."""
    fabric = make_fabric(shrinkage=Decimal("0.1"), end_allowance_mm=20)
    clear = FlawSpec(at_mm=689, across_mm=10, length_mm=10, width_mm=10)
    hit = FlawSpec(at_mm=688, across_mm=10, length_mm=10, width_mm=10)
    for flaw, start_mm in ((clear, 0), (hit, 676)):  # 688 + 10 - 20 / 0.9 = 675.8
        use = lay_onto_bolts([make_lay()], SHAPES, [bolt("B-1", 3000, flaw)], fabric)
        assert places(use) == [("B-1", start_mm)]


def test_a_ply_turned_face_down_has_the_flaw_at_its_other_edge() -> None:
    lay = make_lay(mode="face_to_face", plies=2)
    flaw = FlawSpec(at_mm=700, across_mm=1300, length_mm=50, width_mm=20)  # 1480 wide bolt
    use = lay_onto_bolts([lay], SHAPES, [bolt("B-1", 3000, flaw)], PLAIN)
    assert places(use) == [("B-1", 0), ("B-1", 750)]


def test_a_folded_ply_has_flaws_of_both_halves() -> None:
    lay = make_lay(mode="folded", plies=2, usable_width_mm=700)
    flaw = FlawSpec(at_mm=100, across_mm=1000, length_mm=50, width_mm=20)  # lies at 380 to 400
    use = lay_onto_bolts([lay], SHAPES, [bolt("B-1", 3000, flaw)], PLAIN)
    assert places(use) == [("B-1", 150)]
    assert use.from_stock_mm == 600


FLAWS = st.builds(
    FlawSpec,
    at_mm=st.integers(0, 3900),
    across_mm=st.integers(0, 1300),
    length_mm=st.integers(1, 400),
    width_mm=st.integers(1, 170),
)


@settings(max_examples=60)
@given(
    st.lists(st.lists(FLAWS, max_size=4), min_size=1, max_size=3),
    st.lists(st.integers(1, 4), min_size=1, max_size=3),
    st.sampled_from((PLAIN, make_fabric(shrinkage=Decimal("0.05"), end_allowance_mm=15))),
)
def test_no_ply_overlaps_another_leaves_its_bolt_or_has_a_flaw_in_a_block(
    flaws: list[list[FlawSpec]], plies: list[int], fabric: FabricSpec
) -> None:
    bolts = {
        f"B-{n}": bolt(f"B-{n}", 4000 - 700 * n, *some) for n, some in enumerate(flaws, start=1)
    }
    lays = {f"L{n}": make_lay(f"L{n}", count) for n, count in enumerate(plies, start=1)}
    use = lay_onto_bolts(list(lays.values()), SHAPES, list(bolts.values()), fabric)
    kept = 1 - float(fabric.shrinkage)
    for code, cloth in bolts.items():
        mine = sorted(
            (s.start_mm, s.start_mm + s.takes_mm, s.lay)
            for s in use.spreads
            if s.bolt == code and s.start_mm is not None
        )
        assert all(one[1] <= other[0] for one, other in itertools.pairwise(mine))
        assert all(start >= 0 and end <= cloth.end_mm for start, end, _ in mine)
        for start, _, lay in mine:
            for flaw in cloth.flaws:
                hurt = shapely.box(
                    (flaw.at_mm - start) * kept - fabric.end_allowance_mm,
                    flaw.across_mm,
                    (flaw.at_mm + flaw.length_mm - start) * kept - fabric.end_allowance_mm,
                    flaw.across_mm + flaw.width_mm,
                )
                for at in lays[lay].placements:
                    outline = placed_outline(at, SHAPES[at.block, at.size].cut_outline_mm)
                    assert shapely.Polygon(outline).intersection(hurt).area < 1e-6


# Dye lots


def test_the_smallest_lot_that_holds_all_jackets_is_taken() -> None:
    assert dye_lot_groups({"J1": 2, "J2": 3}, {"a": 9, "b": 5, "c": 4}) == {"b": ("J1", "J2")}


def test_jackets_fill_the_largest_lot_first_and_the_rest_is_bought() -> None:
    areas = {f"J{n}": 2.0 for n in range(1, 6)}
    assert dye_lot_groups(areas, {"a": 3, "b": 5}) == {
        "b": ("J1", "J2"),
        "a": ("J3",),
        None: ("J4", "J5"),
    }


def test_who_is_cut_from_which_lot_is_read_back_from_the_pieces() -> None:
    back, collar = ("BK", "S", "single"), ("CO", "S", "single")
    jackets = {
        "J1": Counter({back: 1, collar: 1}),
        "J2": Counter({back: 1}),
        "J3": Counter({back: 1}),
    }
    pieces: dict[str | None, Counter[tuple[str, str, str]]] = {
        "a": Counter({back: 2}),
        None: Counter({back: 1, collar: 1}),
    }
    assert jackets_of_lots(pieces, jackets) == {"a": ("J2", "J3"), None: ("J1",)}


def test_codes_that_count_on_are_told_as_a_span() -> None:
    codes = ("A-01", "A-02", "A-03", "A-05", "B-06", "C")
    assert in_spans(codes) == "A-01 to A-03, A-05, B-06, C"


# The planning of a run


def test_a_run_is_split_so_that_no_jacket_is_cut_from_two_lots() -> None:
    jackets = tuple(make_jacket(f"J-{n:02d}") for n in range(1, 9))
    bolts = (make_bolt("B-1", "spruce", 2100),)
    planned = plan_run(make_snapshot(jackets=jackets, bolts=bolts))
    oat, spruce = planned.plan.cut_tickets
    use = planned.cloth[spruce.ticket]
    assert [lot for lot, _ in use.dye_lots] == ["lot-1", None]
    # (600 + 2 x 20) / 0.98 = 653.06 a jacket, three of which lie on 2100 mm.
    assert [len(codes) for _, codes in use.dye_lots] == [3, 5]
    taken_mm = sum(spread.takes_mm for spread in use.spreads if spread.bolt)
    assert taken_mm - len(use.spreads) < spruce.from_stock_mm <= taken_mm <= 2100
    assert spruce.from_stock_mm + spruce.to_buy_mm == spruce.fabric_needed_mm
    assert laid_out(spruce.lays) == asked(spruce.lines)
    assert all(check.holds for check in planned.plan.checks)
    served = {s.lay for s in use.spreads if s.bolt}
    assert all((s.bolt is not None) == (s.lay in served) for s in use.spreads)
    assert planned.cloth[oat.ticket].dye_lots == ((None, tuple(j.code for j in jackets)),)


def test_given_lays_are_laid_as_they_are() -> None:
    jackets = tuple(make_jacket(f"J-{n:02d}") for n in range(1, 9))
    snapshot = make_snapshot(jackets=jackets, bolts=(make_bolt("B-1", "spruce", 2100),))
    split = plan_run(snapshot)
    lays = {ticket.fabric_color: ticket.lays for ticket in split.plan.cut_tickets}
    again = plan_run(snapshot, lays)
    assert again.plan.cut_tickets == split.plan.cut_tickets
    assert again.cloth["R-0001-T2"].dye_lots == split.cloth["R-0001-T2"].dye_lots


# Remnants


LINES = (TicketLine("BK", "S", 0, 0, 3), TicketLine("FR", "S", 3, 3, 0))
COLLARS = (*LINES, TicketLine("CO", "S", 0, 0, 5))


def small(code: str, length_mm: int, width_mm: int, *flaws: FlawSpec) -> BoltSpec:
    return bolt(code, length_mm, *flaws, usable_width_mm=width_mm, is_remnant=True)


def on_remnants(
    lines: tuple[TicketLine, ...], *remnants: BoltSpec
) -> tuple[tuple[Lay, ...], tuple[TicketLine, ...]]:
    return remnant_lays(lines, SHAPES, remnants, PLAIN, make_workroom(block_gap_mm=0), fit_in_rows)


def test_small_blocks_lie_on_remnants_first() -> None:
    lays, rest = on_remnants(COLLARS, small("R-1", 420, 250))
    (lay,) = lays
    assert (lay.plies, lay.usable_width_mm, lay.length_mm) == (1, 250, 400)
    assert [at.block for at in lay.placements] == ["CO", "CO", "CO"]
    assert rest == (*LINES, TicketLine("CO", "S", 0, 0, 2))


def test_a_pair_lies_on_a_remnant_with_both_sides_or_not_at_all() -> None:
    lays, rest = on_remnants(LINES, small("R-1", 620, 300))
    assert (lays, rest) == ((), LINES)
    lays, rest = on_remnants(LINES, small("R-1", 620, 600))
    assert sorted(at.side for at in lays[0].placements) == ["left", "right"]
    assert rest == (LINES[0], TicketLine("FR", "S", 2, 2, 0))


def test_a_remnant_lay_keeps_clear_of_flaws_and_lies_on_its_remnant() -> None:
    flaw = FlawSpec(at_mm=100, across_mm=0, length_mm=20, width_mm=20)
    remnant = small("R-1", 600, 250, flaw)
    lays, _ = on_remnants(COLLARS, remnant)
    assert places(lay_onto_bolts(lays, SHAPES, [bolt("B-1", 9000), remnant], PLAIN)) == [
        ("R-1", 120)
    ]
    assert on_remnants(COLLARS, small("R-1", 510, 250, flaw))[0] == ()


def test_a_run_uses_the_remnants_of_its_dye_lot_only() -> None:
    bolts = (
        make_bolt("B-1", "oat", 9000),
        make_bolt("R-1", "oat", 500, usable_width_mm=90, is_remnant=True),
        make_bolt("R-2", "oat", 500, usable_width_mm=95, is_remnant=True, dye_lot="other"),
    )
    jackets = (make_jacket("J-01"), make_jacket("J-02"))
    planned = plan_run(make_snapshot(jackets=jackets, bolts=bolts))
    oat = planned.plan.cut_tickets[0]
    assert [spread.bolt for spread in planned.cloth[oat.ticket].spreads] == ["R-1", "B-1"]
    assert oat.lays[0].usable_width_mm == 90
    assert all(check.holds for check in planned.plan.checks)


@pytest.mark.parametrize("width_mm", [1, 50])
def test_a_remnant_that_holds_nothing_is_left_alone(width_mm: int) -> None:
    assert on_remnants(COLLARS, small("R-1", 500, width_mm)) == ((), COLLARS)


def test_a_ply_that_fits_a_remnant_is_not_taken_off_a_smaller_lot() -> None:
    remnant = bolt("B-2", 700, dye_lot="B", is_remnant=True)
    bolts = [bolt("B-1", 2000, dye_lot="A"), remnant, bolt("B-3", 9000, dye_lot="B")]
    assert places(lay_onto_bolts([make_lay()], SHAPES, bolts, PLAIN)) == [("B-2", 0)]


def test_a_short_ply_lies_in_the_gap_before_a_flaw() -> None:
    hole = FlawSpec(450, 0, 10, 10)
    collars = make_lay("L2", length_mm=400.0, placements=(place("CO", 200, 1000),))
    use = lay_onto_bolts([make_lay(), collars], SHAPES, [bolt("B-1", 1060, hole)], PLAIN)
    assert places(use) == [("B-1", 460), ("B-1", 0)]
    assert [note for note in use.notes if "L1 begins 60 mm further on" in note]


def test_kept_plies_hold_their_jackets_to_their_lot() -> None:
    jackets = {"J1": Counter({("BK", "S", "single"): 2}), "J2": Counter({("BK", "S", "single"): 1})}
    bolts = [bolt("B-1", 600, dye_lot="A"), bolt("B-2", 600, dye_lot="B")]
    use = lay_onto_bolts([make_lay(plies=3)], SHAPES, bolts, PLAIN, jackets, {("L1", 1): "A"})
    assert [(one.number, one.bolt) for one in use.spreads] == [(2, "B-1"), (3, "B-2")]
    assert use.dye_lots == (("A", ("J1",)), ("B", ("J2",)))
    assert "No dye lot on hand reaches for the whole ticket." in use.reasons


def test_a_change_comes_from_the_lot_that_the_jacket_has_blocks_from() -> None:
    bolts = (
        make_bolt("B-1", "spruce", 9000, dye_lot="A"),
        make_bolt("B-2", "spruce", 5000, dye_lot="B"),
    )
    snapshot = make_snapshot(bolts=bolts)
    [jacket, *_] = snapshot.jackets
    one = replace(snapshot, jackets=(jacket,))
    for lot, code in (("A", "B-1"), ("B", "B-2")):
        planned = plan_run(one, lots={"spruce": {jacket.code: lot}})
        taken = {row.bolt for use in planned.cloth.values() for row in use.spreads if row.bolt}
        assert taken == {code}
    planned = plan_run(one, lots={"spruce": {jacket.code: "gone"}})
    notes = [note for ticket in planned.plan.cut_tickets for note in ticket.cloth_notes]
    assert any("from dye lot gone already" in note for note in notes)
