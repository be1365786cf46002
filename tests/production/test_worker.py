"""The worker beside the site: it follows one that died, and ends with whoever started it."""

from __future__ import annotations

import datetime
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from django.conf import settings as site_settings
from django.core.management import CommandError, call_command

from production.management.commands import start

MANAGE = [sys.executable, str(site_settings.BASE_DIR / "manage.py")]


def test_a_worker_ends_when_its_input_does(tmp_path: Path):
    environment = {**os.environ, "JACKET_MUSTER_DATA": str(tmp_path)}
    environment.pop("DATABASE_URL", None)
    subprocess.run([*MANAGE, "migrate", "-v0"], env=environment, check=True, timeout=120)
    worker = subprocess.Popen(
        [*MANAGE, "work", "--until-input-ends"],
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    with pytest.raises(subprocess.TimeoutExpired):
        worker.wait(3)
    said, _ = worker.communicate(timeout=60)  # closes its input
    assert (worker.returncode, said) == (0, b"")


def test_a_worker_that_died_is_followed_by_another(monkeypatch):
    started = []

    class Worker:
        def __init__(self, command, stdin, start_new_session):
            if len(started) == 3:
                raise InterruptedError
            started.append((command[2:], stdin == subprocess.PIPE, start_new_session))

        def __enter__(self):
            return self

        def __exit__(self, *error):
            return None

        def wait(self):
            return -9

    monkeypatch.setattr(subprocess, "Popen", Worker)
    monkeypatch.setattr(start, "REST_SECONDS", 0)
    with pytest.raises(InterruptedError):
        start._keep_working()
    assert started == [(["work", "--until-input-ends"], True, True)] * 3


def test_tasks_that_are_done_at_once_need_no_worker(settings, monkeypatch):
    settings.TASKS = {
        "default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend", "QUEUES": []}
    }
    with pytest.raises(CommandError, match="needs no worker"):
        call_command("work")
    before = threading.active_count()
    start._work_beside(None)
    assert threading.active_count() == before


def test_a_new_day_is_looked_ahead_once(monkeypatch):
    days = [datetime.date(2027, 1, 4)] * 2 + [datetime.date(2027, 1, 5)] * 2
    ran, slept = [], []

    def sleep(seconds):
        slept.append(seconds)
        if not days:
            raise InterruptedError

    monkeypatch.setattr(start, "_last_planned_on", lambda: datetime.date(2027, 1, 4))
    monkeypatch.setattr(start.timezone, "localdate", lambda: days.pop(0))
    monkeypatch.setattr(start.time, "sleep", sleep)
    monkeypatch.setattr(subprocess, "run", lambda command, **_: ran.append(command[2:]))
    with pytest.raises(InterruptedError):
        start._look_ahead_daily()
    assert ran == [["look_ahead"]] and len(slept) == 4
