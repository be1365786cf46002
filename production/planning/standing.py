"""Where a jacket stands, told from what happened to it.

The stages follow one another: cut, sew, finish, hand_over; after the last the jacket is handed
over. A jacket waits at its stage or is in work there; mending sends it back with a reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

STAGES = ("cut", "sew", "finish", "hand_over")
END = "handed_over"

STARTED, DONE, SENT_BACK, UNDONE = "started", "done", "sent_back", "undone"

WORK = {
    "cut": "cutting",
    "sew": "sewing",
    "finish": "finishing",
    "hand_over": "the hand-over",
    END: "nothing more: it is handed over",
}


class StageError(ValueError):
    """A step that does not fit where the jacket stands; the message says where that is."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened; `undoes` is the number of the event taken back by an UNDONE one."""

    number: int
    kind: str
    stage: str
    reason: str = ""
    undoes: int | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """`mend_reason` stays until the stage that the jacket was sent back to is done."""

    stage: str = STAGES[0]
    in_work: bool = False
    mend_reason: str = ""

    @property
    def words(self) -> str:
        if self.stage == END:
            return "is handed over"
        if self.in_work:
            return f"is in work: {WORK[self.stage]}"
        return f"waits for {WORK[self.stage]}"


def live(events: Iterable[Event]) -> list[Event]:
    """The events that count, in order: no undone one, and no UNDONE event itself."""
    listed = list(events)
    undone = {event.undoes for event in listed if event.kind == UNDONE}
    return [event for event in listed if event.kind != UNDONE and event.number not in undone]


def standing(events: Iterable[Event]) -> Standing:
    """Where a jacket with this history stands. Raises StageError for a history that cannot be."""
    now = Standing()
    for event in live(events):
        now = after(now, event.kind, event.stage, event.reason)
    return now


def after(now: Standing, kind: str, stage: str, reason: str = "") -> Standing:
    """Where a jacket stands after one more step; raises StageError when the step does not fit."""
    if stage not in STAGES:
        raise StageError(f"'{stage}' is no stage of work; stages are {', '.join(STAGES)}.")
    if kind == SENT_BACK:
        return _sent_back(now, stage, reason)
    if stage != now.stage:
        raise StageError(_out_of_turn(now, stage))
    if kind == DONE:
        return Standing(following(stage))
    if kind != STARTED:
        raise StageError(f"'{kind}' is no step of work.")
    if now.in_work:
        raise StageError(f"Work on {WORK[stage]} has already started.")
    return replace(now, in_work=True)


def following(stage: str) -> str:
    return (*STAGES, END)[STAGES.index(stage) + 1]


def mending_stages(stage: str) -> Sequence[str]:
    """The stages that a jacket standing at `stage` can be sent back to: its own and those before.
    An own one counts, as what was just begun there may need mending too."""
    return STAGES if stage == END else STAGES[: STAGES.index(stage) + 1]


def _sent_back(now: Standing, stage: str, reason: str) -> Standing:
    if not reason:
        raise StageError("Say what is to be mended.")
    if stage not in mending_stages(now.stage):
        raise StageError(
            f"It {now.words}; it can be sent back to a stage that it has reached, "
            f"not on to {WORK[stage]}."
        )
    return Standing(stage, in_work=False, mend_reason=reason)


def _out_of_turn(now: Standing, stage: str) -> str:
    if now.stage == END or STAGES.index(stage) < STAGES.index(now.stage):
        return f"{WORK[stage].capitalize()} is already done; it {now.words}."
    return f"It {now.words}; that comes before {WORK[stage]}."


def event_words(event: Event) -> str:
    """What happened, as told in a jacket's history."""
    work = WORK[event.stage]
    if event.kind == STARTED:
        return f"{work} started"
    if event.kind == SENT_BACK:
        return f"sent back to {work} to mend: {event.reason}"
    return "handed over" if event.stage == STAGES[-1] else f"{work} done"
