"""A small frozen run with its lays and plies, cut from two invented bolts."""

from __future__ import annotations

import datetime

from patterns.models import FabricColor
from production.models import CutTicket, Lay, Run
from production.reporting.cut_reports import report_cut
from production.services import load_plan, store_lays
from production.stock.cloth import receive
from tests.production.change_factories import make_frozen_run

BOLTS = (("B-SPRUCE", "spruce"), ("B-OAT", "oat"))


def make_cut_run(jackets: int = 3, cut: tuple[int, ...] = (), bolts: bool = True) -> Run:
    """The run of `make_frozen_run` with its lays. T1 is oat, with CO; T2 spruce, with FR and BK."""
    run = make_frozen_run(jackets, cut)
    for planned in load_plan(run).cut_tickets:
        store_lays(CutTicket.objects.get(code=planned.ticket), planned.lays)
    if bolts:
        make_bolts()
    return run


def make_bolts(length_mm: int = 50_000) -> None:
    for code, color in BOLTS:
        receive(
            code=code,
            fabric_color=FabricColor.objects.get(code=color),
            dye_lot=f"lot-{color}",
            length_mm=length_mm,
            received_on=datetime.date(2026, 11, 2),
            by=None,
        )


def bolt_of(lay: Lay) -> str:
    return {color: code for code, color in BOLTS}[lay.ticket.fabric_color.code]


def cut_whole(ticket: CutTicket) -> None:
    """All plies of all lays of a ticket are reported as cut."""
    for lay in ticket.lays.all():
        if lay.ply_rows.filter(cut_at__isnull=True).exists() or not lay.ply_rows.exists():
            report_cut(lay.code, None, None, lot=bolt_of(lay))


def cut_all(run: Run) -> None:
    for ticket in run.cut_tickets.all():
        cut_whole(ticket)
