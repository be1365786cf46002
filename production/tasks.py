"""What a worker does. The one module that knows the task library."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.db import transaction
from django_tasks import task

from production.cutting import jobs, lay_search
from production.models import PlanningJob, Run

if TYPE_CHECKING:
    from django.contrib.auth.models import User

#: How long the lays of a new run are looked for, when nobody says otherwise.
FIRST_SECONDS = 60


@task()
def search(job: int) -> None:
    lay_search.work_on(job)


def look_for_lays(run: Run, seconds: int, by: User | None) -> PlanningJob:
    """Have a worker look for better lays of a run; raises as `jobs.open_job`."""
    with transaction.atomic():
        job = jobs.open_job(run, seconds, by)
        search.enqueue(job.pk)
    return job


def need_a_worker() -> bool:
    """Whether tasks lie in the database until a worker takes them."""
    return str(settings.TASKS["default"]["BACKEND"]) == "django_tasks_db.DatabaseBackend"
