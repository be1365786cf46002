"""One run from the table to the club: ticks, taps, a schedule, sewing, looking over, mending and
two deliveries. Every jacket is somewhere at each moment, is handed over once, and leaves a
trace."""

from __future__ import annotations

from collections import Counter
from uuid import UUID, uuid4

import msgspec
import pytest

from orders.models import TeamOrder
from production.changing.change_state import supplements_check
from production.errors import MovedOnError, StepRefusedError
from production.handing_over.deliveries import hand_over
from production.models import (
    BlockTick,
    DeliveredJacket,
    Delivery,
    Inspection,
    Jacket,
    JacketBlock,
    Person,
    Run,
    StageEvent,
    Tap,
)
from production.people.people import keep_person
from production.planning.standing import STAGES
from production.planning.timetable.floor import FloorSchedule
from production.planning.timetable.hour_text import read_hours
from production.scanning.taps import NEXT, TapAsked, tap
from production.scheduling.schedules import make_schedule
from production.sewing.sewing_state import sheets_of_run
from production.stages.inspections import Failing, Fault, fail, pass_over
from production.stages.ticks import tick
from production.tracking import record
from tests.production.run_factories import make_person, make_run

pytestmark = pytest.mark.django_db

JACKETS = 6
CODES = [f"TO-1-{number:02d}" for number in range(1, JACKETS + 1)]
HOURS = {weekday: read_hours("8-12, 13-17") for weekday in range(1, 8)}


def scanned(
    code: str, by, action: str = NEXT, stage: str = "", *, key: UUID | None = None, vouch=False
) -> Tap:
    asked = TapAsked(
        key=key or uuid4(), way="batch", code=code, action=action, stage=stage, vouch=vouch
    )
    return tap(asked, by)


def standing() -> dict[str, int]:
    """How many jackets stand at each stage; they are always all there."""
    found = Counter(Jacket.objects.values_list("stage", flat=True))
    assert sum(found.values()) == JACKETS
    return dict(found)


def handed(codes: list[str], by, key: UUID) -> Delivery:
    return hand_over(
        TeamOrder.objects.get(),
        Jacket.objects.filter(code__in=codes),
        received_by="Mira Holm",
        signed="paper",
        signature=[],
        note="",
        by=by,
        form_key=key,
    )


def test_a_run_goes_over_the_floor_and_nothing_is_lost():
    run = make_run(jackets=JACKETS)
    ana, bo = make_person("ana"), make_person("bo")
    for login in (ana, bo):
        keep_person(Person(name=login.username, user=login), (), HOURS)

    cut_all(ana)
    assert standing() == {"sew": JACKETS}
    schedule_holds_every_jacket(run)
    sew_all(ana, bo)
    assert standing() == {"finish": JACKETS}
    finish_all(bo)
    assert standing() == {"hand_over": JACKETS}
    hand_over_all(ana)
    assert standing() == {"handed_over": JACKETS}

    assert TeamOrder.objects.get().state == TeamOrder.State.HANDED_OVER
    every_jacket_was_handed_over_once()
    every_tap_came_to_something()
    histories_tell_every_stage()
    check = supplements_check(run)
    assert check is None or check.holds
    assert JacketBlock.objects.count() == 3 * JACKETS


def cut_all(by) -> None:
    """The first by ticking its blocks; the others are vouched for, scan by scan."""
    assert scanned(CODES[0], by, "done", "cut").outcome == Tap.Outcome.REFUSED
    assert standing() == {"cut": JACKETS}
    tick(CODES[0], ["FR", "BK", "CO"], by)
    assert scanned(CODES[0], by, "done", "cut").outcome == Tap.Outcome.RECORDED
    assert scanned("NO-SUCH-01", by, vouch=True).outcome == Tap.Outcome.UNKNOWN
    for code in CODES[1:]:
        key = uuid4()
        once = scanned(code, by, vouch=True, key=key)
        assert once.outcome == Tap.Outcome.RECORDED
        assert scanned(code, by, vouch=True, key=key) == once  # sent again from the queue
    # Each block of each jacket was seen by somebody, once.
    assert BlockTick.objects.filter(taken_back_at=None).count() == JacketBlock.objects.count()


def schedule_holds_every_jacket(run: Run) -> None:
    plan = make_schedule(None, seconds=0.5)
    stored = {name: plan.plan[name] for name in FloorSchedule.__dataclass_fields__}
    schedule = msgspec.convert(stored, FloorSchedule)
    planned = {slot.jacket for slot in schedule.slots} | {code for code, _ in schedule.unplanned}
    assert planned == set(CODES)
    on_sheets = [one.code for sheet in sheets_of_run(run) for one in sheet.jackets]
    assert sorted(on_sheets) == CODES


def sew_all(ana, bo) -> None:
    """By turns; two phones on one jacket give one event and two traces."""
    for at, code in enumerate(CODES):
        by = (ana, bo)[at % 2]
        assert scanned(code, by, "start", "sew").outcome == Tap.Outcome.RECORDED
        assert scanned(code, by, "done", "sew").outcome == Tap.Outcome.RECORDED
    late = scanned(CODES[0], bo, "done", "sew")
    assert late.outcome == Tap.Outcome.REFUSED and "moved on" in late.words


def finish_all(by) -> None:
    """The fourth fails and is mended; nothing is finished that nobody has looked over."""
    assert scanned(CODES[0], by, "done", "finish").outcome == Tap.Outcome.REFUSED
    sent_back = fail(CODES[3], Failing((Fault("zipper", "catches at the top"),)), by)
    assert sent_back.stage == "sew" and "Zipper" in sent_back.reason
    assert standing() == {"finish": JACKETS - 1, "sew": 1}
    with pytest.raises(MovedOnError):
        handed(CODES, by, uuid4())
    assert scanned(CODES[3], by, "done", "sew").outcome == Tap.Outcome.RECORDED
    assert scanned(CODES[3], by, "done", "finish").outcome == Tap.Outcome.REFUSED
    for code in CODES:
        pass_over(code, by)
        assert scanned(code, by, "done", "finish").outcome == Tap.Outcome.RECORDED


def hand_over_all(by) -> None:
    """In two deliveries; a form sent twice delivers once."""
    key = uuid4()
    first = handed(CODES[:4], by, key)
    assert handed(CODES[:4], by, key) == first
    assert standing() == {"handed_over": 4, "hand_over": 2}
    assert TeamOrder.objects.get().state == TeamOrder.State.IN_PRODUCTION
    with pytest.raises(MovedOnError):
        handed(CODES[3:], by, uuid4())
    assert handed(CODES[4:], by, uuid4()).number == 2
    with pytest.raises(StepRefusedError):
        record(CODES[0], "done", "hand_over", None)


def every_jacket_was_handed_over_once() -> None:
    delivered = DeliveredJacket.objects.order_by("jacket__code")
    rows = list(delivered.values_list("jacket__code", "delivery__number"))
    assert rows == [(code, 1 if at < 4 else 2) for at, code in enumerate(CODES)]
    events = StageEvent.objects.filter(stage="hand_over", kind=StageEvent.Kind.DONE)
    assert set(events.values_list("pk", flat=True)) == set(
        delivered.values_list("event", flat=True)
    )


def every_tap_came_to_something() -> None:
    told = Counter(Tap.objects.values_list("outcome", flat=True))
    # Cutting 6, sewing begun and done 12, mended 1, finished 6; refused: cut without its blocks,
    # sewn by another meanwhile, finished unseen, mended and unseen again.
    assert told == {"recorded": 25, "refused": 4, "unknown": 1}
    recorded = Tap.objects.filter(outcome=Tap.Outcome.RECORDED)
    assert recorded.values("event").distinct().count() == 25


def histories_tell_every_stage() -> None:
    for code in CODES:
        events = StageEvent.objects.filter(jacket__code=code).order_by("pk")
        done = [event.stage for event in events if event.kind == StageEvent.Kind.DONE]
        mended = ["sew"] if code == CODES[3] else []
        assert done == [*STAGES[:2], *mended, *STAGES[2:4]]
        assert all(event.by for event in events)
    looks = Counter(Inspection.objects.values_list("passed", flat=True))
    assert looks == {True: JACKETS, False: 1}
