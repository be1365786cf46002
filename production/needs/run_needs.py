"""What runs need of wares and cloth as they stand now, and what of it they have had."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import Exists, OuterRef, QuerySet

from production.changing.change_state import Known
from production.models import Jacket, LayPly, Run
from production.planning.cloth.cloth_notes import in_spans
from production.planning.plan import ThreadNeed
from production.planning.snapshot import RunSnapshot
from production.planning.supplies.materials import notion_needs, notion_wares
from production.planning.supplies.shopping import CONE, PIECE, SPOOL, THREAD_METRE, Source, allowed
from production.planning.supplies.wares import WareNeed
from production.planning.threads.thread import thread_needs
from production.planning.threads.thread_spools import takes_cones, thread_wares
from production.stock.wares import Drawn, drawn_by

ZERO = Decimal(0)


def open_runs() -> QuerySet[Run]:
    """Runs of which some jacket is still to be handed over."""
    unfinished = Jacket.objects.filter(run=OuterRef("pk"), cancelled_at=None).exclude(
        stage=Jacket.Stage.HANDED_OVER
    )
    return Run.objects.filter(Exists(unfinished))


def earlier_runs(run: Run) -> QuerySet[Run]:
    """The open runs that come before this one."""
    return open_runs().filter(pk__lt=run.pk).order_by("pk")


# Wares


@dataclass(frozen=True, slots=True)
class Want:
    """A ware that a run needs. `had` is the most that it held of it, `holds` what it has now."""

    key: str
    name: str
    unit: str
    needed: Decimal
    allowance: Decimal
    had: Decimal = ZERO
    holds: Decimal = ZERO
    sources: tuple[Source, ...] = ()

    @property
    def served(self) -> Decimal:
        """What counts as taken. Once all was there, what comes back is a rest and is not asked for
        again; before that the work still waits for it. A piece is never a rest while there are
        fewer than the jackets take: it is that of a jacket that was cancelled, or of one to come.
        """
        is_rest = self.had >= self.needed + self.allowance
        if self.unit == PIECE and self.holds < self.needed:
            is_rest = False
        return self.had if is_rest else self.holds

    @property
    def still(self) -> Decimal:
        """What it has not taken yet, the allowance included."""
        return max(self.needed + self.allowance - self.served, ZERO)


def wares_of(run: Run) -> tuple[Want, ...]:
    """The wares of a run with what it has had of them, those it holds beyond its needs included.

    Raises PlanError where its jackets cannot be made from what is sold.
    """
    needs = RunNeeds.of(run)
    drawn = drawn_by([run.pk]).get(run.pk, {})
    return tuple(needs.wants(drawn))


def reserved_by_earlier(run: Run) -> dict[str, Decimal]:
    """What open runs before this one need and have not taken yet, by the key of the ware."""
    return reserved_for(list(earlier_runs(run)))


def reserved_for(runs: Sequence[Run]) -> dict[str, Decimal]:
    drawn = drawn_by(run.pk for run in runs)
    reserved: Counter[str] = Counter()
    for run in runs:
        for want in RunNeeds.of(run).wants(drawn.get(run.pk, {})):
            reserved[want.key] += want.still  # type: ignore[assignment]  # Counter of decimals
    return {key: Decimal(still) for key, still in reserved.items() if still}


@dataclass(frozen=True, slots=True)
class RunNeeds:
    """The jackets of a run as they are wanted now: those that were never changed with the snapshot
    of the freeze, changed and added ones each with that of their supplement."""

    known: Known
    snapshots: tuple[RunSnapshot, ...]

    @classmethod
    def of(cls, run: Run) -> RunNeeds:
        known = Known.of(run)
        gone = set(run.jackets.exclude(cancelled_at=None).values_list("code", flat=True))
        latest = {
            jacket.code: number
            for number, snapshot in enumerate(known.snapshots)
            for jacket in snapshot.jackets
        }
        standing = (
            replace(
                snapshot,
                jackets=tuple(
                    jacket
                    for jacket in snapshot.jackets
                    if latest[jacket.code] == number and jacket.code not in gone
                ),
            )
            for number, snapshot in enumerate(known.snapshots)
        )
        return cls(known, tuple(snapshot for snapshot in standing if snapshot.jackets))

    @property
    def is_as_frozen(self) -> bool:
        return self.snapshots == (self.known.snapshot,)

    def wants(self, drawn: dict[str, Drawn]) -> Iterator[Want]:
        """What is needed of each ware, and last what the run holds without a need for it."""
        share = self.known.snapshot.workroom.notion_waste
        needs = self._wares()
        for key, (need, sources) in needs.items():
            had = drawn.get(key, Drawn())
            waste = ZERO if need.unit in (SPOOL, CONE) else share
            extra = allowed(need.quantity, ZERO, waste, need.unit)
            yield Want(
                key,
                need.name,
                need.unit,
                need.quantity,
                extra,
                had.served,
                had.holds,
                sources,
            )
        for key, had in drawn.items():
            if had.holds and key not in needs:
                yield Want(key, key, "", ZERO, ZERO, had.served, had.holds)

    def _wares(self) -> dict[str, tuple[WareNeed, tuple[Source, ...]]]:
        found: dict[str, tuple[WareNeed, tuple[Source, ...]]] = {}
        for need, sources in (*self._threads(), *self._notions()):
            if known := found.get(need.ware):
                need = replace(need, quantity=known[0].quantity + need.quantity)
                sources = (*known[1], *sources)
            found[need.ware] = (need, sources)
        return found

    def _threads(self) -> Iterator[tuple[WareNeed, tuple[Source, ...]]]:
        if self.is_as_frozen:
            parts = [(self.known.snapshot, self.known.plan.threads)]
        else:
            parts = [(snapshot, thread_needs(snapshot)) for snapshot in self.snapshots]
        for snapshot, needs in _sewn_together(parts):
            sources = _thread_sources(snapshot, needs)
            for ware in thread_wares(snapshot, needs):
                yield ware, tuple(sources[ware.ware])

    def _notions(self) -> Iterator[tuple[WareNeed, tuple[Source, ...]]]:
        needs = tuple(
            (snapshot, priced) for snapshot in self.snapshots for priced in notion_needs(snapshot)
        )
        sources: dict[str, list[Source]] = defaultdict(list)
        for snapshot, priced in needs:
            need = priced.need
            jackets = [
                jacket.code
                for jacket in snapshot.jackets
                if jacket.size == need.size
                and (not need.ware.startswith("zipper:") or jacket.zipper_color == need.color)
            ]
            what = f"size {need.size}" if need.size else need.item
            sources[need.ware].append(Source(what, need.quantity, need.unit, in_spans(jackets)))
        for ware in notion_wares(tuple(priced for _, priced in needs)):
            yield ware, tuple(sources[ware.ware])


Sewn = tuple[RunSnapshot, tuple[ThreadNeed, ...]]


def _sewn_together(parts: Sequence[Sewn]) -> list[Sewn]:
    """Thread of added and changed jackets comes from the spools of the run, as far as the run knows
    the operation and the thread."""
    if not parts:
        return []
    first = parts[0][0]
    uses = {operation.code for operation in first.operations}
    colors = {thread.code for thread in first.threads}
    joined = list(parts[0][1])
    apart: list[Sewn] = []
    for snapshot, needs in parts[1:]:
        own = [need for need in needs if need.use not in uses or need.thread_color not in colors]
        joined += [need for need in needs if need not in own]
        if own:
            apart.append((snapshot, tuple(own)))
    return [(first, tuple(joined)), *apart]


def _thread_sources(
    snapshot: RunSnapshot, needs: Iterable[ThreadNeed]
) -> defaultdict[str, list[Source]]:
    operations = {operation.code: operation for operation in snapshot.operations}
    threads = {thread.code: thread for thread in snapshot.threads}
    found: defaultdict[str, list[Source]] = defaultdict(list)
    for need in needs:
        operation = operations[need.use]
        cone = takes_cones(operation, threads[need.thread_color])
        what = f"{operation.name}, stitch type {need.stitch_type}"
        key = f"thread:{need.thread_color}:{CONE if cone else SPOOL}"
        found[key].append(Source(what, need.metres, THREAD_METRE))
    return found


# Cloth


@dataclass(frozen=True, slots=True)
class ClothWant:
    """Cloth of one color that the plies of a run take, in mm: what is cut, what is planned on bolts
    and remnants on hand, and what is short, since it fits none of them."""

    color: str
    cut_mm: int = 0
    laid_mm: int = 0
    short_mm: int = 0
    sources: tuple[Source, ...] = ()

    @property
    def needed_mm(self) -> int:
        return self.cut_mm + self.laid_mm + self.short_mm


def cloth_of(run: Run) -> tuple[ClothWant, ...]:
    """Cloth of the tickets of a run, its supplements and recuts, ticket by ticket in their order.
    A ticket whose plies were never stored counts as it was planned."""
    plies: dict[int, list[LayPly]] = defaultdict(list)
    rows = LayPly.objects.filter(lay__ticket__run=run).select_related("lay", "lot")
    for ply in rows.order_by("lay__position", "number"):
        plies[ply.lay.ticket_id].append(ply)
    planned = {ticket["ticket"]: ticket for ticket in run.plan["cut_tickets"]}
    jackets = _jackets_by_ticket(run)
    found: dict[str, ClothWant] = {}
    for ticket in run.cut_tickets.select_related("fabric_color").order_by("position"):
        color, codes = ticket.fabric_color.code, jackets[ticket.pk]
        if plies[ticket.pk]:
            own = _of_plies(color, plies[ticket.pk], codes)
        elif ticket.code in planned:
            plan = planned[ticket.code]
            needed = Decimal(plan["fabric_needed_mm"])
            source = Source(f"ticket {ticket.code} as planned", needed, "mm", codes)
            own = ClothWant(color, 0, plan["from_stock_mm"], plan["to_buy_mm"], (source,))
        else:
            continue
        known = found.get(color, ClothWant(color))
        found[color] = ClothWant(
            color,
            known.cut_mm + own.cut_mm,
            known.laid_mm + own.laid_mm,
            known.short_mm + own.short_mm,
            (*known.sources, *own.sources),
        )
    return tuple(found.values())


def _of_plies(color: str, plies: Sequence[LayPly], jackets: str) -> ClothWant:
    by_lay: dict[str, list[LayPly]] = defaultdict(list)
    for ply in plies:
        by_lay[ply.lay.code].append(ply)
    return ClothWant(
        color,
        sum(ply.takes_mm for ply in plies if ply.cut_at),
        sum(ply.takes_mm for ply in plies if ply.lot and not ply.cut_at),
        sum(ply.takes_mm for ply in plies if not ply.lot),
        tuple(_lay_source(lay, some, jackets) for lay, some in by_lay.items()),
    )


def _lay_source(lay: str, plies: Sequence[LayPly], jackets: str) -> Source:
    lots = dict.fromkeys(ply.lot.code for ply in plies if ply.lot)
    cut, short = sum(bool(ply.cut_at) for ply in plies), sum(not ply.lot for ply in plies)
    words = [f"lay {lay}, {len(plies)} {'ply' if len(plies) == 1 else 'plies'}"]
    if cut:
        words.append(f"{cut} cut")
    if lots:
        words.append(f"from {', '.join(lots)}")
    if short:
        words.append(f"{short} on no bolt yet")
    taken = Decimal(sum(ply.takes_mm for ply in plies))
    return Source(", ".join(words), taken, "mm", jackets)


def _jackets_by_ticket(run: Run) -> dict[int, str]:
    rows = (
        Jacket.objects.filter(run=run, blocks__isnull=False)
        .order_by("pk")
        .values_list("blocks__line__ticket", "code")
        .distinct()
    )
    codes: dict[int, list[str]] = defaultdict(list)
    for ticket, code in rows:
        codes[ticket].append(code)
    return defaultdict(str, {ticket: in_spans(some) for ticket, some in codes.items()})
