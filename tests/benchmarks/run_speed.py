"""How long a run takes to explode and plan, beside a bare count of the same pieces.

    python -m tests.benchmarks.run_speed [JACKETS …]

Prints first how exploding grows from 200 over 2,000 to 20,000 jackets, with its time and memory for
each jacket, its baseline (one Counter update per piece, nothing checked, nothing sorted), and what
plain rows and cut orders take for one fabric color; anything that grows faster than the jackets
shows in its last column. Then one line for each number of jackets: reading, exploding, planning
with all checks, storing, and peak memory. Page times follow for a run of 200. Works in a database
in memory; touches no data.
"""

from __future__ import annotations

import os
import resource
import sys
import time
import tracemalloc
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

DEFAULT = (38, 200, 2000)
GROWTH = (200, 2000, 20000)


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    begun = time.perf_counter()
    result = work()
    return time.perf_counter() - begun, result


def busy(work: Callable[[], Any]) -> float:
    """Seconds of one processor, the least of three: what else the machine does only adds to it."""
    found = []
    for _ in range(3):
        begun = time.process_time()
        work()
        found.append(time.process_time() - begun)
    return min(found)


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


def snapshot_of(order: Any) -> Any:
    from django.utils import timezone

    from production.snapshots import take_snapshot

    return take_snapshot(run="R-0", team_orders=[order], planned_on=timezone.localdate())


def grown(snapshot: Any, jackets: int) -> Any:
    """The same run with so many jackets, which repeat those that it has."""
    known = snapshot.jackets
    return replace(
        snapshot,
        bolts=(),
        jackets=tuple(
            replace(known[number % len(known)], code=f"G-{number:05d}") for number in range(jackets)
        ),
    )


def exploded(run: Any) -> Any:
    from production.planning.explode import cut_ticket_lines, explode

    return cut_ticket_lines(explode(run), run)


def growth(snapshot: Any) -> None:
    print("exploding, and the lays of the fabric color with the most pieces:")
    before: tuple[float, ...] | None = None
    for jackets in GROWTH:
        run = grown(snapshot, jackets)
        explode_s = busy(partial(exploded, run))
        bare_s = busy(partial(bare_count, run))
        tracemalloc.start()
        exploded(run)
        peak_mb = tracemalloc.get_traced_memory()[1] / 2**20
        tracemalloc.stop()
        rows_s, orders_s, lays = lay_times(run)
        now = (explode_s, peak_mb, rows_s)
        times = " ".join(f"x{new / old:4.1f}" for new, old in zip(now, before or now, strict=True))
        print(
            f"{jackets:7d} jackets: explode {explode_s * 1000:8.1f} ms"
            f" ({explode_s / jackets * 1e6:5.1f} us each; bare count {bare_s * 1000:7.1f} ms),"
            f" peak {peak_mb:6.1f} MB ({peak_mb * 1024 / jackets:4.2f} kB each),"
            f" rows {rows_s:6.2f} s, cut orders of four aims {orders_s:5.2f} s in {lays} lays,"
            f" growth of time, memory, rows {times}"
        )
        before = now


def lay_times(run: Any) -> tuple[float, float, int]:
    """Seconds for plain rows and for cut orders of one color, and the lays of least money."""
    from production.planning.cutting.cut_demand import CutDemand, LengthGuess
    from production.planning.cutting.cut_orders import Aim, plan_cut_orders
    from production.planning.cutting.cutting import tickets_to_cut
    from production.planning.cutting.lays import asked
    from production.planning.cutting.row_lays import plan_lays

    ticket = max(tickets_to_cut(run), key=lambda ticket: asked(ticket.lines).total())
    parts = (ticket.lines, ticket.shapes, ticket.fabric, ticket.workroom)
    rows_s, _ = timed(lambda: plan_lays(ticket.ticket, *parts, ticket.price))
    demand = CutDemand(asked(ticket.lines), *parts[1:])
    orders_s, orders = timed(lambda: dict(plan_cut_orders(demand, ticket.price, LengthGuess())))
    return rows_s, orders_s, len(orders[Aim.MONEY].lays)


def measure(jackets: int) -> Any:
    from production.planning.explode import cut_ticket_lines, explode
    from production.planning.planner import plan_run
    from production.services import plan_run_for

    order = make_order(jackets)
    reading_s, snapshot = timed(lambda: snapshot_of(order))
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
    growth(snapshot_of(make_order(GROWTH[0] - 1)))
    run = None
    for jackets in [int(word) for word in sys.argv[1:]] or DEFAULT:
        run = measure(jackets)
        if jackets == 200:
            print("pages of the run of 200:")
            page_times(run)


if __name__ == "__main__":
    main()
