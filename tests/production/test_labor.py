from __future__ import annotations

from decimal import Decimal

import pytest

from production.planning.explode import explode
from production.planning.minutes.changeovers import (
    ThreadBatch,
    compare_batching,
    count_changeovers,
    thread_batches,
)
from production.planning.minutes.labor import plan_labor, works_of
from production.planning.plan import Lay, OperationNeed, PlanError
from production.planning.snapshot import OperationSpec, RunSnapshot
from tests.production.planning_factories import (
    make_jacket,
    make_operation,
    make_sewing,
    make_snapshot,
    make_stretch,
    make_workroom,
)

LAYS = tuple(
    Lay(f"L{plies}", "face_up", plies, 1400, 1000.0, 0.8, 0.0, 0.0, ()) for plies in (4, 1)
)
IN_OAT = (("FR", "oat"), ("BK", "oat"), ("CO", "oat"))
IN_SPRUCE = (("FR", "spruce"), ("BK", "spruce"), ("CO", "spruce"))


def need_of(operation: OperationSpec, jackets: int = 1) -> OperationNeed:
    snapshot = make_snapshot(
        operations=(operation,), jackets=tuple(make_jacket(f"J{n}") for n in range(jackets))
    )
    labor, _ = plan_labor(snapshot, explode(snapshot), LAYS)
    return labor.operations[0]


@pytest.mark.parametrize(
    ("driver", "count", "minutes"),
    [("jacket", 3, "6.00"), ("block", 12, "24.00"), ("lay", 2, "4.00"), ("ply", 5, "10.00")],
)
def test_counted_work_takes_its_minutes_each_time(driver: str, count: int, minutes: str) -> None:
    need = need_of(make_operation("work", "cut", driver, minutes_each=Decimal(2)), jackets=3)
    assert need == OperationNeed("work", "cut", Decimal(minutes), count)


def test_a_folded_length_is_spread_once_for_its_two_plies() -> None:
    folded = Lay("L", "folded", 4, 700, 1000.0, 0.8, 0.0, 0.0, ())
    snapshot = make_snapshot(
        operations=(make_operation("spread", "cut", "ply", minutes_each=Decimal(2)),)
    )
    labor, _ = plan_labor(snapshot, explode(snapshot), [folded, LAYS[0]])
    assert labor.operations[0] == OperationNeed("spread", "cut", Decimal("12.00"), 2 + 4)


def test_seams_take_minutes_by_run_and_by_metre() -> None:
    # join: side 1000 mm in 2 runs, neck 400 in 1, cuff 500 in 2: 5 x 0.5 + 1.9 x 2 = 6.3 a jacket
    seam = make_sewing("seam", "join", minutes_per_metre=Decimal(2))
    assert need_of(seam, jackets=2) == OperationNeed("seam", "sew", Decimal("12.60"), 10)


def test_a_second_row_sewn_by_a_second_needle_takes_no_more_minutes() -> None:
    assert need_of(make_sewing("hem", "hem")) == need_of(make_sewing("hem", "hem", rows=2))


def test_the_allowance_is_added_to_standard_minutes_and_changeovers() -> None:
    jackets = (make_jacket("J1", blocks=IN_SPRUCE), make_jacket("J2", blocks=IN_OAT))
    snapshot = make_snapshot(jackets=jackets, operations=(make_sewing("seam", "join"),))
    labor, _ = plan_labor(snapshot, explode(snapshot), LAYS)
    assert labor.standard_minutes == Decimal("8.80")  # 2 x (5 x 0.5 + 1.9)
    assert labor.changeovers[0].minutes == Decimal("3.00")
    assert labor.with_allowance_minutes == Decimal("13.10")  # 11.8 x 1.11 = 13.098


def mixed_run(count: int) -> RunSnapshot:
    own = (("FR", "spruce"), ("BK", "oat"))
    return make_snapshot(
        jackets=tuple(
            make_jacket(f"J{n}", blocks=own)
            if n % 3 == 0
            else make_jacket(f"J{n}", size="SM"[n % 2])
            for n in range(count)
        ),
        seams=tuple(
            make_stretch(name, "join", "BK", length, runs=2, size=size)
            for size in "SM"
            for name, length in (("side", 1000 / 3), ("yoke", 777.7))
        ),
    )


@pytest.mark.parametrize("count", [1, 7, 100])
def test_minutes_of_jackets_add_up_to_the_run(count: int) -> None:
    snapshot = mixed_run(count)
    labor, by_jacket = plan_labor(snapshot, explode(snapshot), LAYS)
    whole = sum(sum(stages.values()) for stages in by_jacket.values())
    assert whole == labor.with_allowance_minutes
    assert list(by_jacket) == [jacket.code for jacket in snapshot.jackets]


def test_each_stage_holds_its_own_operations() -> None:
    snapshot = make_snapshot(workroom=make_workroom(relaxation_allowance=Decimal(0)))
    _, by_jacket = plan_labor(snapshot, explode(snapshot), LAYS)
    # cut: 2 lays x 10 + 5 plies x 2 + 4 blocks x 0.5
    # sew: join 4.4, topstitch 0.9, zipper 2.2, hem 1.0, cuff 1.5; thread oat, spruce, oat, spruce
    # is 3 changes of 3 minutes, foot standard, edge, zipper, standard is 3 changes of 1 minute
    assert by_jacket["J1"] == {
        "cut": Decimal("32.00"),
        "sew": Decimal("22.00"),
        "finish": Decimal("3.00"),
    }


def test_lays_are_shared_by_the_pieces_that_are_cut_from_them() -> None:
    jackets = (make_jacket("J1", blocks=IN_OAT), make_jacket("J2", blocks=(("CO", "oat"),)))
    snapshot = make_snapshot(
        jackets=jackets,
        operations=(make_operation("mark", "cut", "lay", minutes_each=Decimal(10)),),
        seams=(make_stretch("neck", "join", "CO", 400),),
        workroom=make_workroom(relaxation_allowance=Decimal(0)),
    )
    _, by_jacket = plan_labor(snapshot, explode(snapshot), LAYS)
    assert by_jacket["J1"]["cut"] == Decimal("16.00")  # 4 pieces of 5, 20 minutes for 2 lays
    assert by_jacket["J2"]["cut"] == Decimal("4.00")


def test_changeovers_are_shared_equally_among_all_jackets() -> None:
    jackets = (make_jacket("J1", blocks=IN_SPRUCE), make_jacket("J2", blocks=IN_OAT))
    seam = make_sewing("seam", "join", minutes_each=Decimal(0), minutes_per_metre=Decimal(0))
    snapshot = make_snapshot(
        jackets=jackets,
        operations=(seam,),
        workroom=make_workroom(relaxation_allowance=Decimal(0)),
    )
    _, by_jacket = plan_labor(snapshot, explode(snapshot), LAYS)
    assert [stages["sew"] for stages in by_jacket.values()] == [Decimal("1.50")] * 2


def changes(snapshot: RunSnapshot, batched: bool = True) -> dict[str, tuple[int, Decimal]]:
    batches = thread_batches(snapshot) if batched else [(jacket,) for jacket in snapshot.jackets]
    return {c.kind: (c.count, c.minutes) for c in count_changeovers(snapshot, batches)}


def test_jackets_of_one_thread_are_sewn_without_changing_it() -> None:
    jackets = tuple(make_jacket(f"J{n}", blocks=IN_OAT) for n in range(5))
    snapshot = make_snapshot(jackets=jackets, operations=(make_sewing("seam", "join"),))
    assert changes(snapshot) == {
        "thread color": (0, Decimal("0.00")),
        "presser foot": (0, Decimal("0.00")),
        "stitch length": (0, Decimal("0.00")),
    }


def test_batches_save_changes_over_sewing_jacket_by_jacket() -> None:
    # spruce, oat, spruce, oat: three changes by the roster, one in batches
    jackets = tuple(make_jacket(f"J{n}", blocks=(IN_SPRUCE, IN_OAT)[n % 2]) for n in range(4))
    snapshot = make_snapshot(jackets=jackets, operations=(make_sewing("seam", "join"),))
    assert changes(snapshot, batched=False)["thread color"] == (3, Decimal("9.00"))
    assert changes(snapshot)["thread color"] == (1, Decimal("3.00"))


def test_batches_keep_every_jacket_once() -> None:
    snapshot = mixed_run(20)
    batched = [jacket.code for batch in thread_batches(snapshot) for jacket in batch]
    assert sorted(batched) == sorted(jacket.code for jacket in snapshot.jackets)


def test_each_further_color_of_an_operation_is_one_change() -> None:
    # BK and FR spruce, CO oat: two threads in one operation, whichever jacket comes first
    snapshot = make_snapshot(operations=(make_sewing("seam", "join"),))
    assert changes(snapshot)["thread color"][0] == 1


def test_the_color_on_the_machine_is_sewn_first() -> None:
    # seam: oat, then spruce; topstitch begins with the spruce that is on and changes to none
    stretch = make_stretch("side", "join", "BK", 1000, topstitched=True)
    neck = make_stretch("neck", "join", "CO", 400)
    operations = (make_sewing("seam", "join"), make_sewing("topstitch", "topstitched"))
    snapshot = make_snapshot(operations=operations, seams=(stretch, neck))
    assert changes(snapshot)["thread color"][0] == 1


def test_two_machines_keep_their_own_thread() -> None:
    # Contrast work on a second machine: neither machine is ever rethreaded.
    jackets = tuple(
        make_jacket(f"J{n}", blocks=IN_OAT, topstitch_thread="thread-red") for n in range(3)
    )
    for machine, count in (("second", 0), ("lockstitch", 5)):
        topstitch = make_sewing("top", "topstitched", machine=machine, contrast_thread=True)
        operations = (make_sewing("seam", "join"), topstitch)
        snapshot = make_snapshot(jackets=jackets, operations=operations)
        assert changes(snapshot, batched=False)["thread color"][0] == count


def test_a_foot_is_changed_back_for_the_next_batch() -> None:
    # standard, zipper | standard, zipper: three changes
    jackets = (make_jacket("J1", blocks=IN_SPRUCE), make_jacket("J2", blocks=IN_OAT))
    operations = (make_sewing("seam", "join"), make_sewing("zip", "zipper", foot="zipper"))
    snapshot = make_snapshot(jackets=jackets, operations=operations)
    assert changes(snapshot)["presser foot"] == (3, Decimal("3.00"))


def test_an_operation_without_work_changes_nothing() -> None:
    operations = (make_sewing("seam", "join"), make_sewing("zip", "zipper", foot="zipper"))
    snapshot = make_snapshot(operations=operations, seams=(make_stretch("side", "join", "BK", 1),))
    assert changes(snapshot)["presser foot"][0] == 0


def test_rethreading_an_overedge_takes_longer_by_each_spool() -> None:
    jackets = (make_jacket("J1", blocks=IN_SPRUCE), make_jacket("J2", blocks=IN_OAT))
    operations = (make_sewing("edge", "join", stitch_type="504"),)
    snapshot = make_snapshot(jackets=jackets, operations=operations)
    assert changes(snapshot)["thread color"] == (1, Decimal("6.00"))  # 3 + 2 x 1.5


def test_work_of_the_run_is_done_once_and_shared_equally() -> None:
    operations = (make_operation("oil", "finish", "run", minutes_each=Decimal(9)),)
    snapshot = make_snapshot(
        jackets=(make_jacket("J1"), make_jacket("J2"), make_jacket("J3", blocks=(("BK", "oat"),))),
        operations=operations,
        seams=(make_stretch("side", "join", "BK", 1),),
        workroom=make_workroom(relaxation_allowance=Decimal(0)),
    )
    labor, by_jacket = plan_labor(snapshot, explode(snapshot), LAYS)
    assert labor.operations[0] == OperationNeed("oil", "finish", Decimal("9.00"), 1)
    assert [stages["finish"] for stages in by_jacket.values()] == [Decimal("3.00")] * 3


def test_a_named_seam_is_sewn_alone() -> None:
    # side: 1000 mm in 2 runs; 2 x 0.5 + 1 x 1 a jacket, with nothing of neck and cuff
    named = make_sewing("tape", "named", seam="side")
    assert need_of(named, jackets=2) == OperationNeed("tape", "sew", Decimal("4.00"), 4)


def test_a_named_seam_that_no_jacket_has_is_no_work() -> None:
    assert need_of(make_sewing("tape", "named", seam="yoke")).count == 0


def test_metres_are_those_of_the_seams_of_all_jackets() -> None:
    snapshot = make_snapshot(
        jackets=(make_jacket("J1"), make_jacket("J2")),
        operations=(make_sewing("seam", "join"), make_operation("pack", "finish", "jacket")),
    )
    seam, pack = works_of(snapshot, explode(snapshot), LAYS)
    assert (seam.metres, pack.metres) == (Decimal("3.8"), Decimal(0))  # 2 x (1 + 0.4 + 0.5)


def test_a_stitch_length_is_set_anew_on_its_machine() -> None:
    # 3.0, 3.5 | 3.0, 3.5 on the lockstitch are three changes; the serger keeps its own 2.5
    jackets = (make_jacket("J1", blocks=IN_SPRUCE), make_jacket("J2", blocks=IN_OAT))
    operations = (
        make_sewing("seam", "join"),
        make_sewing("edge", "join", machine="serger", stitch_length_mm=Decimal("2.5")),
        make_sewing("hem", "hem", stitch_length_mm=Decimal("3.5")),
    )
    room = make_workroom(stitch_change_minutes=Decimal("0.30"))
    snapshot = make_snapshot(jackets=jackets, operations=operations, workroom=room)
    assert changes(snapshot)["stitch length"] == (3, Decimal("0.90"))


def test_the_workroom_says_how_long_changes_take() -> None:
    jackets = (make_jacket("J1", blocks=IN_SPRUCE), make_jacket("J2", blocks=IN_OAT))
    operations = (
        make_sewing("edge", "join", stitch_type="504"),
        make_sewing("zip", "zipper", foot="zipper", stitch_type=""),
    )
    room = make_workroom(
        thread_change_minutes=Decimal("2.5"),
        further_spool_minutes=Decimal(1),
        foot_change_minutes=Decimal("0.4"),
    )
    snapshot = make_snapshot(jackets=jackets, operations=operations, workroom=room)
    assert changes(snapshot)["thread color"] == (1, Decimal("4.50"))  # 2.5 + 2 x 1
    assert changes(snapshot)["presser foot"] == (3, Decimal("1.20"))


def test_batching_is_compared_with_sewing_in_the_order_of_codes() -> None:
    # By codes J1 spruce, J2 oat, J3 spruce, J4 oat; as batches oat, then spruce.
    jackets = tuple(make_jacket(f"J{n}", blocks=(IN_OAT, IN_SPRUCE)[n % 2]) for n in (4, 1, 3, 2))
    snapshot = make_snapshot(jackets=jackets, operations=(make_sewing("seam", "join"),))
    batching = compare_batching(snapshot)
    assert batching.batches == (
        ThreadBatch(("thread-oat",), ("J4", "J2")),
        ThreadBatch(("thread-spruce",), ("J1", "J3")),
    )
    assert (batching.minutes, batching.one_by_one_minutes) == (Decimal("3.00"), Decimal("9.00"))
    assert batching.saved_minutes == Decimal("6.00")
    labor, _ = plan_labor(snapshot, explode(snapshot), LAYS)
    assert labor.changeovers == batching.changeovers


@pytest.mark.parametrize(("stage", "driver"), [("iron", "jacket"), ("cut", "moon")])
def test_an_unknown_stage_or_driver_is_refused(stage: str, driver: str) -> None:
    with pytest.raises(PlanError, match=r"Operation odd .*(iron|moon)"):
        need_of(make_operation("odd", stage, driver))
