"""One order from its roster to its paper, and the printed plan read as a stranger would read it."""

from __future__ import annotations

import csv
import datetime
import io
import json
import random
from collections import Counter
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from orders.models import Club, Colorway, ColorwayBlock, TeamOrder
from patterns.models import Blocking, FabricColor, Pattern
from patterns.services import install_shipped
from production.models import Jacket, JacketBlock, Lay, LayPlan, Run

pytestmark = pytest.mark.django_db

#: Which colors a colorway uses, block after block in turn.
COLORWAYS = {
    "Harbor": ("boathouse", ("spruce", "marigold", "oat")),
    "Squall": ("breakwater", ("marigold", "spruce")),
    "Coxswain": ("oar-stripe", ("oat", "spruce", "slate")),
}


#: Too short a time for nesting.
IN_ROWS = ("--seconds", "1")


def make_club_order(code: str, members: int, tmp_path: Path) -> TeamOrder:
    install_shipped()
    order = TeamOrder.objects.create(
        code=code,
        club=Club.objects.create(name=f"Club of {code}"),
        title="Jackets",
        deadline=timezone.localdate() + datetime.timedelta(days=90),
    )
    colors = {color.code: color for color in FabricColor.objects.all()}
    order.palette.set(colors.values())
    for name, (blocking_code, used) in COLORWAYS.items():
        blocking = Blocking.objects.get(code=blocking_code)
        colorway = Colorway.objects.create(
            team_order=order, name=name, blocking=blocking, zipper_color=used[0]
        )
        ColorwayBlock.objects.bulk_create(
            ColorwayBlock(
                colorway=colorway, block=block, fabric_color=colors[used[place % len(used)]]
            )
            for place, block in enumerate(blocking.blocks.all())
        )
    roster = tmp_path / f"{code}.csv"
    roster.write_text(roster_text(members), encoding="utf-8")
    call_command("take_roster", code, str(roster), stdout=io.StringIO())
    return order


def roster_text(members: int) -> str:
    dice = random.Random(members)
    sizes = list(Pattern.objects.get().sizes.values_list("code", flat=True))
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["member", "size", "colorway", "name_on_jacket", "note"])
    for number in range(members):
        writer.writerow(
            [f"Member {number:04d}", dice.choice(sizes), dice.choice(list(COLORWAYS)), "", ""]
        )
    return out.getvalue()


def plan_of(*asked: str) -> dict[str, Any]:
    out = io.StringIO()
    call_command("make_plan", *asked, "--format", "json", stdout=out, stderr=io.StringIO())
    plan: dict[str, Any] = json.loads(out.getvalue())
    return plan


@pytest.fixture
def plan(tmp_path: Path) -> dict[str, Any]:
    make_club_order("CL-1", 30, tmp_path)
    make_club_order("CL-2", 12, tmp_path)
    return plan_of("CL-1", "CL-2", *IN_ROWS)


def test_the_plan_has_every_field_of_the_schema(plan: dict[str, Any]) -> None:
    assert plan["schema"] == 1
    assert list(plan) == [
        *("schema", "run", "team_orders", "deadline", "jackets", "blocks", "cut_tickets"),
        *("threads", "notions", "labor", "costs", "schedule", "checks"),
    ]
    assert plan["team_orders"] == ["CL-1", "CL-2"]
    assert all(check["holds"] for check in plan["checks"])
    assert any("schedule is a capacity sum" in check["check"] for check in plan["checks"])
    assert 0 <= plan["schedule"]["chance_on_time"] <= 1


def test_every_piece_of_every_jacket_is_on_one_ticket(plan: dict[str, Any]) -> None:
    pairing = {(block["block"], block["size"]): block["pairing"] for block in plan["blocks"]}
    wanted: Counter[tuple[str, ...]] = Counter()
    for jacket in plan["jackets"]:
        for block, color in jacket["blocks"].items():
            sides = ("left", "right") if pairing[block, jacket["size"]] == "pair" else ("single",)
            wanted.update((color, block, jacket["size"], side) for side in sides)
    on_tickets: Counter[tuple[str, ...]] = Counter()
    cut: Counter[tuple[str, ...]] = Counter()
    for ticket in plan["cut_tickets"]:
        color = ticket["fabric_color"]
        for line in ticket["lines"]:
            for side in ("left", "right", "single"):
                if line[side]:
                    on_tickets[color, line["block"], line["size"], side] += line[side]
        for lay in ticket["lays"]:
            for place in lay["placements"]:
                cut[color, place["block"], place["size"], place["side"]] += lay["plies"]
    assert len(plan["jackets"]) == 42
    assert wanted == on_tickets == cut
    assert JacketBlock.objects.count() == sum(len(j["blocks"]) for j in plan["jackets"])


def test_placed_as_the_schema_says_no_outlines_overlap(plan: dict[str, Any]) -> None:
    """Mirror across the grainline, turn, move: read from the printed plan alone, with shapely."""
    from shapely import STRtree
    from shapely.affinity import rotate, scale, translate
    from shapely.geometry import Polygon

    outlines = {(b["block"], b["size"]): Polygon(b["cut_outline_mm"]) for b in plan["blocks"]}
    for ticket in plan["cut_tickets"]:
        for lay in ticket["lays"]:
            placed = []
            for place in lay["placements"]:
                shape = outlines[place["block"], place["size"]]
                if place["mirrored"]:
                    shape = scale(shape, yfact=-1, origin=(0, 0))
                assert place["mirrored"] == (place["side"] == "right")
                assert place["rotation_deg"] == 0
                shape = rotate(shape, place["rotation_deg"], origin=(0, 0))
                placed.append(translate(shape, place["x_mm"], place["y_mm"]))
            for shape in placed:
                left, low, right, high = shape.bounds
                assert left >= -0.001 and right <= lay["length_mm"] + 0.001
                assert low >= -0.001 and high <= lay["usable_width_mm"] + 0.001
            tree = STRtree(placed)
            for number, shape in enumerate(placed):
                for other in tree.query(shape):
                    assert other == number or shape.intersection(placed[other]).area < 0.01
            area = sum(shape.area for shape in placed)
            assert lay["efficiency"] == pytest.approx(
                area / (lay["length_mm"] * lay["usable_width_mm"]), rel=1e-6
            )
            assert lay["lower_bound_mm"] == pytest.approx(area / lay["usable_width_mm"], rel=1e-6)
            assert lay["lower_bound_mm"] <= lay["length_mm"] <= lay["box_rows_mm"] + 0.001


def test_fabric_needed_is_the_spread_cloth_before_shrinking(plan: dict[str, Any]) -> None:
    fabric = FabricColor.objects.all()[0].fabric
    for ticket in plan["cut_tickets"]:
        spread = sum(
            lay["plies"] * (lay["length_mm"] + 2 * fabric.end_allowance_mm)
            for lay in ticket["lays"]
        )
        needed = ticket["fabric_needed_mm"]
        assert needed == pytest.approx(spread / (1 - float(fabric.shrinkage)), abs=1)
        assert needed == ticket["from_stock_mm"] + ticket["to_buy_mm"]


def test_lays_improved_for_a_while_keep_every_truth_and_cost_no_more(plan: dict[str, Any]) -> None:
    better = plan_of("CL-1", "CL-2", "--seconds", "15")
    test_every_piece_of_every_jacket_is_on_one_ticket(better)
    test_placed_as_the_schema_says_no_outlines_overlap(better)
    test_fabric_needed_is_the_spread_cloth_before_shrinking(better)
    assert all(check["holds"] for check in better["checks"])
    assert Decimal(better["costs"]["total"]) <= Decimal(plan["costs"]["total"])
    lays = {lay["lay"]: lay for ticket in better["cut_tickets"] for lay in ticket["lays"]}
    stored = {lay.code: lay for lay in Lay.objects.all()}
    assert stored.keys() == lays.keys()
    assert all(stored[code].placements == lay["placements"] for code, lay in lays.items())
    assert LayPlan.objects.filter(aim="money").count() == len(better["cut_tickets"])


def test_planning_again_prints_the_same_plan_and_changes_nothing(plan: dict[str, Any]) -> None:
    before = (Run.objects.count(), Jacket.objects.count())
    assert plan_of("CL-1", "CL-2") == plan
    assert (Run.objects.count(), Jacket.objects.count()) == before
    with pytest.raises(CommandError, match="already makes CL-1, CL-2"):
        plan_of("CL-1")


def test_an_empty_order_is_not_frozen(tmp_path: Path) -> None:
    order = make_club_order("CL-3", 1, tmp_path)
    order.jacket_orders.all().delete()
    with pytest.raises(CommandError, match="CL-3"):
        plan_of("CL-3", *IN_ROWS)
    order.refresh_from_db()
    assert order.is_editable and not Run.objects.exists()


def test_a_blocked_plan_leaves_the_order_open(tmp_path: Path) -> None:
    order = make_club_order("CL-4", 5, tmp_path)
    fabric = FabricColor.objects.all()[0].fabric
    fabric.usable_width_mm = 300
    fabric.save()
    with pytest.raises(CommandError, match=r"mm wide.*300 mm.*Nothing was frozen"):
        plan_of("CL-4")
    order.refresh_from_db()
    assert order.is_editable and not Run.objects.exists()


def test_two_hundred_jackets_are_exploded_checked_and_printed(tmp_path: Path) -> None:
    from pypdf import PdfReader

    make_club_order("CL-200", 200, tmp_path)
    plan = plan_of("CL-200", *IN_ROWS)
    assert len(plan["jackets"]) == Jacket.objects.count() == 200
    assert all(check["holds"] for check in plan["checks"])
    call_command("print_run", plan["run"], "--out", str(tmp_path), stdout=io.StringIO())
    tags = PdfReader(tmp_path / f"bundle-tags-{plan['run']}.pdf")
    text = "".join(page.extract_text() for page in tags.pages)
    assert all(jacket["code"] in text for jacket in plan["jackets"])
    tickets = PdfReader(tmp_path / f"cut-tickets-{plan['run']}.pdf")
    text = "".join(page.extract_text() for page in tickets.pages)
    assert all(ticket["ticket"] in text for ticket in plan["cut_tickets"])
