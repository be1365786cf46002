"""manage.py start: prepare everything and serve the site."""

from __future__ import annotations

import datetime
import socket
import subprocess
import sys
import threading
import time
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from patterns.services import install_shipped
from production import tasks
from production.models import FloorPlan
from production.scenario.demo import DEMO_PASSWORD, DEMO_PEOPLE, database_is_empty, make_demo
from production.stages.check_points import install_check_points

#: A worker that ended is followed by another after so long.
REST_SECONDS = 2.0
#: So often is looked whether a new day has begun.
LOOK_SECONDS = 300.0


class Command(BaseCommand):
    help = (
        "Prepares the database, loads the demo into an empty one, prints the address and the demo"
        " log-in, and serves the site until stopped by Ctrl-C. One worker beside it looks for lays;"
        " once a day the days are planned anew (look_ahead)."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="port to serve on (8000)")
        parser.add_argument(
            "--host",
            default="127.0.0.1",
            help="address to serve on; 0.0.0.0 lets phones in the workroom scan the tags"
            " (also name the machine in JACKET_MUSTER_HOSTS)",
        )
        parser.add_argument(
            "--no-demo", action="store_true", help="leave an empty database without the demo"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        host, port = options["host"], options["port"]
        _refuse_taken_port(host, port)
        call_command("migrate", verbosity=0, interactive=False)
        call_command("collectstatic", verbosity=0, interactive=False)
        if database_is_empty() and not options["no_demo"]:
            make_demo()
        install_shipped()
        install_check_points()
        call_command("erase_expired", stdout=self.stdout)
        self._say_how_to_enter(host, port)
        _serve(host, port)

    def _say_how_to_enter(self, host: str, port: int) -> None:
        shown = "localhost" if host in {"127.0.0.1", "0.0.0.0"} else host
        self.stdout.write(f"Jacket Muster is at http://{shown}:{port}/  (Ctrl-C stops it)")
        demo_people = [
            person.username
            for person in User.objects.filter(username__in=DEMO_PEOPLE).order_by("-username")
            if person.check_password(DEMO_PASSWORD)
        ]
        if demo_people:
            self.stdout.write(f"Demo log-in: {' or '.join(demo_people)}, password {DEMO_PASSWORD}")
            if host != "127.0.0.1":
                self.stderr.write(
                    "The demo log-ins can be used by everyone who reaches this address;"
                    " change them by 'manage.py changepassword NAME' before real orders."
                )
        elif not User.objects.exists():
            self.stdout.write("No one can log in yet: manage.py add_person NAME --role maker")
        self.stdout.flush()


def _refuse_taken_port(host: str, port: int) -> None:
    if not 0 < port < 65536:
        raise CommandError(f"Port {port} does not exist; choose one from 1 to 65535.")
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise CommandError(
                f"Cannot serve on {host} port {port}: {error.strerror}. Choose another with --port."
            ) from error


def _serve(host: str, port: int) -> None:
    from gunicorn.app.base import BaseApplication

    from orders.site.wsgi import application

    class Server(BaseApplication):
        def load_config(self) -> None:
            # One process with threads: SQLite has one writer, and the caches are shared.
            for name, value in {
                "bind": f"{host}:{port}",
                "workers": 1,
                "threads": 8,
                "worker_class": "gthread",
                "timeout": 120,
                "loglevel": "warning",
                "control_socket_disable": True,
                "post_worker_init": _begin_beside,
            }.items():
                self.cfg.set(name, value)

        def load(self) -> Any:
            return application

    Server().run()


def _begin_beside(server: Any) -> None:
    _work_beside(server)
    threading.Thread(target=_look_ahead_daily, daemon=True).start()


def _work_beside(server: Any) -> None:
    """Keep a worker as a child of the process that serves, where nobody else waits for children."""
    if tasks.need_a_worker():
        threading.Thread(target=_keep_working, daemon=True).start()


def _keep_working() -> None:
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "work", "--until-input-ends"]
    while True:
        # Its input closes when this process ends, however it ends; a session of its own keeps the
        # terminal's Ctrl-C from reaching it first.
        with subprocess.Popen(command, stdin=subprocess.PIPE, start_new_session=True) as worker:
            worker.wait()
        time.sleep(REST_SECONDS)


def _look_ahead_daily() -> None:
    """Plan the days anew once a day from where the jackets stand, also when the site runs on over
    night; at once where no plan of today is there."""
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "look_ahead"]
    looked_on = _last_planned_on()
    while True:
        if looked_on != (today := timezone.localdate()):
            looked_on = today
            subprocess.run(command, stdout=subprocess.DEVNULL, start_new_session=True)
        time.sleep(LOOK_SECONDS)


def _last_planned_on() -> datetime.date | None:
    try:
        return FloorPlan.objects.values_list("begins_on", flat=True).first()
    finally:
        connection.close()
