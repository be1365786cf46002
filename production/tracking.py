"""The one way in which a jacket moves from stage to stage."""

from __future__ import annotations

import datetime
from enum import StrEnum

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone
from django.utils.formats import date_format

from orders.models import Amendment, TeamOrder
from production.errors import MovedOnError, StepRefusedError, UnknownJacketError
from production.models import Jacket, StageEvent, Supplement
from production.planning import standing as rules
from production.planning.standing import Standing
from production.stages import gates


class Action(StrEnum):
    START = "start"
    DONE = "done"
    SEND_BACK = "send_back"
    UNDO = "undo"


KINDS = {
    Action.START: StageEvent.Kind.STARTED,
    Action.DONE: StageEvent.Kind.DONE,
    Action.SEND_BACK: StageEvent.Kind.SENT_BACK,
}
REASON_LENGTH = 200


def record(
    jacket_code: str,
    action: str,
    stage: str,
    by: User | None,
    reason: str = "",
    at: datetime.datetime | None = None,
    *,
    seen: str = "",
    undoes: int | None = None,
    vouch: bool = True,
) -> StageEvent:
    """Add one event to a jacket's history and keep its stage in step.

    `stage` is the stage that is started or done, the one to mend at, or that of the event to undo.
    `seen` (send_back) and `undoes` (undo) say what the page that the tap came from was showing.
    The same tap again returns the event that is there. Who does a stage vouches for what it takes
    (see `stages.gates`); without `vouch` it must be on record already. Raises UnknownJacketError,
    MovedOnError when somebody else was quicker, StepRefusedError when the step does not fit.
    """
    reason = one_line(reason)
    with transaction.atomic():
        jacket = locked_jacket(jacket_code)
        _refuse_cancelled(jacket)
        events = list(jacket.events.select_related("by", "undoes").order_by("pk"))
        if action == Action.UNDO:
            return _undo(jacket, events, stage, by, at, undoes)
        kind = KINDS[Action(action)]
        last = live_events(events)[-1:]
        if by and last and _told(last[0]) == (kind, stage, reason, by.pk):
            return last[0]
        now = standing_of(events)
        if seen and events and seen != now.stage:
            raise moved_on(jacket, events, now)
        try:
            then = rules.after(now, kind, stage, reason)
        except rules.StageError as error:
            if overtaken(now, kind, stage):
                raise moved_on(jacket, events, now) from error
            raise StepRefusedError(f"{jacket.code}: {error}") from error
        if kind == StageEvent.Kind.DONE:
            gates.before_done(jacket, stage, events, by, at or timezone.now(), vouch=vouch)
        event = StageEvent(kind=kind, stage=stage, reason=reason)
        return _write(jacket, event, then, by, at)


def locked_jacket(code: str) -> Jacket:
    code = code.strip()  # a scanner may add the end of the line
    try:
        return Jacket.objects.select_for_update().get(code=code)
    except Jacket.DoesNotExist as error:
        raise UnknownJacketError(f"No jacket has the code '{code}'; check the tag.") from error


def _refuse_cancelled(jacket: Jacket) -> None:
    if jacket.cancelled_at:
        raise StepRefusedError(
            f"{jacket.code} was cancelled {moment(jacket.cancelled_at)}; its cut blocks are spare "
            "parts. Nothing was changed."
        )


def one_line(reason: str) -> str:
    reason = " ".join(reason.split())
    if not reason.isprintable():
        raise StepRefusedError("The reason holds control signs; write it as one line of text.")
    if len(reason) > REASON_LENGTH:
        raise StepRefusedError(f"The reason has {len(reason)} letters; keep it to {REASON_LENGTH}.")
    return reason


def as_told(event: StageEvent) -> rules.Event:
    return rules.Event(event.pk, event.kind, event.stage, event.reason, event.undoes_id)


def standing_of(events: list[StageEvent]) -> Standing:
    return rules.standing(as_told(event) for event in events)


def live_events(events: list[StageEvent]) -> list[StageEvent]:
    numbers = {event.number for event in rules.live(as_told(event) for event in events)}
    return [event for event in events if event.pk in numbers]


def overtaken(now: Standing, kind: str, stage: str) -> bool:
    """Whether the step would have fitted before the last events: it is not wrong, it is late."""
    if kind == rules.SENT_BACK:
        return False
    if now.stage == rules.END:
        return True
    return stage in rules.mending_stages(now.stage)


def moved_on(jacket: Jacket, events: list[StageEvent], now: Standing) -> MovedOnError:
    last = events[-1]
    return MovedOnError(
        f"{jacket.code} was already moved on by {name_of(last)} {moment(last.at)}: "
        f"{told(last)}. It {now.words}. Nothing was changed."
    )


def told(event: StageEvent) -> str:
    if event.undoes:
        return f"undone: {rules.event_words(as_told(event.undoes))}"
    return rules.event_words(as_told(event))


def name_of(event: StageEvent) -> str:
    return (event.by.get_full_name() or event.by.get_username()) if event.by else "a command"


def moment(at: datetime.datetime) -> str:
    local = timezone.localtime(at)
    if local.date() == timezone.localdate():
        return f"at {local:%H:%M}"
    return f"on {date_format(local, 'j M')} at {local:%H:%M}"


def _told(event: StageEvent) -> tuple[str, str, str, int | None]:
    return (event.kind, event.stage, event.reason, event.by_id)


def _undo(
    jacket: Jacket,
    events: list[StageEvent],
    stage: str,
    by: User | None,
    at: datetime.datetime | None,
    undoes: int | None,
) -> StageEvent:
    if by and undoes and events and (events[-1].undoes_id, events[-1].by_id) == (undoes, by.pk):
        return events[-1]
    remaining = live_events(events)
    if undoes and events and (not remaining or remaining[-1].pk != undoes):
        raise moved_on(jacket, events, standing_of(events))
    if not remaining:
        raise StepRefusedError(f"{jacket.code}: nothing has happened yet that could be undone.")
    last = remaining[-1]
    if stage != last.stage:
        raise StepRefusedError(
            f"{jacket.code}: the last step was {told(last)}, not one of {rules.WORK[stage]}."
        )
    _refuse_before_change(jacket, last)
    event = StageEvent(kind=StageEvent.Kind.UNDONE, stage=stage, undoes=last)
    return _write(jacket, event, standing_of(remaining[:-1]), by, at)


def _refuse_before_change(jacket: Jacket, last: StageEvent) -> None:
    """A supplement was made from what was cut by then, so what came before it stays."""
    if last.kind == StageEvent.Kind.STARTED:
        return
    later = Supplement.objects.filter(
        run=jacket.run_id, plan__jacket=jacket.code, plan__last_event__gte=last.pk
    ).first()
    if later:
        raise StepRefusedError(
            f"{jacket.code}: supplement {later.number} was made after that and counts on it. "
            "To take the change back, change the jacket once more. Nothing was changed."
        )


def _write(
    jacket: Jacket,
    event: StageEvent,
    then: Standing,
    by: User | None,
    at: datetime.datetime | None,
) -> StageEvent:
    event.jacket, event.by, event.at = jacket, by, at or timezone.now()
    event.save()
    before = jacket.stage
    jacket.stage, jacket.in_work, jacket.mend_reason = then.stage, then.in_work, then.mend_reason
    jacket.save(update_fields=["stage", "in_work", "mend_reason"])
    if Jacket.Stage.HANDED_OVER in {before, then.stage}:
        settle_team_order(jacket, by, event.at)
    return event


def settle_team_order(jacket: Jacket, by: User | None, at: datetime.datetime | None = None) -> None:
    """A team order is handed over with its last jacket that was not cancelled, and cancelled when
    all were; the days that members' data is kept count from the hand-over. Its row is locked
    before the jackets are counted, since two last ones handed over at once would each see the
    other as still there."""
    order = TeamOrder.objects.select_for_update(of=("self",)).get(jacket_orders__jacket=jacket)
    jackets = Jacket.objects.filter(jacket_order__team_order=order, cancelled_at=None)
    left = jackets.exclude(stage=Jacket.Stage.HANDED_OVER).count()
    if left:
        state, words = TeamOrder.State.IN_PRODUCTION, f"back in production: {left} not handed over"
    elif jackets.exists():
        state, words = TeamOrder.State.HANDED_OVER, "all jackets handed over"
    else:
        state, words = TeamOrder.State.CANCELLED, "all jackets cancelled"
    if order.state == state:
        return
    order.state = state
    is_over = state == TeamOrder.State.HANDED_OVER
    order.handed_over_on = timezone.localdate(at) if is_over else None
    order.save(update_fields=["state", "handed_over_on"])
    Amendment.objects.create(team_order=order, words=words, by=by)


def said(event: StageEvent) -> str:
    """What was recorded and where the jacket stands now, in one sentence each."""
    jacket = Jacket.objects.get(pk=event.jacket_id)
    now = Standing(jacket.stage, jacket.in_work, jacket.mend_reason)
    return f"{jacket.code}: {told(event)}, recorded {moment(event.at)}. It {now.words}."
