"""Runs with needs that a person can count, suppliers, and two people at the same moment.

The needs take the place of those of thread and notions, which have tests of their own: a run takes
3 spools of the spruce thread, a zipper for each jacket, and 1.5 m of elastic for each.
"""

from __future__ import annotations

import datetime
import threading
from collections.abc import Callable, Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, connections

from orders.models import TeamOrder
from patterns.models import Elastic, Fabric, FabricColor, Supplier, ThreadColor, Zipper
from production.buying.shopping import shopping_of
from production.models import CutTicket, Lay, LayPly, Run, StockLot, Ware
from production.needs import run_needs
from production.planning.snapshot import RunSnapshot
from production.planning.supplies.wares import WareNeed
from production.stock.cloth import receive
from production.stock.ware_catalog import ware_for
from production.stock.wares import count
from tests.production.run_factories import make_run, make_team_order

SPOOLS = "thread:thread-spruce:spool"
ZIPPERS = "zipper:black:600"
ELASTIC = "elastic:hem"
CLOTH = "cloth:spruce"
MILL, HARBOR = "Low Mill Cloth", "Harbor Haberdashery"


def count_on_needs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Needs of wares as told at the top of this file."""

    def thread_wares(snapshot: RunSnapshot, needs: Any) -> tuple[WareNeed, ...]:
        return (WareNeed(SPOOLS, "thread spruce", "spool", Decimal(3)),)

    def notion_wares(needs: Iterable[Any]) -> tuple[WareNeed, ...]:
        zippers = sum(
            (each.need.quantity for each in needs if each.need.unit == "piece"), Decimal(0)
        )
        return (
            WareNeed(ZIPPERS, "zipper black", "piece", zippers),
            WareNeed(ELASTIC, "hem elastic", "m", zippers * Decimal("1.5")),
        )

    monkeypatch.setattr(run_needs, "thread_wares", thread_wares)
    monkeypatch.setattr(run_needs, "notion_wares", notion_wares)


def make_stocked_run(jackets: int = 2, code: str = "R-0001", order: str = "TO-1") -> Run:
    """A run whose materials have suppliers: cloth 10 days, all else 5 days from order to goods."""
    run = make_run(
        code=code,
        order=make_team_order(order, jackets=jackets, state=TeamOrder.State.IN_PRODUCTION),
    )
    Elastic.objects.get_or_create(
        place="hem",
        defaults={
            "name": "hem elastic",
            "width_mm": 25,
            "stretch_factor": Decimal("0.8"),
            "join_mm": 20,
            "price_per_m": Decimal("1.20"),
        },
    )
    mill, _ = Supplier.objects.get_or_create(name=MILL, defaults={"lead_days": 10})
    harbor, _ = Supplier.objects.get_or_create(name=HARBOR, defaults={"lead_days": 5})
    Fabric.objects.update(supplier=mill)
    for kind in (ThreadColor, Zipper, Elastic):
        kind.objects.update(supplier=harbor)
    return run


def spread(run: Run, takes_mm: int = 1500, plies: int = 4, color: str = "spruce") -> list[LayPly]:
    """A lay on the run's ticket of the color, whose plies are on no bolt yet."""
    ticket = CutTicket.objects.get(run=run, fabric_color__code=color)
    lay = Lay.objects.create(
        ticket=ticket,
        code=f"{ticket.code}-L9",
        position=9,
        mode="face_up",
        plies=plies,
        usable_width_mm=1400,
        length_mm=takes_mm - 40,
        placements=[],
    )
    return LayPly.objects.bulk_create(
        LayPly(lay=lay, number=number, takes_mm=takes_mm) for number in range(1, plies + 1)
    )


def make_lot(code: str = "B-1", length_mm: int = 5000, **values: Any) -> StockLot:
    return receive(
        **{
            "code": code,
            "fabric_color": FabricColor.objects.get(code="spruce"),
            "dye_lot": "lot-1",
            "length_mm": length_mm,
            "received_on": datetime.date(2026, 11, 2),
            "by": None,
            **values,
        }
    )


def put_on_shelf(key: str, quantity: int | str) -> Ware:
    ware = ware_for(key)
    count(ware, quantity=Decimal(quantity), reason="there from the start", by=None)
    return ware


def line_of(run: Run, key: str) -> Any:
    """A line of the run's shopping list as of today; Any, as tests compare its decimals with whole
    numbers."""
    return next(line for line in shopping_of(run).lines if line.sold.key == key)


def at_once(folder: Path, calls: Iterable[Callable[[], object]]) -> list[object]:
    """What calls give that are made at the same moment, each by a connection of its own: their
    result, or the error that they raised.

    The tests' database lies in memory, where SQLite has no queue; the calls share a copy in a file.
    """
    listed = list(calls)
    path = folder / "shared.sqlite3"
    settings = dict(connection.settings_dict)
    if connection.vendor == "sqlite":
        import sqlite3

        copy = sqlite3.connect(path)
        connection.ensure_connection()
        assert connection.connection is not None
        connection.connection.backup(copy)
        copy.execute("PRAGMA journal_mode=WAL")
        copy.close()
        settings["NAME"] = str(path)
    kind = type(connections["default"])
    found: list[object] = [None] * len(listed)
    barrier = threading.Barrier(len(listed))

    def make(number: int, call: Callable[[], object]) -> None:
        own = kind(settings, "default")
        connections["default"] = own
        barrier.wait()
        try:
            found[number] = call()
        except Exception as error:
            found[number] = error
        finally:
            own.close()

    threads = [
        threading.Thread(target=make, args=(number, call)) for number, call in enumerate(listed)
    ]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    return found
