"""Minutes of stages: how sure they are, and the standards that follow them."""

from __future__ import annotations

import datetime
import math
from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from patterns.models import Operation
from production.errors import MovedOnError, ProductionError
from production.forecasting.forecast_input import measured_ratios
from production.history.stage_ratios import measured
from production.history.take_over import take_over
from production.models import Run, StandardChange
from production.planning.minutes.stage_spread import median_range, spread
from production.planning.planner import plan_run
from production.scheduling.floor_state import load_floor
from production.services import load_snapshot
from production.snapshots import with_materials_of_today
from production.tracking import record
from production.work_study.stage_minutes import stage_corrections
from tests.production.operation_factories import make_operations
from tests.production.run_factories import make_person, make_run, make_team_order, person, today_at

#: Invented.
DAY = datetime.date(2027, 1, 11)


def decimals(*values: float) -> list[Decimal]:
    return [Decimal(str(value)) for value in values]


@pytest.mark.parametrize(
    ("count", "rank", "confidence"),
    # 1 - 2 P(B < rank) for B binomial with n and 1/2, by hand: 30/32, 62/64, 1002/1024, 1 - 2 x
    # 21700/2^20.
    [(5, 1, 0.9375), (6, 1, 0.96875), (10, 2, 0.978516), (20, 6, 0.958611)],
)
def test_the_median_lies_between_two_values_in_order(count, rank, confidence):
    found = median_range(Decimal(value) for value in range(1, count + 1))
    assert (found.low, found.high) == (rank, count + 1 - rank)
    assert found.confidence == pytest.approx(confidence, abs=1e-6)


def test_one_value_says_nothing_about_others():
    assert median_range([Decimal(1)]).confidence == 0
    with pytest.raises(ValueError, match="no value"):
        median_range([])
    assert spread([]) is None


def test_the_spread_names_the_middle_half():
    found = spread((ratio, Decimal(60)) for ratio in decimals(1.0, 1.1, 1.2, 1.4, 2.0))
    assert found
    assert (found.count, found.ratio) == (5, Decimal("1.2"))
    assert (found.lower, found.upper) == (Decimal("1.1"), Decimal("1.4"))


def cut_in(run: Run, minutes: int, who: str = "ana", first: int = 0, count: int = 6) -> None:
    """Jackets of a run are cut one after the other, 10 minutes being the standard."""
    by = make_person(who)
    for number, jacket in enumerate(run.jackets.order_by("pk")[first : first + count]):
        start = today_at(8, 0) + datetime.timedelta(minutes=number * minutes)
        record(jacket.code, "start", "cut", by, at=start)
        done = start + datetime.timedelta(minutes=minutes)
        record(jacket.code, "done", "cut", by, at=done)


def next_run(code: str, jackets: int = 6) -> Run:
    return make_run(
        code=code, order=make_team_order(f"T{code[2:]}", jackets, state="in_production")
    )


@pytest.mark.django_db
def test_the_planned_minutes_of_the_next_run_follow():
    make_operations()
    mo = make_person("mo", "maker")
    run = next_run("R-0001")
    cut_in(run, 12)
    before = load_snapshot(run)
    planned = plan_run(with_materials_of_today(before, DAY)).jacket_minutes

    found = measured()[0]
    assert (found.stage, found.factor, found.why_not) == ("cut", Decimal("1.20"), "")
    changes = take_over("cut", seen=found.mark, by=mo)

    assert {change.operation.stage for change in changes} == {"cut"}
    assert changes[0].reason == "stage minutes of 6 jackets: 1.20"
    after = plan_run(with_materials_of_today(before, DAY)).jacket_minutes
    for code, minutes in planned.items():
        assert after[code]["cut"] == pytest.approx(
            minutes["cut"] * Decimal("1.2"), abs=Decimal("0.05")
        )
        assert abs(after[code]["sew"] - minutes["sew"]) < Decimal("0.02")


@pytest.mark.django_db
def test_the_same_jackets_never_count_twice():
    make_operations()
    mo = make_person("mo", "maker")
    old = next_run("R-0001", 12)
    cut_in(old, 12)
    take_over("cut", seen=measured()[0].mark, by=mo)

    # Those of the old run that are cut after it were measured against the old standards as well.
    cut_in(old, 12, "bo", first=6)
    found = measured()[0]
    assert (found.spread, found.before) == (None, 12)
    with pytest.raises(ProductionError, match="0 of at least 5 jackets count"):
        take_over("cut", seen=found.mark, by=mo)

    cut_in(next_run("R-0002"), 9, "cy")
    found = measured()[0]
    assert (found.factor, found.before, found.why_not) == (Decimal("0.90"), 12, "")
    take_over("cut", seen=found.mark, by=mo)


def minutes_to_cut(run: Run) -> set[int]:
    found = load_floor().jackets
    return {
        sum(step.minutes for step in jacket.steps if step.stage == "cut")
        for jacket in found
        if jacket.run == run.code and jacket.steps[0].stage == "cut"
    }


@pytest.mark.django_db
def test_what_the_standards_followed_does_not_lengthen_the_schedule_once_more():
    """10 standard minutes take 12; a run that is planned with 12 is not scheduled with 14.4, nor
    does the old one get shorter."""
    make_operations()
    mo, old = make_person("mo", "maker"), next_run("R-0001", 12)
    cut_in(old, 12)
    assert minutes_to_cut(old) == {12}
    spread_before = measured_ratios()["cut"]
    assert spread_before == [pytest.approx(math.log(1.2))] * 6
    take_over("cut", seen=measured()[0].mark, by=mo)

    new = next_run("R-0002")
    for jacket in new.jackets.all():  # the factories' runs do not read the operations
        jacket.standard_minutes["cut"] = "12.00"
        jacket.save()
    assert minutes_to_cut(old) == minutes_to_cut(new) == {12}
    assert measured_ratios()["cut"] == [pytest.approx(0)] * 6
    assert stage_corrections()["cut"].ratio == 1
    assert stage_corrections(old)["cut"].ratio == Decimal("1.2")

    cut_in(new, 15, "cy")
    take_over("cut", seen=measured()[0].mark, by=mo)
    # Now the standard is 15, which half of the jackets took; half took 12, 0.8 of it.
    assert sorted(measured_ratios()["cut"]) == pytest.approx([math.log(0.8)] * 6 + [0] * 6)
    assert minutes_to_cut(old) == {12}


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("minutes", "count", "words"),
    [(12, 4, "4 of at least 5"), (21, 6, "factor 2.10 is beyond"), (4, 6, "0.40 is beyond")],
)
def test_too_few_jackets_and_odd_factors_change_nothing(minutes, count, words):
    make_operations()
    cut_in(next_run("R-0001"), minutes, count=count)
    found = measured()[0]
    with pytest.raises(ProductionError, match=words):
        take_over("cut", seen=found.mark, by=make_person("mo", "maker"))
    assert not StandardChange.objects.exists()


@pytest.mark.django_db
def test_an_old_page_takes_nothing_over():
    make_operations()
    run = next_run("R-0001", 8)
    cut_in(run, 12)
    seen = measured()[0].mark
    cut_in(run, 12, "bo", first=6, count=2)
    with pytest.raises(MovedOnError, match="look at it anew"):
        take_over("cut", seen=seen, by=make_person("mo", "maker"))


@pytest.mark.django_db
def test_minutes_of_people_are_for_them_and_the_maker_alone():
    run = next_run("R-0001", 8)
    cut_in(run, 12, "ana", count=4)
    cut_in(run, 15, "helper", first=4, count=4)
    helper = Client()
    helper.force_login(User.objects.get(username="helper"))
    page = reverse("production:history_minutes")

    maker = person("maker").get(page).content.decode()
    assert "ana: 1.20" in maker and "helper: 1.50" in maker
    own = helper.get(page).content.decode()
    assert "helper: 1.50" in own and "ana" not in own and "Take over" not in own


@pytest.mark.django_db
def test_the_maker_takes_over_from_the_page_and_a_helper_cannot():
    make_operations()
    cut_in(next_run("R-0001"), 12)
    address = reverse("production:take_over_minutes", args=["cut"])
    seen = {"seen": measured()[0].mark}
    assert person("helper").post(address, seen).status_code == 403
    assert person("maker").get(address).status_code == 405

    maker = Client()
    maker.force_login(User.objects.get(username="maker"))
    shown = maker.get(reverse("production:history_minutes")).content.decode()
    assert "the median lies from 1.20 to 1.20 with 97 %" in shown
    told = maker.post(address, seen, follow=True).content.decode()
    assert "stage minutes of 6 jackets: 1.20" in told
    assert "6 jackets planned before the standards changed" in told
    again = maker.post(address, seen, follow=True).content.decode()
    assert "look at it anew" in again
    assert StandardChange.objects.count() == Operation.objects.filter(stage="cut").count()
