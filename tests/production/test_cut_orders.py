from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.planning.cutting import cut_orders, cut_program
from production.planning.cutting.cut_demand import CutDemand, LayOrder, LengthGuess
from production.planning.cutting.cut_orders import (
    BY_LADDER,
    Aim,
    aim_price,
    ladder_order,
    plan_cut_order,
    plan_cut_orders,
)
from production.planning.cutting.cutting_prices import CuttingMinutes, CuttingPrice
from production.planning.cutting.lays import asked, laid_out
from production.planning.cutting.rows import LaidKey
from production.planning.explode import shapes_by_key
from production.planning.plan import Lay, Placement, PlanError, TicketLine
from tests.production.planning_factories import (
    jacket_shapes,
    make_fabric,
    make_shape,
    make_workroom,
    rectangle,
)

GUESS = LengthGuess()
PRICE = CuttingPrice(0.012, 3.6, 0.56, 0.36, CuttingMinutes(Decimal(9), Decimal(2), Decimal(1)))
SHAPES = shapes_by_key(jacket_shapes("S") + jacket_shapes("M", 20))


def demand_of(counts: dict[LaidKey, int], **values: Any) -> CutDemand:
    fabric = values.pop("fabric", make_fabric())
    return CutDemand(counts, SHAPES, fabric, make_workroom(**values))


def cut_by(orders: Iterable[LayOrder]) -> Counter[LaidKey]:
    """What the orders cut, counted as lays are counted everywhere."""
    lays = [
        Lay("", order.mode, order.plies, 0, 0, 0, 0, 0, placements_of(order)) for order in orders
    ]
    return laid_out(lays)


def placements_of(order: LayOrder) -> tuple[Placement, ...]:
    return tuple(
        Placement(*key, 0, 0, 0, key[2] == "right") for key, n in order.counts for _ in range(n)
    )


def test_blocks_that_lie_together_share_one_ragged_end() -> None:
    # 600 x 500 mm on 1400 mm at 80 %: 267.9, so 268 mm; never shorter than the block is long.
    demand, guess = demand_of({("BK", "S", "single"): 9}), LengthGuess(0.8, 50)
    orders = [LayOrder("face_up", 1, ((("BK", "S", "single"), n),)) for n in (1, 3)]
    assert [demand.guessed_mm(order, guess) for order in orders] == [600, 3 * 268 + 50]


def test_blocks_are_dealt_evenly_large_and_small_alike() -> None:
    demand = demand_of({("BK", "S", "single"): 30, ("CO", "S", "single"): 30})
    lays = demand.packed("face_up", 1, demand.counts, LengthGuess(0.8, 50))
    assert [dict(lay.counts) for lay in lays] == [
        {("BK", "S", "single"): 15, ("CO", "S", "single"): 15}
    ] * 2


def test_the_weights_of_the_workroom_weigh_cloth_against_cutting() -> None:
    room = make_workroom(cloth_weight=Decimal(2), cutting_weight=Decimal("0.5"))
    weighed = aim_price(PRICE, room, Aim.MONEY)
    assert (weighed.cloth_mm, weighed.lay, weighed.ply, weighed.outline) == (
        0.024,
        1.8,
        0.28,
        0.18,
    )


def test_heavy_cloth_takes_few_plies_and_heavy_cutting_many() -> None:
    def plies(cloth: str, cutting: str) -> set[int]:
        demand = demand_of(
            {("BK", "S", "single"): 8},
            cloth_weight=Decimal(cloth),
            cutting_weight=Decimal(cutting),
        )
        price = aim_price(PRICE, demand.workroom, Aim.MONEY)
        return {lay.plies for lay in plan_cut_order(demand, price, GUESS).lays}

    assert plies("1", "0") == {1}
    assert min(plies("0", "1")) > 1


def test_the_same_question_gets_the_same_answer() -> None:
    demand = demand_of({key: 1 + at for at, key in enumerate(all_keys())})
    first, second = (dict(plan_cut_orders(demand, PRICE, GUESS)) for _ in range(2))
    assert first == second
    assert list(first) == list(Aim)


def all_keys() -> list[LaidKey]:
    lines = [
        TicketLine(block, size, *counts)
        for size in "SM"
        for block, counts in (("FR", (1, 1, 0)), ("BK", (0, 0, 1)), ("CO", (0, 0, 1)))
    ]
    return list(asked(lines))


def test_when_the_program_finds_nothing_the_ladder_is_used_and_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(cut_orders, "cheapest_lays", lambda *args, **kwargs: None)
    demand = demand_of({("BK", "S", "single"): 5})
    found = plan_cut_order(demand, PRICE, GUESS)
    assert found == ladder_order(demand, PRICE, GUESS)
    assert found.note == BY_LADDER
    assert cut_by(found.lays) == demand.counts


def test_without_time_the_solver_finds_nothing() -> None:
    demand = demand_of(dict.fromkeys(all_keys(), 7))
    lays = cut_program.cheapest_lays(demand, PRICE, GUESS, (), modes=demand.modes, solver_time=0.0)
    assert lays is None


def test_many_blocks_are_planned_by_one_slot_for_each_number_of_plies() -> None:
    counts = {key: 300 + at for at, key in enumerate(all_keys())}
    demand = demand_of(counts)
    found = plan_cut_order(demand, PRICE, GUESS)
    assert cut_by(found.lays) == counts
    assert found.cost <= ladder_order(demand, PRICE, GUESS).cost
    longest = max(demand.guessed_mm(lay, GUESS) for lay in found.lays)
    assert longest <= demand.longest_mm


def test_a_single_block_that_is_not_its_own_mirror_image_lies_face_up() -> None:
    slanted = ((0.0, 0.0), (400.0, 0.0), (400.0, 200.0), (100.0, 100.0))
    shapes = shapes_by_key([make_shape("CO", outline=slanted)])
    room = make_workroom(spreading="face_to_face")
    demand = CutDemand({("CO", "S", "single"): 8}, shapes, make_fabric(), room)
    assert {lay.mode for lay in plan_cut_order(demand, PRICE, GUESS).lays} == {"face_up"}


def test_a_block_wider_than_the_fold_lies_on_an_open_lay() -> None:
    shapes = shapes_by_key([make_shape("BK", outline=rectangle(300, 800), pairing="fold")])
    room = make_workroom(spreading="folded")
    demand = CutDemand({("BK", "S", "single"): 8}, shapes, make_fabric(), room)
    assert {lay.mode for lay in plan_cut_order(demand, PRICE, GUESS).lays} == {"face_up"}


def test_plies_face_to_face_cut_odd_pairs_in_fewer_minutes() -> None:
    # Three of each side in 2 plies face to face: 2 x 2 + 3 x 1 minutes beside 9 for the lay. Face
    # up: 3 plies of a left and a right 3 x 2 + 2, one ply 2 + 6.
    counts = {("FR", "S", "left"): 3, ("FR", "S", "right"): 3}
    demand = demand_of(counts, spreading="face_to_face")
    found = plan_cut_order(demand, aim_price(PRICE, demand.workroom, Aim.TIME), GUESS)
    assert found.lays == (LayOrder("face_to_face", 2, ((("FR", "S", "left"), 3),)),)


@pytest.mark.parametrize(
    ("fabric", "room", "words"),
    [
        ({"highest_plies": 0}, {}, "may be cut in 0 plies"),
        ({}, {"tool_highest_plies": 0}, "tool goes through 0 plies"),
        ({"usable_width_mm": 0}, {}, "has 0 mm of usable width"),
        ({"usable_width_mm": 450}, {}, "BK in size S is 500 mm wide"),
        ({}, {"table_length_mm": 620}, "BK in size S is 600 mm long.*holds 580 mm"),
        ({}, {"table_length_mm": 30}, "holds 0 mm between the end allowances"),
    ],
)
def test_what_cannot_be_cut_is_refused_by_name(
    fabric: dict[str, int], room: dict[str, int], words: str
) -> None:
    with pytest.raises(PlanError, match=words):
        demand_of({("BK", "S", "single"): 1}, fabric=make_fabric(**fabric), **room)


def test_an_empty_ticket_is_refused() -> None:
    with pytest.raises(PlanError, match="nothing to cut"):
        demand_of({})


@st.composite
def demands(draw: st.DrawFn) -> CutDemand:
    keys = draw(st.lists(st.sampled_from(all_keys()), min_size=1, unique=True))
    return demand_of(
        {key: draw(st.integers(1, 40)) for key in keys},
        fabric=make_fabric(highest_plies=draw(st.integers(1, 12))),
        table_length_mm=draw(st.integers(700, 6000)),
        tool_highest_plies=draw(st.integers(1, 12)),
        spreading=draw(st.sampled_from(("face_up", "face_to_face", "folded"))),
        over_cut=draw(st.integers(0, 2)),
    )


@settings(deadline=None, max_examples=25)
@given(demands(), st.sampled_from(list(Aim)))
def test_any_demand_is_cut_exactly_within_its_limits_and_never_dearer_than_the_ladder(
    demand: CutDemand, aim: Aim
) -> None:
    price = aim_price(PRICE, demand.workroom, aim)
    found = plan_cut_order(demand, price, GUESS)
    cut, over = cut_by(found.lays), demand.workroom.over_cut
    assert cut.keys() == demand.counts.keys()
    assert all(0 <= cut[key] - n <= over for key, n in demand.counts.items())
    for lay in found.lays:
        assert (
            1 <= lay.plies <= min(demand.fabric.highest_plies, demand.workroom.tool_highest_plies)
        )
        assert lay.mode in ("face_up", demand.workroom.spreading)
        assert lay.mode == "face_up" or lay.plies % 2 == 0
        alone = lay.outlines == 1
        assert alone or demand.guessed_mm(lay, GUESS) <= demand.longest_mm
    assert found.cost == demand.cost(found.lays, GUESS, price)
    assert found.cost <= ladder_order(demand, price, GUESS).cost
    without = replace(demand, workroom=replace(demand.workroom, over_cut=0))
    assert cut_by(ladder_order(without, price, GUESS).lays) == demand.counts


def one_sided(demand: CutDemand) -> dict[LayOrder, int]:
    """Lays of one ply and one block each, as if they had been nested to half of their length; the
    first keys only, so that a left lies there without its right."""
    orders = [LayOrder("face_up", 1, ((key, 1),)) for key in list(demand.counts)[:5]]
    return {order: max(demand.guessed_mm(order, GUESS) // 2, 1) for order in orders}


@settings(deadline=None, max_examples=15)
@given(demands(), st.sampled_from(list(Aim)))
def test_with_true_lengths_the_demand_is_cut_exactly_too(demand: CutDemand, aim: Aim) -> None:
    price, true_mm = aim_price(PRICE, demand.workroom, aim), one_sided(demand)
    found = plan_cut_order(demand, price, GUESS, true_mm=true_mm)
    cut, over = cut_by(found.lays), demand.workroom.over_cut
    assert all(0 <= cut[key] - n <= over for key, n in demand.counts.items())
    assert cut.keys() == demand.counts.keys()
    assert found.cost == demand.cost(found.lays, GUESS, price, true_mm)


def test_sides_that_are_kept_together_are_counted_apart_in_nested_lays() -> None:
    # With so many keys a left counts for its right; a nested lay may have one without the other.
    counts = {
        (block, size, side): 3
        for block, size in (("FR", "S"), ("FR", "M"))
        for side in ("left", "right")
    }
    counts |= dict.fromkeys(all_keys(), 3)
    shapes = [
        make_shape(block, size, outline=rectangle(200 + n, 150), pairing="pair")
        for n, (block, size) in enumerate((b, s) for b in ("P1", "P2", "P3") for s in "SM")
    ]
    counts |= {(one.block, one.size, side): 3 for one in shapes for side in ("left", "right")}
    demand = CutDemand(counts, {**SHAPES, **shapes_by_key(shapes)}, make_fabric(), make_workroom())
    assert len(counts) > cut_program.KINDS_APART
    short = LayOrder("face_up", 3, ((("FR", "S", "left"), 1),))
    price = aim_price(PRICE, demand.workroom, Aim.FABRIC)
    found = plan_cut_order(demand, price, GUESS, true_mm={short: 1})
    assert cut_by(found.lays) == counts


def test_a_lay_that_was_nested_is_planned_by_its_true_length() -> None:
    demand = demand_of({("BK", "S", "single"): 8})
    price = aim_price(PRICE, demand.workroom, Aim.FABRIC)
    order = LayOrder("face_up", 2, ((("BK", "S", "single"), 4),))
    shorter = {order: demand.guessed_mm(order, GUESS) // 2}
    assert plan_cut_order(demand, price, GUESS).lays != (order,)
    assert plan_cut_order(demand, price, GUESS, true_mm=shorter).lays == (order,)
    longer = {plan_cut_order(demand, price, GUESS).lays[0]: 5900}
    assert not set(plan_cut_order(demand, price, GUESS, true_mm=longer).lays) & set(longer)
