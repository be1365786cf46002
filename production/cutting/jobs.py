"""The search for better lays as a row: asked for, taken by a worker, followed, stopped, swept.

A worker shows by a heartbeat that it lives. Every change is one conditional update, so that a
worker that comes back after its job was given up finds out and leaves the row alone.
"""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from django.db import IntegrityError, transaction
from django.utils import timezone

from production.errors import ProductionError
from production.models import PlanningJob, Run

if TYPE_CHECKING:
    from django.contrib.auth.models import User

State = PlanningJob.State

#: A worker beats once a second; only a dead one, or a machine that was asleep, is silent this long.
SILENT_AFTER = datetime.timedelta(seconds=45)


class PlanningUnderWayError(ProductionError):
    """Lays of the run are being looked for already; the message says who asked for them."""


def open_job(run: Run, seconds: int, by: User | None) -> PlanningJob:
    """A new waiting job of the run, the only one under way.

    PlanningUnderWayError says who was quicker, ProductionError that the run is gone.
    """
    sweep()
    try:
        with transaction.atomic():
            if not Run.objects.select_for_update().filter(pk=run.pk).exists():
                raise ProductionError(f"Run {run.code} is not there any more.")
            return PlanningJob.objects.create(
                run=run, seconds=seconds, asked_by=by, words="Waits for a worker."
            )
    except IntegrityError as error:
        raise PlanningUnderWayError(_under_way_words(run)) from error


def _under_way_words(run: Run) -> str:
    job = (
        run.planning_jobs.filter(state__in=PlanningJob.UNDER_WAY).select_related("asked_by").first()
    )
    if job is None:
        return f"Someone else was quicker to look for lays of {run.code}. Look at it once more."
    asker = job.asked_by.get_username() if job.asked_by else "make_plan"
    return (
        f"Lays of {run.code} are being looked for already: asked for by {asker} at"
        f" {timezone.localtime(job.asked_at):%H:%M}, {job.done_percent} % done."
    )


def claim(pk: int) -> PlanningJob | None:
    """Take a waiting job to work on it; None when it is taken, stopped or gone."""
    now = timezone.now()
    taken = PlanningJob.objects.filter(pk=pk, state=State.WAITING).update(
        state=State.WORKING, heard_at=now, words="Looks at what is to be cut."
    )
    return PlanningJob.objects.select_related("run").get(pk=pk) if taken else None


def beat(pk: int, done_percent: int, words: str) -> bool:
    """Tell how far a job is; whether to go on, which ends when it is stopped, given up or gone."""
    going = PlanningJob.objects.filter(pk=pk, state=State.WORKING, is_stop_asked=False)
    return bool(
        going.update(heard_at=timezone.now(), done_percent=done_percent, words=_fitted(words))
    )


def close(pk: int, state: PlanningJob.State, words: str) -> None:
    """End a job that is worked on; one that was given up or is gone stays as it is."""
    ended: dict[str, object] = {"state": state, "words": _fitted(words)}
    if state == State.DONE:
        ended["done_percent"] = 100
    PlanningJob.objects.filter(pk=pk, state=State.WORKING).update(ended_at=timezone.now(), **ended)


def stop(run: Run) -> bool:
    """Stop the job of a run: at once when no worker has it yet, else within seconds; whether there
    was one."""
    now = timezone.now()
    waiting = run.planning_jobs.filter(state=State.WAITING).update(
        state=State.STOPPED, ended_at=now, words="Stopped before a worker took it."
    )
    working = run.planning_jobs.filter(state=State.WORKING).update(is_stop_asked=True)
    return bool(waiting or working)


def sweep() -> int:
    """Give up the jobs whose worker is silent, so that the search can be started anew."""
    silent = PlanningJob.objects.filter(
        state=State.WORKING, heard_at__lt=timezone.now() - SILENT_AFTER
    )
    return sum(_give_up(job) for job in silent)


def _give_up(job: PlanningJob) -> int:
    assert job.heard_at
    words = (
        f"The worker has not answered since {timezone.localtime(job.heard_at):%H:%M}: it was ended"
        " or its machine was off. What it had found is kept; look again for more."
    )
    return PlanningJob.objects.filter(pk=job.pk, state=State.WORKING, heard_at=job.heard_at).update(
        state=State.FAILED, ended_at=timezone.now(), words=words
    )


def latest_job(run: Run) -> PlanningJob | None:
    """The job under way or else the last one."""
    return run.planning_jobs.select_related("asked_by").order_by("-pk").first()


def _fitted(words: str) -> str:
    return words[: PlanningJob._meta.get_field("words").max_length]
