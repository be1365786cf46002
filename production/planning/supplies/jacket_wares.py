"""What one jacket takes of each ware when it is sewn: thread, zipper, elastic, notions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from production.planning.snapshot import JacketSpec, RunSnapshot
from production.planning.supplies.materials import notion_needs
from production.planning.supplies.shopping import CONE, SPOOL, THREAD_METRE
from production.planning.threads.thread import explained
from production.planning.threads.thread_spools import holds_m, takes_cones


@dataclass(frozen=True, slots=True)
class WareKind:
    """How a ware is told and counted: `holds` is how much of `unit` one of it holds, metres of
    thread on a spool or cone, 1 for everything else."""

    name: str
    unit: str
    holds: Decimal = Decimal(1)


#: How much a jacket takes, by the key of the ware, in the unit of its kind.
Takes = Mapping[str, Decimal]


@dataclass(frozen=True, slots=True)
class JacketWares:
    """What the jackets of a run take, by their codes."""

    takes: Mapping[str, Takes]
    kinds: Mapping[str, WareKind]


def jacket_wares(snapshots: Iterable[RunSnapshot]) -> JacketWares:
    """The wares of each jacket by the last snapshot that knows it: that of the freeze, then those
    of its supplements. Thread is in metres, tails and waste included, on spools or cones as the
    operations take it. Raises PlanError for a jacket that cannot be made from what is sold."""
    takes: dict[str, Takes] = {}
    kinds: dict[str, WareKind] = {}
    for snapshot in snapshots:
        alike: dict[object, Takes] = {}
        for jacket in snapshot.jackets:
            kind = (jacket.size, jacket.blocking, jacket.blocks)
            key = (*kind, jacket.topstitch_thread, jacket.zipper_color)
            if key not in alike:
                alike[key] = _takes(replace(snapshot, jackets=(jacket,)), jacket, kinds)
            takes[jacket.code] = alike[key]
    return JacketWares(takes, kinds)


def _takes(snapshot: RunSnapshot, jacket: JacketSpec, kinds: dict[str, WareKind]) -> Takes:
    """What the one jacket of a snapshot takes; the kinds of it are noted in `kinds`."""
    found: dict[str, Decimal] = defaultdict(Decimal)
    threads = {thread.code: thread for thread in snapshot.threads}
    cut = (jacket.blocking, jacket.size)
    seams = tuple(seam for seam in snapshot.seams if (seam.blocking, seam.size) == cut)
    for line in explained(replace(snapshot, seams=seams)):
        thread = threads[line.thread_color]
        on_cones = takes_cones(line.operation, thread)
        unit = CONE if on_cones else SPOOL
        key = f"thread:{thread.code}:{unit}"
        found[key] += line.whole_mm / 1000
        kinds[key] = WareKind(
            f"thread {thread.name}, {unit}",
            THREAD_METRE,
            Decimal(holds_m(thread, on_cones=on_cones)),
        )
    for priced in notion_needs(snapshot):
        need = priced.need
        found[need.ware] += need.quantity
        name = f"{need.item}, {need.color}" if need.color else need.item
        kinds[need.ware] = WareKind(name, need.unit)
    return dict(found)
