"""Whole spools and cones for the thread that is needed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from production.planning.plan import ThreadNeed
from production.planning.snapshot import OperationSpec, RunSnapshot, ThreadSpec
from production.planning.supplies.wares import WareNeed
from production.planning.threads.thread_stitches import stitch_of

SPOOL, CONE = "spool", "cone"


@dataclass(frozen=True, slots=True)
class SpoolNeed:
    """The thread of one color over the whole run, and the spools and cones of it that are to be
    there."""

    thread_color: str
    metres: Decimal
    spools: int
    cones: int = 0


@dataclass(frozen=True, slots=True)
class ThreadPrice:
    """Spools or cones of one thread, at the price of one."""

    thread_color: str
    name: str
    unit: str
    quantity: int
    price: Decimal


def spools_at_once(operation: OperationSpec) -> int:
    """How many spools or cones of one color stand on the machine for the operation."""
    return stitch_of(operation.stitch_type).spools_at_once * operation.rows


def takes_cones(operation: OperationSpec, thread: ThreadSpec) -> bool:
    """Whether the operation sews this thread from cones; it takes spools where none are sold."""
    return operation.takes_cones and thread.cone_m is not None


def spool_needs(snapshot: RunSnapshot, needs: Iterable[ThreadNeed]) -> tuple[SpoolNeed, ...]:
    """Spools and cones by thread color, colors in the order of the needs.

    Work on one machine is sewn from the same spools, and every machine has its own: as many as hold
    its metres, and never fewer than stand on it at once. Cones are counted in the same way beside
    the spools.
    """
    operations = {operation.code: operation for operation in snapshot.operations}
    threads = {thread.code: thread for thread in snapshot.threads}
    stands: dict[str, dict[tuple[str, bool], list[ThreadNeed]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for need in needs:
        operation = operations[need.use]
        on_cones = takes_cones(operation, threads[need.thread_color])
        stands[need.thread_color][operation.machine, on_cones].append(need)
    return tuple(
        _spool_need(threads[color], machines, operations) for color, machines in stands.items()
    )


def _spool_need(
    thread: ThreadSpec,
    machines: Mapping[tuple[str, bool], list[ThreadNeed]],
    operations: Mapping[str, OperationSpec],
) -> SpoolNeed:
    counts = {False: 0, True: 0}
    whole = Decimal(0)
    for (_, on_cones), some in machines.items():
        metres = sum((need.metres for need in some), Decimal(0))
        at_once = max(spools_at_once(operations[need.use]) for need in some)
        counts[on_cones] += max(wound(metres, holds_m(thread, on_cones=on_cones)), at_once)
        whole += metres
    return SpoolNeed(thread.code, whole, counts[False], counts[True])


def holds_m(thread: ThreadSpec, *, on_cones: bool) -> int:
    """Metres on one cone, or on one spool."""
    return thread.cone_m if on_cones and thread.cone_m else thread.spool_m


def wound(metres: Decimal, holds_m: int) -> int:
    """How many spools or cones hold so many metres."""
    return int((metres / holds_m).to_integral_value(ROUND_CEILING))


def thread_wares(snapshot: RunSnapshot, needs: Iterable[ThreadNeed]) -> tuple[WareNeed, ...]:
    """Whole spools and cones to have, by the key of the ware."""
    return tuple(
        WareNeed(
            f"thread:{price.thread_color}:{price.unit}",
            f"thread {price.name}, {price.unit}",
            price.unit,
            Decimal(price.quantity),
            color=price.thread_color,
        )
        for price in thread_prices(snapshot, needs)
    )


def thread_prices(snapshot: RunSnapshot, needs: Iterable[ThreadNeed]) -> tuple[ThreadPrice, ...]:
    """The spools and the cones of each color with their price, colors in the order of the needs."""
    threads = {thread.code: thread for thread in snapshot.threads}
    bought = [
        (threads[need.thread_color], unit, quantity)
        for need in spool_needs(snapshot, needs)
        for unit, quantity in ((SPOOL, need.spools), (CONE, need.cones))
    ]
    return tuple(
        ThreadPrice(thread.code, thread.name, unit, quantity, price_of(thread, unit))
        for thread, unit, quantity in bought
        if quantity
    )


def price_of(thread: ThreadSpec, unit: str) -> Decimal:
    """The price of one spool or cone; that of a spool where no cones are sold."""
    cone = thread.price_per_cone if unit == CONE else None
    return thread.price_per_spool if cone is None else cone


def metre_price(operation: OperationSpec, thread: ThreadSpec) -> Decimal:
    """What a metre of the thread costs as the operation takes it, from a spool or a cone."""
    on_cones = takes_cones(operation, thread)
    return price_of(thread, CONE if on_cones else SPOOL) / holds_m(thread, on_cones=on_cones)
