"""Stage changes: each rule, two phones at once, undo, and the team order's state."""

from __future__ import annotations

import datetime

import pytest
from django.utils import timezone

from orders.models import TeamOrder
from production.errors import MovedOnError, StepRefusedError, UnknownJacketError
from production.models import Jacket, StageEvent
from production.planning.standing import END, STAGES, Standing
from production.tracking import record, standing_of
from tests.production.run_factories import make_person, make_run, today_at

pytestmark = pytest.mark.django_db

CODE = "TO-1-01"


@pytest.fixture
def ana():
    make_run(jackets=2)
    return make_person("ana")


def stored(code: str = CODE) -> Standing:
    jacket = Jacket.objects.get(code=code)
    return Standing(jacket.stage, jacket.in_work, jacket.mend_reason)


def replayed(code: str = CODE) -> Standing:
    return standing_of(list(StageEvent.objects.filter(jacket__code=code).order_by("pk")))


def done_until(stage: str, by, code: str = CODE) -> None:
    for earlier in STAGES[: STAGES.index(stage)] if stage != END else STAGES:
        record(code, "done", earlier, by)


def test_a_stage_done_moves_the_jacket_on_and_names_who_and_when(ana):
    at = timezone.now() - datetime.timedelta(hours=1)
    event = record(CODE, "done", "cut", ana, at=at)
    assert (event.kind, event.stage, event.by, event.at) == ("done", "cut", ana, at)
    assert stored() == replayed() == Standing("sew")


def test_started_work_stands_in_work(ana):
    record(CODE, "start", "cut", ana)
    assert stored() == replayed() == Standing("cut", in_work=True)


def test_finishing_before_cutting_is_refused_and_changes_nothing(ana):
    with pytest.raises(StepRefusedError, match=f"{CODE}: It waits for cutting"):
        record(CODE, "done", "finish", ana)
    assert not StageEvent.objects.exists()


def test_a_mend_keeps_its_reason_until_that_stage_is_done(ana):
    done_until("hand_over", ana)
    record(CODE, "send_back", "sew", ana, reason=" wavy \n hem ")
    assert stored() == replayed() == Standing("sew", mend_reason="wavy hem")
    record(CODE, "start", "sew", ana)
    assert stored().mend_reason == "wavy hem"
    record(CODE, "done", "sew", ana)
    assert stored() == Standing("finish")


@pytest.mark.parametrize(
    ("reason", "words"), [("", "what is to be mended"), ("x" * 201, "201"), ("a\x00b", "control")]
)
def test_a_bad_reason_is_refused(ana, reason, words):
    record(CODE, "done", "cut", ana)
    with pytest.raises(StepRefusedError, match=words):
        record(CODE, "send_back", "cut", ana, reason=reason)
    assert stored() == Standing("sew")


def test_the_same_tap_twice_is_one_event(ana):
    for action in ("start", "done"):
        assert record(CODE, action, "cut", ana) == record(CODE, action, "cut", ana)
    back = record(CODE, "send_back", "cut", ana, reason="a hole", seen="sew")
    assert record(CODE, "send_back", "cut", ana, reason="a hole", seen="sew") == back
    undone = record(CODE, "undo", "cut", ana, undoes=back.pk)
    assert record(CODE, "undo", "cut", ana, undoes=back.pk) == undone
    assert StageEvent.objects.count() == 4


def test_a_second_phone_is_told_who_was_quicker(ana):
    record(CODE, "done", "cut", ana, at=today_at(9, 5))
    with pytest.raises(MovedOnError) as refused:
        record(CODE, "done", "cut", make_person("ben"))
    assert str(refused.value) == (
        f"{CODE} was already moved on by ana at 09:05: cutting done. It waits for sewing. "
        "Nothing was changed."
    )
    assert StageEvent.objects.count() == 1


def test_an_old_page_names_the_day_too(ana):
    at = today_at(9, 5) - datetime.timedelta(days=1)
    record(CODE, "done", "cut", ana, at=at)
    with pytest.raises(MovedOnError, match=rf"on {at.day} \w+ at 09:05"):
        record(CODE, "done", "cut", make_person("ben"))


def test_a_stale_page_sends_nothing_back(ana):
    record(CODE, "done", "cut", ana)
    with pytest.raises(MovedOnError):
        record(CODE, "send_back", "cut", make_person("ben"), reason="a hole", seen="cut")
    assert stored() == Standing("sew")


def test_a_stale_page_undoes_nothing(ana):
    first = record(CODE, "done", "cut", ana)
    record(CODE, "done", "sew", ana)
    with pytest.raises(MovedOnError):
        record(CODE, "undo", "cut", make_person("ben"), undoes=first.pk)
    assert stored() == Standing("finish")


def test_undo_adds_an_event_and_restores_what_was_before(ana):
    done_until("finish", ana)
    record(CODE, "send_back", "sew", ana, reason="wavy hem")
    record(CODE, "start", "sew", ana)
    record(CODE, "done", "sew", ana)
    record(CODE, "undo", "sew", ana)
    assert stored() == replayed() == Standing("sew", in_work=True, mend_reason="wavy hem")
    assert StageEvent.objects.filter(kind="undone").count() == 1


def test_undoing_everything_returns_to_the_start(ana):
    done_until("hand_over", ana)
    for stage in ("finish", "sew", "cut"):
        record(CODE, "undo", stage, ana)
    assert stored() == replayed() == Standing()
    with pytest.raises(StepRefusedError, match="nothing has happened yet"):
        record(CODE, "undo", "cut", ana)


def test_an_unknown_jacket_is_named(ana):
    with pytest.raises(UnknownJacketError, match="No jacket has the code 'X-1'"):
        record("X-1", "done", "cut", ana)


def test_the_last_jacket_handed_over_closes_the_team_order_and_undo_opens_it_again(ana):
    order = TeamOrder.objects.get()
    done_until(END, ana, "TO-1-01")
    assert not order.amendments.exists()
    done_until(END, ana, "TO-1-02")
    order.refresh_from_db()
    assert order.state == TeamOrder.State.HANDED_OVER
    assert order.amendments.get().words == "all jackets handed over"
    record("TO-1-02", "undo", "hand_over", ana)
    order.refresh_from_db()
    assert order.state == TeamOrder.State.IN_PRODUCTION
    assert order.amendments.count() == 2


def test_a_jacket_brought_back_to_mend_opens_its_team_order_again(ana):
    for code in ("TO-1-01", "TO-1-02"):
        done_until(END, ana, code)
    record("TO-1-01", "send_back", "finish", ana, reason="a loose thread")
    assert TeamOrder.objects.get().state == TeamOrder.State.IN_PRODUCTION
