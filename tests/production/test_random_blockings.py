"""Any style lines that cut the drafted jacket make a run that is planned with every truth kept."""

from __future__ import annotations

from decimal import Decimal
from functools import cache

import msgspec
import pytest
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

from patterns import shipped
from patterns.geometry.blocks import Allowances, Anchor, Block, BlockName, StyleLine, cut_blocks
from patterns.geometry.bodies import BODIES, Ease
from patterns.geometry.drafting import DraftedJacket, draft
from patterns.geometry.outline import PatternError
from patterns.geometry.seams import SeamRun, agreement, jacket_seams, seam_runs
from production.planning.planner import plan_run
from production.planning.snapshot import (
    BlockShape,
    JacketSpec,
    OperationSpec,
    SeamStretch,
    SizeSpec,
    ZipperSpec,
)
from tests.production.planning_factories import make_jacket, make_snapshot

COLORS = ("spruce", "oat", "slate")
EASE = Ease()
SEAMS = jacket_seams(EASE.cap_mm)
OPERATIONS = msgspec.convert(shipped.OPERATIONS, tuple[OperationSpec, ...])
ZIPPERS = tuple(
    ZipperSpec("black", "black", length_mm, Decimal(2)) for length_mm in shipped.ZIPPER_LENGTHS_MM
)
#: The edges of each piece that lines are drawn between.
CROSSED = {
    "FR": ("armhole", "center_front", "side", "hem"),
    "BK": ("center_back", "armhole", "side", "hem"),
    "SL": ("front_underarm", "back_underarm", "cap", "wrist"),
}


SOME = settings(
    deadline=None,
    max_examples=25,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)


@cache
def drafted(size: str) -> DraftedJacket:
    return draft(next(body for body in BODIES if body.code == size), EASE)


@st.composite
def style_lines(draw: st.DrawFn) -> tuple[StyleLine, ...]:
    """Lines through some of the pieces; a second line of a piece cuts the left part of the first,
    or misses it."""
    lines: list[StyleLine] = []
    for piece in draw(st.lists(st.sampled_from(sorted(CROSSED)), min_size=1, max_size=4)):
        cuts = next((line.left.code for line in lines[::-1] if line.cuts.startswith(piece)), piece)
        start, end = draw(st.permutations(CROSSED[piece]))[:2]
        bend = st.tuples(st.floats(0.1, 0.9), st.floats(-0.15, 0.15))
        fraction = st.floats(0.05, 0.95)
        lines.append(
            StyleLine(
                code=f"line{len(lines)}",
                name=f"line {len(lines)}",
                cuts=cuts,
                start=Anchor(start, draw(fraction)),
                end=Anchor(end, draw(fraction)),
                left=BlockName(f"{cuts}-L", "left part"),
                right=BlockName(f"{cuts}-R", "right part"),
                bends=draw(st.one_of(st.just(()), st.tuples(bend, bend))),
                topstitched=draw(st.booleans()),
            )
        )
    return tuple(lines)


@st.composite
def rosters(draw: st.DrawFn, blocks: tuple[Block, ...], size: str) -> tuple[JacketSpec, ...]:
    colors = st.tuples(*(st.tuples(st.just(b.code), st.sampled_from(COLORS)) for b in blocks))
    thread = st.sampled_from((None, "thread-red"))
    return tuple(
        make_jacket(f"J{number}", size=size, blocks=filled, topstitch_thread=draw(thread))
        for number, filled in enumerate(draw(st.lists(colors, min_size=1, max_size=9)))
    )


def blocks_or_refused(size: str, lines: tuple[StyleLine, ...]) -> tuple[Block, ...]:
    """Drawn lines often miss their block or leave a sliver: those are refused in words, and by no
    other error, and the example is dropped."""
    try:
        return cut_blocks(drafted(size).pieces, lines, Allowances())
    except PatternError as refusal:
        assert str(refusal)
        reject()


def shape(block: Block, size: str) -> BlockShape:
    return BlockShape(
        block.code,
        block.name,
        block.piece,
        size,
        block.pairing.value,
        block.cut_outline_mm,
        block.stitch_outline_mm,
    )


def stretch(run: SeamRun, size: str) -> SeamStretch:
    return SeamStretch(
        blocking="quay",
        size=size,
        seam=run.seam,
        name=run.seam,
        kind=run.kind.value,
        block=run.block,
        length_mm=run.length_mm,
        runs=run.runs,
        topstitched=run.topstitched,
    )


def size_spec(size: str) -> SizeSpec:
    jacket = drafted(size)
    return SizeSpec(
        code=size,
        name=size,
        age_group="adult",
        zipper_mm=round(jacket.zipper_mm),
        hem_girth_mm=round(jacket.hem_girth_mm),
        cuff_girth_mm=round(jacket.cuff_girth_mm),
    )


@SOME
@given(st.data(), st.sampled_from([body.code for body in BODIES]), style_lines())
def test_any_blocking_that_can_be_cut_is_planned_with_every_truth(
    data: st.DataObject, size: str, lines: tuple[StyleLine, ...]
) -> None:
    blocks = blocks_or_refused(size, lines)
    runs = seam_runs(blocks, SEAMS, lines)
    snapshot = make_snapshot(
        jackets=data.draw(rosters(blocks, size)),
        sizes=(size_spec(size),),
        shapes=tuple(shape(block, size) for block in blocks),
        seams=tuple(stretch(run, size) for run in runs),
        operations=OPERATIONS,
        zippers=ZIPPERS,
    )
    plan = plan_run(snapshot).plan
    assert [check for check in plan.checks if not check.holds] == []
    count = {need.operation: need.count for need in plan.labor.operations}
    on_base = sum(seam.runs for seam in SEAMS if seam.kind.value == "join")
    on_lines = count["seam"] - on_base * len(snapshot.jackets)
    assert len(lines) <= on_lines / len(snapshot.jackets) <= 2 * len(lines)


@SOME
@given(st.sampled_from([body.code for body in BODIES]), style_lines())
def test_style_lines_leave_the_seams_of_the_jacket_as_long_as_they_were(
    size: str, lines: tuple[StyleLine, ...]
) -> None:
    runs = seam_runs(blocks_or_refused(size, lines), SEAMS, lines)
    for seam in agreement(drafted(size).pieces, SEAMS):
        on_blocks = sum(run.length_mm for run in runs if run.seam == seam.seam)
        assert on_blocks == pytest.approx(seam.leads_mm, abs=0.01)
