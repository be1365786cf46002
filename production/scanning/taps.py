"""The one way in which a tap on a page or a scan of a tag becomes an event of a jacket."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from uuid import UUID

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.utils import timezone

from production import tracking
from production.errors import MovedOnError, ProductionError, StepRefusedError, UnknownJacketError
from production.models import Jacket, Run, StageEvent, Tap
from production.planning.standing import END, STAGES, Standing
from production.scanning.codes import CODE_LENGTH, find_jacket
from production.scanning.device_clock import OLDEST, TapTime, off_words, tap_time
from production.scanning.overtaken import refuse_next_of_then, refuse_overtaken
from production.tracking import Action

#: Whatever comes next: the stage at which the jacket stands is done.
NEXT = "next"
#: A jacket that was moved on this short ago is not moved on by NEXT once more (invented).
TOO_SOON = datetime.timedelta(minutes=2)
WORDS_LENGTH = 500


@dataclass(frozen=True, slots=True)
class TapAsked:
    """A tap as it came in. `code` is as it was read. `run` is set where the page takes the tags of
    one run alone; `same_as` is the key of an earlier scan of the same tag for the same step;
    `after` is the last event that the page was showing, 0 for none."""

    key: UUID
    way: str
    code: str
    action: str
    stage: str = ""
    reason: str = ""
    seen: str = ""
    undoes: int | None = None
    vouch: bool = False
    device_at: datetime.datetime | None = None
    sent_at: datetime.datetime | None = None
    run: str = ""
    same_as: UUID | None = None
    after: int | None = None


def tap(asked: TapAsked, by: User) -> Tap:
    """Does what was asked, or not, and keeps a row of it either way; the same key again gives the
    row that is there and does nothing. The row says in words what came of it."""
    try:
        with transaction.atomic():
            return _stored(asked.key) or _take(asked, by)
    except IntegrityError:
        # The same tap by two ways at the same moment: the other one's row counts.
        there = _stored(asked.key)
        if there is None:
            raise
        return there


def refuse(asked: TapAsked, by: User, words: str) -> Tap:
    """Keeps a tap that cannot be understood, with the reason."""
    with transaction.atomic():
        return _stored(asked.key) or _keep(asked, by, Tap.Outcome.REFUSED, words, None, None)


def _stored(key: UUID) -> Tap | None:
    return Tap.objects.select_related("jacket__jacket_order", "event").filter(key=key).first()


def _take(asked: TapAsked, by: User) -> Tap:
    try:
        jacket = tracking.locked_jacket(find_jacket(asked.code).code)
    except UnknownJacketError as error:
        return _keep(asked, by, Tap.Outcome.UNKNOWN, str(error), None, None)
    events = list(jacket.events.select_related("by", "undoes").order_by("pk"))
    # Without the two large columns of a run.
    run = Run.objects.only("code", "created_at").get(pk=jacket.run_id)
    last_known = events[-1].at if events else run.created_at
    time = tap_time(asked.device_at, asked.sent_at, timezone.now(), last_known)
    try:
        with transaction.atomic():
            _refuse_other_run(asked, jacket, run)
            event = _earlier(asked, by, jacket) or _record(asked, by, jacket, events, time)
    except ProductionError as error:
        words = str(error) if jacket.code in str(error) else f"{jacket.code}: {error}"
        return _keep(asked, by, Tap.Outcome.REFUSED, words, jacket, time)
    is_repeated = bool(events) and event.pk <= events[-1].pk
    outcome = Tap.Outcome.REPEATED if is_repeated else Tap.Outcome.RECORDED
    words = _repeated_words(event) if is_repeated else tracking.said(event)
    return _keep(asked, by, outcome, words, jacket, time, event)


def _earlier(asked: TapAsked, by: User, jacket: Jacket) -> StageEvent | None:
    """What the earlier scan of the same tag came to, where it came to something."""
    if asked.same_as is None:
        return None
    before = Tap.objects.select_related("event__by", "event__undoes").filter(
        key=asked.same_as, jacket=jacket, by=by, event__undone_by=None
    )
    return next((each.event for each in before if each.event), None)


def _record(
    asked: TapAsked, by: User, jacket: Jacket, events: list[StageEvent], time: TapTime
) -> StageEvent:
    action, stage, vouch = asked.action, asked.stage, asked.vouch
    if action == NEXT:
        if moved := _moved_just_now(jacket, events, by, time.at):
            return moved
        _refuse_lost(asked, events, time)
        refuse_next_of_then(jacket, events, time.made_at)
        action, stage = Action.DONE, _next_stage(jacket)
        vouch = vouch and stage == STAGES[0]  # the box on the page speaks of the blocks alone
    if action not in set(Action):
        raise StepRefusedError(f"'{action}' is no step; reload the page and tap again.")
    if action == Action.UNDO and not asked.undoes:
        raise StepRefusedError("An undo names the step that it takes back; reload the page.")
    if action != Action.UNDO:
        refuse_overtaken(jacket, events, by, time.made_at, asked.after)
    return tracking.record(
        jacket.code,
        action,
        stage,
        by,
        asked.reason,
        time.at,
        seen=asked.seen,
        undoes=asked.undoes,
        vouch=vouch,
    )


def _refuse_lost(asked: TapAsked, events: list[StageEvent], time: TapTime) -> None:
    """Where nothing ever happened to the jacket, its next step is the same as then."""
    if events and time.is_lost and asked.way == Tap.Way.QUEUE:
        raise StepRefusedError(
            "The clock of this device was changed since the tag was scanned, or that is more than "
            f"{OLDEST.days} days ago, so which step was next then cannot be told. Look where it "
            "stands, and choose the step by its name. Nothing was changed."
        )


def _refuse_other_run(asked: TapAsked, jacket: Jacket, run: Run) -> None:
    if asked.run and asked.run != run.code:
        raise StepRefusedError(
            f"{jacket.code} is of run {run.code}; this page takes the tags of {asked.run}. "
            "Put it to the others of its run. Nothing was changed."
        )


def _next_stage(jacket: Jacket) -> str:
    if jacket.stage == END:
        raise StepRefusedError(f"{jacket.code} is handed over; there is no next step.")
    if jacket.stage == STAGES[-1]:
        raise StepRefusedError(
            f"{jacket.code} waits for the hand-over, which is not done in passing: hand it over "
            "with its team order, or choose the step 'handed over' here. Nothing was changed."
        )
    return jacket.stage


def _moved_just_now(
    jacket: Jacket, events: list[StageEvent], by: User, at: datetime.datetime
) -> StageEvent | None:
    """The step that was done a moment ago, where a second scan must not do the one after it."""
    last = events[-1] if events else None
    if jacket.cancelled_at or not last or last.kind != StageEvent.Kind.DONE:
        return None
    if at - last.at >= TOO_SOON:
        return None
    if last.by_id == by.pk:
        return last
    now = tracking.standing_of(events)
    raise MovedOnError(
        f"{tracking.moved_on(jacket, events, now)} To record the step after it, choose that step, "
        "or scan again in two minutes."
    )


def _repeated_words(event: StageEvent) -> str:
    jacket = event.jacket
    now = Standing(jacket.stage, jacket.in_work, jacket.mend_reason)
    return (
        f"{jacket.code}: {tracking.told(event)} was recorded already "
        f"{tracking.moment(event.at)}. It {now.words}. Nothing was changed."
    )


def _keep(
    asked: TapAsked,
    by: User,
    outcome: Tap.Outcome,
    words: str,
    jacket: Jacket | None,
    time: TapTime | None,
    event: StageEvent | None = None,
) -> Tap:
    now = timezone.now()
    time = time or tap_time(asked.device_at, asked.sent_at, now, now - datetime.timedelta(days=7))
    words = " ".join(filter(None, [words, off_words(time.off_seconds)]))
    action, stage = asked.action, asked.stage
    if event:
        action, stage = _done_as(event), event.stage
    return Tap.objects.create(
        key=asked.key,
        way=asked.way if asked.way in Tap.Way.values else Tap.Way.PAGE,
        code=_plain(asked.code)[:CODE_LENGTH],
        jacket=jacket,
        action=_plain(action)[:9],
        stage=_plain(stage)[:11],
        outcome=outcome,
        event=event,
        words=_plain(words)[:WORDS_LENGTH],
        at=time.at,
        device_at=asked.device_at,
        clock_off_seconds=time.off_seconds,
        by=by,
    )


def _done_as(event: StageEvent) -> Action:
    if event.kind == StageEvent.Kind.UNDONE:
        return Action.UNDO
    return next(action for action, kind in tracking.KINDS.items() if kind == event.kind)


def _plain(text: str) -> str:
    """Without NUL and halves of letters, which a database does not store."""
    return text.encode(errors="ignore").decode().replace("\0", "")
