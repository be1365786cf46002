"""manage.py work: do what the site leaves to a worker."""

from __future__ import annotations

import os
import signal
import sys
import threading
from argparse import ArgumentParser
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from production import tasks
from production.cutting import jobs

#: What was done is remembered for so many days.
KEPT_DAYS = 14


class Command(BaseCommand):
    help = (
        "Looks for better lays whenever a page asks for them, until stopped by Ctrl-C. 'start' runs"
        " one worker itself; more of them, also on other machines, share one PostgreSQL database."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--until-input-ends",
            action="store_true",
            help="stop when standard input is closed, as it is when whoever holds it ends",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not tasks.need_a_worker():
            raise CommandError("JACKET_MUSTER_TASKS names a backend that needs no worker.")
        if options["until_input_ends"]:
            threading.Thread(target=_end_with_input, daemon=True).start()
        jobs.sweep()
        call_command("prune_db_task_results", min_age_days=KEPT_DAYS, verbosity=0)
        call_command(
            "db_worker",
            queue_name="*",
            interval=1,
            startup_delay=False,
            reload=False,
            verbosity=0,
        )


def _end_with_input() -> None:
    # Past sys.stdin, whose lock a waiting thread would still hold when the interpreter ends.
    while os.read(sys.stdin.fileno(), 1024):
        pass
    os.kill(os.getpid(), signal.SIGTERM)
