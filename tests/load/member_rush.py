"""Two hundred members at the same moment, each tapping twice, against the real server.

    python -m tests.load.member_rush [MEMBERS]

Starts `manage.py start` on a database of its own (SQLite in a new folder, or the empty one named by
DATABASE_URL), opens an order, lets every member load the form and then sends all forms at once,
each twice, over loopback only. Prints what was stored and how long the answers took. The load is
bounded: one form and two taps per member, then it stops by itself.
"""

from __future__ import annotations

import http.client
import json
import os
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.parse
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
TAPS = 2
PREPARE = """
import datetime, json
from django.utils import timezone
from orders.links import address_of, give_out
from orders.models import AccessLink, Club, Colorway, ColorwayBlock, TeamOrder
from patterns.models import Blocking, FabricColor, PatternSize
from patterns.services import install_shipped
install_shipped()
order = TeamOrder.objects.create(code="RUSH", club=Club.objects.create(name="Rush club"),
    title="Jackets", deadline=timezone.localdate() + datetime.timedelta(days=90))
color = FabricColor.objects.all()[0]
order.palette.add(color)
blocking = Blocking.objects.all()[0]
colorway = Colorway.objects.create(team_order=order, name="Plain", blocking=blocking,
    zipper_color=color.code)
ColorwayBlock.objects.bulk_create(
    ColorwayBlock(colorway=colorway, block=block, fabric_color=color)
    for block in blocking.blocks.all())
print(json.dumps({"path": address_of(give_out(order, AccessLink.Kind.MEMBERS)),
    "colorway": colorway.pk, "size": PatternSize.objects.get(code="M").pk}))
"""
COUNT = """
import json
from orders.models import Amendment, JacketOrder
members = list(JacketOrder.objects.values_list("member", flat=True))
print(json.dumps({"stored": len(members), "different": len(set(members)),
    "told": Amendment.objects.filter(team_order__code="RUSH").count()}))
"""


@dataclass(frozen=True, slots=True)
class Rush:
    """What came of it: jackets stored, different members among them, answers that were no
    confirmation, seconds for all, and for one answer (median, longest)."""

    members: int
    stored: int
    different: int
    refused: tuple[str, ...]
    seconds: float
    median_s: float
    longest_s: float


def manage(environment: dict[str, str], *words: str) -> str:
    done = subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
    )
    if done.returncode:
        raise RuntimeError(f"manage.py {words[0]} failed:\n{done.stderr}")
    return done.stdout


def rush(members: int, folder: Path, database_url: str = "") -> Rush:
    environment = {**os.environ, "JACKET_MUSTER_DATA": str(folder)}
    environment.pop("JACKET_MUSTER_STATIC", None)
    environment.pop("DATABASE_URL", None)
    if database_url:
        environment["DATABASE_URL"] = database_url
    manage(environment, "migrate", "-v0")
    prepared = json.loads(manage(environment, "shell", "-v0", "-c", PREPARE))
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = subprocess.Popen(
        [sys.executable, "manage.py", "start", "--no-demo", "--port", str(port)],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        wait_for(port)
        answers, seconds = all_at_once(members, port, prepared)
    finally:
        server.terminate()
        server.wait(20)
    counted = json.loads(manage(environment, "shell", "-v0", "-c", COUNT))
    times = [taken for _, taken in answers]
    return Rush(
        members=members,
        stored=counted["stored"],
        different=counted["different"],
        refused=tuple(words for words, _ in answers if words),
        seconds=seconds,
        median_s=statistics.median(times),
        longest_s=max(times),
    )


def wait_for(port: int) -> None:
    for _ in range(240):
        try:
            ask(port, "GET", "/log-in/")
            return
        except OSError:
            time.sleep(0.25)
    raise RuntimeError("The site did not start within a minute.")


def ask(
    port: int, method: str, path: str, body: str = "", cookie: str = ""
) -> tuple[int, dict[str, str], str]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
    headers = {"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}
    try:
        connection.request(method, path, body, headers)
        answer = connection.getresponse()
        return answer.status, dict(answer.getheaders()), answer.read().decode()
    finally:
        connection.close()


def all_at_once(
    members: int, port: int, prepared: dict[str, str]
) -> tuple[list[tuple[str, float]], float]:
    """(what was wrong or '', seconds) of every tap, and the seconds for all of them."""
    with ThreadPoolExecutor(16) as loading:
        forms = list(loading.map(lambda number: load(port, prepared, number), range(members)))
    ready = threading.Barrier(members * TAPS)

    def tap(form: tuple[str, str]) -> tuple[str, float]:
        body, cookie = form
        ready.wait()
        begun = time.perf_counter()
        status, headers, text = ask(port, "POST", prepared["path"], body, cookie)
        taken = time.perf_counter() - begun
        is_confirmed = status == 302 and "/mine/" in headers.get("Location", "")
        return ("" if is_confirmed else f"{status}: {text[:300]}"), taken

    begun = time.perf_counter()
    with ThreadPoolExecutor(members * TAPS) as tapping:
        answers = list(tapping.map(tap, [form for form in forms for _ in range(TAPS)]))
    return answers, time.perf_counter() - begun


def load(port: int, prepared: dict[str, str], number: int) -> tuple[str, str]:
    status, headers, text = ask(port, "GET", prepared["path"])
    if status != 200:
        raise RuntimeError(f"The form answered {status}.")
    hidden = dict(re.findall(r'name="(csrfmiddlewaretoken|form_key)" value="([^"]+)"', text))
    body = urllib.parse.urlencode(
        {
            **hidden,
            "member": f"Member {number:03d}",
            "size": prepared["size"],
            "colorway": prepared["colorway"],
        }
    )
    return body, headers["Set-Cookie"].split(";")[0]


def main() -> None:
    members = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with tempfile.TemporaryDirectory() as folder:
        database_url = os.environ.get("DATABASE_URL", "")
        result = rush(members, Path(folder), database_url)
    print(
        f"{members} members, {TAPS} taps each, on {'PostgreSQL' if database_url else 'SQLite'}:"
        f" {result.stored} jackets of {result.different} members stored,"
        f" {len(result.refused)} taps refused, {result.seconds:.1f} s for all,"
        f" median {result.median_s:.2f} s, longest {result.longest_s:.2f} s"
    )
    for words in result.refused[:5]:
        print("  refused:", words)


if __name__ == "__main__":
    main()
