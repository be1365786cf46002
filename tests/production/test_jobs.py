"""The search for better lays as a job: one at a time, followed, stopped, swept."""

from __future__ import annotations

import datetime
import os
import signal
from dataclasses import replace

import pytest
from django.db import OperationalError, connection, transaction
from django.utils import timezone
from django_tasks import default_task_backend

from production import tasks
from production.cutting import jobs, lay_plans, lay_search
from production.cutting.nest_shelf import NestShelf
from production.errors import ProductionError
from production.models import KeptNest, LayPlan, PlanningJob, Run
from production.planning.nesting import Nest, NestPlace
from production.planning.plan import PlanError
from tests.production.lay_choice_factories import (
    choice,
    in_halves,
    lays_in_use,
    one_better,
    run_with_rows,
    searches_by,
    ticket_of,
    turned_about,
)
from tests.production.run_factories import make_person, make_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return run_with_rows(make_run())


@pytest.fixture
def queue(settings):
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.dummy.DummyBackend"}}
    default_task_backend.clear()
    return default_task_backend


@pytest.fixture
def own_signals():
    """The worker of the library takes the signals and never gives them back."""
    before = {
        each: signal.getsignal(each) for each in (signal.SIGINT, signal.SIGTERM, signal.SIGQUIT)
    }
    yield
    for each, handler in before.items():
        signal.signal(each, handler)


def last_job(run: Run) -> PlanningJob:
    job = jobs.latest_job(run)
    assert job
    return job


def test_asking_leaves_the_work_to_a_worker(run, queue):
    job = tasks.look_for_lays(run, 60, make_person(role="maker"))
    assert (job.state, job.seconds) == ("waiting", 60)
    assert [result.args for result in queue.results] == [[job.pk]]
    assert not LayPlan.objects.exclude(aim="rows").exists()


def test_the_second_of_two_is_told_who_was_quicker(run, queue):
    tasks.look_for_lays(run, 60, make_person("ana", "maker"))
    with pytest.raises(jobs.PlanningUnderWayError, match=r"already: asked for by ana at \d\d:\d\d"):
        tasks.look_for_lays(run, 60, make_person("bo", "maker"))
    assert run.planning_jobs.count() == len(queue.results) == 1


def test_a_refused_job_queues_nothing(run, queue):
    with pytest.raises(jobs.PlanningUnderWayError), transaction.atomic():
        tasks.look_for_lays(run, 60, None)
        tasks.look_for_lays(run, 60, None)
    assert not run.planning_jobs.exists()


def test_a_run_that_is_gone_gets_no_job(run):
    gone = Run(pk=run.pk + 1, code="R-0099")
    with pytest.raises(ProductionError, match="Run R-0099 is not there any more"):
        jobs.open_job(gone, 60, None)


def test_what_is_found_is_kept_and_nothing_in_use_changes(run, monkeypatch):
    searches_by(monkeypatch, one_better)
    before = run.plan
    lay_search.work_on(jobs.open_job(run, 5, None).pk)
    job = last_job(run)
    assert (job.state, job.done_percent) == ("done", 100)
    assert job.ended_at and "take" in job.words
    assert LayPlan.objects.filter(aim="money", is_in_use=False).count() == 2
    assert LayPlan.objects.filter(aim="rows", is_in_use=True).count() == 2
    run.refresh_from_db()
    assert run.plan == before


def test_a_job_is_worked_on_once(run, monkeypatch):
    calls = []
    searches_by(monkeypatch, lambda ticket, is_stopped: calls.append(ticket) or iter(()))
    job = jobs.open_job(run, 5, None)
    lay_search.work_on(job.pk)
    lay_search.work_on(job.pk)
    assert len(calls) == 2  # one for each of the two tickets
    assert last_job(run).state == "done"


def test_progress_is_told_while_it_works(run, monkeypatch):
    seen = []

    def look(ticket, is_stopped):
        row = last_job(run)
        seen.append((row.state, row.words, row.heard_at is not None))
        yield choice(ticket)

    searches_by(monkeypatch, look)
    lay_search.work_on(jobs.open_job(run, 5, None).pk)
    assert seen == [
        ("working", "Cut ticket R-0001-T1, 1 of 2", True),
        ("working", "Cut ticket R-0001-T2, 2 of 2", True),
    ]


def test_a_stop_ends_the_search_and_keeps_what_was_found(run, monkeypatch):
    monkeypatch.setattr(lay_search, "BEAT_SECONDS", 0.0)
    tickets = []

    def look(ticket, is_stopped):
        tickets.append(ticket.code)
        assert not is_stopped()
        assert jobs.stop(run)
        assert is_stopped()
        yield choice(ticket)

    searches_by(monkeypatch, look)
    lay_search.work_on(jobs.open_job(run, 60, None).pk)
    assert tickets == ["R-0001-T1"]
    assert last_job(run).state == "stopped" and last_job(run).words.startswith("Stopped after 0 s")
    assert LayPlan.objects.filter(aim="money").count() == 1


def test_a_job_that_no_worker_has_yet_is_stopped_at_once(run, queue):
    job = tasks.look_for_lays(run, 60, None)
    assert jobs.stop(run)
    lay_search.work_on(job.pk)
    assert last_job(run).state == "stopped"
    assert not jobs.stop(run)
    assert jobs.open_job(run, 60, None).state == "waiting"


def test_the_signal_that_ends_a_worker_ends_the_search_in_good_order(run, monkeypatch):
    monkeypatch.setattr(lay_search, "BEAT_SECONDS", 0.0)
    before = signal.getsignal(signal.SIGTERM)

    def look(ticket, is_stopped):
        yield choice(ticket)
        os.kill(os.getpid(), signal.SIGTERM)
        assert is_stopped()

    searches_by(monkeypatch, look)
    lay_search.work_on(jobs.open_job(run, 60, None).pk)
    assert last_job(run).state == "stopped"
    assert LayPlan.objects.filter(aim="money").count() == 1
    assert signal.getsignal(signal.SIGTERM) is before


def silent_job(run: Run, seconds: float) -> PlanningJob:
    job = jobs.open_job(run, 60, None)
    assert jobs.claim(job.pk)
    then = timezone.now() - datetime.timedelta(seconds=seconds)
    PlanningJob.objects.filter(pk=job.pk).update(heard_at=then)
    return job


def test_a_job_whose_worker_was_killed_is_given_up_and_can_be_started_anew(run):
    old = silent_job(run, 60)
    new = jobs.open_job(run, 60, None)
    old.refresh_from_db()
    assert (old.state, new.state) == ("failed", "waiting")
    assert "has not answered since" in old.words and "look again" in old.words


def test_a_job_that_beats_is_not_given_up(run):
    silent_job(run, 20)
    assert jobs.sweep() == 0
    with pytest.raises(jobs.PlanningUnderWayError):
        jobs.open_job(run, 60, None)


def test_a_worker_that_comes_back_too_late_writes_nothing_over_the_new_job(run):
    old = silent_job(run, 60)
    new = jobs.open_job(run, 60, None)
    assert not jobs.beat(old.pk, 50, "still here")
    jobs.close(old.pk, PlanningJob.State.DONE, "done after all")
    old.refresh_from_db()
    assert old.state == "failed" and old.done_percent == 0
    new.refresh_from_db()
    assert new.state == "waiting"


def test_a_block_that_cannot_be_laid_out_fails_the_job_by_its_name(run, monkeypatch):
    def look(ticket, is_stopped):
        raise PlanError("Block BK in size S is 1500 mm wide.")
        yield

    searches_by(monkeypatch, look)
    lay_search.work_on(jobs.open_job(run, 5, None).pk)
    assert last_job(run).state == "failed"
    assert last_job(run).words == (
        "Block BK in size S is 1500 mm wide. The lays in use are as they were."
    )


def test_a_full_disk_fails_the_job_in_words_and_keeps_what_was_found(run, monkeypatch):
    def look(ticket, is_stopped):
        yield choice(ticket)
        raise OperationalError("database or disk is full")

    searches_by(monkeypatch, look)
    lay_search.work_on(jobs.open_job(run, 5, None).pk)
    assert last_job(run).state == "failed"
    assert "Nothing more could be stored (database or disk is full)" in last_job(run).words
    assert LayPlan.objects.filter(aim="money").count() == 1


def test_a_fault_in_the_program_closes_the_job_and_is_not_hidden(run, monkeypatch):
    def look(ticket, is_stopped):
        raise ZeroDivisionError
        yield

    searches_by(monkeypatch, look)
    with pytest.raises(ZeroDivisionError):
        lay_search.work_on(jobs.open_job(run, 5, None).pk)
    assert last_job(run).state == "failed"
    assert jobs.open_job(run, 5, None)


def test_the_search_for_a_run_deleted_meanwhile_ends_without_a_trace(run, monkeypatch):
    def look(ticket, is_stopped):
        found = choice(ticket)
        Run.objects.filter(pk=run.pk).delete()
        yield found

    searches_by(monkeypatch, look)
    monkeypatch.setattr(lay_search, "BEAT_SECONDS", 0.0)
    lay_search.work_on(jobs.open_job(run, 5, None).pk)
    assert not PlanningJob.objects.exists() and not LayPlan.objects.exists()


def test_a_run_that_is_being_cut_is_not_searched(run, monkeypatch):
    def look(ticket, is_stopped):
        raise AssertionError("searched")

    searches_by(monkeypatch, look)
    run.jackets.update(stage="sew")
    lay_search.work_on(jobs.open_job(run, 5, None).pk)
    assert last_job(run).state == "done" and "being cut already" in last_job(run).words


def test_the_worker_takes_what_was_asked_for_once(run, monkeypatch, own_signals):
    from django.core.management import call_command

    searches_by(monkeypatch, one_better)
    tasks.look_for_lays(run, 5, None)
    call_command(
        "db_worker", batch=True, interval=0, startup_delay=False, reload=False, verbosity=0
    )
    assert last_job(run).state == "done"


def nest(length_mm: float) -> Nest:
    return Nest((NestPlace(("FR", "S", "left"), 1.5, 2.0, 180.0),), length_mm, 1.0, "nested")


def test_a_kept_nest_gives_way_only_to_a_shorter_one():
    shelf = NestShelf()
    assert shelf.get("a") is None
    shelf.put("a", nest(1000), 5)
    shelf.put("a", nest(1200), 20)
    assert shelf.get("a") == (nest(1000), 20)
    shelf.put("a", nest(900), 1)
    assert shelf.get("a") == (nest(900), 20)
    assert KeptNest.objects.count() == 1


def cloth_mm(lays) -> float:
    return float(sum(lay.plies * lay.length_mm for lay in lays))


def test_only_a_better_way_takes_the_place_of_the_one_that_is_kept(run):
    ticket = ticket_of(run)
    rows = lays_in_use(ticket)
    longer = turned_about(rows)
    for lays, is_kept in ((longer, True), (longer, False), (rows, True), (longer, False)):
        found = choice(ticket, "fabric", lays=lays)
        assert lay_plans.keep_choice(ticket, found, cloth_mm) is is_kept
    assert lay_plans.lays_of(ticket.lay_plans.get(aim="fabric")) == rows


@pytest.mark.parametrize(("cutting_weight", "halved"), [("1", False), ("0", True)])
def test_what_is_kept_for_least_money_is_weighed_as_the_search_weighs_it(
    run, monkeypatch, cutting_weight, halved
):
    """Twice the lays for a little less cloth: dearer, unless cutting counts for nothing."""
    run.snapshot["workroom"]["cutting_weight"] = cutting_weight
    run.save()

    def shorter(ticket):
        return tuple(
            replace(lay, length_mm=0.4 * lay.length_mm) for lay in in_halves(lays_in_use(ticket))
        )

    def look(ticket, is_stopped):
        for lays in (lays_in_use(ticket), shorter(ticket), lays_in_use(ticket)):
            yield choice(ticket, lays=lays)

    searches_by(monkeypatch, look)
    lay_search.work_on(jobs.open_job(run, 5, None).pk)
    ticket = ticket_of(run)
    kept = lay_plans.lays_of(ticket.lay_plans.get(aim="money"))
    assert kept == (shorter(ticket) if halved else lays_in_use(ticket))


def test_rows_in_use_that_nesting_could_not_better_say_why_on_the_ticket(run):
    ticket = ticket_of(run)
    rows = lays_in_use(ticket)
    methods = {lay.lay: ("rows", "nesting was stopped by the machine") for lay in rows}
    lay_plans.keep_choice(ticket, choice(ticket, "money", lays=rows, methods=methods))
    assert set(ticket.lays.values_list("method_note", flat=True)) == {
        "nesting was stopped by the machine"
    }


def test_better_lays_for_the_aim_in_use_wait_until_they_are_chosen(run):
    ticket = ticket_of(run)
    assert lay_plans.keep_choice(ticket, choice(ticket, "rows"))
    assert not ticket.lay_plans.get(aim="rows").is_in_use
    run.refresh_from_db()
    assert lays_in_use(ticket) == lays_in_use(ticket_of(run))


def test_a_way_for_a_ticket_that_is_gone_is_dropped(run):
    ticket = ticket_of(run)
    found = choice(ticket)
    pk = ticket.pk
    ticket.delete()
    ticket.pk = pk
    assert not lay_plans.keep_choice(ticket, found)
    assert connection.connection is not None
