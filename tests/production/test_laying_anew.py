"""Plies that are not cut yet laid onto the cloth once more, and what tickets say of their cloth."""

from __future__ import annotations

import datetime
from collections import Counter
from typing import Any

import pytest
from django.urls import reverse

from orders.models import Amendment
from patterns.models import FabricColor
from production.cutting.laying_anew import lay_anew, plies_over_flaws
from production.models import CutTicket, Lay, LayPly, Run, StockLot
from production.planning.cloth.dye_lots import CutUnit, whole_jackets
from production.reporting.cut_counts import stored_plies
from production.reporting.cut_reports import report_cut, take_back
from production.reporting.missing import Missing, report_missing
from production.reporting.recuts import load_recut, make_recut
from production.services import load_plan
from production.stock.cloth import ClothError, receive
from production.stock.cloth_paper import ticket_extras
from production.stock.cloth_queries import lots_of_jackets, ticket_cloth
from production.stock.cloth_upkeep import add_flaw, count_anew
from tests.production.report_factories import make_cut_run
from tests.production.run_factories import make_person

pytestmark = pytest.mark.django_db

TICKET, LAY = "R-0001-T2", "R-0001-T2-L1"


def make_lot(code: str, length_mm: int, dye_lot: str = "A", **values: Any) -> StockLot:
    return receive(
        code=code,
        fabric_color=FabricColor.objects.get(code="spruce"),
        dye_lot=dye_lot,
        length_mm=length_mm,
        received_on=datetime.date(2026, 11, 2),
        by=None,
        **values,
    )


@pytest.fixture
def ticket() -> CutTicket:
    """Spruce, of one lay with two plies that are all to be bought."""
    make_cut_run(jackets=4, bolts=False)
    found = CutTicket.objects.get(code=TICKET)
    found.lays.exclude(code=LAY).delete()
    found.lays.update(plies=2)
    stored_plies(found.lays.get())
    return found


def takes_mm() -> int:
    return LayPly.objects.get(lay__code=LAY, number=1).takes_mm


def places() -> list[tuple[int, str | None, int | None]]:
    rows = LayPly.objects.filter(lay__code=LAY).order_by("number")
    return list(rows.values_list("number", "lot__code", "start_mm"))


def test_plies_to_be_bought_are_laid_on_a_bolt_that_came_in(ticket: CutTicket) -> None:
    maker = make_person("ana")
    make_lot("B-1", 2 * takes_mm())
    done = lay_anew(ticket, maker)
    assert (done.moved, done.to_buy_mm) == (2, 0)
    assert places() == [(1, "B-1", 0), (2, "B-1", takes_mm())]
    planned = load_plan(Run.objects.get()).cut_tickets[1]
    assert (planned.to_buy_mm, planned.ticket) == (0, TICKET)
    assert planned.from_stock_mm > 0
    told = Amendment.objects.latest("pk")
    assert (told.by, told.words) == (
        maker,
        f"cut ticket {TICKET}: 2 plies laid anew onto the cloth, 0.00 m to buy",
    )


def test_laying_anew_twice_changes_nothing_and_leaves_no_second_trace(ticket: CutTicket) -> None:
    make_lot("B-1", 2 * takes_mm())
    lay_anew(ticket, None)
    before, traces = places(), Amendment.objects.count()
    assert lay_anew(ticket, None).moved == 0
    assert (places(), Amendment.objects.count()) == (before, traces)


def test_what_is_cut_stays_and_the_rest_goes_around_a_new_flaw(ticket: CutTicket) -> None:
    bolt = make_lot("B-1", 4 * takes_mm())
    lay_anew(ticket, None)
    report_cut(LAY, [1], None)
    place = Lay.objects.get(code=LAY).placements[0]
    across_mm = int(place["y_mm"]) + 40
    at_mm = takes_mm() + int(place["x_mm"]) + 60
    add_flaw(bolt, at_mm=at_mm, across_mm=across_mm, length_mm=40, width_mm=40)
    assert [ply.number for ply in plies_over_flaws(ticket)] == [2]
    done = lay_anew(ticket, None)
    assert (done.moved, done.spread) == (1, 1)
    assert places()[0] == (1, "B-1", 0)
    assert (places()[1][2] or 0) > takes_mm()
    assert plies_over_flaws(ticket) == []
    spread = ticket_cloth(TICKET)
    assert spread and any("so that no flaw lies in a block" in note for note in spread.notes)
    assert ticket_extras(ticket.run).cloth[TICKET].notes == spread.notes


def test_all_cut_is_refused(ticket: CutTicket) -> None:
    make_lot("B-1", 2 * takes_mm())
    lay_anew(ticket, None)
    report_cut(LAY, None, None)
    with pytest.raises(ClothError, match="All plies of R-0001-T2 are cut"):
        lay_anew(ticket, None)


def test_plies_that_lost_their_cloth_by_a_count_find_other_cloth(ticket: CutTicket) -> None:
    bolt = make_lot("B-1", 2 * takes_mm())
    lay_anew(ticket, None)
    count_anew(bolt, left_mm=takes_mm(), reason="shorter", by=None)
    make_lot("B-2", 2 * takes_mm(), "B")
    lay_anew(ticket, None)
    assert {bolt for _, bolt, _ in places()} == {"B-2"}  # one lot for all, as none is cut


def test_uncut_plies_keep_to_the_lot_that_was_cut_from(ticket: CutTicket) -> None:
    """Another lot would do, but the jackets have blocks of the first one already."""
    make_lot("B-1", 2 * takes_mm())
    lay_anew(ticket, None)
    report_cut(LAY, [1], None)
    make_lot("B-2", takes_mm(), "B")
    lay_anew(ticket, None)
    assert places() == [(1, "B-1", 0), (2, "B-1", takes_mm())]


def test_the_page_offers_it_to_the_maker_alone(client: Any, ticket: CutTicket) -> None:
    make_lot("B-1", 2 * takes_mm())
    url = reverse("production:lay_anew", args=["R-0001", TICKET])
    page = reverse("production:cut_ticket", args=["R-0001", TICKET])
    client.force_login(make_person("helper"))
    assert client.post(url).status_code == 403
    assert url not in client.get(page).content.decode()
    client.force_login(make_person("maker", role="maker"))
    assert url in client.get(page).content.decode()
    told = client.post(url, follow=True).content.decode()
    assert "2 plies lie elsewhere now, nothing to buy. Print the ticket anew." in told
    lot = client.get(reverse("production:stock_lot", args=["B-1"])).content.decode()
    assert url in lot


# What a ply leaves before it


def test_cloth_skipped_before_a_ply_becomes_a_remnant_with_its_size_and_flaws() -> None:
    make_cut_run(jackets=4)
    bolt = StockLot.objects.get(code="B-SPRUCE")
    report_cut(LAY, [1], None, lot="B-SPRUCE")
    take_back(LAY, 1, None)
    LayPly.objects.filter(lay__code=LAY, number=1).update(start_mm=500)
    add_flaw(bolt, at_mm=200, across_mm=100, length_mm=30, width_mm=20, words="slub")
    report_cut(LAY, [1], None)
    remnant = StockLot.objects.get(cut_from=bolt)
    assert (remnant.code, remnant.is_remnant, remnant.dye_lot) == (
        "B-SPRUCE-1",
        True,
        bolt.dye_lot,
    )
    assert [row.mm for row in remnant.movements.all()] == [500]
    assert [(row.at_mm, row.words) for row in remnant.flaws.all()] == [(200, "slub")]
    take_back(LAY, 1, None)
    assert sum(row.mm for row in remnant.movements.all()) == 0
    assert sum(row.mm for row in bolt.movements.all()) == 50_000


def test_a_ply_stays_cut_once_the_remnant_before_it_is_used() -> None:
    make_cut_run(jackets=4)
    report_cut(LAY, [1], None, lot="B-SPRUCE")
    take_back(LAY, 1, None)
    LayPly.objects.filter(lay__code=LAY, number=1).update(start_mm=500)
    report_cut(LAY, [1], None)
    count_anew(StockLot.objects.get(code="B-SPRUCE-1"), left_mm=100, reason="used", by=None)
    with pytest.raises(ClothError, match="Remnant B-SPRUCE-1 was left over before this ply"):
        take_back(LAY, 1, None)


# Dye lots of what is cut later


def test_a_recut_comes_from_the_lot_of_its_own_jacket() -> None:
    run = make_cut_run(jackets=2, bolts=False)
    ticket = run.cut_tickets.get(code=TICKET)
    [lay] = ticket.lays.all()
    a_lot, b_lot = make_lot("B-A", 90_000, "A"), make_lot("B-B", 20_000, "B")
    places = {
        jacket.code: [place for place in lay.placements if place["size"] == jacket.size]
        for jacket in run.jackets.all()
    }
    assert all(places.values())
    for number, (jacket, lot) in enumerate(zip(places, (a_lot, b_lot), strict=True), start=1):
        one = Lay.objects.create(
            ticket=ticket,
            code=f"{ticket}-L{number + 8}",
            position=number,
            mode="face_up",
            plies=1,
            usable_width_mm=lay.usable_width_mm,
            length_mm=lay.length_mm,
            placements=places[jacket],
        )
        report_cut(one.code, None, None, lot=lot.code)
    lay.delete()
    lots = lots_of_jackets(run)["spruce"]
    assert lots == dict(zip(places, "AB", strict=True))
    _, late = places
    block = run.jackets.get(code=late).blocks.filter(line__ticket=ticket).first()
    assert block
    side = next(side for side in ("left", "single") if getattr(block.line, side))
    report_missing(Missing(late, block.block, side, "hole"), None)
    recut = make_recut(run, None)
    assert recut
    [piece] = load_recut(recut)[1].pieces
    assert piece.dye_lot == "B"
    plies = LayPly.objects.filter(lay__ticket__recut=recut)
    assert {ply.lot.dye_lot for ply in plies if ply.lot} == {"B"}


def test_pieces_that_a_lot_gave_count_for_its_jackets() -> None:
    front = ("FR", "S", "left")
    needs = {"J1": Counter({front: 2}), "J2": Counter({front: 2})}
    unit = CutUnit(count=3, takes_mm=100, width_mm=100, pieces=Counter({front: 1}))
    given = Counter({front: 1})
    # One piece is there: one length more makes J1 whole, and two remain for J2.
    assert whole_jackets([unit], needs, [(100, 100)], 100, given) == ((1,), ("J1",))
    assert whole_jackets([unit], needs, [(100, 100)], 100) == ((0,), ())
