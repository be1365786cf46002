"""How long a run takes to explode and plan, beside a bare count of the same pieces.

    python -m tests.benchmarks.run_speed [JACKETS …]

Prints one line for each number of jackets: exploding, its baseline (one Counter update per piece,
nothing checked, nothing sorted), planning with all checks, storing, and peak memory. Page times
follow for the largest run. Works in a database in memory; touches no data.
"""

from __future__ import annotations

import os
import resource
import sys
import time
from collections import Counter
from collections.abc import Callable
from functools import partial
from typing import Any

DEFAULT = (38, 200, 2000)


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    begun = time.perf_counter()
    result = work()
    return time.perf_counter() - begun, result


def prepare() -> None:
    os.environ["DATABASE_URL"] = "sqlite://:memory:"
    os.environ["JACKET_MUSTER_STATIC"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "orders.site.settings")
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    from patterns.services import install_shipped

    install_shipped()


def make_order(jackets: int) -> Any:
    import datetime

    from django.utils import timezone

    from orders.models import Club, Colorway, ColorwayBlock, JacketOrder, TeamOrder
    from patterns.models import Blocking, FabricColor, PatternSize

    order = TeamOrder.objects.create(
        code=f"B-{jackets}",
        club=Club.objects.create(name=f"Club of {jackets}"),
        title="Benchmark",
        deadline=timezone.localdate() + datetime.timedelta(days=400),
    )
    colors = list(FabricColor.objects.all())
    order.palette.set(colors)
    colorways = []
    for blocking in Blocking.objects.all():
        for shift in range(2):
            colorway = Colorway.objects.create(
                team_order=order,
                name=f"{blocking.name} {shift}",
                blocking=blocking,
                zipper_color=colors[shift].code,
            )
            ColorwayBlock.objects.bulk_create(
                ColorwayBlock(
                    colorway=colorway,
                    block=block,
                    fabric_color=colors[(place + shift) % len(colors)],
                )
                for place, block in enumerate(blocking.blocks.all())
            )
            colorways.append(colorway)
    sizes = list(PatternSize.objects.all())
    JacketOrder.objects.bulk_create(
        JacketOrder(
            team_order=order,
            member=f"Member {number}",
            size=sizes[number % len(sizes)],
            colorway=colorways[number % len(colorways)],
        )
        for number in range(jackets)
    )
    return order


def bare_count(snapshot: Any) -> Counter[tuple[str, str, str, str]]:
    pairing = {(shape.block, shape.size): shape.pairing for shape in snapshot.shapes}
    counts: Counter[tuple[str, str, str, str]] = Counter()
    for jacket in snapshot.jackets:
        for block, color in jacket.blocks:
            sides = ("left", "right") if pairing[block, jacket.size] == "pair" else ("single",)
            for side in sides:
                counts[color, block, jacket.size, side] += 1
    return counts


def measure(jackets: int) -> Any:
    from django.utils import timezone

    from production.planning.explode import cut_ticket_lines, explode
    from production.planning.planner import plan_run
    from production.services import plan_run_for
    from production.snapshots import take_snapshot

    order = make_order(jackets)
    reading_s, snapshot = timed(
        lambda: take_snapshot(run="R-0", team_orders=[order], planned_on=timezone.localdate())
    )
    explode_s, _ = timed(lambda: cut_ticket_lines(explode(snapshot), snapshot))
    bare_s, _ = timed(lambda: bare_count(snapshot))
    plan_s, planned = timed(lambda: plan_run(snapshot))
    held = all(check.holds for check in planned.plan.checks)
    whole_s, run = timed(lambda: plan_run_for([order], None))
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{jackets:7d} jackets {len(planned.pieces):7d} pieces: read {reading_s:6.2f} s,"
        f" explode {explode_s * 1000:7.1f} ms (bare count {bare_s * 1000:6.1f} ms),"
        f" plan and check {plan_s:6.2f} s, freeze to stored {whole_s:6.2f} s,"
        f" peak {peak_mb:5.0f} MB, checks {'held' if held else 'BROKEN'}"
    )
    return run


def fetch(client: Any, address: str) -> bytes:
    return b"".join(client.get(address))


def page_times(run: Any) -> None:
    from django.conf import settings
    from django.contrib.auth.models import Group, User
    from django.test import Client
    from django.urls import reverse

    settings.ALLOWED_HOSTS = ["testserver"]
    person = User.objects.create_user("bench")
    person.groups.add(Group.objects.get_or_create(name="maker")[0])
    client = Client()
    client.force_login(person)
    jacket, ticket = run.jackets.first(), run.cut_tickets.first()
    for name, address in {
        "team orders": reverse("home"),
        "team order": run.run_orders.get().team_order.get_absolute_url(),
        "run": run.get_absolute_url(),
        "needs": reverse("production:needs", args=[run.code]),
        "cut ticket": ticket.get_absolute_url(),
        "jacket": jacket.get_absolute_url(),
        "cut tickets PDF": reverse("production:cut_tickets_pdf", args=[run.code]),
        "bundle tags PDF": reverse("production:bundle_tags_pdf", args=[run.code]),
    }.items():
        client.get(address)
        seconds, answer = timed(partial(fetch, client, address))
        print(f"  {name:16s} {seconds * 1000:8.1f} ms {len(answer) / 1024:8.0f} kB")


def main() -> None:
    prepare()
    run = None
    for jackets in [int(word) for word in sys.argv[1:]] or DEFAULT:
        run = measure(jackets)
        if jackets == 200:
            print("pages of the run of 200:")
            page_times(run)


if __name__ == "__main__":
    main()
