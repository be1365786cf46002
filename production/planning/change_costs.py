"""What a change after the freeze costs."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from production.planning.changes import ChangeCosts
from production.planning.costs import rounded
from production.planning.materials import notion_needs
from production.planning.plan import Plan
from production.planning.snapshot import JacketSpec, RunSnapshot, WorkroomSpec
from production.planning.thread import thread_needs


def cost_of_work(minutes: Decimal, workroom: WorkroomSpec) -> ChangeCosts:
    """A change that takes or saves work alone."""
    labor = rounded(minutes / 60 * workroom.labor_per_hour)
    overhead = rounded(workroom.overhead * labor)
    none = Decimal("0.00")
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
    spools = {thread.code: thread for thread in snapshot.threads}
    thread = sum(
        (
            rounded(
                need.metres
                * spools[need.thread_color].price_per_spool
                / spools[need.thread_color].spool_m
            )
            for need in (thread_needs(snapshot) if anew else ())
        ),
        Decimal("0.00"),
    )
    notion = sum(notions.values(), Decimal("0.00"))
    fabric = plan.costs.fabric
    total = fabric + thread + notion + work.total
    return ChangeCosts(fabric, thread, notion, work.labor, work.overhead, total)


def _notion_costs(snapshot: RunSnapshot) -> dict[tuple[str, str, Decimal], Decimal]:
    """Cost of each notion of one jacket. The size is left out: a zipper of the same length and
    color fits both."""
    return {
        (priced.need.item, priced.need.color, priced.need.quantity): rounded(
            priced.need.quantity * priced.price
        )
        for priced in notion_needs(snapshot)
    }
