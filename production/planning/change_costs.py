"""What a change after the freeze costs."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from orders.money import rounded
from production.planning.changes import ChangeCosts
from production.planning.plan import Plan
from production.planning.snapshot import JacketSpec, RunSnapshot, WorkroomSpec
from production.planning.supplies.materials import notion_needs
from production.planning.threads.thread import thread_needs
from production.planning.threads.thread_spools import metre_price


def cost_of_work(minutes: Decimal, workroom: WorkroomSpec) -> ChangeCosts:
    """A change that takes or saves work alone."""
    labor = rounded(minutes / 60 * workroom.labor_per_hour, workroom.currency)
    overhead = rounded(workroom.overhead * labor, workroom.currency)
    none = rounded(Decimal(0), workroom.currency)
    return ChangeCosts(none, none, none, labor, overhead, labor + overhead)


def cost_of_change(
    minutes: Decimal,
    snapshot: RunSnapshot,
    plan: Plan,
    was: tuple[RunSnapshot, JacketSpec] | None,
    *,
    sewn: bool,
) -> ChangeCosts:
    """What a supplement costs: cloth for its tickets, work, and the thread and notions that it
    takes beyond those of the jacket as it `was`. One that is `sewn` already takes all anew, like a
    new one, which has no `was`."""
    work = cost_of_work(minutes, snapshot.workroom)
    anew = sewn or was is None
    notions = _notion_costs(snapshot)
    if was and not anew:
        notions = {
            need: cost
            for need, cost in notions.items()
            if need not in _notion_costs(replace(was[0], jackets=(was[1],)))
        }
    threads = {thread.code: thread for thread in snapshot.threads}
    operations = {operation.code: operation for operation in snapshot.operations}
    thread = sum(
        (
            rounded(
                need.metres * metre_price(operations[need.use], threads[need.thread_color]),
                snapshot.workroom.currency,
            )
            for need in (thread_needs(snapshot) if anew else ())
        ),
        rounded(Decimal(0), snapshot.workroom.currency),
    )
    notion = sum(notions.values(), rounded(Decimal(0), snapshot.workroom.currency))
    fabric = plan.costs.fabric
    total = fabric + thread + notion + work.total
    return ChangeCosts(fabric, thread, notion, work.labor, work.overhead, total)


def _notion_costs(snapshot: RunSnapshot) -> dict[tuple[str, Decimal], Decimal]:
    """Cost of each notion of one jacket, by its ware: a zipper of the same length and color fits
    another size as well."""
    return {
        (priced.need.ware, priced.need.quantity): rounded(
            priced.need.quantity * priced.price, snapshot.workroom.currency
        )
        for priced in notion_needs(snapshot)
    }
