"""Taps that arrive at the same moment, as the site stores them: one truth and a trace of each."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest

from production.models import Jacket, StageEvent, Tap
from production.scanning.taps import TapAsked, tap
from tests.production import test_two_at_once as two
from tests.production.run_factories import make_person, make_run

pytestmark = pytest.mark.django_db(transaction=True)

at_once, own_file = two.at_once, two.own_file


@pytest.fixture
def jackets(own_file: str) -> None:
    make_run(jackets=2)


def cut(code: str = "TO-1-01", action: str = "done") -> TapAsked:
    return TapAsked(uuid.uuid4(), "page", code, action, "cut", vouch=True)


def test_two_phones_on_one_jacket_leave_one_event_and_two_taps(
    jackets: None, at_once: Callable[..., list[Any]]
) -> None:
    ana, bo = make_person("ana"), make_person("bo")
    for action in ("done", "next"):
        code = "TO-1-01" if action == "done" else "TO-1-02"
        told = at_once(
            lambda code=code, action=action: tap(cut(code, action), ana),
            lambda code=code, action=action: tap(cut(code, action), bo),
        )
        assert sorted(each.outcome for each in told) == ["recorded", "refused"]
        [late] = [each for each in told if each.outcome == "refused"]
        [event] = StageEvent.objects.filter(jacket__code=code)
        assert event.by and f"already moved on by {event.by.username}" in late.words
        assert Jacket.objects.get(code=code).stage == "sew"
        assert Tap.objects.filter(jacket__code=code).count() == 2


def test_one_tap_sent_by_two_tabs_at_once_counts_once(
    jackets: None, at_once: Callable[..., list[Any]]
) -> None:
    ana, asked = make_person("ana"), cut()
    one, other = at_once(lambda: tap(asked, ana), lambda: tap(asked, ana))
    assert one == other and one.outcome == "recorded"
    assert (Tap.objects.count(), StageEvent.objects.count()) == (1, 1)
