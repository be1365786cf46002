"""Loads models into the frozen snapshot that a run is planned from; the one place that does."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import msgspec
from django.db.models import Model, QuerySet

from orders.models import Colorway, JacketOrder, TeamOrder
from patterns.geometry.blocks import Block as CutBlock
from patterns.geometry.blocks import StyleLine
from patterns.geometry.seams import Seam, seam_runs
from patterns.models import (
    Block,
    Blocking,
    Elastic,
    Fabric,
    FabricColor,
    Notion,
    Operation,
    PatternSize,
    ThreadColor,
    Zipper,
)
from patterns.models import Seam as SeamRow
from patterns.models import StyleLine as LineRow
from patterns.pictures import blocking_pictures
from patterns.queries import base_seams, blocks_of, style_lines
from patterns.services import workroom
from production.planning import snapshot as frozen
from production.planning.supplies.materials import along_seams
from production.stock.cloth import bolts_on_hand

Spec = TypeVar("Spec")


Pairs = set[tuple[Blocking, PatternSize]]


def take_snapshot(
    *, run: str, team_orders: Sequence[TeamOrder], planned_on: datetime.date
) -> frozen.RunSnapshot:
    """Everything the plan of a run needs, read in a handful of queries however many jackets."""
    return _snapshot(
        run,
        team_orders,
        JacketOrder.objects.filter(team_order__in=team_orders),
        planned_on,
        _numbered,
    )


def snapshot_of_one(
    line: JacketOrder,
    *,
    run: str,
    code: str,
    known: frozen.RunSnapshot | None,
    planned_on: datetime.date,
) -> frozen.RunSnapshot:
    """What a supplement for one jacket needs, the jacket called `code`. Where a snapshot `known`
    has its blocking in its size, shapes, seams and pictures are taken from there, since new blocks
    are sewn to blocks of the freeze; prices, stock and the workroom are those of today."""
    return _snapshot(
        run,
        [line.team_order],
        JacketOrder.objects.filter(pk=line.pk),
        planned_on,
        lambda lines: ((code, line) for line in lines),
        known,
    )


def with_materials_of_today(
    snapshot: frozen.RunSnapshot, planned_on: datetime.date
) -> frozen.RunSnapshot:
    """The same jackets and blocks with the fabrics, prices, stock and workroom of today."""
    return replace(
        snapshot,
        planned_on=planned_on,
        operations=_operations(),
        fabrics=_specs(frozen.FabricSpec, Fabric.objects.all()),
        fabric_colors=_fabric_colors(),
        notions=_notions(snapshot.seams),
        workroom=msgspec.convert(workroom(), frozen.WorkroomSpec, from_attributes=True),
        bolts=tuple(bolts_on_hand()),
    )


def _snapshot(
    run: str,
    team_orders: Sequence[TeamOrder],
    chosen: QuerySet[JacketOrder],
    planned_on: datetime.date,
    coded: Callable[[Iterable[JacketOrder]], Iterable[tuple[str, JacketOrder]]],
    known: frozen.RunSnapshot | None = None,
) -> frozen.RunSnapshot:
    jacket_orders = list(
        chosen.select_related(
            "team_order", "size", "colorway__blocking", "colorway__topstitch_thread"
        )
        .prefetch_related(
            "colorway__fills__block",
            "colorway__fills__fabric_color",
            "choices__block",
            "choices__fabric_color",
        )
        .order_by("team_order__deadline", "team_order__code", "pk")
    )
    pairs = {(line.colorway.blocking, line.size) for line in jacket_orders}
    jackets = tuple(_jacket(code, line) for code, line in coded(jacket_orders))
    return _assembled(run, team_orders, jackets, pairs, planned_on, known)


def snapshot_of_kinds(
    team_order: TeamOrder,
    kinds: Iterable[tuple[Colorway, PatternSize]],
    *,
    run: str,
    planned_on: datetime.date,
) -> frozen.RunSnapshot:
    """What the plan of a team order takes that nobody has ordered yet: one jacket of each kind,
    whose code is its number from 1 on, without any cloth on hand."""
    chosen = list(kinds)
    pairs = {(colorway.blocking, size) for colorway, size in chosen}
    jackets = tuple(
        jacket_in(colorway, size, code=str(number), team_order=team_order.code)
        for number, (colorway, size) in enumerate(chosen, start=1)
    )
    return replace(_assembled(run, [team_order], jackets, pairs, planned_on), bolts=())


def _assembled(
    run: str,
    team_orders: Sequence[TeamOrder],
    jackets: tuple[frozen.JacketSpec, ...],
    pairs: Pairs,
    planned_on: datetime.date,
    known: frozen.RunSnapshot | None = None,
) -> frozen.RunSnapshot:
    blockings = sorted({blocking for blocking, _ in pairs}, key=lambda blocking: blocking.code)
    sizes = sorted({size for _, size in pairs}, key=lambda size: (size.pattern_id, size.position))
    parts = _Parts.known(jackets, known) if known else _Parts.drawn(blockings, sizes, pairs)
    return frozen.RunSnapshot(
        run=run,
        deadline=min(order.deadline for order in team_orders),
        planned_on=planned_on,
        orders=tuple(
            frozen.OrderSpec(order.code, order.club.name, order.title, order.deadline)
            for order in team_orders
        ),
        jackets=jackets,
        sizes=_specs(frozen.SizeSpec, sizes),
        shapes=parts.shapes,
        seams=parts.seams,
        operations=_operations(),
        fabrics=_specs(frozen.FabricSpec, Fabric.objects.all()),
        fabric_colors=_fabric_colors(),
        threads=_specs(frozen.ThreadSpec, ThreadColor.objects.all()),
        zippers=_specs(frozen.ZipperSpec, Zipper.objects.all()),
        elastics=_specs(frozen.ElasticSpec, Elastic.objects.all()),
        workroom=msgspec.convert(workroom(), frozen.WorkroomSpec, from_attributes=True),
        blockings=parts.blockings,
        bolts=tuple(bolts_on_hand()),
        notions=_notions(parts.seams),
    )


def _numbered(lines: Iterable[JacketOrder]) -> Iterable[tuple[str, JacketOrder]]:
    """Jacket codes count on within each team order: TQ-27A-01, TQ-27A-02, …"""
    counted: dict[str, int] = {}
    for line in lines:
        order_code = line.team_order.code
        counted[order_code] = counted.get(order_code, 0) + 1
        yield jacket_code(order_code, counted[order_code]), line


def jacket_code(order_code: str, number: int) -> str:
    return f"{order_code}-{number:02d}"


def _jacket(code: str, line: JacketOrder) -> frozen.JacketSpec:
    own = {choice.block.code: choice.fabric_color.code for choice in line.choices.all()}
    plain = jacket_in(line.colorway, line.size, code=code, team_order=line.team_order.code)
    return replace(
        plain,
        blocks=tuple(sorted({**dict(plain.blocks), **own}.items())),
        member=line.member,
        name_on_jacket=line.name_on_jacket,
        note=line.note,
    )


def jacket_in(
    colorway: Colorway, size: PatternSize, *, code: str, team_order: str
) -> frozen.JacketSpec:
    """A jacket as its colorway has it, nobody's yet."""
    fills = {fill.block.code: fill.fabric_color.code for fill in colorway.fills.all()}
    thread = colorway.topstitch_thread
    return frozen.JacketSpec(
        code=code,
        team_order=team_order,
        member="",
        size=size.code,
        blocking=colorway.blocking.code,
        colorway=colorway.name,
        blocks=tuple(sorted(fills.items())),
        zipper_color=colorway.zipper_color,
        topstitch_thread=thread.code if thread else None,
    )


@dataclass(frozen=True, slots=True)
class _Parts:
    """What is cut and sewn, and its pictures: drawn today, or known from a snapshot."""

    shapes: tuple[frozen.BlockShape, ...]
    seams: tuple[frozen.SeamStretch, ...]
    blockings: tuple[frozen.BlockingSpec, ...]

    @classmethod
    def drawn(
        cls, blockings: Sequence[Blocking], sizes: Sequence[PatternSize], pairs: Pairs
    ) -> _Parts:
        return cls(
            _shapes(blockings, sizes, pairs),
            _seams(blockings, sizes, pairs),
            tuple(
                frozen.BlockingSpec(blocking.code, blocking.name, blocking_pictures(blocking))
                for blocking in blockings
            ),
        )

    @classmethod
    def known(cls, jackets: Sequence[frozen.JacketSpec], snapshot: frozen.RunSnapshot) -> _Parts:
        cuts = {(jacket.blocking, jacket.size) for jacket in jackets}
        blocks = {(block, jacket.size) for jacket in jackets for block, _ in jacket.blocks}
        names = {jacket.blocking for jacket in jackets}
        return cls(
            tuple(shape for shape in snapshot.shapes if (shape.block, shape.size) in blocks),
            tuple(seam for seam in snapshot.seams if (seam.blocking, seam.size) in cuts),
            tuple(spec for spec in snapshot.blockings if spec.code in names),
        )


def _shapes(
    blockings: Sequence[Blocking],
    sizes: Sequence[PatternSize],
    pairs: Pairs,
) -> tuple[frozen.BlockShape, ...]:
    """Each block once per size; blockings that leave a piece whole share its block."""
    free = dict(
        Block.objects.filter(blocking__in=blockings).values_list("code", "is_free_on_grain")
    )
    shapes: dict[frozen.BlockShape, None] = {}
    for blocking in blockings:
        for size in sizes:
            if (blocking, size) in pairs:
                for block in blocks_of(blocking, size):
                    shapes.setdefault(shape_of(block, size.code, is_free=free[block.code]))
    return tuple(shapes)


def shape_of(block: CutBlock, size: str, *, is_free: bool = False) -> frozen.BlockShape:
    return frozen.BlockShape(
        block=block.code,
        name=block.name,
        piece=block.piece,
        size=size,
        pairing=block.pairing.value,
        cut_outline_mm=block.cut_outline_mm,
        stitch_outline_mm=block.stitch_outline_mm,
        notches=tuple(
            (notch.stitch_point, notch.cut_point, notch.count) for notch in block.notches
        ),
        marks=block.marks,
        grainline=block.grainline,
        is_free_on_grain=is_free,
    )


def _seams(
    blockings: Sequence[Blocking],
    sizes: Sequence[PatternSize],
    pairs: Pairs,
) -> tuple[frozen.SeamStretch, ...]:
    stretches: list[frozen.SeamStretch] = []
    for blocking in blockings:
        lines, seams = style_lines(blocking), base_seams(blocking.pattern)
        for size in sizes:
            if (blocking, size) in pairs:
                blocks = blocks_of(blocking, size)
                stretches += stretches_of(blocking.code, size.code, blocks, seams, lines)
    return tuple(stretches)


def stretches_of(
    blocking: str,
    size: str,
    blocks: Sequence[CutBlock],
    seams: Sequence[Seam],
    lines: Sequence[StyleLine],
) -> tuple[frozen.SeamStretch, ...]:
    """The seams of one jacket of a blocking in a size, by their blocks."""
    names = {seam.code: seam.name for seam in seams} | {line.code: line.name for line in lines}
    return tuple(
        frozen.SeamStretch(
            blocking=blocking,
            size=size,
            seam=run.seam,
            name=names[run.seam],
            kind=run.kind.value,
            block=run.block,
            length_mm=run.length_mm,
            runs=run.runs,
            topstitched=run.topstitched,
            against=run.against,
        )
        for run in seam_runs(blocks, seams, lines)
    )


def _specs(kind: type[Spec], rows: Iterable[Model]) -> tuple[Spec, ...]:
    """Rows as frozen values; the fields of both bear the same names."""
    return tuple(msgspec.convert(row, kind, from_attributes=True) for row in rows)


def _notions(seams: Iterable[frozen.SeamStretch]) -> tuple[frozen.NotionSpec, ...]:
    """Without those by a seam that only jackets of other blockings have. One whose seam is nowhere
    stays, so that the plan refuses it by name."""
    notions = _specs(frozen.NotionSpec, Notion.objects.prefetch_related("sizes"))
    sewn = along_seams(notions, seams)
    if len(sewn) == len(notions):
        return sewn
    codes = {notion.seam for notion in notions if notion not in sewn}
    elsewhere = {
        *SeamRow.objects.filter(code__in=codes).values_list("code", flat=True),
        *LineRow.objects.filter(code__in=codes).values_list("code", flat=True),
    }
    return tuple(notion for notion in notions if notion in sewn or notion.seam not in elsewhere)


def _operations() -> tuple[frozen.OperationSpec, ...]:
    rows = Operation.objects.select_related("chosen_thread").prefetch_related("thread_samples")
    return _specs(frozen.OperationSpec, rows)


def _fabric_colors() -> tuple[frozen.FabricColorSpec, ...]:
    return tuple(
        frozen.FabricColorSpec(
            code=row.code,
            name=row.name,
            fabric=row.fabric.code,
            hex_color=row.hex_color,
            hatch=row.hatch,
            thread=row.thread.code,
        )
        for row in FabricColor.objects.select_related("fabric", "thread")
    )
