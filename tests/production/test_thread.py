from __future__ import annotations

from decimal import Decimal

import pytest

from production.planning.plan import PlanError, ThreadNeed
from production.planning.snapshot import OperationSpec, RunSnapshot, ThreadSpec
from production.planning.thread import (
    SpoolNeed,
    consumption,
    spool_needs,
    thread_by_ratio,
    thread_needs,
)
from tests.production.planning_factories import (
    make_fabric,
    make_jacket,
    make_sewing,
    make_snapshot,
    make_stretch,
    make_workroom,
)

SIDE = make_stretch("side", "join", "BK", 1000, runs=2)
NECK = make_stretch("neck", "join", "CO", 400, topstitched=True)


def sewn(*operations: OperationSpec, **values: object) -> RunSnapshot:
    return make_snapshot(**{"seams": (SIDE,), "operations": operations, **values})


def metres(*operations: OperationSpec, **values: object) -> Decimal:
    (need,) = thread_needs(sewn(*operations, **values))
    return need.metres


def test_thread_of_a_seam_is_its_length_by_formula_with_tails_and_waste() -> None:
    # T = 2 x 1.2, C = 2 + 2 x 2.4 / 3 = 3.6: 3600 mm; tails 2 runs x 2 x 60 x 2 threads = 480 mm;
    # 4080 x 1.15 = 4692 mm
    needs = thread_needs(sewn(make_sewing("seam", "join")))
    assert needs == (ThreadNeed("thread-spruce", "seam", "301", Decimal("4.7"), 1),)


def test_without_tails_and_waste_the_formula_alone_remains() -> None:
    bare = make_workroom(thread_tail_mm=0, thread_waste=Decimal(0))
    assert metres(make_sewing("seam", "join"), workroom=bare) == Decimal("3.6")


def test_a_tail_is_left_at_both_ends_of_every_run_by_every_thread() -> None:
    # One run less leaves 2 x 60 x 2 threads = 240 mm less: 3840 x 1.15 = 4416.
    one_run = make_stretch("side", "join", "BK", 1000, runs=1)
    assert metres(make_sewing("seam", "join"), seams=(one_run,)) == Decimal("4.5")


def test_two_rows_take_twice_the_thread_and_two_spools_at_once() -> None:
    (need,) = thread_needs(sewn(make_sewing("seam", "join", rows=2)))
    assert (need.metres, need.spools) == (Decimal("9.4"), 2)  # 2 x 4.692


def test_more_layers_and_thicker_cloth_take_more() -> None:
    # T = 3 x 1.2: C = 4.4; T = 2 x 2.0: C = 4.6667; (1000 C + 480) x 1.15
    assert metres(make_sewing("seam", "join", cloth_layers=3)) == Decimal("5.7")  # 5.612
    thick = make_fabric(compressed_thickness_mm=Decimal("2.0"))
    assert metres(make_sewing("seam", "join"), fabrics=(thick,)) == Decimal("6.0")  # 5.9187


def test_an_overedge_counts_its_width_and_its_three_spools() -> None:
    # C = 5 + 4 (5 + 2.4) / 3 = 14.8667; 14866.7 + 2 x 2 x 60 x 3 = 15586.7; x 1.15 = 17924.7
    overedge = make_sewing("edge", "join", stitch_type="504", seam_width_mm=Decimal(5))
    (need,) = thread_needs(sewn(overedge))
    assert (need.metres, need.spools) == (Decimal("18.0"), 3)


def test_a_seam_is_sewn_in_the_thread_of_the_block_it_lies_on() -> None:
    needs = thread_needs(sewn(make_sewing("seam", "join"), seams=(SIDE, NECK)))
    assert [need.thread_color for need in needs] == ["thread-oat", "thread-spruce"]


@pytest.mark.parametrize(("chosen", "used"), [("red", "thread-red"), (None, "thread-oat")])
def test_contrast_work_uses_the_topstitch_thread_where_one_is_chosen(
    chosen: str | None, used: str
) -> None:
    jacket = make_jacket(topstitch_thread=chosen and f"thread-{chosen}")
    topstitch = make_sewing("topstitch", "topstitched", contrast_thread=True)
    (need,) = thread_needs(sewn(topstitch, jackets=(jacket,), seams=(NECK,)))
    assert need.thread_color == used


def test_plain_work_ignores_the_topstitch_thread() -> None:
    jacket = make_jacket(topstitch_thread="thread-red")
    (need,) = thread_needs(sewn(make_sewing("seam", "join"), jackets=(jacket,)))
    assert need.thread_color == "thread-spruce"


def test_rounding_comes_once_after_all_jackets() -> None:
    jackets = tuple(make_jacket(f"J{n}") for n in range(10))
    assert metres(make_sewing("seam", "join"), jackets=jackets) == Decimal("47.0")  # 46.92


def test_a_length_that_divides_evenly_is_not_rounded_up() -> None:
    # 3.5 mm stitch: C = 2 + 4.8 / 3.5 has endless decimals; 7000 mm take exactly 23.6 m.
    bare = make_workroom(thread_tail_mm=0, thread_waste=Decimal(0))
    seams = (make_stretch("side", "join", "BK", 7000),)
    operation = make_sewing("seam", "join", stitch_length_mm=Decimal("3.5"))
    assert metres(operation, seams=seams, workroom=bare) == Decimal("23.6")


def test_spools_hold_the_metres() -> None:
    threads = (ThreadSpec("thread-spruce", "spruce", "#123456", 2, Decimal(1)),)
    (need,) = thread_needs(sewn(make_sewing("seam", "join"), threads=threads))
    assert need.spools == 3  # 4.7 m on spools of 2 m


def test_work_on_one_machine_shares_its_spools_and_each_machine_has_its_own() -> None:
    seam, topstitch = make_sewing("seam", "join"), make_sewing("topstitch", "topstitched")
    overedge = make_sewing("edge", "join", machine="serger", stitch_type="504")
    snapshot = sewn(seam, topstitch, overedge, seams=(NECK,))
    needs = thread_needs(snapshot)
    assert [(need.use, need.spools) for need in needs] == [
        ("edge", 3),
        ("seam", 1),
        ("topstitch", 1),
    ]
    whole = sum((need.metres for need in needs), Decimal(0))
    assert spool_needs(snapshot, needs) == (SpoolNeed("thread-oat", whole, 4),)  # 3 + 1


def test_bought_spools_hold_all_metres_of_a_machine() -> None:
    threads = (ThreadSpec("thread-spruce", "spruce", "#123456", 7, Decimal(1)),)
    snapshot = sewn(make_sewing("seam", "join"), make_sewing("again", "join"), threads=threads)
    needs = thread_needs(snapshot)  # twice 4.7 m
    assert [need.spools for need in needs] == [1, 1]
    assert spool_needs(snapshot, needs) == (SpoolNeed("thread-spruce", Decimal("9.4"), 2),)
    double = sewn(make_sewing("seam", "join", rows=2), make_sewing("again", "join"))
    assert spool_needs(double, thread_needs(double))[0].spools == 2  # both needles at once


def test_operations_without_a_stitch_take_no_thread() -> None:
    assert thread_needs(sewn(make_sewing("glue", "join", stitch_type=""))) == ()


def test_a_stitch_without_a_length_or_formula_is_refused() -> None:
    with pytest.raises(PlanError, match="seam has stitch type 301 but no stitch length"):
        thread_needs(sewn(make_sewing("seam", "join", stitch_length_mm=None)))
    with pytest.raises(PlanError, match="seam sews 0 rows through 2 layers"):
        thread_needs(sewn(make_sewing("seam", "join", rows=0)))
    with pytest.raises(PlanError, match="seam sews 1 rows through 0 layers"):
        thread_needs(sewn(make_sewing("seam", "join", cloth_layers=0)))
    with pytest.raises(PlanError, match="no thread formula for stitch type 999"):
        thread_needs(sewn(make_sewing("seam", "join", stitch_type="999")))
    with pytest.raises(PlanError, match="no thread ratio for stitch type 999"):
        thread_by_ratio("999", Decimal(1))


def test_an_unknown_thread_is_named() -> None:
    jacket = make_jacket(topstitch_thread="thread-mauve")
    operation = make_sewing("seam", "join", contrast_thread=True)
    with pytest.raises(PlanError, match="seam needs thread thread-mauve"):
        thread_needs(sewn(operation, jackets=(jacket,)))


def test_the_two_versions_of_504_differ_by_two() -> None:
    values = (Decimal("2.4"), Decimal("0.3"), Decimal(5))
    assert consumption("504", *values) - consumption("504 version A", *values) == 2
