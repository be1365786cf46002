"""The table: the lay on the page, saved as the maker set it, nested again, and at full size."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.models import Amendment
from production import services
from production.cutting import lay_plans
from production.cutting.laying_by_hand import laid_out
from production.cutting.table_views import _money_per_mm, _saving
from production.models import Lay, LayPlan, LayPly, Run
from production.planning.cutting.lays import laid_out as pieces_of
from production.planning.cutting.lays import validate_lay
from tests.production.lay_choice_factories import (
    in_halves,
    keep,
    lays_in_use,
    run_with_rows,
    ticket_of,
)
from tests.production.run_factories import make_person, make_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return run_with_rows(make_run(4))


@pytest.fixture
def lay(run):
    return ticket_of(run).lays.first().code


@pytest.fixture
def maker(client):
    client.force_login(make_person("mo", "maker"))
    return client


@pytest.fixture
def helper(client):
    client.force_login(make_person("hal", "helper"))
    return client


def address(name: str, lay: str, **kind: str) -> str:
    return reverse(f"production:{name}", kwargs={"code": "R-0001", "lay": lay, **kind})


def moved(lay: str, x_mm: float = 0.0, only: int | None = None) -> list[list[float]]:
    """Where the blocks lie with all of them, or one, moved along the cloth."""
    return [
        [
            place.x_mm + (x_mm if only in (None, number) else 0),
            place.y_mm,
            place.rotation_deg,
        ]
        for number, place in enumerate(laid_out("R-0001", lay).lay.placements)
    ]


def sent(lay: str, positions: list[list[float]], **values: str) -> dict[str, str]:
    seen = laid_out("R-0001", lay).seen
    return {"positions": json.dumps(positions), "pins": "[]", "seen": seen, **values}


def for_script(page):
    found = re.search(r'<script id="lay-on-table" type="application/json">(.+?)</script>', page)
    assert found
    return json.loads(found[1])


def state(run: Run) -> tuple[object, ...]:
    run.refresh_from_db()
    return run.plan, list(Lay.objects.values_list("code", "method", "length_mm").order_by("pk"))


def test_the_page_shows_each_block_and_the_jackets_it_is_for(helper, run, lay):
    page = helper.get(address("lay", lay)).content.decode()
    ticket = ticket_of(run)
    drawn = laid_out("R-0001", lay).lay
    assert page.count('class="lay-block"') == len(drawn.placements)
    for line in ticket.lines.all():
        for block in line.jacket_blocks.select_related("jacket"):
            row = re.search(rf'data-row="{line.block}\|{line.size}".*?</tr>', page, re.DOTALL)
            if row:
                assert f'href="{block.jacket.get_absolute_url()}"' in row[0]


def test_a_jacket_of_another_size_is_not_named(helper, run, lay):
    page = helper.get(address("lay", lay)).content.decode()
    row = re.search(r'data-row="BK\|S".*?</tr>', page, re.DOTALL)
    assert row
    assert "TO-1-01" in row[0] and "TO-1-02" not in row[0]  # the second jacket is an M


def test_a_helper_sees_the_lay_without_money_and_cannot_move_it(helper, lay):
    page = helper.get(address("lay", lay)).content.decode()
    given = for_script(page)
    assert (given["moneyPerMm"], given["canMove"]) == (None, False)
    assert "Save and use this lay" not in page
    assert helper.post(address("save_lay", lay), sent(lay, moved(lay))).status_code == 403
    assert helper.post(address("nest_lay", lay), sent(lay, moved(lay))).status_code == 403


def test_the_script_is_given_what_the_plan_says(maker, lay):
    given = for_script(maker.get(address("lay", lay)).content.decode())
    planned = laid_out("R-0001", lay).lay
    assert given["length"] == planned.length_mm
    assert given["gap"] == 4 and given["longest"] == 6000 - 2 * 20
    # 10.00 EUR a metre of cloth that shrinks by 2 %.
    assert given["moneyPerMm"] == pytest.approx(10 / 1000 / 0.98)
    assert given["spreads"] == planned.plies
    assert [block["at"][0] for block in given["blocks"]] == [p.x_mm for p in planned.placements]
    assert all(shape["turns"] == [0.0] for shape in given["shapes"].values())


def test_the_lay_tells_its_numbers_and_only_the_maker_their_money(client, run, lay):
    drawn = laid_out("R-0001", lay).lay
    told = {}
    for name in ("maker", "helper"):
        client.force_login(make_person(name, name))
        told[name] = client.get(address("lay", lay)).content.decode()
        for length_mm in (drawn.length_mm, drawn.lower_bound_mm):
            assert f"{length_mm / 1000:.3f} m" in told[name]
        assert "as much as in rows of boxes" in told[name]  # as plain rows of these blocks are
    assert '"moneyPerMm": 0.01' in told["maker"]
    assert '"moneyPerMm": null' in told["helper"]


def test_saving_is_told_over_all_plies_and_in_money(run, lay):
    laid = laid_out("R-0001", lay)
    boxes_mm = laid.lay.box_rows_mm
    less = replace(laid, lay=replace(laid.lay, plies=3, length_mm=boxes_mm - 100))
    more = replace(laid, lay=replace(laid.lay, plies=1, length_mm=boxes_mm + 100))
    # 10.00 EUR a metre of cloth that shrinks by 2 %: 3 x 100 mm are 3.06 EUR.
    assert _saving(less, with_money=True) == "0.300 m, 3.06 EUR, less than in rows of boxes"
    assert _saving(more, with_money=True) == "0.100 m, 1.02 EUR, more than in rows of boxes"
    assert _saving(less, with_money=False) == "0.300 m less than in rows of boxes"


def test_cloth_on_a_narrow_remnant_costs_as_much_less(run, lay):
    laid = laid_out("R-0001", lay)
    half = replace(laid.lay, usable_width_mm=laid.lay.usable_width_mm // 2)
    assert _money_per_mm(replace(laid, lay=half)) == pytest.approx(_money_per_mm(laid) / 2)


def test_a_lay_over_a_plain_page_says_what_its_pdf_is_like(maker, run, lay):
    assert "5.08 m" not in maker.get(address("lay", lay)).content.decode()
    maker.post(address("save_lay", lay), sent(lay, moved(lay, 5_100.0, only=0)))
    assert "5.08 m" in maker.get(address("lay", lay)).content.decode()


def test_a_saved_lay_is_in_use_as_set_by_hand(maker, run, lay):
    before = lays_in_use(ticket_of(run))
    answer = maker.post(address("save_lay", lay), sent(lay, moved(lay, 1.0)), follow=True)
    assert f"Lay {lay} is in use as you set it" in answer.content.decode()
    run.refresh_from_db()
    after = lays_in_use(ticket_of(run))
    assert pieces_of(after) == pieces_of(before)
    changed = next(each for each in after if each.lay == lay)
    assert changed.length_mm == pytest.approx(before[0].length_mm + 1)
    kept = LayPlan.objects.get(ticket=ticket_of(run), is_in_use=True)
    assert kept.aim == "by_hand"
    assert kept.fabric_mm == next(
        each.fabric_needed_mm
        for each in services.load_plan(run).cut_tickets
        if each.ticket == ticket_of(run).code
    )
    assert Lay.objects.get(code=lay).method == "by_hand"
    others = Lay.objects.filter(ticket=ticket_of(run)).exclude(code=lay)
    assert {other.method for other in others} <= {"rows"}
    assert Amendment.objects.filter(words__contains="set by hand").exists()


def test_a_second_lay_set_by_hand_keeps_the_first(maker, run):
    keep(ticket_of(run), "time", lays=in_halves(lays_in_use(ticket_of(run))))
    lay_plans.use_lay_plan(ticket_of(run), "time", make_person(role="maker"))
    codes = [each.code for each in ticket_of(run).lays.all()]
    assert len(codes) > 1
    for code in codes[:2]:
        maker.post(address("save_lay", code), sent(code, moved(code, 1.0)))
    assert list(
        Lay.objects.filter(code__in=codes[:2]).order_by("code").values_list("method", flat=True)
    ) == ["by_hand", "by_hand"]


def refused(maker, run: Run, lay: str, data: dict[str, str], words: str) -> None:
    before = state(run)
    page = maker.post(address("save_lay", lay), data, follow=True).content.decode()
    assert words in page
    assert state(run) == before
    assert not LayPlan.objects.filter(aim="by_hand").exists()


def test_blocks_that_overlap_are_refused_in_words(maker, run, lay):
    places = laid_out("R-0001", lay).lay.placements
    positions = moved(lay)
    twin = next(n for n, p in enumerate(places) if n and p.block == places[0].block)
    positions[twin] = positions[0]
    refused(maker, run, lay, sent(lay, positions), "The lay cannot be cut like this")


def test_a_block_outside_the_cloth_is_refused(maker, run, lay):
    refused(maker, run, lay, sent(lay, moved(lay, -5.0, only=0)), "leaves the cloth")


def test_a_block_turned_against_the_nap_is_refused(maker, run, lay):
    positions = moved(lay)
    positions[0][2] = 180.0
    refused(maker, run, lay, sent(lay, positions), "lies at 180 degrees, against the nap")


def test_a_lay_longer_than_the_table_is_refused(maker, run, lay):
    far = moved(lay, 5_900.0, only=0)
    refused(maker, run, lay, sent(lay, far), "the table holds 5960 mm")


def test_a_lay_that_changed_meanwhile_is_refused(maker, run, lay):
    stale = sent(lay, moved(lay, 2.0))
    maker.post(address("save_lay", lay), sent(lay, moved(lay, 1.0)))
    before = state(run)
    page = maker.post(address("save_lay", lay), stale, follow=True).content.decode()
    assert "was changed by someone else" in page
    assert state(run) == before


def test_once_a_ply_is_cut_the_lay_stays(maker, run, lay):
    LayPly.objects.filter(lay__code=lay).delete()
    LayPly.objects.create(
        lay=Lay.objects.get(code=lay), number=1, takes_mm=700, cut_at=timezone.now()
    )
    refused(maker, run, lay, sent(lay, moved(lay, 1.0)), "is cut already")
    assert not for_script(maker.get(address("lay", lay)).content.decode())["canMove"]


@pytest.mark.parametrize("positions", ["", "[[1,2]]", "nonsense", '[[1,2,"x"]]', "[[NaN,0,0]]"])
def test_what_is_no_lay_is_refused(maker, run, lay, positions):
    refused(
        maker, run, lay, {**sent(lay, []), "positions": positions}, "something that is not a lay"
    )


def test_too_few_positions_are_refused(maker, run, lay):
    refused(maker, run, lay, sent(lay, moved(lay)[1:]), "positions were given")


def test_the_rest_is_nested_around_pins_and_nothing_is_stored(maker, run, lay):
    before = state(run)
    apart = [[1.3 * x_mm, y_mm, turn] for x_mm, y_mm, turn in moved(lay)]
    apart[0] = moved(lay)[0]
    answer = maker.post(address("nest_lay", lay), sent(lay, apart, pins="[0]"))
    assert answer.status_code == 200
    told = answer.json()
    assert told["positions"][0] == apart[0]
    assert state(run) == before
    # What is proposed can be saved as it is.
    page = maker.post(address("save_lay", lay), sent(lay, told["positions"]), follow=True)
    assert f"Lay {lay} is in use as you set it" in page.content.decode()
    laid = laid_out("R-0001", lay)
    assert validate_lay(laid.lay, laid.shapes, laid.fabric, 4, laid.snapshot.workroom) == []


def test_nothing_is_proposed_that_is_no_shorter(maker, lay):
    positions = moved(lay)
    pins = json.dumps(list(range(1, len(positions))))
    answer = maker.post(address("nest_lay", lay), sent(lay, positions, pins=pins))
    assert answer.status_code == 409
    assert "Nothing shorter was found" in answer.json()["error"]


def test_pins_that_cannot_be_cut_are_not_built_around(maker, lay):
    positions = moved(lay)
    positions[0][1] -= 50
    answer = maker.post(address("nest_lay", lay), sent(lay, positions, pins="[0]"))
    assert answer.status_code == 409
    assert "Nothing was changed" in answer.json()["error"]


def test_all_pinned_leaves_nothing_to_nest(maker, lay):
    every = json.dumps(list(range(len(moved(lay)))))
    answer = maker.post(address("nest_lay", lay), sent(lay, moved(lay), pins=every))
    assert answer.status_code == 409
    assert "Every block is pinned" in answer.json()["error"]


@pytest.mark.parametrize(
    ("kind", "begins"), [("pdf", b"%PDF-1.6"), ("svg", b"<?xml"), ("dxf", b"  0\nSECTION")]
)
def test_the_lay_is_had_at_full_size(helper, lay, kind, begins):
    answer = helper.get(address("full_lay", lay, kind=kind))
    assert b"".join(answer.streaming_content).startswith(begins)
    assert f"lay-{lay}.{kind}" in answer["Content-Disposition"]


def test_tiles_are_had_by_the_name_of_the_paper(helper, lay):
    answer = helper.get(address("full_lay", lay, kind="pdf"), {"paper": "a4"})
    assert f"lay-{lay}-a4.pdf" in answer["Content-Disposition"]
    page = helper.get(address("full_lay", lay, kind="pdf"), {"paper": "a7"}, follow=True)
    assert "no paper" in page.content.decode()


@pytest.mark.parametrize("name", ["lay", "full_lay"])
def test_a_lay_that_is_not_there_is_not_found(helper, run, name):
    kind = {"kind": "pdf"} if name == "full_lay" else {}
    assert helper.get(address(name, "R-0001-T9-L9", **kind)).status_code == 404


def test_the_ticket_leads_to_each_of_its_lays(helper, run):
    ticket = ticket_of(run)
    page = helper.get(ticket.get_absolute_url()).content.decode()
    for each in ticket.lays.all():
        assert f'href="{address("lay", each.code)}"' in page
