"""Who did what when: nothing is missing, and nothing is ever overwritten."""

from __future__ import annotations

import datetime
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from production.grows import GrowsOnly, OverwriteError
from production.handing_over import deliveries
from production.history.history import Lines, Wanted, jacket_lines
from production.history.lines import Kind
from production.models import (
    DeliveredJacket,
    Delivery,
    Inspection,
    InspectionFault,
    Jacket,
    SpoiledPiece,
    StageEvent,
    StandardChange,
    StockMovement,
    Tap,
    WareMovement,
)
from production.reporting.cut_reports import report_cut, take_back
from production.reporting.missing import Missing, report_missing, take_back_missing
from production.scanning import taps
from production.scanning.taps import TapAsked
from production.stages import inspections, ticks
from production.stages.check_points import stored_points
from production.stages.inspections import Failing, Fault
from production.tracking import record
from tests.production.history_factories import make_busy_run
from tests.production.report_factories import make_cut_run
from tests.production.run_factories import make_person

pytestmark = pytest.mark.django_db


def words(wanted: Wanted | None = None) -> list[str]:
    return [line.words for line in Lines(wanted or Wanted())]


def test_everything_that_happened_is_told_newest_first():
    make_busy_run()
    lines = list(Lines(Wanted()))

    assert [line.at for line in lines] == sorted((line.at for line in lines), reverse=True)
    assert {line.kind for line in lines} == set(Kind) - {Kind.CHANGES}
    told = " | ".join(line.words for line in lines)
    for part in (
        "seen on the table: block ",
        "cutting started",
        "cutting done",
        "undone: cutting done",
        "refused, on the jacket's page: It waits for cutting",
        "no such tag",
        "looked over, not right: zipper runs: it waves",
        "TO-1, delivery 1: 1 jacket handed over, not signed",
        "held by hand: sewing by Bo",
        "no longer held by hand: sewing by Bo",
        "ply 1: cut from B-OAT",
        "ply 1: taken back, not cut from B-OAT",
        "block CO short or spoiled: a hole",
        "block CO is not short or spoiled after all",
    ):
        assert part in told


def test_what_was_taken_back_is_struck_and_still_there():
    make_busy_run()
    undone = [line.words for line in Lines(Wanted()) if line.undone]
    assert len(undone) == 3
    assert any(line == "cutting done" for line in undone)
    assert any("cut from B-OAT" in line for line in undone)
    assert any("short or spoiled: a hole" in line for line in undone)


def test_it_is_narrowed_by_run_jacket_person_day_and_kind():
    make_busy_run()
    record("TO-1-02", "start", "cut", by=None)
    today = timezone.localdate()
    everything = len(Lines(Wanted()))

    assert len(Lines(Wanted(run="R-0002"))) == 0
    assert len(Lines(Wanted(run="R-0001"))) == everything - 1  # the unknown tag is of no run
    assert words(Wanted(jacket="-02")) == ["cutting started"]
    assert "cutting started" in words(Wanted(by=0))
    assert len(words(Wanted(by=0))) == 2
    assert len(words(Wanted(first=today, last=today))) == everything
    assert words(Wanted(last=today - datetime.timedelta(days=1))) == []
    assert words(Wanted(first=today + datetime.timedelta(days=1))) == []
    assert len(words(Wanted(kinds=(Kind.STEPS,)))) == 4
    assert words(Wanted(kinds=())) == []


def test_a_page_of_it_costs_the_same_however_long_it_is():
    counts = []
    for jackets in (2, 12):
        if jackets == 2:
            make_busy_run(12)
        for jacket in Jacket.objects.all()[2:jackets]:
            record(jacket.code, "start", "cut", by=None)
        lines = Lines(Wanted())
        with CaptureQueriesContext(connection) as asked:
            assert lines[0 : len(lines)]
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_jacket_gets_what_its_page_does_not_tell_by_itself():
    run = make_busy_run()
    first, second = run.jackets.order_by("pk")
    assert {line.kind for line in jacket_lines(first)} == {
        *(Kind.TAPS, Kind.TICKS, Kind.CHECKS, Kind.DELIVERIES, Kind.PINS)
    }
    assert jacket_lines(second) == []


GROWING = (
    StageEvent,
    Tap,
    Inspection,
    InspectionFault,
    DeliveredJacket,
    StockMovement,
    WareMovement,
    StandardChange,
)


def test_what_happened_is_not_stored_again_and_stays():
    make_busy_run()
    for model in (StageEvent, Tap, Inspection, InspectionFault, DeliveredJacket, StockMovement):
        row = model.objects.all()[0]
        with pytest.raises(OverwriteError, match=model.__name__):
            row.save()
        with pytest.raises(OverwriteError, match="stays"):
            row.delete()
    assert all(issubclass(model, GrowsOnly) for model in GROWING)


def test_every_service_of_the_floor_only_adds_rows():
    """All rows as they were, after each step, undo, tick, tap, check, report and hand-over."""
    ana = make_person("ana", "maker")
    run = make_cut_run(2)
    code = "TO-1-01"

    def tapped(action: str, stage: str, **values: object) -> None:
        taps.tap(TapAsked(uuid.uuid4(), "page", code, action, stage, vouch=True, **values), ana)  # type: ignore[arg-type]

    def handed_over() -> None:
        jacket = Jacket.objects.get(code=code)
        deliveries.hand_over(
            jacket.jacket_order.team_order,
            [jacket],
            received_by="",
            signed="none",
            signature=[],
            note="",
            by=ana,
            form_key=None,
        )

    lay = run.cut_tickets.get(fabric_color__code="oat").lays.all()[0]
    steps = (
        lambda: ticks.tick(code, ["FR"], ana),
        lambda: ticks.take_back(code, "FR", ana),
        lambda: report_cut(lay.code, [1], ana, lot="B-OAT"),
        lambda: take_back(lay.code, 1, ana),
        lambda: tapped("done", "sew"),
        lambda: tapped("start", "cut"),
        lambda: tapped("done", "cut"),
        lambda: tapped("undo", "cut", undoes=StageEvent.objects.latest("pk").pk),
        lambda: tapped("done", "cut"),
        lambda: report_missing(Missing(code, "CO", "single", "a hole"), ana),
        lambda: take_back_missing(SpoiledPiece.objects.latest("pk"), ana),
        lambda: tapped("done", "sew"),
        lambda: inspections.fail(code, Failing((Fault(a_point(), "waves"),)), ana),
        lambda: tapped("done", "sew"),
        lambda: inspections.pass_over(code, ana),
        lambda: tapped("done", "finish"),
        handed_over,
        lambda: tapped("send_back", "sew", reason="a thread hangs"),
    )
    for number, step in enumerate(steps):
        before = all_rows()
        step()
        after = all_rows()
        assert before <= after, f"step {number} changed a row"
    assert Tap.objects.filter(outcome="refused").count() == 1
    assert Delivery.objects.count() == 1


def a_point() -> str:
    return stored_points()[0].code


def all_rows() -> set[tuple[object, ...]]:
    return {
        (model.__name__, *map(str, row)) for model in GROWING for row in model.objects.values_list()
    }
