"""What was really cut: lays reported ply by ply, with the cloth that each ply took."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from patterns.models import FabricColor
from production import tracking
from production.errors import MovedOnError, StepRefusedError
from production.models import Jacket, Lay, LayPly, Run, StockLot, StockMovement
from production.reporting.cut_counts import cut_beyond, length_count, stored_plies
from production.reporting.cut_settling import (
    NOTHING_CHANGED,
    CutReportError,
    put_by,
    refuse_counted_on,
    settle_recut,
    take_out,
)
from production.stages.table import ready_jackets
from production.stock import cloth
from production.stock.cloth_upkeep import count_anew

if TYPE_CHECKING:
    from django.contrib.auth.models import User


@dataclass(frozen=True, slots=True)
class Reported:
    """What one tap reported: which plies of which lay, and how many pieces beyond the ticket's were
    put with the spare parts."""

    lay: Lay
    numbers: tuple[int, ...]
    spares: int = 0

    @property
    def words(self) -> str:
        plies = "ply" if len(self.numbers) == 1 else "plies"
        told = f"{self.lay.code}: {plies} {_listed(self.numbers)} cut."
        if self.spares:
            told += f" {self.spares} cut beyond the ticket: put with the spare parts."
        return told


def lock_run(run: int) -> None:
    """Reports, recuts and changes of one run follow one another. Its plan is not loaded."""
    list(Run.objects.select_for_update().filter(pk=run).values_list("pk"))


def find_lay(code: str) -> Lay:
    try:
        return (
            Lay.objects.select_related("ticket__fabric_color__fabric", "ticket__run")
            .defer("ticket__run__snapshot", "ticket__run__plan")
            .get(code=code.strip())
        )
    except Lay.DoesNotExist as error:
        raise CutReportError(f"No lay has the code '{code}'. {NOTHING_CHANGED}") from error


def _locked_lay(code: str) -> Lay:
    """A lay that nobody else reports or replaces until the transaction ends. It is read again once
    its run is locked: another way to cut may have taken its place while this one waited."""
    lock_run(find_lay(code).ticket.run_id)
    return find_lay(code)


@transaction.atomic
def report_cut(
    lay_code: str,
    numbers: Sequence[int] | None,
    by: User | None,
    *,
    lot: str = "",
    new_dye_lot: str = "",
    seen: int | None = None,
) -> Reported:
    """Plies of a lay are cut: those numbered, or all that are not yet. They took the cloth that is
    planned, or that of the bolt `lot`; a bolt that is on no list yet comes in by its dye lot.
    `seen` is the key of the lay as it was shown.

    Raises CutReportError for plies that the lay does not have or without cloth to take from, and
    MovedOnError for one that is cut already, and for a lay that another took the place of.
    """
    lay = _locked_lay(lay_code)
    if seen is not None and seen != lay.pk:
        raise MovedOnError(
            f"{lay.code}: other lays were chosen for {lay.ticket} since this page was opened, and "
            f"the printed ticket is out of date. Look at what lies there. {NOTHING_CHANGED}"
        )
    rows = {row.number: row for row in stored_plies(lay)}
    chosen = _chosen(lay, rows, numbers)
    before = cut_beyond(lay.ticket)
    bolt = _bolt(lay, chosen, lot, new_dye_lot, by)
    now = timezone.now()
    for row in chosen:
        cloth.take_for(row, by, bolt)
        row.cut_at, row.cut_by = now, by
        row.save(update_fields=["cut_at", "cut_by"])
    settle_recut(lay.ticket)
    spares = put_by(lay.ticket, cut_beyond(lay.ticket) - before)
    return Reported(lay, tuple(row.number for row in chosen), spares)


@transaction.atomic
def take_back(lay_code: str, number: int, by: User | None) -> Reported:
    """A ply that was reported by mistake is not cut after all; its cloth goes back to the bolt by a
    movement of its own. Raises CutReportError while something counts on its pieces."""
    lay = _locked_lay(lay_code)
    row = {row.number: row for row in stored_plies(lay)}.get(number)
    if row is None:
        raise CutReportError(_no_ply(lay, number))
    if row.cut_at is None:
        raise MovedOnError(f"{lay.code}: ply {number} is not reported as cut. {NOTHING_CHANGED}")
    refuse_counted_on(lay, row)
    before = cut_beyond(lay.ticket)
    cloth.give_back(row, by)
    row.cut_at = row.cut_by = None
    row.save(update_fields=["cut_at", "cut_by"])
    settle_recut(lay.ticket)
    take_out(lay.ticket, before - cut_beyond(lay.ticket))
    return Reported(lay, (number,))


def _chosen(lay: Lay, rows: dict[int, LayPly], numbers: Sequence[int] | None) -> list[LayPly]:
    if numbers is None:
        left = [row for row in rows.values() if row.cut_at is None]
        if not left:
            raise MovedOnError(
                f"{lay.code}: all plies are reported as cut already. {NOTHING_CHANGED}"
            )
        return left
    for number in numbers:
        if number not in rows:
            raise CutReportError(_no_ply(lay, number))
        if at := rows[number].cut_at:
            who = person(rows[number].cut_by)
            raise MovedOnError(
                f"{lay.code}: ply {number} was already reported as cut by {who} "
                f"{tracking.moment(at)}. {NOTHING_CHANGED}"
            )
    return [rows[number] for number in dict.fromkeys(numbers)]


def _no_ply(lay: Lay, number: int) -> str:
    return (
        f"{lay.code} has no ply {number}: its plies are numbered 1 to {length_count(lay)}. "
        f"{NOTHING_CHANGED}"
    )


def _bolt(
    lay: Lay, plies: Sequence[LayPly], code: str, new_dye_lot: str, by: User | None
) -> StockLot | None:
    """The bolt that was named, where the plies did not come from the planned one."""
    color = lay.ticket.fabric_color
    if new_dye_lot:
        return _found_at_the_table(color, new_dye_lot, sum(row.takes_mm for row in plies), by)
    if code:
        lot = StockLot.objects.filter(code=code).first()
        if lot is None:
            raise CutReportError(f"No bolt has the code '{code}'. {NOTHING_CHANGED}")
        return lot
    if any(row.lot_id is None for row in plies):
        raise CutReportError(
            f"{lay.code}: say which bolt of {color.name} it was cut from. {NOTHING_CHANGED}"
        )
    return None


def _found_at_the_table(
    color: FabricColor, dye_lot: str, takes_mm: int, by: User | None
) -> StockLot:
    """A bolt that is on no list, or on which more lay than the list says."""
    known = cloth.lots_with_lengths().filter(fabric_color=color, dye_lot=dye_lot).last()
    if known:
        left_mm = vars(known)["left_mm"] + takes_mm
        reason = "more was cut from it than the list had"
        return count_anew(known, left_mm=left_mm, reason=reason, by=by).lot
    return cloth.receive(
        code=_free_code(color.code),
        fabric_color=color,
        dye_lot=dye_lot,
        length_mm=takes_mm,
        received_on=timezone.localdate(),
        by=by,
    )


def _free_code(color: str) -> str:
    taken = set(StockLot.objects.values_list("code", flat=True))
    number = 1
    while (code := f"{color[:14]}-{number}") in taken:
        number += 1
    return code


def person(user: User | None) -> str:
    return (user.get_full_name() or user.get_username()) if user else "a command"


def _listed(numbers: Sequence[int]) -> str:
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]} to {numbers[-1]}"
    return ", ".join(str(number) for number in numbers)


@dataclass(frozen=True, slots=True)
class Step:
    """A report, or one taken back, as told on a page."""

    at: datetime.datetime
    by: str
    words: str


def reports_of(movements: QuerySet[StockMovement], newest: int | None = None) -> list[Step]:
    """The reports that these movements of cloth stand for, latest first, all or the `newest`."""
    rows = (
        movements.filter(ply__isnull=False, kind__in=["cut", "undone"])
        .select_related("ply__lay", "lot", "by")
        .defer("ply__lay__placements")
        .order_by("-pk")
    )
    return [Step(row.at, person(row.by), _told(row)) for row in rows[:newest]]


def _told(row: StockMovement) -> str:
    assert row.ply
    done = "cut from" if row.kind == StockMovement.Kind.CUT else "taken back, not cut from"
    return f"{row.ply.lay.code}, ply {row.ply.number}: {done} {row.lot.code} ({row.lot.dye_lot})"


@transaction.atomic
def mark_cut(run: Run, by: User | None) -> tuple[list[str], list[str]]:
    """Cutting is done for every jacket that is ready for it: the codes of those moved on, and of
    those that somebody was quicker with."""
    lock_run(run.pk)
    moved, late = [], []
    for jacket in ready_jackets(run):
        try:
            tracking.record(jacket.code, tracking.Action.DONE, Jacket.Stage.CUT, by, vouch=False)
        except StepRefusedError:
            late.append(jacket.code)
        else:
            moved.append(jacket.code)
    return moved, late
