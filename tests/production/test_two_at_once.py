"""Two people at the same moment on one run: one truth, told, and never a crash."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import connection, connections

from orders.models import Amendment, TeamOrder
from production import services, tasks
from production.cutting import jobs
from production.cutting.lay_plans import LaysRefusedError, lays_of, use_aim, use_lay_plan
from production.cutting.laying_anew import lay_anew
from production.errors import MovedOnError, ProductionError
from production.handing_over.deliveries import hand_over
from production.models import (
    BlockTick,
    Delivery,
    Inspection,
    Jacket,
    Lay,
    LayPlan,
    LayPly,
    Run,
    StageEvent,
    StockLot,
    StockMovement,
)
from production.planning.plan import Lay as PlannedLay
from production.reporting.cut_reports import report_cut
from production.stages.inspections import Failing, Fault, fail
from production.stages.ticks import tick
from production.tracking import record
from tests.production.change_factories import make_frozen_run
from tests.production.lay_choice_factories import (
    in_halves,
    keep,
    lays_in_use,
    run_with_rows,
    ticket_of,
)
from tests.production.report_factories import make_bolts
from tests.production.run_factories import make_person

pytestmark = pytest.mark.django_db(transaction=True)

TICKET = "R-0001-T2"


@pytest.fixture
def own_file(transactional_db: None, tmp_path: Path) -> Iterator[str]:
    """A SQLite file as the site has it: the database in memory lets no second thread in. It is
    filled from the empty one in memory, and forgotten with its folder. PostgreSQL needs none."""
    if connection.vendor != "sqlite":
        yield ""
        return
    path = str(tmp_path / "muster.sqlite3")
    before: Any = connections["default"]
    before.cursor().execute("VACUUM INTO %s", [path])
    opened = _open(path)
    yield path
    opened.close()
    connections["default"] = before


def _open(path: str) -> Any:
    """A connection to the file for this thread, or to the database that all share."""
    shared: Any = connections["default"]
    if not path:
        return shared
    opened = type(shared)({**shared.settings_dict, "NAME": path}, "default")
    connections["default"] = opened
    return opened


@pytest.fixture
def run(own_file: str) -> Run:
    made = run_with_rows(make_frozen_run(4))
    make_bolts()
    return made


@pytest.fixture
def at_once(own_file: str) -> Callable[..., list[Any]]:
    """at_once(act, …) does all acts at the same moment, each in a thread of its own, and gives what
    they answered or by what they were refused. Anything but a refusal in words is raised."""

    def together(*acts: Callable[[], Any]) -> list[Any]:
        start = Barrier(len(acts))

        def do(act: Callable[[], Any]) -> Any:
            opened = _open(own_file)
            try:
                start.wait(20)
                return act()
            except ProductionError as error:
                return error
            finally:
                opened.close()

        with ThreadPoolExecutor(len(acts)) as pool:
            return list(pool.map(do, acts))

    return together


def stored_lays(ticket: str = TICKET) -> list[tuple[str, int, float, int]]:
    rows = Lay.objects.filter(ticket__code=ticket).order_by("position")
    return [(lay.code, lay.plies, lay.length_mm, len(lay.placements)) for lay in rows]


def as_stored(lays: tuple[PlannedLay, ...]) -> list[tuple[str, int, float, int]]:
    return [(lay.lay, lay.plies, lay.length_mm, len(lay.placements)) for lay in lays]


def assert_one_truth() -> None:
    """The lays of the plan, those stored, and the way marked as in use are the same ones."""
    planned = lays_in_use(ticket_of(Run.objects.get()))
    assert stored_lays() == as_stored(planned)
    in_use = LayPlan.objects.get(ticket__code=TICKET, is_in_use=True)
    assert lays_of(in_use) == planned
    assert all(check.holds for check in services.load_plan(Run.objects.get()).checks)


def assert_ledger_is_true() -> None:
    """Each cut ply took its cloth once, and no cloth lies under two plies."""
    for ply in LayPly.objects.all():
        taken = sum(move.mm for move in StockMovement.objects.filter(ply=ply))
        assert taken == (-ply.takes_mm if ply.cut_at else 0)
    for lot in StockLot.objects.all():
        plies = LayPly.objects.filter(lot=lot, start_mm__isnull=False).order_by("start_mm")
        ends_mm = 0
        for ply in plies:
            assert ply.start_mm is not None and ply.start_mm >= ends_mm
            ends_mm = ply.start_mm + ply.takes_mm


def test_of_two_who_start_a_search_one_does_and_the_other_is_told(
    run: Run, at_once: Callable[..., list[Any]], settings: Any
) -> None:
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.dummy.DummyBackend"}}
    ana, bo = make_person("ana", "maker"), make_person("bo", "maker")
    answers = at_once(
        lambda: tasks.look_for_lays(run, 60, ana), lambda: tasks.look_for_lays(run, 60, bo)
    )
    [refused] = [each for each in answers if isinstance(each, Exception)]
    assert isinstance(refused, jobs.PlanningUnderWayError)
    job = run.planning_jobs.get()
    assert job.asked_by and f"asked for by {job.asked_by.username}" in str(refused)


def test_two_who_choose_different_ways_leave_the_run_with_one(
    run: Run, at_once: Callable[..., list[Any]]
) -> None:
    ticket = ticket_of(run)
    keep(ticket, "money")
    keep(ticket, "time", lays=in_halves(lays_in_use(ticket)))
    ana, bo = make_person("ana", "maker"), make_person("bo", "maker")
    answers = at_once(
        lambda: use_lay_plan(ticket, "money", ana), lambda: bool(use_aim(run, "time", bo))
    )
    assert answers == [True, True]
    assert_one_truth()
    told = Amendment.objects.filter(words__contains="lays changed").order_by("pk")
    assert {each.by for each in told} == {ana, bo}
    last = (
        "with least money"
        if LayPlan.objects.get(ticket=ticket, is_in_use=True).aim == "money"
        else "with shortest cutting time"
    )
    assert last in told[1].words


def test_of_two_who_report_the_same_ply_one_counts(
    run: Run, at_once: Callable[..., list[Any]]
) -> None:
    lay = Lay.objects.filter(ticket__code=TICKET).order_by("position")[0]
    ana, bo = make_person("ana"), make_person("bo")
    answers = at_once(
        lambda: report_cut(lay.code, [1], ana, lot="B-SPRUCE"),
        lambda: report_cut(lay.code, [1], bo, lot="B-SPRUCE"),
    )
    [refused] = [each for each in answers if isinstance(each, Exception)]
    ply = lay.ply_rows.get(number=1)
    assert isinstance(refused, MovedOnError)
    assert ply.cut_by and f"already reported as cut by {ply.cut_by.username}" in str(refused)
    assert_ledger_is_true()


def test_a_report_while_the_plies_are_laid_anew_leaves_each_ply_one_place(
    run: Run, at_once: Callable[..., list[Any]]
) -> None:
    ticket = ticket_of(run)
    lay = ticket.lays.order_by("position")[0]
    for number in range(1, lay.plies + 1):
        answers = at_once(
            lambda number=number: report_cut(lay.code, [number], None, lot="B-SPRUCE"),
            lambda: lay_anew(ticket, None),
        )
        assert not [each for each in answers if isinstance(each, MovedOnError)]
        assert lay.ply_rows.get(number=number).cut_at
        assert_ledger_is_true()


def test_a_report_while_another_way_is_chosen_counts_for_the_lays_that_stay(
    run: Run, at_once: Callable[..., list[Any]]
) -> None:
    ticket = ticket_of(run)
    keep(ticket, "time", lays=in_halves(lays_in_use(ticket)))
    code = ticket.lays.order_by("position")[0].code
    reported, used = at_once(
        lambda: report_cut(code, [1], None, lot="B-SPRUCE"),
        lambda: use_lay_plan(ticket, "time", None),
    )
    assert LayPly.objects.filter(cut_at__isnull=False).count() == 1
    assert not isinstance(reported, Exception)
    assert isinstance(used, LaysRefusedError) or used is True
    assert_one_truth()
    assert_ledger_is_true()


def test_two_who_both_see_a_block_on_the_table_tick_it_once(
    run: Run, at_once: Callable[..., list[Any]]
) -> None:
    ana, bo = make_person("ana"), make_person("bo")
    answers = at_once(
        lambda: tick("TO-1-01", ["FR", "CO"], ana), lambda: tick("TO-1-01", ["FR", "CO"], bo)
    )
    assert sorted(len(names) for names in answers) == [0, 2]
    assert BlockTick.objects.count() == 2


def test_of_two_who_look_a_jacket_over_one_is_told_that_it_went_back(
    run: Run, at_once: Callable[..., list[Any]]
) -> None:
    for stage in ("cut", "sew"):
        record("TO-1-01", "done", stage, None)
    seen = StageEvent.objects.latest("pk").pk
    ana, bo = make_person("ana"), make_person("bo")
    answers = at_once(
        lambda: fail("TO-1-01", Failing((Fault("zipper"),), seen=seen), ana),
        lambda: fail("TO-1-01", Failing((Fault("label"),), seen=seen), bo),
    )
    [refused] = [each for each in answers if isinstance(each, Exception)]
    assert isinstance(refused, MovedOnError) and "was already moved on by" in str(refused)
    assert Inspection.objects.count() == 1


def finished(*codes: str) -> list[Jacket]:
    for code in codes:
        for stage in ("cut", "sew", "finish"):
            record(code, "done", stage, None)
    return list(Jacket.objects.filter(code__in=codes))


def handing_over(jackets: list[Jacket], form_key: UUID | None = None) -> Callable[[], Delivery]:
    order = TeamOrder.objects.get(code="TO-1")
    return lambda: hand_over(
        order,
        jackets,
        received_by="",
        signed="none",
        signature=[],
        note="",
        by=None,
        form_key=form_key,
    )


def test_one_form_sent_twice_at_once_is_one_delivery(run, at_once):
    act = handing_over(finished("TO-1-01", "TO-1-02"), uuid4())
    first, second = at_once(act, act)
    assert first == second == Delivery.objects.get()
    assert StageEvent.objects.filter(stage="hand_over").count() == 2


def test_one_jacket_handed_over_by_two_at_once_is_in_one_delivery(run, at_once):
    jackets = finished("TO-1-01", "TO-1-02")
    answers = at_once(handing_over(jackets), handing_over(jackets[:1]))
    (refused,) = [answer for answer in answers if isinstance(answer, ProductionError)]
    assert isinstance(refused, MovedOnError)
    assert "TO-1-01 (Member 01) is handed over" in str(refused)
    assert StageEvent.objects.filter(jacket=jackets[0], stage="hand_over").count() == 1
    assert Delivery.objects.count() == 1


def test_two_parts_handed_over_at_once_are_two_deliveries_and_settle_the_order(run, at_once):
    jackets = finished("TO-1-01", "TO-1-02", "TO-1-03", "TO-1-04")
    at_once(handing_over(jackets[:2]), handing_over(jackets[2:]))
    numbers = Delivery.objects.order_by("number").values_list("number", flat=True)
    assert list(numbers) == [1, 2]
    assert TeamOrder.objects.get(code="TO-1").state == "handed_over"
