from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.planning.explode import explode
from production.planning.minutes.labor import plan_labor
from production.planning.minutes.learning import total_factor, unit_factor
from production.planning.plan import Labor, PlanError
from production.planning.snapshot import RunSnapshot
from tests.production.planning_factories import (
    make_jacket,
    make_operation,
    make_sewing,
    make_snapshot,
    make_workroom,
)

RATE = Decimal("0.8")
SEAM = make_sewing("seam", "join", machine="", stitch_type="")  # 4.4 minutes a jacket


def learning_run(jackets: int = 4, rate: Decimal | None = RATE, **values: object) -> RunSnapshot:
    room = make_workroom(relaxation_allowance=Decimal(0), learning_rate=rate)
    defaults = {
        "jackets": tuple(make_jacket(f"J{n}") for n in range(jackets)),
        "operations": (SEAM,),
        "workroom": room,
    }
    return make_snapshot(**{**defaults, **values})


def planned(snapshot: RunSnapshot) -> tuple[Labor, dict[str, dict[str, Decimal]]]:
    return plan_labor(snapshot, explode(snapshot), ())


def test_the_first_jacket_takes_the_standard_and_each_doubling_its_share() -> None:
    _, minutes = planned(learning_run())
    # 4.4, 4.4 x 0.8, 4.4 x 0.7021, 4.4 x 0.64
    told = [str(stages["sew"]) for stages in minutes.values()]
    assert told == ["4.40", "3.52", "3.09", "2.82"]


def test_the_run_takes_the_sum_of_its_jackets() -> None:
    labor, _ = planned(learning_run())
    assert labor.with_allowance_minutes == Decimal("13.83")  # 4.4 x 3.1421
    assert labor.standard_minutes == Decimal("17.60")


def test_without_a_rate_every_jacket_takes_the_standard() -> None:
    labor, minutes = planned(learning_run(rate=None))
    assert {stages["sew"] for stages in minutes.values()} == {Decimal("4.40")}
    assert labor.with_allowance_minutes == labor.standard_minutes


def test_a_rate_of_one_teaches_nothing() -> None:
    assert planned(learning_run(rate=Decimal(1))) == planned(learning_run(rate=None))


def test_only_sewing_is_learnt() -> None:
    operations = (
        make_operation("bundle", "cut", "jacket", minutes_each=Decimal(2)),
        make_operation("set-up", "sew", "run", minutes_each=Decimal(8)),
        make_operation("pack", "finish", "jacket", minutes_each=Decimal(3)),
    )
    _, minutes = planned(learning_run(operations=operations))
    each = {"cut": Decimal("2.00"), "sew": Decimal("2.00"), "finish": Decimal("3.00")}
    assert list(minutes.values()) == [each] * 4


def test_learning_follows_the_order_of_the_batches() -> None:
    seam = make_sewing("seam", "join")
    in_oat = (("FR", "oat"), ("BK", "oat"), ("CO", "oat"))
    in_spruce = (("FR", "spruce"), ("BK", "spruce"), ("CO", "spruce"))
    jackets = tuple(make_jacket(f"J{n}", blocks=(in_spruce, in_oat)[n % 2]) for n in range(4))
    _, minutes = planned(replace(learning_run(operations=(seam,)), jackets=jackets))
    # Oat is sewn first: J1, J3, J0, J2. The one change of thread is shared by all: 0.75 each.
    told = {code: str(stages["sew"] - Decimal("0.75")) for code, stages in minutes.items()}
    assert told == {"J0": "3.09", "J1": "4.40", "J2": "2.82", "J3": "3.52"}


def test_each_blocking_is_learnt_from_its_own_first_jacket() -> None:
    snapshot = learning_run()
    jackets = tuple(
        replace(jacket, blocking=("quay", "pier")[n % 2])
        for n, jacket in enumerate(snapshot.jackets)
    )
    seams = tuple(
        replace(seam, blocking=code) for code in ("quay", "pier") for seam in snapshot.seams
    )
    _, minutes = planned(replace(snapshot, jackets=jackets, seams=seams))
    told = [str(stages["sew"]) for stages in minutes.values()]
    assert told == ["4.40", "4.40", "3.52", "3.52"]


@given(st.integers(1, 40), st.decimals("0.5", "1", places=3))
def test_minutes_of_jackets_add_up_to_the_run_whatever_is_learnt(
    jackets: int, rate: Decimal
) -> None:
    snapshot = learning_run(jackets, rate)
    snapshot = replace(
        snapshot, workroom=replace(snapshot.workroom, relaxation_allowance=Decimal("0.11"))
    )
    labor, minutes = planned(snapshot)
    assert sum(sum(stages.values()) for stages in minutes.values()) == labor.with_allowance_minutes


def test_jackets_from_one_to_another_are_the_difference_of_two_totals() -> None:
    both = total_factor(10, RATE) - total_factor(4, RATE)
    assert total_factor(10, RATE, first=5) == pytest.approx(both)
    assert total_factor(4, RATE, first=5) == 0


@pytest.mark.parametrize("rate", ["0", "-0.1", "1.001"])
def test_a_rate_that_cannot_be_is_refused_in_words(rate: str) -> None:
    with pytest.raises(PlanError, match="above 0 and at most 1"):
        planned(learning_run(rate=Decimal(rate)))


def test_jackets_are_counted_from_one() -> None:
    with pytest.raises(ValueError, match="from 1"):
        unit_factor(0, RATE)


def test_a_snapshot_of_before_learning_loads_and_teaches_nothing() -> None:
    stored = msgspec.to_builtins(learning_run())
    for name in ("learning_rate", "stitch_change_minutes", "thread_change_minutes"):
        del stored["workroom"][name]
    loaded = msgspec.convert(stored, RunSnapshot)
    assert planned(loaded) == planned(learning_run(rate=None))
