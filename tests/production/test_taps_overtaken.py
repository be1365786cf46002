"""Taps that were made before something else happened to the jacket, and arrive after it."""

from __future__ import annotations

import datetime
import uuid
from typing import Any

import pytest
from django.utils import timezone

from production.models import Jacket, Run, StageEvent, Tap
from production.scanning.taps import TapAsked, tap
from production.tracking import record
from tests.production.run_factories import make_person, make_run

pytestmark = pytest.mark.django_db

CODE = "TO-1-01"


def hours(number: float) -> datetime.timedelta:
    return datetime.timedelta(hours=number)


def ago(number: float) -> datetime.datetime:
    return timezone.now() - hours(number)


@pytest.fixture
def ana():
    make_run(jackets=2)
    Run.objects.update(created_at=timezone.now() - hours(24 * 30))
    return make_person("ana")


def late(made: float, action: str, stage: str = "", **more: Any) -> TapAsked:
    """A tap that was made so many hours ago on a device without a connection."""
    now = timezone.now()
    moments: dict[str, Any] = {"device_at": now - hours(made), "sent_at": now, **more}
    return TapAsked(uuid.uuid4(), "queue", CODE, action, stage, vouch=True, **moments)


def moved(by, *steps: tuple[float, str, str]) -> None:
    for made, action, stage in steps:
        record(CODE, action, stage, by, "loose hem" if action == "send_back" else "", ago(made))


def stage() -> str:
    return Jacket.objects.get(code=CODE).stage


@pytest.mark.parametrize("who", ["ana", "ben"])
def test_the_next_step_of_then_is_not_that_of_now(ana, who):
    """The jacket waited for cutting when it was scanned, and is in work at sewing now."""
    by = ana if who == "ana" else make_person(who)
    moved(ana, (2, "done", "cut"), (1, "start", "sew"))
    kept = tap(late(3, "next"), by)
    assert kept.outcome == "refused" and stage() == "sew"
    assert StageEvent.objects.count() == 2 and Tap.objects.get() == kept


def test_the_next_step_of_a_jacket_sent_back_since_is_refused(ana):
    moved(ana, (9, "done", "cut"), (8, "done", "sew"), (1, "send_back", "sew"))
    kept = tap(late(3, "next"), make_person("ben"))
    assert kept.outcome == "refused" and "sent back to sewing" in kept.words and stage() == "sew"


@pytest.mark.parametrize("action", ["done", "start"])
def test_a_stage_is_not_done_anew_by_a_tap_from_before_it_was_sent_back(ana, action):
    moved(ana, (9, "done", "cut"), (5, "done", "sew"), (1, "send_back", "sew"))
    kept = tap(late(6, action, "sew"), make_person("ben"))
    assert kept.outcome == "refused" and "sent back to sewing" in kept.words
    assert Jacket.objects.get(code=CODE).mend_reason == "loose hem"
    assert StageEvent.objects.count() == 3


def test_what_was_mended_after_it_was_sent_back_counts(ana):
    moved(ana, (9, "done", "cut"), (5, "done", "sew"), (3, "send_back", "sew"))
    kept = tap(late(1, "done", "sew"), make_person("ben"))
    assert kept.outcome == "recorded" and stage() == "finish"


def test_a_page_from_before_it_was_sent_back_does_not_mend_it(client, ana):
    """Opened at sewing, and left open while the jacket went on and came back."""
    moved(ana, (9, "done", "cut"))
    client.force_login(make_person("ben"))
    page = client.get(f"/j/{CODE}/").content.decode()
    shown = StageEvent.objects.get().pk
    assert f'name="after" value="{shown}"' in page
    moved(ana, (5, "done", "sew"), (1, "send_back", "sew"))
    step = {"action": "done", "stage": "sew", "after": shown}
    answer = client.post(f"/j/{CODE}/record/", step, follow=True).content.decode()
    assert "already moved on by ana" in answer and stage() == "sew"
    again = client.get(f"/j/{CODE}/").content.decode()
    assert f'name="after" value="{StageEvent.objects.latest("pk").pk}"' in again
    client.post(f"/j/{CODE}/record/", step | {"after": StageEvent.objects.latest("pk").pk})
    assert stage() == "finish"


def test_two_faults_found_at_once_do_not_hide_one_another(ana):
    moved(ana, (9, "done", "cut"), (5, "done", "sew"))
    shown = StageEvent.objects.latest("pk").pk
    for who, reason in (("ben", "a hole"), ("cy", "loose hem")):
        asked = TapAsked(
            uuid.uuid4(), "page", CODE, "send_back", "finish", reason, "finish", after=shown
        )
        kept = tap(asked, make_person(who))
    assert kept.outcome == "refused" and "a hole" in kept.words
    assert Jacket.objects.get(code=CODE).mend_reason == "a hole"


def test_what_one_sent_back_and_mended_without_a_connection_comes_in_order(ana):
    moved(ana, (9, "done", "cut"), (5, "done", "sew"))
    shown = StageEvent.objects.latest("pk").pk
    steps = (
        late(3, "send_back", "sew", reason="loose hem", seen="finish", after=shown),
        late(2, "done", "sew", after=shown),
    )
    assert [tap(each, ana).outcome for each in steps] == ["recorded", "recorded"]
    assert stage() == "finish"


@pytest.mark.parametrize("made", [-1, 24 * 8])
def test_a_clock_that_jumped_meanwhile_makes_no_next_step(ana, made):
    assert tap(late(made, "next"), ana).outcome == "recorded", "it can only be the first one"
    StageEvent.objects.update(at=ago(1))
    kept = tap(late(made, "next"), ana)
    assert kept.outcome == "refused" and "clock of this device was changed" in kept.words
    assert stage() == "sew"
    assert tap(late(made, "done", "sew"), ana).outcome == "recorded", "a step by its name counts"
