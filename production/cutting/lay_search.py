"""The search for better lays as it is worked on: by a worker, or by make_plan in the foreground."""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from types import FrameType
from typing import TYPE_CHECKING

from django.db import DatabaseError

from production.cutting import jobs, lay_plans
from production.cutting.nest_shelf import NestShelf
from production.models import CutTicket, LayPlan, PlanningJob
from production.planning.lengths import cloth_length
from production.planning.plan import PlanError
from production.services import load_snapshot
from production.stock.cloth import with_bolts_again

if TYPE_CHECKING:
    from production.planning.cloth.ticket_cloth import LotPart
    from production.planning.cutting.cutting import TicketToCut

State = PlanningJob.State
BEAT_SECONDS = 1.0

#: Percent done, and what is being done.
Tell = Callable[[int, str], None]


def work_on(job_pk: int, tell: Tell | None = None) -> None:
    """Look for better lays until the job's seconds are over, all is found, or it is stopped; what
    is found is stored at once. Nothing happens when the job is not waiting any more.

    SIGINT and SIGTERM end it early, and count as a stop.
    """
    jobs.sweep()
    job = jobs.claim(job_pk)
    if job is None:
        return
    try:
        with _asked_to_end() as ending:
            watch = Watch(job, ending, tell)
            state, words = _search(watch)
    except PlanError as error:
        state, words = State.FAILED, f"{error} The lays in use are as they were."
    except (DatabaseError, OSError) as error:
        state = State.FAILED
        words = (
            f"Nothing more could be stored ({error}). What was found before is kept; look again."
        )
    except BaseException:
        words = "A fault in the program ended the search. What was found before is kept."
        jobs.close(job.pk, State.FAILED, words)
        raise
    jobs.close(job.pk, state, words)


@dataclass(slots=True)
class Watch:
    """Keeps the time of a job, tells how far it is, and hears when it is to stop."""

    job: PlanningJob
    ending: threading.Event
    tell: Tell | None = None
    words: str = ""
    stopped: bool = False
    began: float = field(default_factory=time.monotonic)
    beaten: float = 0.0

    @property
    def seconds(self) -> float:
        return time.monotonic() - self.began

    @property
    def left(self) -> float:
        return max(self.job.seconds - self.seconds, 0.0)

    def say(self, words: str) -> None:
        self.words = words
        self.beat()

    def is_stopped(self) -> bool:
        """Cheap enough to be asked many times a second."""
        if not self.stopped and time.monotonic() - self.beaten >= BEAT_SECONDS:
            self.beat()
        return self.stopped

    def beat(self) -> None:
        self.beaten = time.monotonic()
        percent = min(int(100 * self.seconds / self.job.seconds), 99)
        going = jobs.beat(self.job.pk, percent, self.words)
        self.stopped = self.stopped or not going or self.ending.is_set()
        if self.tell:
            self.tell(percent, self.words)


def _search(watch: Watch) -> tuple[PlanningJob.State, str]:
    from production.planning.cutting.cutting import tickets_to_cut
    from production.planning.cutting.lot_cutting import parts_by_ticket

    run = watch.job.run
    snapshot = load_snapshot(run)
    unit = snapshot.workroom.length_unit
    open_tickets = lay_plans.open_tickets(run)
    if not open_tickets:
        return State.DONE, "Every ticket is being cut already, so no lay of it can change."
    to_cut = {each.ticket: each for each in tickets_to_cut(snapshot)}
    parts = parts_by_ticket(with_bolts_again(snapshot, open_tickets))
    asked = [(ticket, to_cut[ticket.code]) for ticket in open_tickets]
    for number, (ticket, each) in enumerate(asked, start=1):
        watch.say(f"Cut ticket {ticket.code}, {number} of {len(asked)}")
        seconds = _share(asked[number - 1 :], watch.left)
        _search_ticket(watch, ticket, each, parts[ticket.code], seconds)
        if watch.stopped or not watch.left:
            break
    saved = cloth_length(max(lay_plans.less_cloth_mm(run), 0), unit)
    found = f"The cheapest lays found take {saved} less cloth than those that were in use."
    if watch.stopped:
        return State.STOPPED, f"Stopped after {watch.seconds:.0f} s. {found}"
    return State.DONE, f"Looked for {watch.seconds:.0f} s. {found}"


def _share(asked: Sequence[tuple[CutTicket, TicketToCut]], seconds: float) -> float:
    """The time for the first of the tickets that are left, by their numbers of pieces."""
    pieces = [sum(line.left + line.right + line.single for line in each.lines) for _, each in asked]
    return seconds * pieces[0] / sum(pieces)


def _search_ticket(
    watch: Watch,
    ticket: CutTicket,
    each: TicketToCut,
    parts: Sequence[LotPart],
    seconds: float,
) -> None:
    from production.planning.cutting.cut_orders import Aim, aim_price
    from production.planning.cutting.cutting import LayChoice
    from production.planning.cutting.lot_cutting import choices_by_lot

    def keep(choice: LayChoice) -> None:
        # The rows of the freeze were made for the cloth on hand; these are the search's start.
        if choice.aim != LayPlan.Aim.ROWS:
            price = aim_price(each.price, each.workroom, Aim(choice.aim))
            allowance_mm = each.fabric.end_allowance_mm
            lay_plans.keep_choice(ticket, choice, lambda lays: price.of(lays, allowance_mm))
        watch.is_stopped()

    for choice in choices_by_lot(
        parts, seconds, NestShelf(), on_better=keep, is_stopped=watch.is_stopped
    ):
        keep(choice)


@contextmanager
def _asked_to_end() -> Iterator[threading.Event]:
    """An event that SIGINT and SIGTERM set, instead of ending the process in the middle; the
    handlers from before hear of them, too. Other threads hear no signals."""
    ending = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield ending
        return
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}

    def end(number: int, frame: FrameType | None) -> None:
        if ending.is_set():
            raise KeyboardInterrupt
        ending.set()
        handler = before[signal.Signals(number)]
        if callable(handler) and handler is not signal.default_int_handler:
            handler(number, frame)

    for number in before:
        signal.signal(number, end)
    try:
        yield ending
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
