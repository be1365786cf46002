"""Taps and scans: one truth, and a trace of everything that was tapped."""

from __future__ import annotations

import datetime
import json
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from production.models import Jacket, Run, StageEvent, Tap
from production.scanning.codes import read_code
from production.scanning.device_clock import off_words, tap_time
from production.scanning.taps import TapAsked, tap
from production.tracking import record
from tests.production.run_factories import make_person, make_run

pytestmark = pytest.mark.django_db

CODE = "TO-1-01"
NOON = datetime.datetime(2027, 2, 1, 12, tzinfo=datetime.UTC)


def hours(number: float) -> datetime.timedelta:
    return datetime.timedelta(hours=number)


@pytest.fixture
def ana():
    make_run(jackets=3)
    Run.objects.update(created_at=timezone.now() - hours(24 * 30))
    return make_person("ana")


def asked(code: str = CODE, action: str = "done", stage: str = "cut", **more: Any) -> TapAsked:
    values = {"key": uuid.uuid4(), "way": "page", "vouch": True, **more}
    return TapAsked(code=code, action=action, stage=stage, **values)


def stage_of(code: str = CODE) -> str:
    return Jacket.objects.get(code=code).stage


# --- One truth, a trace of both ----------------------------------------------------------------


def test_the_same_key_again_does_nothing_and_gives_the_same_row(ana):
    once = asked()
    first = tap(once, ana)
    record(CODE, "done", "sew", ana)
    assert tap(once, ana) == first
    assert first.outcome == "recorded" and "cutting done" in first.words
    assert (Tap.objects.count(), StageEvent.objects.count()) == (1, 2)


def test_the_same_scan_by_another_key_was_recorded_already(ana):
    first, again = tap(asked(), ana), tap(asked(), ana)
    assert (again.outcome, again.event) == ("repeated", first.event)
    assert "cutting done was recorded already" in again.words and "waits for sewing" in again.words
    assert (Tap.objects.count(), StageEvent.objects.count()) == (2, 1)


def test_of_two_phones_the_second_is_told_who_was_quicker_and_leaves_a_trace(ana):
    tap(asked(), ana)
    second = tap(asked(), make_person("ben"))
    assert second.outcome == "refused" and second.event is None
    assert "already moved on by ana" in second.words and second.jacket.code == CODE
    assert StageEvent.objects.count() == 1 and Tap.objects.count() == 2


@pytest.mark.parametrize(
    ("step", "words"),
    [
        ({"stage": "finish"}, "It waits for cutting; that comes before finishing"),
        ({"action": "dance"}, "'dance' is no step"),
        ({"stage": "dye"}, "'dye' is no stage"),
        ({"action": "undo"}, "names the step that it takes back"),
        ({"action": "send_back", "reason": ""}, "Say what is to be mended"),
        ({"run": "R-0009"}, "TO-1-01 is of run R-0001; this page takes the tags of R-0009"),
    ],
)
def test_what_does_not_fit_is_refused_in_words_and_kept(ana, step, words):
    kept = tap(asked(**step), ana)
    assert kept.outcome == "refused" and words in kept.words and CODE in kept.words
    assert Tap.objects.get() == kept and not StageEvent.objects.exists()


def test_a_cancelled_jacket_is_refused_in_words(ana):
    Jacket.objects.filter(code=CODE).update(cancelled_at=timezone.now())
    for action in ("done", "next"):
        assert "was cancelled" in tap(asked(action=action), ana).words
    assert Tap.objects.filter(outcome="refused", jacket__code=CODE).count() == 2


def test_an_undo_names_its_event_and_a_stale_one_changes_nothing(ana):
    cut = tap(asked(), ana).event
    sewn = tap(asked(stage="sew"), ana).event
    stale = tap(asked(action="undo", stage="cut", undoes=cut.pk), ana)
    assert stale.outcome == "refused" and stage_of() == "finish"
    undone = tap(asked(action="undo", stage="sew", undoes=sewn.pk), ana)
    assert (undone.outcome, undone.action, stage_of()) == ("recorded", "undo", "sew")


# --- The code as it was read -------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "TO-1-01",
        " to-1-01\r\n",
        "\x02TO-1-01\x03",
        "https://muster.example/j/TO-1-01/",
        "HTTPS://MUSTER.EXAMPLE/J/TO-1-01",
        "http://10.0.0.5:8000/j/TO%2D1-01/?from=scan",
    ],
)
def test_a_tag_is_known_however_the_scanner_wrote_it(ana, text):
    assert read_code(text).casefold() == "to-1-01"
    kept = tap(asked(text), ana)
    assert kept.outcome == "recorded" and kept.jacket.code == CODE


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("X-1", "No jacket has the code 'X-1'"),
        ("", "Nothing was read"),
        ("x" * 60_000, "No jacket has the code 'xxx"),  # more than SQLite compares
        ("https://h/runs/R-0001/tickets/R-0001-T1/report/", "This is a cut ticket, R-0001-T1"),
        ("r-0001-t1", "This is a cut ticket, R-0001-T1"),
        ("TOß1ß01", "keyboard of this device"),
        ("http://[broken/j/TO-1-01/", "No jacket has the code"),
        ("\ud800\0", "Nothing was read"),
    ],
)
def test_what_is_no_tag_is_named_and_kept(ana, text, words):
    kept = tap(asked(text), ana)
    assert kept.outcome == "unknown" and kept.jacket is None and words in kept.words
    assert Tap.objects.get() == kept


def test_codes_that_differ_in_case_alone_are_not_guessed(ana):
    Jacket.objects.filter(code="TO-1-02").update(code="to-1-01")
    assert tap(asked("to-1-01"), ana).jacket.code == "to-1-01"
    assert "can be" in tap(asked("To-1-01"), ana).words


# --- A wrong clock -----------------------------------------------------------------------------


@pytest.mark.parametrize("off", [hours(0), hours(-24 * 3650), hours(24 * 400), hours(1) / 2])
def test_a_tap_is_dated_by_its_age_however_wrong_the_clock_is(off):
    time = tap_time(NOON + off - hours(5), NOON + off, NOON, NOON - hours(24))
    assert time.at == NOON - hours(5)
    assert time.off_seconds == off.total_seconds()
    assert bool(off_words(time.off_seconds)) == (off != hours(0))


@pytest.mark.parametrize("age", [hours(-1), hours(24 * 7 + 1), hours(0)])
def test_an_age_that_cannot_be_counts_as_now(age):
    assert tap_time(NOON - age, NOON, NOON, NOON - hours(24)).at == NOON


def test_two_minutes_off_are_not_told_three_are():
    assert off_words(-120) == off_words(None) == ""
    assert off_words(-180).startswith("The clock of this device is 3 minutes behind")


def test_a_tap_from_the_queue_is_dated_when_it_was_made(ana):
    now = timezone.now()
    clock = now + hours(3)
    kept = tap(asked(device_at=clock - hours(2), sent_at=clock, way="queue"), ana)
    assert abs(kept.event.at - (now - hours(2))) < hours(0.01)
    assert kept.at == kept.event.at and abs(kept.clock_off_seconds - 3 * 3600) < 30
    assert kept.device_at == clock - hours(2) and "180" not in kept.words
    assert "The clock of this device is 3 hours ahead; the right time was noted" in kept.words


def test_no_tap_is_dated_before_the_last_event_or_the_run(ana):
    now = timezone.now()
    Run.objects.update(created_at=now - hours(10))
    first = tap(asked(device_at=now - hours(48), sent_at=now), ana)
    assert first.event.at == Run.objects.get().created_at
    record(CODE, "start", "sew", ana, at=now - hours(1))
    later = tap(asked(stage="sew", device_at=now - hours(3), sent_at=now), ana)
    assert later.outcome == "recorded" and later.event.at == now - hours(1)


# --- The next step of each ---------------------------------------------------------------------


def test_the_next_step_is_the_stage_where_the_jacket_stands(ana):
    record(CODE, "done", "cut", ana, at=timezone.now() - hours(1))
    record(CODE, "start", "sew", ana)
    kept = tap(asked(action="next", stage=""), ana)
    assert (kept.action, kept.stage, stage_of()) == ("done", "sew", "finish")


def test_a_tag_scanned_twice_is_not_moved_on_twice(ana):
    first = tap(asked(action="next", stage=""), ana)
    again = tap(asked(action="next", stage=""), ana)
    other = tap(asked(action="next", stage=""), make_person("ben"))
    assert [first.outcome, again.outcome, other.outcome] == ["recorded", "repeated", "refused"]
    assert "moved on by ana" in other.words and stage_of() == "sew"


def test_after_an_undo_the_next_step_can_be_scanned_at_once(ana):
    first = tap(asked(action="next", stage=""), ana)
    tap(asked(action="undo", undoes=first.event_id), ana)
    again = tap(asked(action="next", stage="", same_as=first.key), ana)
    assert again.outcome == "recorded" and stage_of() == "sew"


def test_the_same_scan_of_one_list_is_the_same_scan_hours_later(ana):
    now = timezone.now()
    ages = [hours(5), hours(2)]
    first, again = (
        asked(action="next", stage="", device_at=now - age, sent_at=now) for age in ages
    )
    again = asked(
        key=again.key, action="next", device_at=again.device_at, sent_at=now, same_as=first.key
    )
    assert [tap(each, ana).outcome for each in (first, again)] == ["recorded", "repeated"]
    assert stage_of() == "sew"


def test_the_next_step_hands_nothing_over_in_passing(ana):
    for stage in ("cut", "sew", "finish"):
        record(CODE, "done", stage, ana, at=timezone.now() - hours(1))
    assert "not done in passing" in tap(asked(action="next", stage=""), ana).words
    assert tap(asked(stage="hand_over"), ana).outcome == "recorded"
    assert "handed over" in tap(asked(action="next", stage=""), ana).words


# --- The list that a device sends --------------------------------------------------------------


def send(client: Client, user_pk: int, taps: Any, **more: Any):
    body = {"user": user_pk, "sent_at": timezone.now().isoformat(), "taps": taps, **more}
    return client.post(reverse("production:taps"), json.dumps(body), "application/json")


def listed(code: str = CODE, **more: Any) -> dict[str, Any]:
    return {
        "key": str(uuid.uuid4()),
        "way": "queue",
        "code": code,
        "action": "done",
        "stage": "cut",
        "vouch": "1",
        "device_at": timezone.now().isoformat(),
        **more,
    }


def test_a_list_is_answered_in_order_and_once(client, ana):
    client.force_login(ana)
    taps = [listed(), listed(stage="sew"), listed("X-1"), listed("TO-1-02", action="start")]
    first = send(client, ana.pk, taps).json()["taps"]
    assert [each["outcome"] for each in first] == ["recorded", "recorded", "unknown", "recorded"]
    assert [each["key"] for each in first] == [each["key"] for each in taps]
    assert first[1]["stands"] == "waits for finishing" and first[1]["size"] == "S"
    assert first[3]["stands"] == "is in work: cutting" and first[3]["event"]
    again = send(client, ana.pk, taps).json()["taps"]
    assert [each["words"] for each in again] == [each["words"] for each in first]
    assert StageEvent.objects.count() == 3 and Tap.objects.count() == 4


def test_a_tap_that_cannot_be_read_is_refused_alone(client, ana):
    client.force_login(ana)
    taps = [
        listed(undoes="x", action="undo"),
        listed(key="no key"),
        listed(code={"a": 1}),
        listed(reason="\ud800", action="send_back"),
        listed("TO-1-02"),
    ]
    answers = send(client, ana.pk, taps).json()["taps"]
    expected = ["refused", "refused", "unknown", "refused", "recorded"]
    assert [each["outcome"] for each in answers] == expected
    assert all(each["words"] for each in answers)
    assert Tap.objects.count() == 4  # one without a key cannot be told from another


@pytest.mark.parametrize(
    "at", ["nonsense", "2027-02-30T10:00:00Z", 5, None, "9999-12-31T23:59:59-12:00"]
)
def test_a_moment_that_cannot_be_counts_as_now(client, ana, at):
    client.force_login(ana)
    before = timezone.now()
    send(client, ana.pk, [listed(device_at=at)])
    assert Tap.objects.get().at >= before and Tap.objects.get().clock_off_seconds is None


@pytest.mark.parametrize("body", ["", "[]", '{"taps": 3}', '{"taps": [3]}', "[" * 100_000])
def test_what_is_no_list_is_turned_away_in_words(client, ana, body):
    client.force_login(ana)
    response = client.post(reverse("production:taps"), body, "application/json")
    assert response.status_code == 400 and "no list of taps" in response.json()["words"]


def test_too_long_a_list_is_turned_away_whole(client, ana):
    client.force_login(ana)
    response = send(client, ana.pk, [listed() for _ in range(201)])
    assert response.status_code == 400 and "at most 200" in response.json()["words"]
    assert not Tap.objects.exists()


def test_who_is_not_logged_in_is_told_so_and_nothing_is_taken(client, ana):
    response = send(client, ana.pk, [listed()])
    assert response.status_code == 401 and response.json()["log_in"].startswith("/log-in/")
    assert not Tap.objects.exists()


def test_taps_of_another_person_are_not_taken(client, ana):
    client.force_login(make_person("ben"))
    assert send(client, ana.pk, [listed()]).status_code == 409
    assert not Tap.objects.exists()


def test_a_list_from_another_site_is_turned_away(ana):
    client = Client(enforce_csrf_checks=True)
    client.force_login(ana)
    assert send(client, ana.pk, [listed()]).status_code == 403
    assert not Tap.objects.exists()


def test_the_next_page_tells_what_a_page_asked_to_be_told(client, ana):
    client.force_login(ana)
    send(client, ana.pk, [listed()], tell=True)
    page = client.get(reverse("production:scan")).content.decode()
    assert "TO-1-01: cutting done, recorded at" in page


# --- The jacket's own page ---------------------------------------------------------------------


def test_a_form_that_arrives_twice_counts_once_but_another_button_of_it_counts(client, ana):
    client.force_login(ana)
    page = {"tap_key": str(uuid.uuid4()), "stage": "cut"}
    address = reverse("production:record", args=[CODE])
    for step in ({"action": "start"}, {"action": "start"}, {"action": "done", "vouch": "1"}):
        client.post(address, page | step)
    assert list(StageEvent.objects.values_list("kind", flat=True)) == ["started", "done"]
    assert Tap.objects.count() == 2


def test_a_refused_tap_of_the_page_leaves_a_trace(client, ana):
    client.force_login(ana)
    step = {"action": "done", "stage": "finish"}
    page = client.post(reverse("production:record", args=[CODE]), step, follow=True)
    assert "comes before finishing" in page.content.decode()
    assert Tap.objects.get().outcome == "refused"
