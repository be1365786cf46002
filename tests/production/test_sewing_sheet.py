"""The operation sheet: the order of making, threads, metres, notions and minutes of one jacket."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import replace
from decimal import Decimal
from functools import cache

import msgspec
import pytest

from patterns import shipped
from patterns.geometry.blocks import Allowances, cut_blocks
from patterns.geometry.bodies import BODIES, Ease
from patterns.geometry.drafting import draft
from patterns.geometry.seams import jacket_seams
from production.planning.explode import explode
from production.planning.minutes.labor import works_of
from production.planning.plan import PlanError
from production.planning.sewing import sewing_told as told
from production.planning.sewing.sewing_order import order_of_making
from production.planning.sewing.sewing_parts import SewingSheet, WorkStep
from production.planning.sewing.sewing_sheet import sewing_sheet
from production.planning.snapshot import NotionSpec, OperationSpec, RunSnapshot, ZipperSpec
from production.planning.supplies.materials import notion_needs
from production.planning.threads.thread import explained
from production.snapshots import shape_of, stretches_of
from tests.production.planning_factories import (
    make_fabric,
    make_jacket,
    make_operation,
    make_sewing,
    make_size,
    make_snapshot,
    make_stretch,
)

COLORS = ("spruce", "oat", "slate")
SIZE = "M"


@cache
def shipped_run(code: str) -> RunSnapshot:
    """Two jackets of a shipped blocking in size M, their blocks colored by turns, the second with
    a contrast topstitch thread."""
    blocking = next(one for one in shipped.BLOCKINGS if one.code == code)
    body = next(body for body in BODIES if body.code == SIZE)
    blocks = cut_blocks(draft(body, Ease()).pieces, blocking.style_lines, Allowances())
    fills = tuple((block.code, COLORS[at % 3]) for at, block in enumerate(blocks))
    plain = make_jacket("J1", blocking=code, size=SIZE, blocks=fills)
    seams = jacket_seams(Ease().cap_mm)
    return make_snapshot(
        jackets=(plain, replace(plain, code="J2", topstitch_thread="thread-red")),
        sizes=(make_size(SIZE, zipper_mm=679),),
        shapes=tuple(shape_of(block, SIZE) for block in blocks),
        seams=stretches_of(code, SIZE, blocks, seams, blocking.style_lines),
        operations=msgspec.convert(shipped.OPERATIONS, tuple[OperationSpec, ...]),
        zippers=tuple(
            ZipperSpec("black", "black", length, Decimal(2)) for length in (650, 700, 750)
        ),
        notions=msgspec.convert(shipped.NOTIONS[:2], tuple[NotionSpec, ...]),
    )


BLOCKINGS = [one.code for one in shipped.BLOCKINGS]


def step_of(sheet: SewingSheet, operation: str) -> WorkStep:
    return next(step for step in sheet.steps if step.operation.code == operation)


def making(code: str) -> list[str]:
    snapshot = shipped_run(code)
    return [work.seam for work in step_of(sewing_sheet(snapshot, "J1"), "seam").seams]


# The order of making


def test_what_was_cut_apart_last_is_sewn_together_first():
    assert making("boathouse")[:4] == ["fside", "fyoke", "bside", "byoke"]
    assert making("oar-stripe")[:3] == ["bandlow", "bandtop", "split"]


@pytest.mark.parametrize("code", BLOCKINGS)
def test_the_seams_of_every_jacket_follow_its_style_lines_in_the_order_of_making(code):
    lines = next(one.style_lines for one in shipped.BLOCKINGS if one.code == code)
    order = making(code)
    assert set(order[: len(lines)]) == {line.code for line in lines}
    assert order[len(lines) :] == [
        *("shoulder", "armhole", "side", "underarm", "neck"),
        *("placket", "placket_join", "cuff_end", "cuff"),
    ]


def test_an_unknown_seam_keeps_its_place_behind_the_one_before_it():
    seams = [
        make_stretch(code, "join", "FR", 100) for code in ("pocket", "neck", "loop", "tab", "side")
    ]
    assert order_of_making(seams, {"FR": "FR"}) == ("pocket", "side", "neck", "loop", "tab")


def test_a_sleeve_that_meets_itself_is_no_style_line():
    line = replace(make_stretch("band", "join", "A", 100), against=("B",))
    under = replace(make_stretch("underarm", "join", "A", 100), against=("A",))
    shoulder = replace(make_stretch("shoulder", "join", "FR", 100), against=("BK",))
    pieces = {"A": "SL", "B": "SL", "FR": "FR", "BK": "BK"}
    order = order_of_making((under, shoulder, line), pieces)
    assert order == ("band", "shoulder", "underarm")


# Thread and metres


@pytest.mark.parametrize("jacket", ["J1", "J2"])
@pytest.mark.parametrize("code", BLOCKINGS)
def test_seams_and_threads_are_those_of_the_thread_sheet(code, jacket):
    snapshot = shipped_run(code)
    alone = replace(snapshot, jackets=tuple(one for one in snapshot.jackets if one.code == jacket))
    planned: dict[tuple[str, str, str], Decimal] = defaultdict(Decimal)
    for line in explained(alone):
        planned[line.operation.code, line.seam, line.thread_color] += line.seam_mm
    told_mm: dict[tuple[str, str, str], Decimal] = defaultdict(Decimal)
    for step in sewing_sheet(snapshot, jacket).steps:
        for work in step.seams:
            for part in work.threads:
                told_mm[step.operation.code, work.seam, part.thread.code] += part.length_mm
            assert sum(part.length_mm for part in work.threads) == work.length_mm
    assert told_mm == planned


def test_contrast_work_is_in_the_topstitch_thread():
    plain, contrast = (sewing_sheet(shipped_run("boathouse"), code) for code in ("J1", "J2"))
    for code in ("topstitch", "hem", "cuff"):
        assert [thread.code for thread in step_of(contrast, code).threads] == ["thread-red"]
    assert "thread-red" not in {thread.code for thread in plain.threads}
    assert step_of(contrast, "seam").threads == step_of(plain, "seam").threads


def test_topstitching_a_seam_that_is_sewn_later_waits_for_it():
    works = step_of(sewing_sheet(shipped_run("boathouse"), "J1"), "topstitch").seams
    assert {work.seam: work.waits_for for work in works if work.waits_for} == {
        "zipper": "Sew in the zipper"
    }


# A small jacket by hand: BK side 1000 in two runs, CO neck 400, FR zip 1200 in two runs, BK hem
# 500, FR cuff 500 in two runs; fronts and back spruce, collar oat.


def test_a_small_jacket_by_hand():
    sheet = sewing_sheet(make_snapshot(), "J1")
    assert [step.operation.code for step in sheet.steps] == [
        *("seam", "topstitch", "zipper", "hem", "cuff")
    ]
    seam, topstitch, zipper, hem, cuff = sheet.steps
    assert [(work.seam, work.length_mm, work.runs) for work in seam.seams] == [
        *(("side", 1000, 2), ("neck", 400, 1), ("cuff", 500, 2))
    ]
    # 0.5 each for five runs, 1 a metre for 1.9 m.
    assert seam.minutes == Decimal("4.4")
    assert [(part.thread.code, part.is_change) for work in seam.seams for part in work.threads] == [
        ("thread-spruce", False),
        ("thread-oat", True),
        ("thread-spruce", True),
    ]
    assert [step.changes_foot for step in sheet.steps] == [False, True, True, True, False]
    assert seam.is_first_at_machine and not topstitch.is_first_at_machine
    assert (seam.allowance_mm, hem.allowance_mm) == (10, 30)
    # neck only, in oat, after spruce; then spruce to the end.
    assert [step.thread_changes for step in sheet.steps] == [2, 1, 1, 0, 0]
    assert zipper.zipper and (zipper.zipper.sold.length_mm, zipper.zipper.shorten_mm) == (600, 0)
    # Nothing names the elastic, so it goes in where its place is sewn: 900 x 0.8 + 20 and
    # 200 x 0.9 + 20.
    assert [(cut.pieces, cut.length_mm) for cut in hem.elastics] == [(1, 740)]
    assert [(cut.pieces, cut.length_mm) for cut in cuff.elastics] == [(2, 200)]
    assert told.joins_words(hem.seams[0]) == "along block BK"
    assert told.machine_words(hem, "metric") == (
        "lockstitch machine, 301 lockstitch, stitch 3 mm, 2 rows, allowance 30 mm"
    )


def test_a_seam_over_two_colors_begins_in_the_thread_on_the_machine():
    seams = (
        make_stretch("side", "join", "CO", 300, runs=1),
        make_stretch("neck", "join", "FR", 100),
        make_stretch("neck", "join", "CO", 200),
    )
    snapshot = make_snapshot(seams=seams, operations=(make_sewing("seam", "join"),))
    (step,) = sewing_sheet(snapshot, "J1").steps
    assert [
        (work.seam, part.thread.code, part.length_mm, part.is_change)
        for work in step.seams
        for part in work.threads
    ] == [
        ("side", "thread-oat", 300, False),
        ("neck", "thread-oat", 200, False),
        ("neck", "thread-spruce", 100, True),
    ]


def test_a_seam_that_waits_is_threaded_when_it_is_sewn():
    """The zipper is topstitched in oat after it is sewn in, in spruce as what was sewn before."""
    seams = (
        make_stretch("side", "join", "FR", 300),
        make_stretch("zip", "zipper", "FR", 600, topstitched=True),
    )
    snapshot = make_snapshot(
        seams=seams,
        operations=(
            make_sewing("seam", "join"),
            make_sewing("topstitch", "topstitched", contrast_thread=True),
            make_sewing("zipper", "zipper"),
            make_sewing("again", "join"),
        ),
        jackets=(make_jacket("J1", topstitch_thread="thread-oat"),),
    )
    sheet = sewing_sheet(snapshot, "J1")
    assert [step.seams[0].waits_for != "" for step in sheet.steps] == [False, True, False, False]
    assert [part.is_change for step in sheet.steps for part in step.seams[0].threads] == [
        *(False, True, False, True)
    ]


# Notions and minutes


@pytest.mark.parametrize("code", BLOCKINGS)
def test_zipper_elastic_and_notions_are_what_the_run_needs(code):
    snapshot = shipped_run(code)
    sheets = [sewing_sheet(snapshot, jacket.code) for jacket in snapshot.jackets]
    taken: Counter[str] = Counter()
    for sheet in sheets:
        taken[sheet.zipper.ware] += 1
        for cut in sheet.elastics:
            taken[f"elastic:{cut.elastic.place}"] += cut.pieces * cut.length_mm
        along = [cut for step in sheet.steps for work in step.seams for cut in work.notions]
        for notion in (*sheet.notions, *along):
            taken[f"notion:{notion.notion.code}"] += notion.quantity
    needed = {
        priced.need.ware: priced.need.quantity * (1000 if "elastic" in priced.need.ware else 1)
        for priced in notion_needs(snapshot)
    }
    assert dict(taken) == needed
    assert sheets[0].zipper.shorten_mm == 700 - 679


@pytest.mark.parametrize("code", BLOCKINGS)
def test_minutes_of_all_sheets_are_those_of_the_plan(code):
    snapshot = shipped_run(code)
    sheets = [sewing_sheet(snapshot, jacket.code) for jacket in snapshot.jackets]
    for work in works_of(snapshot, explode(snapshot), ()):
        if work.operation.stage == "sew":
            told_minutes = [step_of(sheet, work.operation.code).minutes for sheet in sheets]
            assert sum(told_minutes) == pytest.approx(work.minutes, abs=Decimal("0.01"))


def test_work_by_block_and_by_run_has_its_share_and_work_by_ply_none():
    operations = (
        make_operation("tag", "sew", "block", minutes_each=Decimal("0.5")),
        make_operation("set-up", "sew", "run", minutes_each=Decimal(10)),
        make_operation("odd", "sew", "ply", minutes_each=Decimal(1)),
    )
    jackets = (make_jacket("J1"), make_jacket("J2"))
    sheet = sewing_sheet(make_snapshot(operations=operations, jackets=jackets), "J2")
    # Two fronts, one back, one collar.
    assert [step.minutes for step in sheet.steps] == [2, 5, None]
    assert sheet.minutes == 7


# Cautions, and what is refused


def test_cautions_are_for_the_machines_and_fabrics_of_this_jacket():
    plain = sewing_sheet(make_snapshot(fabrics=(make_fabric(fiber="100 % cotton"),)), "J1")
    assert not any("knives" in words or "iron" in words for words in plain.cautions)
    assert "off before you thread" in plain.cautions[0]
    serger = make_sewing("over", "join", machine="serger", stitch_type="504")
    fleece = make_snapshot(operations=(serger,), fabrics=(make_fabric(fiber="100 % polyester"),))
    words = " ".join(sewing_sheet(fleece, "J1").cautions)
    assert "knives" in words and "No hot iron on Test fleece (100 % polyester)" in words


def test_a_jacket_that_is_not_there_is_refused_in_words():
    with pytest.raises(PlanError, match="has no jacket J9"):
        sewing_sheet(make_snapshot(), "J9")
    with pytest.raises(PlanError, match="no seams in size S"):
        sewing_sheet(make_snapshot(seams=()), "J1")
    with pytest.raises(PlanError, match="thread thread-spruce"):
        sewing_sheet(make_snapshot(threads=()), "J1")
