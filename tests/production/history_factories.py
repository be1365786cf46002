"""A run to which something of each kind has happened."""

from __future__ import annotations

import uuid
from typing import Any

from django.utils import timezone

from production.models import (
    BlockTick,
    CheckPoint,
    Delivery,
    Inspection,
    InspectionFault,
    Jacket,
    Person,
    Pin,
    Run,
    StageEvent,
    Tap,
)
from production.reporting.cut_reports import report_cut, take_back
from production.reporting.missing import Missing, report_missing, take_back_missing
from production.tracking import record
from tests.production.report_factories import make_cut_run
from tests.production.run_factories import make_person


def make_tap(jacket: Jacket | None, outcome: str = "refused", **values: Any) -> Tap:
    return Tap.objects.create(
        **{
            "key": uuid.uuid4(),
            "way": "page",
            "code": "TO-1-01",
            "jacket": jacket,
            "action": "done",
            "outcome": outcome,
            "words": "It waits for cutting; that comes before finishing.",
            "at": timezone.now(),
            **values,
        }
    )


def make_busy_run(jackets: int = 2) -> Run:
    """A run to which each kind of thing has happened."""
    ana = make_person("ana")
    run = make_cut_run(jackets)
    first = run.jackets.order_by("pk")[0]
    for block in first.blocks.all():
        BlockTick.objects.create(jacket=first, block=block.block, line=block.line, by=ana)
    BlockTick.objects.update(at=timezone.now())
    record(first.code, "start", "cut", ana)
    record(first.code, "done", "cut", ana)
    record(first.code, "undo", "cut", ana)
    make_tap(first, by=ana)
    make_tap(None, "unknown", code="nobody", words="No jacket has the code 'nobody'.")
    look = Inspection.objects.create(
        jacket=first, passed=False, points=["zipper runs"], at=timezone.now(), by=ana
    )
    point, _ = CheckPoint.objects.get_or_create(code="zip", defaults={"words": "zipper runs"})
    InspectionFault.objects.create(inspection=look, point=point, words="it waves")
    Delivery.objects.create(
        team_order=first.jacket_order.team_order, number=1, signed="none", at=timezone.now(), by=ana
    ).jackets.create(jacket=first, event=StageEvent.objects.earliest("pk"))
    Pin.objects.create(
        jacket=first, stage="sew", person=Person.objects.create(name="Bo"), by=ana,
        lifted_at=timezone.now(), lifted_by=ana,
    )  # fmt: skip
    lay = run.cut_tickets.get(fabric_color__code="oat").lays.all()[0]
    report_cut(lay.code, [1], ana, lot="B-OAT")
    take_back(lay.code, 1, ana)
    take_back_missing(report_missing(Missing(first.code, "CO", "single", "a hole"), ana), ana)
    return run
