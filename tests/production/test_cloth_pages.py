from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from patterns.models import FabricColor, Workroom
from patterns.services import workroom
from production.models import CutTicket, StockLot
from production.services import store_lays
from production.stock.cloth_queries import next_code, run_cloth, ticket_cloth
from production.stock.cloth_upkeep import add_flaw
from tests.production.planning_factories import make_bolt, make_jacket, make_snapshot
from tests.production.run_factories import make_run, person
from tests.production.test_cloth import FLAW, make_lay, make_lot, plan

pytestmark = pytest.mark.django_db

CLOTH, RECEIVE, LOT = "/cloth/", "/cloth/receive/", "/cloth/bolts/B-1/"
BOLT = {
    "code": "B-1",
    "dye_lot": "lot-1",
    "length_mm": "12.5",
    "usable_width_mm": "",
    "received_on": "2026-11-02",
    "note": "",
}


@pytest.fixture(autouse=True)
def run() -> object:
    return make_run()


@pytest.fixture
def maker() -> Client:
    return person("maker")


def bolt(**values: str) -> dict[str, Any]:
    return {**BOLT, "fabric_color": FabricColor.objects.get(code="spruce").pk, **values}


def page(client: Client, address: str, **data: Any) -> str:
    return client.get(address, data).content.decode()


def test_a_bolt_is_received_in_metres(maker: Client) -> None:
    answer = maker.post(RECEIVE, bolt())
    assert answer.headers["Location"] == LOT
    lot = StockLot.objects.get()
    assert [move.mm for move in lot.movements.all()] == [12_500]
    assert lot.usable_width_mm == 1400


def test_a_workroom_in_yards_receives_in_yards(maker: Client) -> None:
    workroom()
    Workroom.objects.update(length_unit="imperial")
    maker.post(RECEIVE, bolt(length_mm="10", usable_width_mm="50"))
    lot = StockLot.objects.get()
    assert ([move.mm for move in lot.movements.all()], lot.usable_width_mm) == ([9144], 1270)
    assert "10 yd" in page(maker, LOT)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"length_mm": "0"}, "longer than 0 m"),
        ({"length_mm": "-3"}, "not below zero"),
        ({"length_mm": "50000"}, "longer than a kilometre"),
        ({"length_mm": "long"}, "Enter a number"),
        ({"usable_width_mm": "0"}, "longer than 0 cm"),
        ({"code": "B 1"}, "with no blanks"),
        ({"code": "B-9"}, "B-9 is a lot of spruce already"),
        ({"fabric_color": "99999"}, "Select a valid choice"),
        ({"received_on": "soon"}, "Enter a valid date"),
        ({"dye_lot": ""}, "required"),
    ],
)
def test_a_wrong_field_is_told_and_the_rest_is_kept(
    maker: Client, values: dict[str, str], words: str
) -> None:
    make_lot("B-9")
    html = maker.post(RECEIVE, bolt(note="from the back room", **values)).content.decode()
    assert words in html
    assert "from the back room" in html
    assert StockLot.objects.count() == 1


def test_the_list_shows_what_is_left_and_narrows(maker: Client) -> None:
    make_lot()
    make_lot("R-2", 600, is_remnant=True, dye_lot="lot-2")
    make_lot("U-3", 500)
    StockLot.objects.get(code="U-3").movements.create(kind="counted", mm=-500, reason="gone")
    plan(make_lay(), ("B-1", 0, 1000))
    html = page(maker, CLOTH)
    assert all(words in html for words in ("B-1", "R-2", "4.00 m", "1.00 m", "5.00 m", "remnant"))
    assert "U-3" not in html
    assert "U-3" in page(maker, CLOTH, used_up="yes")
    assert "B-1" not in page(maker, CLOTH, kind="remnant")
    assert "R-2" not in page(maker, CLOTH, text="lot-1")
    assert "No cloth fits" in page(maker, CLOTH, color="spruce", text="nothing")
    csv = page(maker, CLOTH, _export="csv")
    assert "B-1,spruce,lot-1,4.00 m,1.00 m,5.00 m,1.40 m" in csv


def test_the_list_asks_as_often_for_many_bolts_as_for_few(maker: Client) -> None:
    make_lot()
    page(maker, CLOTH)
    with CaptureQueriesContext(connection) as few:
        page(maker, CLOTH)
    for number in range(2, 12):
        add_flaw(make_lot(f"B-{number}"), **FLAW)
    with CaptureQueriesContext(connection) as many:
        page(maker, CLOTH)
    assert len(many) == len(few)


def test_a_helper_looks_and_changes_nothing() -> None:
    make_lot()
    helper = person("helper")
    assert "Receive a bolt" not in page(helper, CLOTH)
    html = page(helper, LOT)
    assert "lot-1" in html
    assert "Count anew" not in html
    assert helper.get(RECEIVE).status_code == 403
    for what in ("count", "remnant", "flaws"):
        assert helper.post(f"{LOT}{what}/").status_code == 403
    assert StockLot.objects.get().movements.count() == 1


def test_a_bolt_that_is_not_there_is_not_found(maker: Client) -> None:
    assert maker.get(LOT).status_code == 404


def test_a_bolt_tells_its_plies_flaws_and_score(maker: Client) -> None:
    lot = make_lot(length_mm=9144, usable_width_mm=1270)
    plan(make_lay(), ("B-1", 0, 1000))
    add_flaw(lot, **{**FLAW, "at_mm": 2000, "length_mm": 300})
    html = page(maker, LOT)
    # 4 points x 3600 / (10 yd x 50 in)
    assert "4 points" in html
    assert "28.8 per 100 square yards" in html
    assert html.count("<title>") == 3  # the page's, one ply, one flaw
    assert "R-0001-T9-L1" in html
    assert "(1 − 0.02)" in html


def test_counting_anew_on_the_page(maker: Client) -> None:
    make_lot()
    plan(make_lay(), ("B-1", 0, 1000), ("B-1", 1000, 3000))
    html = maker.post(
        f"{LOT}count/", {"count-left_mm": "3.5", "count-reason": "short"}, follow=True
    ).content.decode()
    assert "1.50 m less than the book said" in html
    assert "Ply 2 of r-0001" not in html
    assert "Ply 2 of R-0001-T9-L1 had been planned" in html


@pytest.mark.parametrize(
    ("what", "sent", "words"),
    [
        ("count", {"count-left_mm": "-1", "count-reason": "odd one"}, "not below zero"),
        ("count", {"count-left_mm": "", "count-reason": "odd one"}, "required"),
        ("remnant", {"remnant-code": "odd.one", "remnant-length_mm": "6"}, "has 5.00 m free"),
        ("remnant", {"remnant-code": "B-1", "remnant-length_mm": "1"}, "B-1 is a lot of"),
        (
            "flaws",
            {
                "flaw-at_mm": "4.995",
                "flaw-across_mm": "1",
                "flaw-length_mm": "1",
                "flaw-width_mm": "1",
                "flaw-words": "odd one",
            },
            "beyond its end",
        ),
        (
            "flaws",
            {
                "flaw-at_mm": "1",
                "flaw-across_mm": "140",
                "flaw-length_mm": "1",
                "flaw-width_mm": "1",
                "flaw-words": "odd one",
            },
            "beside it",
        ),
    ],
)
def test_a_refused_form_stands_on_the_page_as_it_was_sent(
    maker: Client, what: str, sent: dict[str, str], words: str
) -> None:
    make_lot()
    html = maker.post(f"{LOT}{what}/", sent).content.decode()
    assert words in html
    assert "field-bad" in html
    assert all(f'value="{value}"' in html for value in sent.values() if value)
    assert StockLot.objects.get().movements.count() == 1


def test_a_remnant_and_a_flaw_on_the_page(maker: Client) -> None:
    make_lot()
    plan(make_lay(), ("B-1", 0, 1000))
    flaw = {
        "flaw-at_mm": "0.5",
        "flaw-across_mm": "20",
        "flaw-length_mm": "2",
        "flaw-width_mm": "1",
        "flaw-is_hole": "on",
    }
    html = maker.post(f"{LOT}flaws/", flaw, follow=True).content.decode()
    assert "Ply 1 of R-0001-T9-L1 had been planned over it" in html
    found = StockLot.objects.get().flaws.get()
    assert (found.at_mm, found.across_mm, found.length_mm, found.width_mm, found.is_hole) == (
        500,
        200,
        20,
        10,
        True,
    )
    maker.post(f"{LOT}flaws/{found.pk}/remove/")
    assert not StockLot.objects.get().flaws.exists()
    answer = maker.post(f"{LOT}remnant/", {"remnant-code": "R-1", "remnant-length_mm": "1.5"})
    assert answer.headers["Location"] == "/cloth/bolts/R-1/"
    assert "remnant" in page(maker, "/cloth/bolts/R-1/")


def test_the_next_code_counts_on() -> None:
    assert next_code() == "B-101"
    make_lot("B-104")
    make_lot("B-old")
    assert next_code() == "B-105"


# What tickets are spread from


def test_a_run_without_planned_plies_says_nothing_of_cloth(maker: Client) -> None:
    assert ticket_cloth("R-0001-T2") is None
    assert "Cloth to spread" not in page(maker, "/runs/R-0001/needs/")


def test_needs_and_ticket_name_bolts_and_dye_lots(maker: Client) -> None:
    """Two jackets in S and M: the bolt holds the spruce of one."""
    from production.planning.planner import plan_run

    make_lot(length_mm=700)
    jackets = (make_jacket("TO-1-01"), make_jacket("TO-1-02"))
    planned = plan_run(make_snapshot(jackets=jackets, bolts=(make_bolt("B-1", "spruce", 700),)))
    ticket = CutTicket.objects.get(code="R-0001-T2")
    run = ticket.run
    run.plan["cut_tickets"] = _built(planned.plan.cut_tickets)
    run.plan["jackets"] = _built(planned.plan.jackets)
    run.save()
    store_lays(ticket, planned.plan.cut_tickets[1].lays, use=planned.cloth["R-0001-T2"])
    spread = ticket_cloth("R-0001-T2")
    assert spread is not None
    assert [(lot.name, lot.jackets) for lot in spread.dye_lots] == [
        ("lot-1", ("TO-1-01",)),
        ("to be bought", ("TO-1-02",)),
    ]
    assert [cloth.ticket.code for cloth in run_cloth(run) if cloth.spreads] == ["R-0001-T2"]
    for address in ("/runs/R-0001/needs/", "/runs/R-0001/tickets/R-0001-T2/"):
        html = page(maker, address)
        assert "2 dye lots" in html
        assert "B-1" in html and "only" not in html
    StockLot.objects.update(usable_width_mm=1300)
    assert "dye lot lot-1, only 1.30 m wide" in page(maker, "/runs/R-0001/tickets/R-0001-T2/")


def test_plies_with_a_gap_between_them_are_told_apart() -> None:
    make_lot()
    lay = make_lay()
    plan(lay, ("B-1", 0, 1000), ("B-1", 1000, 1000), ("B-1", 2300, 1000), (None, None, 1000))
    spread = ticket_cloth(lay.ticket.code)
    assert spread is not None
    assert [(row.plies, row.start_mm, row.takes_mm) for row in spread.spreads] == [
        ("1 to 2", 0, 2000),
        ("3", 2300, 1000),
        ("4", None, 1000),
    ]
    assert spread.to_buy_mm == 1000


def _built(rows: Any) -> Any:
    import msgspec

    return msgspec.to_builtins(rows)
