from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production import sheets
from production.planning import checks
from production.planning.change_costs import cost_of_change
from production.planning.plan import Lay, NotionNeed, PlanError
from production.planning.planner import plan_run
from production.planning.snapshot import (
    ElasticSpec,
    JacketSpec,
    NotionSpec,
    RunSnapshot,
    ZipperSpec,
)
from production.planning.supplies.materials import (
    ELASTICS_PER_JACKET,
    PricedNotion,
    along_seams,
    elastic_length_mm,
    fabric_needed_mm,
    girth_mm,
    notion_needs,
    notion_wares,
    zipper_choice,
    zipper_for,
)
from production.planning.supplies.wares import WareNeed
from tests.production.planning_factories import (
    jacket_seams,
    make_fabric,
    make_jacket,
    make_size,
    make_snapshot,
    make_stretch,
    make_workroom,
)

EXACT = make_workroom(zipper_rule="exact", exact_zipper_extra=Decimal("0.80"))


def make_notion(rule: str = "jacket", **values: Any) -> NotionSpec:
    return NotionSpec(
        **{
            "code": "label",
            "name": "care label",
            "rule": rule,
            "unit": "piece",
            "quantity": Decimal(1),
            "price": Decimal("0.10"),
            **values,
        }
    )


def own_needs(*notions: NotionSpec, **values: Any) -> list[tuple[str, Decimal, str]]:
    snapshot = make_snapshot(notions=notions, zippers=SOLD, elastics=(), **values)
    return [
        (priced.need.size, priced.need.quantity, priced.need.ware)
        for priced in notion_needs(snapshot)
        if priced.need.ware.startswith("notion:")
    ]


def zippers(**values: Any) -> list[PricedNotion]:
    return list(notion_needs(make_snapshot(elastics=(), **values)))


SOLD = make_snapshot().zippers


def make_lay(plies: int, length_mm: float) -> Lay:
    return Lay("L", "face_up", plies, 1400, length_mm, 0.8, 0.0, 0.0, ())


def test_every_ply_has_both_end_allowances_and_shrinkage_comes_on_top() -> None:
    # 4 x (1000 + 40) + 1 x (500 + 40) = 4700 mm on the table; 4700 / 0.98 = 4795.92 before.
    lays = [make_lay(4, 1000.0), make_lay(1, 500.0)]
    assert fabric_needed_mm(lays, make_fabric()) == 4796


def test_cloth_that_does_not_shrink_needs_what_is_spread() -> None:
    fabric = make_fabric(shrinkage=Decimal(0), end_allowance_mm=0)
    assert fabric_needed_mm([make_lay(3, 333.0)], fabric) == 999
    assert fabric_needed_mm([make_lay(1, 333.1)], fabric) == 334


def test_zippers_are_counted_by_size_and_color() -> None:
    jackets = (
        make_jacket("J1"),
        make_jacket("J2", size="M", zipper_color="white"),
        make_jacket("J3", size="M"),
        make_jacket("J4", size="M"),
    )
    needs = [priced.need for priced in notion_needs(make_snapshot(jackets=jackets, elastics=()))]
    longer = "separating zipper 65 cm"
    assert needs == [
        NotionNeed(
            "separating zipper 60 cm", "S", "black", Decimal(1), "piece", "zipper:black:600"
        ),
        NotionNeed(longer, "M", "black", Decimal(2), "piece", "zipper:black:650"),
        NotionNeed(longer, "M", "white", Decimal(1), "piece", "zipper:white:650"),
    ]


def test_the_shortest_zipper_that_is_long_enough_is_taken() -> None:
    snapshot = make_snapshot()
    assert zipper_for(snapshot, make_size("S", zipper_mm=600), "black").length_mm == 600
    assert zipper_for(snapshot, make_size("S", zipper_mm=601), "black").length_mm == 650


def test_a_half_centimetre_is_told_in_the_item() -> None:
    zippers = (ZipperSpec("black", "black", 635, Decimal(2)),)
    first, *_ = notion_needs(make_snapshot(zippers=zippers))
    assert first.need.item == "separating zipper 63.5 cm"


def test_a_zipper_too_long_for_the_shop_is_named_with_the_longest_sold() -> None:
    size = make_size("XL", zipper_mm=700)
    with pytest.raises(PlanError, match="XL needs a zipper of 70 cm in black, but the longest"):
        zipper_for(make_snapshot(), size, "black")
    with pytest.raises(PlanError, match="none is sold in that color"):
        zipper_for(make_snapshot(), size, "purple")


def test_elastic_is_the_stretched_girth_and_the_join_in_whole_mm() -> None:
    elastic = ElasticSpec("hem", "hem elastic", 25, Decimal("0.85"), 20, Decimal(1))
    assert elastic_length_mm(elastic, 901) == 786  # 765.85 + 20


def test_a_jacket_takes_one_hem_and_two_cuff_elastics() -> None:
    jackets = (make_jacket("J1"), make_jacket("J2"))
    needs = [p.need for p in notion_needs(make_snapshot(jackets=jackets)) if p.need.unit == "m"]
    assert needs == [
        # 2 x (900 x 0.8 + 20) and 2 x 2 x (200 x 0.9 + 20)
        NotionNeed("hem elastic", "S", "", Decimal("1.48"), "m", "elastic:hem"),
        NotionNeed("cuff elastic", "S", "", Decimal("0.80"), "m", "elastic:cuff"),
    ]


def test_elastic_for_a_place_that_jackets_lack_is_refused() -> None:
    hood = ElasticSpec("hood", "hood elastic", 25, Decimal("0.8"), 20, Decimal(1))
    with pytest.raises(PlanError, match="'hood'"):
        notion_needs(make_snapshot(elastics=(hood,)))


# Zippers: shortened, or made to length


def test_the_next_length_sold_is_told_with_what_is_taken_off() -> None:
    choice = zipper_choice(make_snapshot(), make_size("S", zipper_mm=573), "black")
    assert (choice.sold.length_mm, choice.shorten_mm, choice.made) == (600, 27, False)
    assert (choice.ware, choice.price) == ("zipper:black:600", Decimal("2.00"))


def test_an_exact_zipper_costs_the_next_length_sold_and_the_extra() -> None:
    (needed,) = zippers(workroom=EXACT, sizes=(make_size("S", zipper_mm=573),))
    assert needed.need.item == "separating zipper 57.3 cm, made to length"
    assert needed.need.ware == "zipper:black:600:made-573"
    assert needed.price == Decimal("2.80")
    choice = zipper_choice(make_snapshot(workroom=EXACT), make_size("S", zipper_mm=573), "black")
    assert choice.shorten_mm == 0


def test_a_zipper_sold_in_the_finished_length_is_neither_shortened_nor_made() -> None:
    (needed,) = zippers(workroom=EXACT, sizes=(make_size("S", zipper_mm=600),))
    assert (needed.need.ware, needed.price) == ("zipper:black:600", Decimal("2.00"))


@pytest.mark.parametrize("room", [make_workroom(), EXACT])
def test_no_rule_makes_a_zipper_longer_than_any_sold(room: Any) -> None:
    told = (
        "Size S needs a zipper of 65.1 cm in black, but the longest sold is 65 cm. "
        "Add a zipper that is long enough or choose another color."
    )
    with pytest.raises(PlanError) as refused:
        zippers(workroom=room, sizes=(make_size("S", zipper_mm=651),))
    assert str(refused.value) == told


def test_an_imperial_workroom_hears_of_zippers_in_inches() -> None:
    imperial = make_workroom(length_unit="imperial")
    (needed,) = zippers(workroom=imperial)
    assert needed.need.item == "separating zipper 23 5/8 in"  # 600 / 25.4 = 23.62
    with pytest.raises(PlanError, match="25 5/8 in in black, but the longest sold is"):
        zippers(workroom=imperial, sizes=(make_size("S", zipper_mm=651),))


# The workroom's own notions

TWO_SIZES = (make_jacket("J1"), make_jacket("J2", size="M"), make_jacket("J3", size="M"))


def test_a_notion_per_jacket_is_counted_by_size() -> None:
    assert own_needs(make_notion(), jackets=TWO_SIZES) == [
        ("S", Decimal(1), "notion:label"),
        ("M", Decimal(2), "notion:label"),
    ]


def test_a_notion_that_differs_by_size_is_a_ware_of_its_own_in_each() -> None:
    label = make_notion(differs_by_size=True)
    assert [ware for _, _, ware in own_needs(label, jackets=TWO_SIZES)] == [
        "notion:label:S",
        "notion:label:M",
    ]


def test_tape_is_cut_to_whole_mm_along_every_stretch_of_its_seam() -> None:
    # The side seam lies on two blocks: 1000 + 333.3 mm; x 1.05 = 1399.965, cut as 1400 mm a jacket.
    seams = (*jacket_seams("S"), make_stretch("side", "join", "FR", 333.3))
    tape = make_notion("seam_metre", seam="side", unit="m", quantity=Decimal("1.05"))
    jackets = (make_jacket("J1"), make_jacket("J2"))
    assert own_needs(tape, jackets=jackets, seams=seams) == [
        ("S", Decimal("2.800"), "notion:label")
    ]


def test_pieces_along_a_seam_are_whole_in_each_jacket() -> None:
    snaps = make_notion("seam_metre", seam="side", quantity=Decimal("2.2"))  # 2.2 on one metre
    assert own_needs(snaps, jackets=(make_jacket("J1"), make_jacket("J2"))) == [
        ("S", Decimal(6), "notion:label")
    ]


def test_a_float_s_way_to_say_a_length_takes_no_millimetre_more() -> None:
    seams = (make_stretch("side", "join", "BK", 600.0000000001),)
    tape = make_notion("seam_metre", seam="side", unit="m")
    assert own_needs(tape, seams=seams)[0][1] == Decimal("0.600")


def test_a_jacket_of_another_blocking_takes_nothing_along_a_style_line_it_lacks() -> None:
    seams = (*jacket_seams("S"), make_stretch("yoke", "join", "BK", 500, blocking="boat"))
    piping = make_notion("seam_metre", seam="yoke", unit="m")
    jackets = (make_jacket("J1"), make_jacket("J2", blocking="boat"))
    assert own_needs(piping, jackets=jackets, seams=seams) == [
        ("S", Decimal("0.5"), "notion:label")
    ]
    assert own_needs(piping, seams=seams) == []
    assert along_seams((piping, make_notion()), jacket_seams("S")) == (make_notion(),)


def test_an_unknown_seam_is_refused_by_name() -> None:
    tape = make_notion("seam_metre", seam="shuolder", unit="m")
    with pytest.raises(PlanError, match=r"care label \(label\).*seam 'shuolder', which no jacket"):
        own_needs(tape)


def test_a_notion_by_size_takes_what_its_grid_says() -> None:
    elastic = make_notion("size", by_size=(("S", Decimal(2)), ("M", Decimal(0))))
    assert own_needs(elastic, jackets=TWO_SIZES) == [("S", Decimal(2), "notion:label")]


def test_a_size_that_the_grid_leaves_out_is_named() -> None:
    toggles = make_notion("size", by_size=(("S", Decimal(2)),))
    with pytest.raises(PlanError, match="nothing says how much of it size M takes"):
        own_needs(toggles, jackets=TWO_SIZES)


def test_a_rule_that_is_none_is_refused() -> None:
    with pytest.raises(PlanError, match="by the rule 'moon'"):
        own_needs(make_notion("moon"))


# What is bought


def test_sizes_that_share_a_ware_are_bought_together_and_pieces_whole() -> None:
    half = make_notion(code="bag", name="garment bag", quantity=Decimal("0.5"))
    label = make_notion(code="size-label", name="size label", differs_by_size=True)
    jackets = (*TWO_SIZES, make_jacket("J4", zipper_color="white"))
    snapshot = make_snapshot(
        jackets=jackets,
        sizes=(make_size("S", zipper_mm=640), make_size("M", zipper_mm=650)),
        elastics=make_snapshot().elastics[:1],
        notions=(half, label),
    )
    assert notion_wares(notion_needs(snapshot)) == (
        WareNeed(
            "zipper:black:650", "separating zipper 65 cm, black", "piece", Decimal(3), "", "black"
        ),
        WareNeed(
            "zipper:white:650", "separating zipper 65 cm, white", "piece", Decimal(1), "", "white"
        ),
        WareNeed("elastic:hem", "hem elastic", "m", Decimal("2.96")),  # 4 x (900 x 0.8 + 20)
        WareNeed("notion:bag", "garment bag", "piece", Decimal(2)),
        WareNeed("notion:size-label:S", "size label, size S", "piece", Decimal(2), "S"),
        WareNeed("notion:size-label:M", "size label, size M", "piece", Decimal(2), "M"),
    )


def test_pieces_are_made_whole_once_over_all_sizes() -> None:
    half = make_notion(quantity=Decimal("0.5"))
    snapshot = make_snapshot(jackets=TWO_SIZES, elastics=(), notions=(half,))
    assert notion_wares(notion_needs(snapshot))[-1].quantity == 2  # 0.5 + 1.0 = 1.5


# Conservation, over any mix of jackets


@st.composite
def mixes(draw: st.DrawFn) -> RunSnapshot:
    sizes = tuple(
        make_size(
            code,
            zipper_mm=draw(st.integers(300, 650)),
            hem_girth_mm=draw(st.integers(500, 1400)),
            cuff_girth_mm=draw(st.integers(120, 260)),
        )
        for code in ("S", "M")
    )
    jackets = tuple(
        make_jacket(f"J{number}", size=size, zipper_color=color)
        for number, (size, color) in enumerate(
            draw(
                st.lists(
                    st.tuples(st.sampled_from("SM"), st.sampled_from(["black", "white"])),
                    min_size=1,
                    max_size=12,
                )
            )
        )
    )
    quantity = st.decimals(0, 3, places=3)
    per_metre = draw(st.sampled_from(["piece", "m"]))
    notions = (
        make_notion(code="each", quantity=draw(quantity), differs_by_size=draw(st.booleans())),
        make_notion(
            "seam_metre", code="tape", seam="side", unit=per_metre, quantity=draw(quantity)
        ),
        make_notion("size", code="grid", by_size=(("S", draw(quantity)), ("M", draw(quantity)))),
    )
    room = make_workroom(
        zipper_rule=draw(st.sampled_from(["shorten", "exact"])), exact_zipper_extra=Decimal("0.8")
    )
    return make_snapshot(jackets=jackets, sizes=sizes, notions=notions, workroom=room)


def taken_alone(snapshot: RunSnapshot) -> Counter[str]:
    """What each jacket takes alone, added up."""
    whole: Counter[str] = Counter()
    for jacket in snapshot.jackets:
        for priced in notion_needs(replace(snapshot, jackets=(jacket,))):
            whole[priced.need.ware] += priced.need.quantity  # type: ignore[assignment]
    return whole


@given(mixes())
def test_a_run_takes_what_its_jackets_take_alone(snapshot: RunSnapshot) -> None:
    needs = notion_needs(snapshot)
    together: Counter[str] = Counter()
    for priced in needs:
        together[priced.need.ware] += priced.need.quantity  # type: ignore[assignment]
    assert together == taken_alone(snapshot)
    bought = {ware.ware: ware.quantity for ware in notion_wares(needs)}
    assert bought.keys() == together.keys()
    for key, quantity in bought.items():
        assert 0 <= quantity - together[key] < 1


@given(mixes())
def test_every_jacket_has_one_zipper_and_the_elastic_of_its_size(snapshot: RunSnapshot) -> None:
    needs = [priced.need for priced in notion_needs(snapshot)]
    zipped = [need for need in needs if need.ware.startswith("zipper:")]
    assert sum(need.quantity for need in zipped) == len(snapshot.jackets)
    sizes = {size.code: size for size in snapshot.sizes}
    for elastic in snapshot.elastics:
        exact_mm = sum(
            elastic_length_mm(elastic, girth_mm(sizes[jacket.size], elastic.place))
            * ELASTICS_PER_JACKET[elastic.place]
            for jacket in snapshot.jackets
        )
        metres = sum(n.quantity for n in needs if n.ware == f"elastic:{elastic.place}")
        assert metres * 1000 == exact_mm


@given(mixes())
def test_no_zipper_is_shorter_than_its_opening(snapshot: RunSnapshot) -> None:
    for size in snapshot.sizes:
        choice = zipper_choice(snapshot, size, "black")
        assert choice.sold.length_mm - choice.shorten_mm >= size.zipper_mm
        assert choice.made or choice.sold.length_mm == size.zipper_mm + choice.shorten_mm
        shorter = [z for z in snapshot.zippers if z.length_mm < choice.sold.length_mm]
        assert all(zipper.length_mm < size.zipper_mm for zipper in shorter)


# The plan, its check and its pages

NOTIONS = (
    make_notion(),
    make_notion("seam_metre", code="tape", name="stay tape", seam="side", unit="m"),
    make_notion(
        "size", code="toggle", name="toggle", by_size=(("S", Decimal(1)), ("M", Decimal(2)))
    ),
)


@pytest.mark.parametrize("code", ["label", "tape", "toggle"])
def test_an_own_notion_that_falls_short_breaks_the_check_of_needs(code: str) -> None:
    snapshot = make_snapshot(jackets=TWO_SIZES, notions=NOTIONS)
    sound = plan_run(snapshot)
    assert all(check.holds for check in sound.plan.checks)
    fewer = tuple(
        replace(need, quantity=need.quantity - Decimal("0.001"))
        if need.ware == f"notion:{code}" and need.size == "S"
        else need
        for need in sound.plan.notions
    )
    plan = replace(sound.plan, notions=fewer)
    broken = [c for c in checks.check_plan(snapshot, plan, sound.jacket_minutes) if not c.holds]
    assert [check.check for check in broken] == [checks.NEEDS]
    name = next(notion.name for notion in NOTIONS if notion.code == code)
    assert broken[0].detail.startswith(f"{name}: ")


def test_the_page_of_needs_tells_by_size_what_is_taken_off_a_zipper() -> None:
    sizes = (make_size("S", zipper_mm=623), make_size("M", zipper_mm=650))
    snapshot = make_snapshot(jackets=TWO_SIZES, sizes=sizes, notions=NOTIONS)
    plan = plan_run(snapshot).plan
    first, *rest = sheets.notion_rows(plan, snapshot)
    assert first.item == "separating zipper 65 cm"
    assert [(part.size, part.quantity, part.shorten_mm) for part in first.sizes] == [
        ("S", Decimal(1), 27),
        ("M", Decimal(2), 0),
    ]
    assert [(row.item, row.quantity) for row in rest] == [
        ("hem elastic", Decimal("2.22")),
        ("cuff elastic", Decimal("1.20")),
        ("care label", 3),
        ("stay tape", 3),
        ("toggle", 5),
    ]


def planned_change(becomes: JacketSpec, was: JacketSpec, **values: Any) -> Decimal:
    """What notions cost where a jacket that is not sewn yet becomes another."""
    snapshot = make_snapshot(jackets=(becomes,), **values)
    before = make_snapshot(jackets=(was,), **values)
    plan = plan_run(snapshot).plan
    return cost_of_change(Decimal(0), snapshot, plan, (before, was), sewn=False).notions


def test_a_change_of_size_takes_what_differs_by_size_anew() -> None:
    label = make_notion(code="size-label", differs_by_size=True, price=Decimal("0.08"))
    care = make_notion(price=Decimal("0.10"))
    # Both sizes have girths and seams alike; only their zippers and size labels differ.
    costs = planned_change(make_jacket(size="M", to_cut=()), make_jacket(), notions=(label, care))
    assert costs == Decimal("2.08")


def test_a_zipper_made_to_length_serves_no_other_size() -> None:
    sizes = (make_size("S", zipper_mm=610), make_size("M", zipper_mm=640))
    alike = planned_change(make_jacket(size="M", to_cut=()), make_jacket(), sizes=sizes)
    made = planned_change(
        make_jacket(size="M", to_cut=()), make_jacket(), sizes=sizes, workroom=EXACT
    )
    assert (alike, made) == (Decimal(0), Decimal("2.80"))
