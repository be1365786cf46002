"""Changes after the freeze: one supplement each, worked out, shown, and carried out or not."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

import msgspec
from django.db import transaction
from django.utils import timezone
from django.utils.text import Truncator

from orders import after_freeze
from orders.facts import JacketFacts
from orders.models import JacketOrder, TeamOrder
from production import tracking
from production.changing.change_rules import (
    NOTHING_CHANGED,
    ChangeError,
    refuse_come_back,
    refuse_gone,
)
from production.changing.change_state import Known
from production.changing.change_store import ADD, CANCEL, CHANGE, Work, store
from production.models import Jacket, Run, Supplement
from production.planning import change_costs
from production.planning import changes as planning
from production.planning.changes import ChangeCosts, Difference, HeldBlock, SupplementPlan
from production.planning.explode import shapes_by_key
from production.planning.outlook import Outlook, outlook
from production.planning.plan import PlanError
from production.planning.recuts import SideState, as_reported
from production.planning.snapshot import RunSnapshot
from production.queries import minutes_left
from production.reporting.recut_state import sides_as_reported
from production.stock.cloth_queries import lots_of_jackets

if TYPE_CHECKING:
    from django.contrib.auth.models import User


WORDS_LENGTH = 500


class StaleChangeError(ChangeError):
    """What the preview showed is no longer so."""


@dataclass(frozen=True, slots=True)
class Cancel:
    """The jacket is not wanted any more; the reason is for the paper and may be left out."""

    reason: str = ""


@dataclass(frozen=True, slots=True)
class TakeSpares:
    """The jacket stays as it is wanted; its blocks that are not cut yet come from the spare parts
    where they lie there."""


Wanted = JacketFacts | Cancel | TakeSpares


@dataclass(frozen=True, slots=True)
class Outcome:
    """A change carried out, or what it would do. `digest` stands for all that a preview shows;
    `before` and `after` say how the run stands against its deadline."""

    supplement: Supplement
    plan: SupplementPlan
    snapshot: RunSnapshot | None
    jacket: Jacket
    mending: str
    before: Outlook
    after: Outlook
    digest: str
    moves_back: bool = False


def preview(subject: Jacket | TeamOrder, wanted: Wanted, by: User | None) -> Outcome:
    """What a change would do, worked out as if it were carried out; nothing is stored.

    Raises as `change_after_freeze` does.
    """
    with transaction.atomic():
        outcome = _change(subject, wanted, by)
        transaction.set_rollback(True)
    return outcome


@transaction.atomic
def change_after_freeze(
    subject: Jacket | TeamOrder, wanted: Wanted, by: User | None, *, seen: str = ""
) -> Supplement:
    """Change a frozen jacket, cancel it, let it take spare parts, or add one to a frozen team
    order, by one new supplement.

    `seen` is the digest of the preview that was agreed to. Nothing that is printed changes. Raises
    OrderError or ChangeError for what cannot be changed, StaleChangeError when the preview is no
    longer true; nothing is stored then.
    """
    outcome = _change(subject, wanted, by)
    if seen and seen != outcome.digest:
        raise StaleChangeError(
            "Something has moved since this was shown: the jacket, the spare parts or the prices. "
            f"{NOTHING_CHANGED} Look at it once more."
        )
    return outcome.supplement


def _change(subject: Jacket | TeamOrder, wanted: Wanted, by: User | None) -> Outcome:
    order = subject if isinstance(subject, TeamOrder) else subject.jacket_order.team_order
    run = _locked_run(order)
    known, number = Known.of(run), run.supplements.count() + 1
    before = _outlook(known)
    jacket, kind, words = _ordered(subject, wanted, by, run, number)
    stage, mending = jacket.stage, jacket.mend_reason
    events = list(jacket.events.select_related("undoes").order_by("pk"))
    last_event = events[-1].pk if events else 0
    held = () if kind == ADD else known.held(jacket, events)
    sewn = kind != ADD and known.sewn(jacket, events)
    takes = isinstance(wanted, TakeSpares)
    work = None if kind == CANCEL else _plan(known, jacket, kind, held, number, takes=takes)
    difference = (
        work.difference if work else _all_given_back(held, sides_as_reported(known, jacket))
    )
    minutes = _more_minutes(jacket, kind, work)
    plan = SupplementPlan(
        supplement=f"{run.code}-S{number}",
        jacket=jacket.code,
        kind=kind,
        difference=difference,
        minutes=minutes,
        costs=_costs(known, jacket, kind, work, minutes, sewn=sewn),
        sewn=sewn,
        last_event=last_event,
        cut=work.planned.plan if work else None,
    )
    digest = _digest(plan, words, stage, mending)
    told = Truncator(f"{jacket.code}: {words}").chars(WORDS_LENGTH)
    supplement = Supplement(run=run, team_order=order, number=number, words=told, by=by)
    plan = store(supplement, plan, jacket, work)
    return Outcome(
        supplement,
        plan,
        work.snapshot if work else None,
        jacket,
        mending,
        before,
        _outlook(known),
        digest,
        plan.last_event > last_event,
    )


def _ordered(
    subject: Jacket | TeamOrder, wanted: Wanted, by: User | None, run: Run, number: int
) -> tuple[Jacket, str, str]:
    """The jacket whose order is changed as wanted, the kind of the change, and its words."""
    if isinstance(subject, TeamOrder):
        if not isinstance(wanted, JacketFacts):
            raise ChangeError("Cancel the jackets of a frozen order one by one.")
        refuse_come_back(subject, wanted)
        line, words = after_freeze.add_after_freeze(subject, wanted, by=by, supplement=number)
        jacket = Jacket.objects.create(
            run=run,
            code=_next_code(subject),
            jacket_order=line,
            size=line.size.code,
            standard_minutes={},
        )
        return jacket, ADD, words
    jacket = tracking.locked_jacket(subject.code)
    refuse_gone(jacket)
    line = jacket.jacket_order
    if isinstance(wanted, Cancel):
        reason = tracking.one_line(wanted.reason)
        words = after_freeze.cancel_after_freeze(line, reason, by=by, supplement=number)
        return jacket, CANCEL, words
    if isinstance(wanted, TakeSpares):
        words = after_freeze.take_spares_after_freeze(line, by=by, supplement=number)
        return jacket, CHANGE, words
    words = after_freeze.change_after_freeze(line, wanted, by=by, supplement=number)
    return jacket, CHANGE, words


def _next_code(order: TeamOrder) -> str:
    from production.snapshots import jacket_code

    codes = Jacket.objects.filter(jacket_order__team_order=order).values_list("code", flat=True)
    return jacket_code(order.code, max(int(code.rpartition("-")[2]) for code in codes) + 1)


def _plan(
    known: Known,
    jacket: Jacket,
    kind: str,
    held: Sequence[HeldBlock],
    number: int,
    *,
    takes: bool,
) -> Work:
    from production.planning.planner import plan_run

    snapshot = _snapshot(known, jacket, f"{known.run.code}-S{number}")
    [spec] = snapshot.jackets
    try:
        wanted = planning.wanted_blocks(spec, snapshot)
        difference = as_reported(
            planning.difference(held, wanted, known.spares(), instead_of_cutting=takes),
            sides_as_reported(known, jacket),
        )
        if takes and not difference.from_spare:
            raise ChangeError(
                f"No spare part can stand for a block of {jacket.code} that is not cut yet. "
                f"{NOTHING_CHANGED}"
            )
        spec = replace(spec, to_cut=tuple(block.block for block in difference.to_cut))
        snapshot = replace(snapshot, jackets=(spec,))
        planned = plan_run(snapshot, lots=_lots_kept(known.run, jacket, difference))
    except PlanError as error:
        raise ChangeError(f"{error} {NOTHING_CHANGED}") from error
    difference = planning.on_tickets(difference, planned.plan)
    minutes = planned.jacket_minutes[spec.code]
    if kind == CHANGE:
        minutes = planning.minutes_by_stage(
            _minutes(jacket), difference, minutes, known.latest(jacket.code), (snapshot, spec)
        )
    return Work(snapshot, planned, difference, minutes)


def _lots_kept(run: Run, jacket: Jacket, change: Difference) -> dict[str, dict[str, str]]:
    """The dye lots of the colors that the jacket keeps blocks of."""
    if not change.kept:
        return {}
    colors = {block.fabric_color for block in change.kept}
    return {
        color: {jacket.code: lots[jacket.code]}
        for color, lots in lots_of_jackets(run).items()
        if color in colors and jacket.code in lots
    }


def _snapshot(known: Known, jacket: Jacket, supplement: str) -> RunSnapshot:
    from production.snapshots import snapshot_of_one

    line = JacketOrder.objects.select_related("team_order", "size", "colorway__blocking").get(
        pk=jacket.jacket_order_id
    )
    snapshot = snapshot_of_one(
        line,
        run=supplement,
        code=jacket.code,
        known=known.with_cut(line.colorway.blocking.code, line.size.code),
        planned_on=timezone.localdate(),
    )
    try:
        shapes_by_key(shape for each in (*known.snapshots, snapshot) for shape in each.shapes)
    except PlanError as error:
        raise ChangeError(
            "The pattern was changed since the freeze, and its new blocks would not fit those that "
            f"are cut: {error} {NOTHING_CHANGED}"
        ) from error
    return replace(snapshot, deadline=known.run.deadline)


def _all_given_back(
    held: Iterable[HeldBlock], sides: Mapping[tuple[str, str], SideState]
) -> Difference:
    return as_reported(planning.difference(held, (), ()), sides)


def _minutes(jacket: Jacket) -> dict[str, Decimal]:
    return {stage: Decimal(minutes) for stage, minutes in jacket.standard_minutes.items()}


def _more_minutes(jacket: Jacket, kind: str, work: Work | None) -> Decimal:
    before = planning.left_from(jacket.stage, _minutes(jacket)) if kind != ADD else Decimal(0)
    if work is None:
        return -before
    stage = planning.stage_after(jacket.stage, work.difference)
    return planning.left_from(stage, work.minutes) - before


def _costs(
    known: Known, jacket: Jacket, kind: str, work: Work | None, minutes: Decimal, *, sewn: bool
) -> ChangeCosts:
    if work is None:
        return change_costs.cost_of_work(minutes, known.snapshot.workroom)
    return change_costs.cost_of_change(
        minutes,
        work.snapshot,
        work.planned.plan,
        known.latest(jacket.code) if kind == CHANGE else None,
        sewn=sewn,
    )


def _digest(plan: SupplementPlan, words: str, stage: str, mending: str) -> str:
    seen = msgspec.json.encode([plan, words, stage, mending], order="sorted")
    return hashlib.sha256(seen).hexdigest()


def _outlook(known: Known) -> Outlook:
    return outlook(
        minutes_left(known.run.jackets.all()),
        timezone.localdate(),
        known.run.deadline,
        known.snapshot.workroom,
    )


def _locked_run(order: TeamOrder) -> Run:
    run = Run.objects.select_for_update(of=("self",)).filter(run_orders__team_order=order).first()
    if run is None:
        raise ChangeError(f"{order.code} is in no run yet: change it on its own page.")
    return run
