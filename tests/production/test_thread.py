from __future__ import annotations

import json
import time
from decimal import Decimal

import msgspec
import pytest

from production.planning.plan import PlanError, ThreadNeed
from production.planning.snapshot import OperationSpec, RunSnapshot, WorkroomSpec
from production.planning.threads.thread import (
    explained,
    thread_needs,
)
from production.planning.threads.thread_stitches import (
    FORMULA_SOURCES,
    FORMULAS,
    NEEDLE_PERCENT,
    RATIO_SOURCES,
    RATIOS,
    SPLIT_LIKE,
    STITCHES,
    consumption,
    factors_of,
    formula_for,
    needle_share,
    thread_by_ratio,
)
from tests.production.planning_factories import (
    make_color,
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
    # Half of it runs through the needle: 2346 mm.
    assert needs == (
        ThreadNeed("thread-spruce", "seam", "301", Decimal("4.7"), 1, "formula", Decimal("2.3")),
    )


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


def test_operations_without_a_stitch_take_no_thread() -> None:
    assert thread_needs(sewn(make_sewing("glue", "join", stitch_type=""))) == ()


def test_a_stitch_without_a_length_or_formula_is_refused() -> None:
    with pytest.raises(PlanError, match="seam has stitch type 301 but no stitch length"):
        thread_needs(sewn(make_sewing("seam", "join", stitch_length_mm=None)))
    with pytest.raises(PlanError, match="seam sews 0 rows through 2 layers"):
        thread_needs(sewn(make_sewing("seam", "join", rows=0)))
    with pytest.raises(PlanError, match="seam sews 1 rows through 0 layers"):
        thread_needs(sewn(make_sewing("seam", "join", cloth_layers=0)))
    with pytest.raises(PlanError, match="no stitch length above 0"):
        thread_needs(sewn(make_sewing("seam", "join", stitch_length_mm=Decimal(-3))))
    with pytest.raises(PlanError, match="-1 mm wide through layers"):
        thread_needs(sewn(make_sewing("seam", "join", seam_width_mm=Decimal(-1))))
    with pytest.raises(PlanError, match="layers -1 mm thick, and nothing is below 0"):
        factors_of(make_sewing("seam", "join"), Decimal(-1), "formula")
    with pytest.raises(PlanError, match="neither a thread formula nor a ratio for stitch type 999"):
        thread_needs(sewn(make_sewing("seam", "join", stitch_type="999")))
    with pytest.raises(PlanError, match="no thread ratio for stitch type 999"):
        thread_by_ratio("999", Decimal(1))
    with pytest.raises(PlanError, match="no thread formula for stitch type 999"):
        formula_for("999")


def test_an_unknown_thread_is_named() -> None:
    jacket = make_jacket(topstitch_thread="thread-mauve")
    operation = make_sewing("seam", "join", contrast_thread=True)
    with pytest.raises(PlanError, match="seam needs thread thread-mauve"):
        thread_needs(sewn(operation, jackets=(jacket,)))


def test_the_two_versions_of_504_differ_by_two() -> None:
    values = (Decimal("2.4"), Decimal("0.3"), Decimal(5))
    assert consumption("504", *values) - consumption("504 version A", *values) == 2


# -- the two methods, and a sample -------------------------------------------------------------


def bare(**values: object) -> WorkroomSpec:
    """A workroom without tails and waste."""
    return make_workroom(**{"thread_tail_mm": 0, "thread_waste": Decimal(0), **values})


def test_by_ratio_the_thickness_counts_for_nothing() -> None:
    # 2.5 x 1000 mm, whatever lies under the foot.
    room = bare(thread_method="ratio")
    for layers in (2, 3):
        operation = make_sewing("seam", "join", cloth_layers=layers)
        (need,) = thread_needs(sewn(operation, workroom=room))
        assert (need.metres, need.method, need.needle_metres) == (
            Decimal("2.5"),
            "ratio",
            Decimal("1.3"),  # 1.25, halves up
        )


def test_a_type_without_a_formula_falls_to_the_ratio_and_says_so() -> None:
    (need,) = thread_needs(sewn(make_sewing("zigzag", "join", stitch_type="304"), workroom=bare()))
    assert (need.metres, need.method) == (Decimal("7.0"), "ratio")


def test_a_type_without_a_ratio_falls_to_the_formula_and_says_so() -> None:
    # 514: 5 + 2 (3 x 2.4 + 2 x 5) / 3 = 16.467; no ratio is printed for it.
    operation = make_sewing("safety", "join", stitch_type="514", seam_width_mm=Decimal(5))
    (need,) = thread_needs(sewn(operation, workroom=bare(thread_method="ratio")))
    assert (need.metres, need.method) == (Decimal("16.5"), "formula")


@pytest.mark.parametrize(
    ("stitch_type", "needle"), [("401", "1.4"), ("504", "2.4"), ("514", "3.5"), ("101", "4.6")]
)
def test_the_needles_part_is_that_of_the_ratio_table(stitch_type: str, needle: str) -> None:
    """By formula at T 2.4, a 3 mm stitch and W 3: 401 5.6, of it 25 %; 504 12.2, 20 %; 514 13.8,
    25 % = 3.45, like 512; 101 4.6, all of it."""
    operation = make_sewing("x", "join", stitch_type=stitch_type, seam_width_mm=Decimal(3))
    (need,) = thread_needs(sewn(operation, workroom=bare()))
    assert need.needle_metres == Decimal(needle)


def test_a_sample_replaces_the_formula_and_leaves_tails_and_waste() -> None:
    # (1.3 + 4.1) x 1000 x 2 rows = 10800; tails 2 x 2 x 60 x 2 threads x 2 rows = 960; x 1.15
    operation = make_sewing(
        "chain", "join", stitch_type="401", rows=2, needle_factor=Decimal("1.3"),
        under_factor=Decimal("4.1"),
    )  # fmt: skip
    (need,) = thread_needs(sewn(operation))
    assert (need.metres, need.method) == (Decimal("13.6"), "sample")  # 13.524
    # Needle: (1.3 x 1000 x 2 + 480) x 1.15 = 3542
    assert need.needle_metres == Decimal("3.5")
    (line,) = explained(sewn(operation))
    assert line.factors.formula is not None
    assert line.factors.ratio is not None
    assert line.factors.sample == line.used


def test_a_sample_stands_for_the_layers_as_sewn() -> None:
    factors = {"needle_factor": Decimal(2), "under_factor": Decimal(1)}
    two, three = (
        metres(make_sewing("seam", "join", cloth_layers=layers, **factors)) for layers in (2, 3)
    )
    assert two == three


def test_a_sample_of_a_type_that_no_table_has_is_refused() -> None:
    """How many threads hang at the ends, and how many spools stand on the machine, is unknown."""
    odd = make_sewing(
        "x", "join", stitch_type="999", needle_factor=Decimal(2), under_factor=Decimal(1)
    )
    with pytest.raises(PlanError, match="stitch type 999"):
        thread_needs(sewn(odd))


def test_every_stitch_type_has_a_method_a_split_and_a_source() -> None:
    for stitch_type, stitch in STITCHES.items():
        assert stitch_type in FORMULAS or stitch_type in RATIOS
        assert stitch_type in NEEDLE_PERCENT or SPLIT_LIKE[stitch_type] in NEEDLE_PERCENT
        assert 0 < stitch.needles <= stitch.threads
        assert (stitch.needles == stitch.threads) == (needle_share(stitch_type) == 1)
    assert set(FORMULAS) == set(FORMULA_SOURCES)
    assert set(RATIOS) == set(RATIO_SOURCES)
    assert {name[:3] for name in (*FORMULAS, *RATIOS)} == set(STITCHES)


# -- lines ---------------------------------------------------------------------------------------


def test_needs_are_the_sums_of_the_lines() -> None:
    snapshot = make_snapshot(
        jackets=tuple(make_jacket(f"J{n}", size="SM"[n % 2]) for n in range(5))
    )
    lines = explained(snapshot)
    for need in thread_needs(snapshot):
        of_use = [
            line
            for line in lines
            if (line.operation.code, line.thread_color) == (need.use, need.thread_color)
        ]
        exact = sum((line.whole_mm for line in of_use), Decimal(0)) / 1000
        assert exact <= need.metres < exact + Decimal("0.1")
        for line in of_use:
            parts = line.needle_mm + line.under_mm + line.tails_mm + line.waste_mm
            assert parts == pytest.approx(line.whole_mm)
            assert line.seam_mm <= line.needle_mm


def test_a_line_is_told_for_each_seam_and_color_with_its_jackets() -> None:
    other = make_jacket("J2", blocks=(("FR", "oat"), ("BK", "oat"), ("CO", "oat")))
    jackets = (make_jacket("J1"), make_jacket("J3"), other)
    lines = explained(sewn(make_sewing("seam", "join"), seams=(SIDE, NECK), jackets=jackets))
    assert [(line.seam, line.thread_color, line.jackets, int(line.seam_mm)) for line in lines] == [
        ("side", "thread-oat", 1, 1000),
        ("side", "thread-spruce", 2, 2000),
        ("neck", "thread-oat", 3, 1200),
    ]
    assert [line.runs for line in lines] == [2, 4, 3]


def test_a_jacket_counts_once_on_a_line_however_many_blocks_the_seam_crosses() -> None:
    two = (SIDE, make_stretch("side", "join", "FR", 300, runs=0))
    (line,) = explained(sewn(make_sewing("seam", "join"), seams=two))
    assert (line.jackets, line.seam_mm, line.runs) == (1, Decimal(1300), 2)


def test_thicker_cloth_has_a_line_of_its_own() -> None:
    thick = make_fabric(code="pile", compressed_thickness_mm=Decimal("2.0"))
    colors = (
        make_color("spruce"), make_color("oat", fabric="pile", thread="thread-spruce"),
        make_color("slate"),
    )  # fmt: skip
    lines = explained(
        sewn(
            make_sewing("seam", "join"),
            seams=(make_stretch("s", "join", "BK", 100), make_stretch("s", "join", "CO", 100)),
            fabrics=(make_fabric(), thick),
            fabric_colors=colors,
        )
    )
    assert [(line.fabric.code, line.used.whole.quantize(Decimal("0.01"))) for line in lines] == [
        ("fleece", Decimal("3.60")),
        ("pile", Decimal("4.67")),
    ]


def test_the_difference_is_a_share_of_the_formula() -> None:
    (line,) = explained(sewn(make_sewing("seam", "join")))
    # 2.5 / 3.6 - 1
    assert line.factors.difference == pytest.approx(Decimal("-0.30556"), abs=Decimal("0.00001"))
    (line,) = explained(sewn(make_sewing("zigzag", "join", stitch_type="304")))
    assert line.factors.difference is None


def test_two_hundred_jackets_each_in_its_own_colors_are_counted_at_once() -> None:
    blocks = [f"B{n}" for n in range(20)]
    colors = ("spruce", "oat", "slate")
    seams = tuple(
        make_stretch(f"s{n % 15}", "join", block, 400.0 + n, size=size, topstitched=bool(n % 2))
        for size in ("S", "M")
        for n, block in enumerate(blocks * 2)
    )
    jackets = tuple(
        make_jacket(
            f"J{n}",
            size="SM"[n % 2],
            blocks=tuple((block, colors[(n >> at) % 3]) for at, block in enumerate(blocks)),
        )
        for n in range(200)
    )
    snapshot = make_snapshot(jackets=jackets, seams=seams)
    thread_needs(snapshot)
    began = time.process_time()
    needs = thread_needs(snapshot)
    # Half a second on a quiet machine; the time of the processor, doubled for a busy one.
    assert time.process_time() - began < 1
    assert len(needs) == 6  # seam and topstitch in three colors


def test_a_snapshot_from_before_blocks_faced_each_other_still_loads() -> None:
    plain = json.loads(msgspec.json.encode(make_snapshot()))
    for stretch in plain["seams"]:
        del stretch["against"]
    for operation in plain["operations"]:
        for new in ("thread_rule", "own_thread", "takes_cones", "needle_factor", "under_factor"):
            del operation[new]
    del plain["workroom"]["thread_method"]
    loaded = msgspec.convert(plain, RunSnapshot, strict=False)
    assert thread_needs(loaded) == thread_needs(make_snapshot())
